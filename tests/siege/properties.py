"""What must hold of any finished run, whatever the case: pure checks, shared by the kinds.

Each takes results (``thermokit.results.model.Result`` of a layered body), checks one law and raises AssertionError with the
numbers. Tolerances are the caller's: the case's own accuracy, or round-off; never fitted.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from thermokit.results.model import Result

CLOSES = 1e-9  # of the heat turned over
DEGREES = ("cure_degree", "gel_degree", "fusion_degree")
GROWING = (*DEGREES, "heat_dose")  # a crystalline share may fall
DEGREE_PER_KELVIN = 1.0 / 200.0  # a step's error of a degree for each kelvin of its error of temperature
STEP_SHARE = 0.2  # of the accuracy that a case asks for, the error allowed to a step
ROUND_OFF = 1e-12  # of a degree that lies in 0 to 1, and of sums of some thousand terms of size 1


def finished(result: Result) -> None:
    """The run went to its end and says so."""
    assert result.status == "finished", f"{result.status}: {result.history.ending}"


def all_finite(result: Result) -> None:
    """No row, face, extreme or outcome is NaN or infinite; NaN stands only where nothing reacts or no layer is yet."""
    history: Any = result.history
    for name in ("time", "edges", "centres", "inner_face", "outer_face"):
        assert np.all(np.isfinite(getattr(history, name))), name
    never = np.all(np.isnan(history.temperature), axis=0)  # a layer that no row shows
    assert not np.all(never), "no temperature at all"
    assert np.all(np.isfinite(history.temperature) | np.isnan(history.temperature)), "an infinite temperature"
    for name, state in history.states.items():
        assert not np.any(np.isinf(state)), name
    for extreme in (history.hottest, history.coldest):
        assert math.isfinite(extreme.value) and math.isfinite(extreme.time) and math.isfinite(extreme.depth), extreme
    for outcome in result.outcomes:
        assert outcome.value is None or math.isfinite(outcome.value), outcome
    for limit in result.limits:
        assert limit.margin is None or math.isfinite(limit.margin), limit


def closes(result: Result, most: float = CLOSES) -> None:
    """Heat in less heat out plus heat released is heat stored, or a warning says otherwise."""
    heat = result.history.heat
    parts = (heat.entered, heat.left, heat.released, heat.stored)
    assert all(math.isfinite(part) for part in parts), heat
    assert heat.entered >= 0.0 and heat.left >= 0.0, heat
    turned = heat.entered + abs(heat.released) + abs(heat.stored)
    found = abs(heat.entered - heat.left + heat.released - heat.stored)
    warned = any(words.startswith("heat balance") for words in result.warnings)
    assert warned or heat.mismatch <= most, heat
    # the mismatch that is told is that of the parts that are told (whose own difference rounds); of a body at rest, of which
    # next to nothing is known but round-off, it may be less
    assert heat.mismatch * turned <= found + 1e-13 * (turned + heat.left), heat


def extremes_hold_the_rows(result: Result, kelvin: float = 0.0, *, faces: bool = True) -> None:
    """The hottest and coldest of a run are found inside steps too: no row lies outside them.

    kelvin : allowance, of a row inside a step that is read off a polynomial; faces : False where a face of the body may touch
    a layer that does not count (a tool), as only places of cells are then looked at.
    """
    history: Any = result.history
    for rows in (history.temperature, *((history.inner_face, history.outer_face) if faces else ())):
        if np.all(np.isnan(rows)):
            continue
        assert np.nanmax(rows) <= history.hottest.value + kelvin + 1e-9, (np.nanmax(rows), history.hottest)
        assert np.nanmin(rows) >= history.coldest.value - kelvin - 1e-9, (np.nanmin(rows), history.coldest)


def stays_within(result: Result, low: float, high: float, kelvin: float) -> None:
    """Maximum principle: without sources no place is ever colder or hotter than start and surroundings were [K]."""
    history: Any = result.history
    for rows in (history.temperature, history.inner_face, history.outer_face):
        if np.all(np.isnan(rows)):
            continue
        assert np.nanmax(rows) <= high + kelvin, (np.nanmax(rows), high)
        assert np.nanmin(rows) >= low - kelvin, (np.nanmin(rows), low)
    assert history.hottest.value <= high + kelvin, (history.hottest, high)
    assert history.coldest.value >= low - kelvin, (history.coldest, low)


def degrees_are_shares(result: Result, names: Iterable[str] = DEGREES) -> None:
    """Degrees of cure, gelation and fusion lie in 0 to 1, in every row and at every station's end."""
    history: Any = result.history
    for name in names:
        for state in (
            [history.states[name], *(end.states[name] for end in history.ends)] if name in history.states else ()
        ):
            known = state[np.isfinite(state)]
            assert known.size == 0 or (known.min() >= -ROUND_OFF and known.max() <= 1.0 + ROUND_OFF), (
                name,
                known.min(),
                known.max(),
            )


def step_error(case: Any) -> float:
    """Error of temperature that a case allows to one step [K]."""
    return STEP_SHARE * float(case.accuracy.temperature)


def never_falls(result: Result, names: Iterable[str] | None = GROWING, most: float = ROUND_OFF) -> None:
    """States whose law only grows them (None: all that there are) never fall from row to row, cell by cell.

    most : share by which one may, such as a step's own error of a degree, ``DEGREE_PER_KELVIN * step_error(case)``.
    """
    history: Any = result.history
    for name, state in history.states.items():
        if names is not None and name not in names:
            continue
        change = np.diff(state, axis=0)
        change = change[np.isfinite(change)]
        size = max(1.0, float(np.nanmax(np.abs(state), initial=0.0)))
        assert change.size == 0 or change.min() >= -most * size, (name, change.min())


def same_bits(one: Result, other: Result) -> None:
    """Two runs that must be one and the same, to the last bit: rows, states, heat, outcomes, limits."""
    a: Any = one.history
    b: Any = other.history
    for name in ("time", "edges", "temperature", "inner_face", "outer_face"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name), err_msg=name)
    assert a.states.keys() == b.states.keys()
    for name in a.states:
        np.testing.assert_array_equal(a.states[name], b.states[name], err_msg=name)
    assert a.heat == b.heat, (a.heat, b.heat)
    assert [(o.name, o.value) for o in one.outcomes] == [(o.name, o.value) for o in other.outcomes]
    assert [(x.name, x.margin) for x in one.limits] == [(x.name, x.margin) for x in other.limits]


def rows_agree(one: Any, other: Any, kelvin: float, *, mirrored: bool = False, degrees: float | None = None) -> None:
    """Two histories with the same rows and as many cells differ by no more than so many kelvin (and so much degree).

    mirrored : the second is the first seen from its other face.
    """
    np.testing.assert_allclose(other.time, one.time, rtol=1e-12, atol=1e-9)
    turn = -1 if mirrored else 1
    inner, outer = (other.outer_face, other.inner_face) if mirrored else (other.inner_face, other.outer_face)
    np.testing.assert_allclose(other.temperature[:, ::turn], one.temperature, rtol=0, atol=kelvin, err_msg="cells")
    np.testing.assert_allclose(inner, one.inner_face, rtol=0, atol=kelvin, err_msg="inner face")
    np.testing.assert_allclose(outer, one.outer_face, rtol=0, atol=kelvin, err_msg="outer face")
    if degrees is None:
        return
    assert one.states.keys() == other.states.keys()
    for name in one.states:
        np.testing.assert_allclose(other.states[name][:, ::turn], one.states[name], rtol=0, atol=degrees, err_msg=name)


def at_times(history: Any, times: Any) -> Any:
    """(rows, places) of temperature at times that are rows of the history: faces and cells [K]."""
    at = np.searchsorted(history.time, np.asarray(times) * (1.0 - 1e-12))
    np.testing.assert_allclose(history.time[at], times, rtol=1e-9, atol=1e-9, err_msg="a time that is no row")
    return np.column_stack([history.inner_face[at], history.temperature[at], history.outer_face[at]])


def is_prefix(short: Any, long: Any, kelvin: float) -> None:
    """What comes later does not change what was: rows of the shorter history stand in the longer one, on the same cells."""
    np.testing.assert_allclose(long.edges, short.edges, rtol=0, atol=0, err_msg="not the same cells")
    np.testing.assert_allclose(at_times(long, short.time), at_times(short, short.time), rtol=0, atol=kelvin)


def mean_of(history: Any, power: int = 1, inner_radius: float = 0.0) -> Any:
    """Volume-weighted mean of the cells, (rows,) [K]; power : 1 plane, 2 cylinder, 3 sphere. Each cell the same stuff."""
    edges = history.edges + (inner_radius if power > 1 else 0.0)
    volume = np.diff(edges**power)
    return history.temperature @ volume / volume.sum()


def only_falls(values: Any, most: float) -> None:
    """A series that never rises by more than so much from row to row."""
    rise = float(np.max(np.diff(values, axis=0), initial=0.0))
    assert rise <= most, rise
