"""A pipe and a covered wire in water, against lines of their own by CVODE and against FiPy."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from thermokit.conduction.fipy_engine import estimate_error
from thermokit.conduction.problem import Exchange, Face, Layer, Problem, Span
from thermokit.conduction.single import solve
from thermokit.materials import library
from thermokit.processes.media import Stuff
from validation.references.line_pipe import by_lines

TOLERANCE = 0.02  # K
CELLS = 80
PIPE = (45e-3, 55e-3)  # m, 110 x 10 mm
MELT, WATER = 478.15, 288.15  # K
#: sizing die, spray bath, stirred bath: (until [s], coefficient [W/m2/K], K)
STATIONS = ((30.0, 1200.0, WATER), (240.0, 1500.0, WATER), (480.0, 2000.0, 291.15))
TIMES = np.array([10.0, 30.0, 60.0, 120.0, 240.0, 300.0, 480.0])


def stuff() -> Stuff:
    return Stuff({}, {})


@cache
def pipe() -> Problem:
    """The wall, fine towards its skin, bore closed."""
    edges = 1.0 - np.linspace(1.0, 0.0, CELLS + 1) ** 1.4
    medium = stuff().medium("hdpe")
    layer = Layer(medium, PIPE[1] - PIPE[0], edges, MELT, name="wall")
    begun, spans = 0.0, []
    for until, h, fluid in STATIONS:
        spans.append(Span(until - begun, Face(), Face(exchange=(Exchange(h, fluid),))))
        begun = until
    return Problem((layer,), tuple(spans), "cylinder", PIPE[0])


@cache
def ours() -> Any:
    return solve(pipe(), np.concatenate([[0.0], TIMES]), TOLERANCE)


def rows(history: Any, times: Any) -> list[int]:
    return [int(np.argmin(np.abs(history.time - t))) for t in times]


@pytest.mark.long
def test_pipe_with_crystallisation_by_lines() -> None:
    """Cooling only: latent heat on the curve of crystallising, read off the material's record, not off the solver's tables."""
    hdpe = library.load("hdpe")
    assert hdpe.melting is not None
    assert hdpe.crystallising is not None
    density = hdpe.reference_density

    def held(t: Any) -> Any:
        return density * (hdpe.specific_heat.integral(t) + hdpe.melting.heat * hdpe.crystallising.share(t))

    edges = PIPE[0] + (PIPE[1] - PIPE[0]) * pipe().layers[0].edges
    start = np.full(CELLS, MELT)
    theirs = by_lines(edges, hdpe.conductivity.at, held, start, TIMES, STATIONS)
    found = ours().temperature[rows(ours(), TIMES)]
    assert found == pytest.approx(theirs, abs=4.0 * TOLERANCE)
    # at the haul-off the bore has come down through its crystallising: the comparison says something
    assert theirs[-1, 0] < 373.0
    assert theirs[1, 0] > 470.0


@pytest.mark.long
def test_pipe_by_fipy() -> None:
    theirs = estimate_error(pipe(), TIMES, 10)
    found = ours().temperature[rows(ours(), TIMES)]
    assert np.abs(found - theirs.history.temperature).max() <= theirs.largest + 4.0 * TOLERANCE
    assert theirs.largest < 3.0  # K of a fall of 190


def test_heat_of_the_pipe_is_that_of_its_wall() -> None:
    """What the water takes is what the record says between melt and the end, cell by cell."""
    hdpe = library.load("hdpe")
    assert hdpe.melting is not None
    assert hdpe.crystallising is not None
    history = ours()
    r = PIPE[0] + history.edges

    def held(t: Any) -> Any:
        return hdpe.specific_heat.integral(t) + hdpe.melting.heat * hdpe.crystallising.share(t)

    gone = np.pi * np.diff(r**2) @ (held(np.full(CELLS, MELT)) - held(history.temperature[-1])) * hdpe.reference_density
    assert history.heat.left == pytest.approx(gone, rel=1e-3)
    assert history.heat.mismatch < 1e-3


CORE, OUT = 0.7e-3, 1.75e-3
TROUGH = ((0.06, 30.0, 298.15), (4.0, 3500.0, 318.15), (12.0, 3500.0, WATER))  # air gap, warm water, cold water
WIRE_TIMES = np.array([0.06, 0.5, 1.0, 2.0, 4.0, 6.0, 12.0])


def wire() -> Problem:
    """Copper, preheated, under low-density polyethylene of even properties (its own test of crystallisation is the pipe's)."""
    from thermokit.conduction.problem import Medium

    even, fine = np.linspace(0.0, 1.0, 9), 1.0 - np.linspace(1.0, 0.0, 61) ** 1.4
    layers = (
        Layer(Medium(8940.0, 390.0, 385.0), CORE, even, 383.15, contact=3000.0),
        Layer(Medium(920.0, 0.27, 2300.0), OUT - CORE, fine, 483.15),
    )
    begun, spans = 0.0, []
    for until, h, fluid in TROUGH:
        spans.append(Span(until - begun, Face(), Face(exchange=(Exchange(h, fluid),))))
        begun = until
    return Problem(layers, tuple(spans), "cylinder")


def wire_by_lines() -> Any:
    """Method of lines, BDF of scipy: rings with half-ring resistances and the contact between, no solver of the project."""
    from scipy.integrate import solve_ivp

    problem = wire()
    core, cover = (layer.edges * layer.thickness for layer in problem.layers)  # type: ignore[operator]
    r = np.concatenate([core, CORE + cover[1:]])
    middle = np.sqrt((r[1:] ** 2 + r[:-1] ** 2) / 2)
    n = len(core) - 1
    k = np.where(np.arange(len(middle)) < n, 390.0, 0.27)
    c = np.where(np.arange(len(middle)) < n, 8940.0 * 385.0, 920.0 * 2300.0)
    joint = np.log(r[1:-1] / middle[:-1]) / k[:-1] + np.log(middle[1:] / r[1:-1]) / k[1:]
    joint[n - 1] += 1.0 / (3000.0 * CORE)
    volume = (r[1:] ** 2 - r[:-1] ** 2) / 2
    t = np.where(np.arange(len(middle)) < n, 383.15, 483.15)
    found, begun = [], 0.0
    for until, h, fluid in TROUGH:
        skin = np.log(r[-1] / middle[-1]) / k[-1] + 1.0 / (h * r[-1])

        def slope(_: float, y: Any, skin: float = skin, fluid: float = fluid) -> Any:
            flow = np.concatenate([[0.0], np.diff(y) / joint, [(fluid - y[-1]) / skin]])
            return np.diff(flow) / (c * volume)

        wanted = WIRE_TIMES[(begun < WIRE_TIMES) & (until >= WIRE_TIMES)]
        gone = solve_ivp(slope, (begun, until), t, method="BDF", t_eval=wanted, rtol=1e-8, atol=1e-7)
        found.append(gone.y.T)
        t, begun = gone.y[:, -1], until
    return np.concatenate(found)


def test_wire_by_lines() -> None:
    history = solve(wire(), np.concatenate([[0.0], WIRE_TIMES]), 0.01)
    found = history.temperature[rows(history, WIRE_TIMES)]
    theirs = wire_by_lines()
    assert found == pytest.approx(theirs, abs=0.05)
    assert theirs[1, 0] > 385.0  # the cover warms its conductor first


@pytest.mark.long
def test_wire_by_fipy() -> None:
    theirs = estimate_error(wire(), WIRE_TIMES, 30)
    history = solve(wire(), np.concatenate([[0.0], WIRE_TIMES]), 0.01)
    found = history.temperature[rows(history, WIRE_TIMES)]
    assert np.abs(found - theirs.history.temperature).max() <= theirs.largest + 0.04
    assert theirs.largest < 2.0
