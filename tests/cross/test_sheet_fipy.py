"""Sheet cases against FiPy, leg by leg: clear sheet under panels that warm up, drawn onto a tool; states that it adds up."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.unit.sheets import CLEAR, air, body, case, edges_of, panels, placed, plain, stuff, tool, touch, transfer
from thermokit.conduction.fipy_engine import estimate_error
from thermokit.conduction.follow import follow
from thermokit.processes import process_of

TOLERANCE = 0.01  # K
PROMISED = 4.0  # tolerances that the solver may be off at worst
BANDS = [
    {"from": "0.8 um", "to": "2.5 um", "coefficient": "100 1/m", "reflectance": 0.04},
    {"from": "2.5 um", "to": "20 um", "coefficient": "2e3 1/m", "reflectance": 0.05},
]


def clear_onto_a_tool() -> Any:
    sheet = {
        "thickness": "1.5 mm", "absorption": "in_depth", "bands": BANDS,
        "length": "600 mm", "width": "400 mm", "spots": [1, 1],
    }  # fmt: skip
    upper = placed(temperature="500 degC", initial="350 degC", time_constant="30 s")
    stations = [
        panels(upper, None, "30 s", oven={"behind": 0.6}),
        transfer("4 s", draw_ratio=1.1),
        tool("6 s", draw_ratio=1.6, lower=touch(300.0), air=air(25.0, 40.0)),
    ]
    cooled = body(12.0, 30.0, back={"coefficient": "800 W/m2/K", "temperature": "15 degC"})
    return case(*stations, sheet=sheet, material=stuff(*CLEAR), tools={"mould": cooled})


def opaque_that_sags() -> Any:
    sheet = {
        "sag": {"softening": "105 degC", "rate": "0.05 1/K", "span": "400 mm"},
        "dose": {"energy": "120 kJ/mol", "reference": "200 degC", "time": "10 min"},
    }  # fmt: skip
    return case(panels(plain(), plain(380.0), "15 s"), sheet={**sheet, "start": "110 degC"})


@pytest.mark.long
@pytest.mark.parametrize(("made", "steps"), [(clear_onto_a_tool, 6), (opaque_that_sags, 4)])
def test_leg_by_leg(made: Any, steps: int) -> None:
    given = made()
    course = process_of(given).course(edges_of(given, 8))
    ends = np.cumsum([float(station.duration) for station in given.stations])
    travel = follow(course, ends, TOLERANCE)
    assert travel.history.ending.status == "finished"
    for problem, ours in zip(travel.legs, travel.runs, strict=True):
        theirs = estimate_error(problem, ours.time, steps)
        for column in ("temperature", "inner_face", "outer_face"):
            gap = np.abs(getattr(ours, column) - getattr(theirs.history, column)).max()
            assert gap <= theirs.largest + PROMISED * TOLERANCE, column
        for state, values in theirs.history.states.items():
            error = np.nanmax(theirs.states[state]) + PROMISED * TOLERANCE / 30.0
            assert np.nanmax(np.abs(ours.states[state] - values)) <= error, state
        assert theirs.largest < 0.06 * np.ptp(ours.temperature)  # so that the comparison says something
