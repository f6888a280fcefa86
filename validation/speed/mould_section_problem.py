"""The reference section MS: a mould with five channels and half a part, shot after shot (every number is in ``problem``).

Its targets were computed with isoparametric quadratic finite elements, 59 000 unknowns, steps of 0.025 s.
"""

from __future__ import annotations

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Medium
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_watch import SectionWatch

KELVIN = 273.15
WARM, HOT = KELVIN + 25.0, KELVIN + 230.0
LEVEL = KELVIN + 90.0
SHUT, OPEN = 20.0, 5.0
WALL, AIR, CONTACT = 5000.0, 10.0, 2000.0
#: settled: time for the hottest place to reach 90 degC [s]; hottest at 20 s [degC]
TIME, HOTTEST = 17.7446, 80.3906
WATCH = SectionWatch("cool", "hottest", LEVEL, rising=False, region="part")


def box(x0: float, x1: float, y0: float, y1: float) -> np.ndarray:
    """Outline of a rectangle [m]."""
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)


def problem(depth: float = 0.06) -> SectionProblem:
    """One shot: 20 s shut, 5 s open."""

    def face(h: float) -> Face:
        return Face(exchange=(Exchange(h, WARM),))

    edges = (
        Edge("left", (0, -depth), (0, 0)),
        Edge("right", (0.12, -depth), (0.12, 0)),
        Edge("bottom", (0, -depth), (0.12, -depth)),
        Edge("rim", (0, 0), (0.01, 0)),
        Edge("other rim", (0.11, 0), (0.12, 0)),
        Edge("cavity", (0.01, 0), (0.11, 0)),
    )
    channels = tuple(Channel(f"c{i}", (0.02 * i, -0.015), 0.01) for i in range(1, 6))
    always = {edge.name: face(AIR) for edge in edges[:5]} | {channel.name: face(WALL) for channel in channels}
    return SectionProblem(
        (
            Region("mould", box(0, 0.12, -depth, 0), Medium(7800.0, 29.0, 460.0), WARM),
            Region("part", box(0.01, 0.11, 0, 0.0015), Medium(1050.0, 0.19, 2000.0), HOT),
        ),
        (SectionSpan(SHUT, always), SectionSpan(OPEN, {**always, "cavity": face(AIR)}, frozenset({"part"}))),
        channels,
        edges,
        (Touch(("mould", "part"), CONTACT),),
    )
