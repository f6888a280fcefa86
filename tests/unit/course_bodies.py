"""Courses of small bodies: a sheet that is heated, drawn, laid on a tool and lifted off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.balance.bodies import FACES, MEDIA
from thermokit.conduction.course import Course, thinned
from thermokit.conduction.mesh import graded_edges
from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Reaction, Span
from thermokit.kinetics.rates import TwoRate

LAW = TwoRate(1e4, 65e3, 5e5, 60e3, 0.7, 1.3)
CUT = graded_edges(14, 1.15)
STEEL = Medium(7850.0, 40.0, 480.0)
TOOL_CUT = np.linspace(0.0, 1.0, 6)


def air(h, temperature) -> Face:
    """A face in air."""
    return Face(exchange=(Exchange(h, temperature),))


def sheet(medium: str = "plain", reacts: bool = False, cut: np.ndarray = CUT, start=300.0) -> Layer:
    """A sheet of 3 mm."""
    reactions = (Reaction("cure_degree", LAW, 2e5, 1e-3),) if reacts else ()
    return Layer(MEDIA[medium], 3e-3, cut, start, reactions=reactions, name="sheet")


def tool(start=320.0, cut: np.ndarray = TOOL_CUT) -> Layer:
    """A tool of 10 mm that stays out of the extremes."""
    return Layer(STEEL, 10e-3, cut, start, name="tool", counts=False)


def formed(
    medium: str = "plain", reacts: bool = False, ratio=2.0, contact=900.0, start=320.0, heat=60.0, on_top: bool = False
) -> Course:
    """Heated on both faces, carried over, drawn to ``ratio`` times its area onto a tool, lifted off it.

    Legs end at 65, 85 and 95 s; of what melts, 78 % has melted at the hotter face when it touches.
    """
    flat = sheet(medium, reacts)
    drawn = thinned(flat, ratio)
    hot, cold = air(60.0, 480.0), air(20.0, 300.0)
    oven = Problem((flat,), (Span(heat, hot, FACES["radiation"], name="oven"), Span(5.0, cold, cold, name="over")))
    cooled = air(500.0, 290.0)
    if on_top:
        both = (replace(tool(start), contact=contact), drawn)
        pressed = Problem(both, (Span(20.0, cooled, cold, name="tool"),))
    else:
        both = (replace(drawn, contact=contact), tool(start))
        pressed = Problem(both, (Span(20.0, cold, cooled, name="tool"),))
    off = Problem((drawn,), (Span(10.0, cold, cold, name="off"),))
    return Course((oven, pressed, off), ("sheet",), (1.0, ratio, ratio))
