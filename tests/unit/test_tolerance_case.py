"""What [tolerances] may hold: errors that inputs share, measured lists, those usual in the shop; what is drawn of them."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from thermokit.case import load_case, parse_case, resolved_text
from thermokit.case.tolerances import usual_of
from thermokit.errors import CaseError
from thermokit.studies.tolerance import draw, drawn

CASES = Path(__file__).parents[2] / "cases"
TRAY = (CASES / "how_long_to_heat_a_4mm_abs_tray.toml").read_text(encoding="utf-8").split("[tolerances]")[0]
UPPER, LOWER = "stations.heat.upper.temperature", "stations.heat.lower.temperature"
PANELS = f'"panels" = {{ paths = ["{UPPER}", "{LOWER}"], plus_minus = "± 15 K" }}'


def tray(lines: str) -> str:
    return f"{TRAY}\n[tolerances]\n{lines}\n"


def test_what_errs_together_is_drawn_together() -> None:
    case = parse_case(tray(PANELS))
    values = draw(case, 1024, 1)
    assert list(values) == [UPPER, LOWER]
    assert np.array_equal(values[UPPER], values[LOWER])
    # ± is two standard deviations
    assert values[UPPER].mean() == pytest.approx(420.0 + 273.15, abs=0.05)
    assert values[UPPER].std() == pytest.approx(7.5, rel=0.01)


def test_a_share_that_is_common_is_of_each_value() -> None:
    text = tray('"heat" = { paths = ["sheet.thickness", "sheet.length"], plus_minus = "± 10 %" }')
    values = draw(parse_case(text), 64, 1)
    assert values["sheet.thickness"] / 0.004 == pytest.approx(values["sheet.length"] / 0.6)


def test_measured_values_come_alike_often() -> None:
    case = parse_case(tray('"sheet.thickness" = { measured = ["3.9 mm", "4.0 mm", "4.0 mm", "4.3 mm"] }'))
    values = draw(case, 1024, 1)["sheet.thickness"]
    found = {round(1e3 * float(v), 3): int(n) for v, n in zip(*np.unique(values, return_counts=True), strict=True)}
    assert found == {3.9: 256, 4.0: 512, 4.3: 256}
    spread = 2.0 * math.sqrt(((3.9 - 4.05) ** 2 + 2 * 0.05**2 + 0.25**2) / 4) * 1e-3
    assert case.tolerances["sheet.thickness"].two_sigma == pytest.approx(spread)


def test_draws_stop_where_an_input_ends() -> None:
    """A share of the exchange factor of 60 % would go beyond 1."""
    case = parse_case(tray('"stations.heat.upper.exchange" = "± 120 %"'.replace("120", "100")))
    values = drawn(case, np.array([[1e-9], [0.5], [1.0 - 1e-9]]))["stations.heat.upper.exchange"]
    assert values[0] == pytest.approx(0.0, abs=1e-6)
    assert values[1:].tolist() == [0.6, 1.0]


@pytest.mark.parametrize(
    "lines",
    [
        PANELS,
        PANELS.replace('plus_minus = "± 15 K"', 'plus_minus = "± 15 K", distribution = "uniform"'),
        f'"panels" = {{ paths = ["{UPPER}", "{LOWER}"], measured = ["415 degC", "428 degC"] }}',
        '"sheet.thickness" = { measured = ["3.91 mm", "4.02 mm"] }',
        '"h" = { paths = ["stations.heat.air.coefficient"], factor = 2, distribution = "lognormal" }',
        '"stations.heat.upper.exchange" = { measured = [0.58, 0.61] }',
        f"usual = true\n{PANELS}",
    ],
)
def test_is_written_as_it_was_read(lines: str) -> None:
    case = parse_case(tray(lines))
    assert parse_case(resolved_text(case)) == case


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (PANELS.replace(LOWER, "sheet.thickness"), "inputs of one kind"),
        (PANELS.replace(LOWER, UPPER), "each input once"),
        (PANELS.replace(LOWER, "stations.heat.lower.temperatur"), "did you mean stations.heat.lower.temperature"),
        (f'{PANELS}\n"{UPPER}" = "± 5 K"', "each input once"),
        ('"sheet.start" = { paths = ["sheet.start"], plus_minus = "± 5 K" }', "a name of your own"),
        ('"panels" = { paths = "sheet.start", plus_minus = "± 5 K" }', "list of paths"),
        ('"sheet.thickness" = { measured = ["4 mm"] }', "2 to"),
        ('"sheet.thickness" = { measured = ["4 mm", "5 s"] }', "length"),
        ('"sheet.thickness" = { measured = ["4 mm", "5 mm"], plus_minus = "± 3 %" }', "the list alone"),
        ('"stations.heat.duration" = { measured = ["70 s", "80 s"] }', "sought"),
        ('usual = "yes"', "true"),
    ],
)
def test_mistakes_are_told(lines: str, words: str) -> None:
    with pytest.raises(CaseError) as wrong:
        parse_case(tray(lines), "tray.toml")
    assert words in str(wrong.value)


def test_usual_ones_in_one_word() -> None:
    case = parse_case(f'tolerances = "usual"\n{TRAY}')
    assert case.tolerances["panels of heat"].paths == (UPPER, LOWER)
    assert case.tolerances["sheet.thickness"].plus_minus == pytest.approx(0.04)
    assert "stations.heat.duration" not in case.tolerances, "what is sought is not usual to be off"
    own = parse_case(tray('usual = true\n"sheet.thickness" = "± 9 %"'))
    assert own.tolerances["sheet.thickness"].plus_minus == pytest.approx(0.09), "the user's own stays"
    assert set(own.tolerances) == set(case.tolerances)


@pytest.mark.parametrize("file", sorted(CASES.glob("*.toml")), ids=lambda f: f.stem)
def test_every_example_has_usual_tolerances(file: Path) -> None:
    case = load_case(file)
    found = usual_of(case)
    paths = [path for name, tolerance in found.items() for path in tolerance.inputs(name)]
    assert paths and len(set(paths)) == len(paths)
    assert not any(path.startswith("limits") for path in paths)
    for tolerance in found.values():
        assert tolerance.plus_minus > 0.0
