"""How long? for cases that solve themselves: a block that cools as one lump, so that its window has a closed form."""

from __future__ import annotations

import numpy as np
import pytest
from sections import block

from thermokit.case import parse_case
from thermokit.errors import CaseError
from thermokit.studies.dwell import dwell, run_at, window_of
from thermokit.studies.dwell_words import dwell_text

LIMITS = '[limits.mean_temperature]\nat_most = "60 degC"\nat_least = "40 degC"\n'
REST = '[[stations]]\nname = "rest"\nduration = "10 s"\n'
CONSTANT = 400.0 * (1.0 + 0.04 / 3.0)  # s, rho c L/h and a third of the block's own resistance (Biot 0.04)


def crossed(celsius: float) -> float:
    """When the lump passes a temperature on its way from 120 to 20 degC [s]."""
    return float(CONSTANT * np.log(100.0 / (celsius - 20.0)))


@pytest.mark.parametrize("after", ["", REST], ids=["last station", "another station after it"])
def test_both_edges(after: str) -> None:
    """An insulated station after it changes no mean, but each setting is then a run of its own."""
    found = dwell(parse_case(block('{ find = ["20 s", "3000 s"] }') + after + LIMITS))
    assert found.earliest == pytest.approx(crossed(60.0), rel=5e-3)
    assert found.latest == pytest.approx(crossed(40.0), rel=5e-3)
    assert found.recommended == pytest.approx((found.earliest + found.latest) / 2)
    assert (found.earliest_limit, found.latest_limit) == ("mean_temperature", "mean_temperature")
    block_of = found.as_json()
    assert (block_of["station"], block_of["unit"], block_of["searched"]["to"]) == ("cool", "s", 3000.0)


def test_margins_and_words() -> None:
    case = parse_case(block('{ find = ["20 s", "3000 s"] }') + LIMITS + '[tolerances]\n"section.start" = "± 2 K"\n')
    found = dwell(case)
    result = run_at(case, found)
    text = dwell_text(found, result)
    assert "RECOMMENDED" in text
    assert "the middle of the window" in text
    assert any("tolerances are not drawn" in remark for remark in result.remarks)
    edges = [m for m in found.margins if m.edge]
    assert [m.unit for m in edges] == ["s", "s"]
    assert edges[0].value == pytest.approx(edges[1].value)
    assert all(check.met for check in result.limits)
    assert result.study["dwell"]["recommended"] == found.recommended


def test_no_window_is_told() -> None:
    text = block('{ find = ["20 s", "3000 s"] }') + LIMITS.replace("40 degC", "80 degC").replace("60 degC", "75 degC")
    with pytest.raises(CaseError, match="at_least"):
        parse_case(text)
    closed = text.replace('at_most = "75 degC"\nat_least = "80 degC"', 'at_least = "80 degC"')
    closed += '[limits.hottest_final_temperature]\nat_most = "75 degC"\n'
    case = parse_case(closed)
    found = dwell(case)
    assert found.recommended is None
    assert found.opens_with is not None
    assert "nearest miss" in found.opens_with
    assert window_of(case).earliest is None


def test_nothing_limits_it() -> None:
    with pytest.raises(CaseError, match="at least one limit"):
        dwell(parse_case(block('"find"')))
