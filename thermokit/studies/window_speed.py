"""The window of a line's speed in few runs: a first look that is coarse, then settings close about its edges.

The first look goes over all speeds on few cells, loosely, and with one curve where a polymer melts and crystallises on two:
what cools from the melt without melting again is the same on both. It only says where to look; the edges come from the case as it
stands, on the mesh that its accuracy asks for. Where an edge is not found there, the whole range is gone over.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.mesh import TIME_SHARE, base_edges
from thermokit.processes import process_of
from thermokit.processes.line_cooling import one_curve
from thermokit.processes.media import slowness
from thermokit.processes.run import settled
from thermokit.studies.window import Question, Window, last_stretch

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array

STEP = 1.2  # ratio of neighbouring speeds of the first look
LOOKS = (9, 33)  # least and most of them
COARSE = 17  # edges of a layer of the first look
LOOSE = 0.2  # K, local error of it
AROUND, NEAR = 1.6, 17  # times an edge, and settings, in which it is looked for after a change
CLOSE = np.array([0.9, 0.96, 0.985, 1.0, 1.015, 1.04, 1.1])  # settings about an edge, as a share of it


def settle_speed(case: Any, path: str, low: float, high: float) -> tuple[Question, Window] | None:
    """(question on its mesh, window) of a speed; None where the first look finds no window or the second not its edges."""
    first = look(case, path, low, high)
    if first.middle is None:
        return None
    filled = case.with_values({path: first.middle})
    edges = settled(filled, process_of(filled)).edges
    question = Question(case, path, edges, TIME_SHARE * float(case.accuracy.temperature))
    window = close_to(question, first, low, high)
    return None if window is None else (question, window)


def look(case: Any, path: str, low: float, high: float, values: Any = None, least: int = LOOKS[0]) -> Window:
    """The window by the first look; values : other inputs that are changed."""
    process = process_of(case)
    layers = process.layers()
    cut: Any = base_edges([slowness(medium, t) for _, t, medium, _ in layers], [cells for *_, cells in layers])
    tolerance = max(TIME_SHARE * float(case.accuracy.temperature), LOOSE)
    question = Question(case, path, [coarse(own) for own in cut], tolerance, values or {}, one_curve)
    points = int(np.clip(np.ceil(np.log(high / low) / np.log(STEP)) + 1, least, LOOKS[1]))
    settings = np.geomspace(low, high, points)
    return last_stretch(*_with(question, settings))


def _with(question: Question, settings: Array) -> tuple[Any, Array, Array]:
    limits, margins = question.margins(settings)
    return limits, settings, margins


def coarse(cut: Array) -> Array:
    """Every second edge of a layer, as long as enough are left."""
    while len(cut) % 2 and len(cut) // 2 + 1 >= COARSE:
        cut = cut[::2]
    return cut


def close_to(question: Question, first: Window, low: float, high: float) -> Window | None:
    """The window with its edges looked for close to those of another; None where they are not the same limits' there."""
    assert first.earliest is not None
    edges = [
        e for e, by in ((first.earliest, first.earliest_limit), (first.latest, first.latest_limit)) if by is not None
    ]
    settings = np.unique(np.clip(np.concatenate([e * CLOSE for e in edges] or [np.array([low, high])]), low, high))
    if len(settings) < 2:
        return None
    found = last_stretch(*_with(question, settings))
    if (found.earliest_limit, found.latest_limit) != (first.earliest_limit, first.latest_limit):
        return None
    return found if found.earliest_limit is not None or not found.open else replace(found, earliest=low)


def moved(question: Question, window: Window, changes: list[Any], low: float, high: float) -> list[Any] | None:
    """(earliest, latest) of the window after each change (path -> value), by looks before and after; None where the look does not
    see the window as it is."""
    assert window.earliest is not None
    ends = [x for x in (window.earliest, window.latest) if x is not None]
    near = (max(low, min(ends) / AROUND), min(high, max(ends) * AROUND))
    now = look(question.case, question.path, *near, least=NEAR)
    if (now.earliest_limit, now.latest_limit) != (window.earliest_limit, window.latest_limit) or not now.open:
        return None
    found = []
    for values in changes:
        after = look(question.case, question.path, *near, values, NEAR)
        if not after.open:  # no window, or one that has left the range
            after = look(question.case, question.path, low, high, values, NEAR)
        pair = []
        for edge in ("earliest", "latest"):
            to, of, was = getattr(after, edge), getattr(window, edge), getattr(now, edge)
            limited = getattr(window, f"{edge}_limit") is not None and getattr(after, f"{edge}_limit") is not None
            edge_at_bound = to is not None and getattr(after, f"{edge}_limit") is None
            pair.append(None if to is None else of * to / was if limited else (low if edge_at_bound else to))
        found.append(tuple(pair))
    return found
