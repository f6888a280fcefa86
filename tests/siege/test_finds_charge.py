"""Faults of charge cases that generated cases showed, each with a small case of its kind."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from thermokit.case import parse_case, resolved_text
from thermokit.processes import process_of
from thermokit.processes.run import run_case, settled

from .solving import judged_on, side_by_side

INSERT = """
process = "charge"
[charge]
start = "28 degC"
[[charge.layers]]
name = "outside"
material = "pf_compound"
thickness = "3 mm"
[[charge.layers]]
name = "spent"
material = "pf_compound"
thickness = "2 mm"
kinetics = []
[mould.upper]
temperature = "170 degC"
[mould.lower]
temperature = "170 degC"
[[stations]]
kind = "cure"
duration = "60 s"
"""


def test_a_layer_that_does_not_react_comes_back_so() -> None:
    """The resolved case left out the empty list, and the layer took up its material's own sets again."""
    case = parse_case(INSERT)
    again = parse_case(resolved_text(case))
    assert again == case
    assert again.charge.layers[1].kinetics == () and again.charge.layers[0].kinetics is None


HALVES = """
process = "charge"
[charge]
material = "epoxy_compound"
thickness = "0.5 mm"
start = "22.5 degC"
[mould.upper]
material = "aluminium_plate"
thickness = "15 mm"
start = "67.5 degC"
platen = { temperature = "143.5 degC", coefficient = "200 W/m2/K" }
[mould.lower]
material = "steel_p20"
thickness = "17.5 mm"
start = "162.6 degC"
platen = { temperature = "105.5 degC", coefficient = "295 W/m2/K" }
[[stations]]
kind = "close"
duration = "12.4 s"
[[stations]]
kind = "cure"
duration = "5 s"
[accuracy]
temperature = "0.5 K"
"""


class TestHottestPlaceAgainstAHalfWithABody:
    """The charge's face on a hot half is its hottest place; only cell centres were looked at, half a cell inside."""

    @pytest.fixture
    def case(self) -> Any:
        return parse_case(HALVES)

    def test_no_row_of_the_faces_is_hotter(self, case: Any) -> None:
        history: Any = run_case(case).history
        rows = max(float(np.max(history.inner_face)), float(np.max(history.outer_face)))
        assert (
            rows > float(np.nanmax(history.temperature)) + 0.5
        )  # the face is what is hottest, by more than the accuracy
        assert history.hottest.value >= rows - 0.1
        assert history.hottest.depth == pytest.approx(0.5e-3)

    def test_a_batch_looks_at_the_same_place(self, case: Any) -> None:
        edges = settled(case, process_of(case)).edges
        path = "stations.0.duration"
        values = [case.value(path), 1.3 * case.value(path)]
        found = side_by_side(case, {path: values}, edges).quantities["hottest"]
        for value, batch in zip(values, found, strict=True):
            assert batch == pytest.approx(judged_on(case.with_values({path: value}), edges)["hottest"], abs=0.5)


BACKED = """
process = "charge"
[charge]
start = "150 degC"
layers = [{layers}]
[mould]
upper = {{ temperature = "150 degC" }}
lower = {{ temperature = "150 degC" }}
[[stations]]
kind = "cure"
duration = "20 min"
[[stations]]
kind = "cool"
duration = "10 min"
air = {{ temperature = "20 degC", coefficient = "3 W/m2/K" }}
"""
COMPOUND = '{ material = "pf_compound", thickness = "3 mm" }'
METAL = '{ material = "copper", thickness = "2 mm", kinetics = [] }'


def test_a_face_of_bare_metal_radiates_as_metal_on_either_side() -> None:
    """Both faces had the emissivity of the upper layer: a part backed by copper cooled as if it were black all round."""
    above, below = (
        run_case(parse_case(BACKED.format(layers=", ".join(order)))) for order in ((METAL, COMPOUND), (COMPOUND, METAL))
    )
    ends = [run.history.ends[-1] for run in (above, below)]
    assert float(ends[0].inner_face) == pytest.approx(float(ends[1].outer_face), abs=0.2)
    case = parse_case(BACKED.format(layers=f"{COMPOUND}, {METAL}"))
    process: Any = process_of(case)
    parts = []
    for name, size in (("pf_compound", 0.003), ("copper", 0.002)):
        medium = process.stuff.medium(name)
        curve = medium.specific_heat
        heat = np.interp(380.0, curve.temperature, curve.value) if hasattr(curve, "temperature") else curve
        parts.append(medium.density * float(heat) * size)
    held = sum(parts)

    def cooled(*emissivity: float) -> float:
        """One temperature for the whole part after 10 min: a lumped body in air of 20 degC at 3 W/m2/K, by its equation."""

        def falls(_: float, t: Any) -> Any:
            return -(6.0 * (t - 293.15) + 5.670374e-8 * sum(emissivity) * (t**4 - 293.15**4)) / held

        return float(solve_ivp(falls, (0.0, 600.0), [423.15], rtol=1e-8).y[0, -1])

    # emissivities of the materials' records; the compound has its mean, as a profile that is nearly a straight line has
    metal = float(ends[1].outer_face)
    mean = (parts[0] * (float(ends[1].inner_face) + metal) / 2.0 + parts[1] * metal) / held
    # the face that radiates is q L/(2 k) = 3 K colder than the mean, of 75 K above the air: the lumped body falls 4 % too far
    assert mean == pytest.approx(cooled(0.92, 0.05), abs=0.05 * (423.15 - cooled(0.92, 0.05)))
    assert cooled(0.92, 0.05) - cooled(0.92, 0.92) > 10.0
