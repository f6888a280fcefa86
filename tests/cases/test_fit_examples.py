"""The examples that are fitted give back what their logs and findings were made with.

The log of the tray is invented: panels at 437 degC, 11 W/m2/K, a couple on the face that lags by 1.5 s and reads 0.7 K high,
one in the middle that reads 0.4 K low, noise of 0.3 K, written as a logger in a shop with decimal commas does.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from cases.plausible import case_file
from thermokit.case import load_case
from thermokit.processes.run import run_case
from thermokit.studies.fit import fit_case
from thermokit.studies.fit_words import fit_text


@cache
def fitted(start: str) -> Any:
    return fit_case(case_file(start))


@pytest.mark.parametrize(
    ("name", "truth"),
    [
        ("stations.heat.upper.temperature", 273.15 + 437.0),
        ("stations.heat.air.coefficient", 11.0),
        ("lag of Skin", 1.5),
        ("offset of Skin", 0.7),
        ("offset of Core", -0.4),
    ],
)
def test_the_logged_tray(name: str, truth: float) -> None:
    found = fitted("what_panels_heated")
    (value,) = [v for v in found.values if v.variable.name == name]
    assert value.low <= truth <= value.high


def test_the_logged_tray_says_what_its_couples_cannot() -> None:
    found = fitted("what_panels_heated")
    assert found.sound
    assert [c.scatter for c in found.channels] == pytest.approx([0.3, 0.3], rel=0.15)
    # a slab heated by radiation: its rise goes with flux over heat capacity, so 7 % of the latter ask for about as much more
    # flux, and that of radiation goes with the fourth power: 7 % / 4 of 710 K are 12 K
    assert found.values[0].moved["materials.abs_tray_stock.specific_heat"] == pytest.approx(12.0, abs=3.0)
    words = fit_text(found)
    assert "decimal commas" in words
    assert "OL" in words


def cure(start: float, dwell: float) -> float:
    """Lowest cure when the press opens, by the solver of single runs."""
    case = load_case(case_file("how_warm_was"))
    result = run_case(case.with_values({"body.layers.charge.start": start, "stations.cure.duration": dwell}))
    return next(o.value for o in result.outcomes if o.name == "cure_degree")


def test_the_blister_trial() -> None:
    """Its interval ends where a finding begins to be contradicted: within some of its deviations of 0.025."""
    found = fitted("how_warm_was")
    (value,) = found.values
    assert -0.025 < cure(value.high, 62.0) - 0.80 < 0.075  # any warmer, it had been sound at 62 s
    assert -0.025 < 0.85 - cure(value.low, 76.0) < 0.075  # any colder, it had blistered at 76 s
    assert all(f.kept for f in found.findings)
    assert "blistered on opening" in fit_text(found)
