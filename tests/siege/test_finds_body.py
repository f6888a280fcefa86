"""Faults of body cases that generated cases showed, each with a small case of its kind."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermokit.case import parse_case
from thermokit.processes.run import failed, run_case
from thermokit.units import parse

from .solving import side_by_side

AT_REST = """
process = "body"
[body]
shape = "cylinder"
inner_radius = "5 mm"
start = "-58.1 degC"
[[body.layers]]
material = "abs"
thickness = "0.02 mm"
kinetics = "resin"
[[body.layers]]
material = "porcelain_former"
thickness = "68 mm"
cells = 4
[kinetics.resin]
form = "nth_order"
state = "fusion"
rate_1 = { factor = "3.76e7 1/s", energy = "106 kJ/mol" }
n = 0.8
heat = "1 kJ/kg"
[[stations]]
duration = "0.4 s"
"""


def test_a_body_at_rest_has_lost_no_heat() -> None:
    """A few parts in 1e18 of its heat are set free, which no energy state can hold: that was "all of it went astray"."""
    case = parse_case(AT_REST)
    result = run_case(case)
    assert result.history.heat.released > 0.0
    assert not failed(result) and not any(words.startswith("heat balance") for words in result.warnings)
    batch = side_by_side(case, {"stations.0.duration": [0.4, 0.5]}, [np.linspace(0, 1, 5), np.linspace(0, 1, 5)])
    assert list(batch.status) == ["finished", "finished"]


def test_heat_that_does_go_astray_still_counts() -> None:
    """What is turned over is judged as ever; of a body at rest a loss far above round-off is still told."""
    from thermokit.conduction.history import mismatch_of
    from thermokit.processes.run import WARN_MISMATCH

    assert mismatch_of(2.0, 0.5, 1.0, 0.0, 100.0) == pytest.approx(0.5 / 3.0)
    assert mismatch_of(1e-7, 0.0, 0.0, 0.0, 1.0) > WARN_MISMATCH  # 1e-7 of what is held: 30 microkelvin of warming
    assert mismatch_of(0.0, 0.0, 0.0, 0.0, 0.0) == 0.0


@pytest.mark.parametrize(
    ("one", "other", "dimension"),
    [
        ("0.12 mm", "0.00012 m", "length"),
        ("0.7 mm", "0.07 cm", "length"),
        ("41.3 degC", "314.45 K", "temperature"),
        ("41.3 degC", "106.34 degF", "temperature"),
        ("7 min", "420 s", "time"),
        ("0.3 g/cm3", "300 kg/m3", "density"),
        ("7 %", "0.07", "fraction"),
        ("2.3 cm2", "0.00023 m2", "area"),
    ],
)
def test_one_quantity_is_one_number_however_it_is_written(one: str, other: str, dimension: str) -> None:
    """A factor in floating point put every second value an ulp or two aside, so that a case in cm was not that in mm."""
    assert parse(one, dimension) == parse(other, dimension)


@pytest.mark.parametrize("text", ["1e-300 m", "1" + "0" * 60 + " um", "0." + "0" * 50 + "1 km", "-0.0 s", "1e98 mm"])
def test_numbers_beyond_all_measure_are_read_as_before(text: str) -> None:
    number, unit = text.split()
    factor = {"m": 1.0, "um": 1e-6, "km": 1e3, "s": 1.0, "mm": 1e-3}[unit]
    found = parse(text, "time" if unit == "s" else "length")
    assert math.isclose(found, float(number) * factor, rel_tol=1e-15)
