"""Zone settings written into the user's own text: what stays, what is written anew, what is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest
from zone_cases import OVEN, POWER

from thermokit.case import parse_case, resolved_text
from thermokit.case.rewrite import Setting, with_zone_settings
from thermokit.errors import CaseError
from thermokit.processes import process_of


def rows(*texts: str) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(f"{zone} degC" for zone in row.split()) for row in texts)


UPPER = Setting(0, "upper", "temperature", rows("401 402 403", "404 405 406"))


def test_comments_and_layout_stay() -> None:
    case = parse_case(OVEN)
    new = with_zone_settings(case, [UPPER])
    lines, old = new.source.text.splitlines(), OVEN.splitlines()
    gone = [line for line in old if line not in lines]
    assert gone == ['temperature = "420 degC"      # as it was left']
    assert "]      # as it was left" in lines
    assert new.value("stations.heat.upper.temperature")[1][2] == pytest.approx(406 + 273.15)
    again = with_zone_settings(new, [replace(UPPER, rows=rows("1 2 3", "4 5 6"))])
    assert len(again.source.text.splitlines()) == len(lines), "a table keeps its lines"
    assert "# as it was left" in again.source.text


def test_comments_inside_a_table_stay() -> None:
    table = 'temperature = [ # degC\r\n  ["1 degC", \'2 degC\', "3 degC"], # "near"\r\n  ["4 degC", "5 degC","6 degC",]\r\n]'
    text = OVEN.replace("\n", "\r\n").replace('temperature = "420 degC"', table, 1)
    new = with_zone_settings(parse_case(text), [UPPER]).source.text
    assert new == text.replace(
        table,
        'temperature = [ # degC\r\n  ["401 degC", "402 degC", "403 degC"], # "near"\r\n  ["404 degC", "405 degC","406 degC",]\r\n]',
    )


def test_what_cannot_be_edited_is_written_resolved() -> None:
    panel = OVEN[OVEN.index("[stations.upper]") : OVEN.index("[stations.lower]")]
    inside = (
        'upper = { temperature = "420 degC", rows = 2, columns = 3, size = ["700 mm", "500 mm"], gap = "150 mm" }\n'
    )
    case = parse_case(OVEN.replace(panel, inside))
    new = with_zone_settings(case, [UPPER])
    assert new.source.text == resolved_text(new)
    assert parse_case(new.source.text) == case.with_values({"stations.heat.upper.temperature": UPPER.value})
    built = with_zone_settings(replace(case, source=replace(case.source, text="")), [UPPER])
    assert built == new


def test_power_in_shares_and_one_zone() -> None:
    text = POWER.replace("rows = 2\ncolumns = 3\n", "", 1)
    one = Setting(0, "upper", "power", (("43.5 %",),))
    many = Setting(0, "lower", "power", (("10 %", "20 %", "30.5 %"), ("1 %", "2 %", "3 %")))
    new = with_zone_settings(parse_case(text), [one, many])
    assert 'power = "43.5 %"\n' in new.source.text
    assert new.value("stations.heat.upper.power") == pytest.approx(0.435)
    assert new.value("stations.heat.lower.power")[0][2] == pytest.approx(0.305)


def test_tolerances_go_over_to_the_trim() -> None:
    text = (
        OVEN + '[tolerances]\n"stations.heat.upper.temperature" = "± 15 K"  # measured\n"sheet.thickness" = "± 4 %"\n'
    )
    new = with_zone_settings(parse_case(text), [UPPER])
    assert '"stations.heat.upper.trim" = "± 15 K"  # measured\n' in new.source.text
    assert list(new.tolerances) == ["stations.heat.upper.trim", "sheet.thickness"]
    assert process_of(new).limits() == (), "and it loads"
    with pytest.raises(CaseError, match=r"put it on stations\.heat\.upper\.trim"):
        with_zone_settings(parse_case(text + '"stations.heat.upper.trim" = "± 5 K"\n'), [UPPER])


def test_tolerances_of_power_go_over_to_what_is_installed() -> None:
    setting = Setting(0, "upper", "power", (("10 %", "20 %", "30 %"), ("1 %", "2 %", "3 %")))
    text = POWER + '[tolerances]\n"stations.heat.upper.power" = "± {}"\n'
    new = with_zone_settings(parse_case(text.format("4 %")), [setting])
    assert list(new.tolerances) == ["stations.heat.upper.installed"]
    with pytest.raises(CaseError, match=r"put it on stations\.heat\.upper\.installed"):
        with_zone_settings(parse_case(text.format("0.05")), [setting])
