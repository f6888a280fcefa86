"""Every layered kind against solvers that share no solver code with thermokit: CVODE, IDA, scikit-fem, FiPy.

The table of all of them is ``python -m validation.solvers``. What is allowed comes from the accuracy that the case asks for and
the other solver's own error, by halving its cells and steps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from thermokit.conduction.mesh import settle
from thermokit.conduction.problem import (
    Curve,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Series,
    Span,
    Transition,
)
from validation.solvers.cases import ENTRIES, KINDS, Entry
from validation.solvers.data import Heat, pieces
from validation.solvers.elements import Elements
from validation.solvers.lines import Cvode
from validation.solvers.lines_dae import Ida
from validation.solvers.mesh import Profile, remeshed, start_of
from validation.solvers.rows import Row
from validation.solvers.run import rows_of, solvers_of
from validation.solvers.volumes import Engine, Plain
from validation.solvers.way import Solver

KELVIN = 273.15


def entry(kind: str, word: str) -> Entry:
    (found,) = [e for e in ENTRIES if e.kind == kind and word in e.title]
    return found


def told(rows: list[Row]) -> list[str]:
    """Lines that are not within what is allowed."""
    return [f"{r.case}, {r.solver}, {r.quantity}: {r.difference:+.3g} of {r.allowed:.3g}" for r in rows if not r.passed]


@pytest.mark.parametrize(
    ("kind", "word"),
    [
        ("body", "two-layer"),
        ("sheet", "seed tray"),
        ("charge", "winch block"),
        ("dip", "porcelain"),
        ("mill", "softens"),
        ("cylinder", "spreader, friction"),
        ("line", "calendered"),
        ("line", "pipe"),
        ("line", "cloth"),
    ],
)
def test_by_lines(kind: str, word: str) -> None:
    rows = rows_of(entry(kind, word), Cvode())
    assert len(rows) >= 2
    assert not told(rows)


@pytest.mark.parametrize(("kind", "word"), [("sheet", "cloche"), ("charge", "tiller"), ("body", "two-layer")])
def test_by_elements(kind: str, word: str) -> None:
    rows = rows_of(entry(kind, word), Elements())
    assert len(rows) >= 2
    assert not told(rows)


def test_by_differential_algebraic_equations() -> None:
    assert not told(rows_of(entry("charge", "tiller"), Ida()))


@pytest.mark.long
@pytest.mark.parametrize("case", ENTRIES, ids=lambda e: f"{e.kind}: {e.title[:24]}")
def test_every_case_by_lines_and_by_elements(case: Entry) -> None:
    assert not told([row for solver in (Cvode(), Elements()) for row in rows_of(case, solver)])


@pytest.mark.long
@pytest.mark.parametrize(
    ("kind", "word"), [("body", "two-layer"), ("sheet", "cloche"), ("cylinder", "about a spreader")]
)
def test_by_volumes(kind: str, word: str) -> None:
    """FiPy takes too long for all cases to be here; the table has them."""
    assert not told(rows_of(entry(kind, word), Engine()))


def test_every_kind_has_two_cases_and_three_solvers() -> None:
    assert set(KINDS) == {"body", "sheet", "charge", "dip", "mill", "cylinder", "line"}
    for kind in KINDS:
        own = [e for e in ENTRIES if e.kind == kind]
        assert len(own) >= 2
        for case in own:
            assert {"CVODE", "scikit-fem", "FiPy (engine)"} <= {solver.name for solver in solvers_of(case)}
            assert case.load().process == kind


class _Off(Cvode):
    """CVODE with a conductivity that is 3 % off."""

    def leg(self, problem: Problem, start: Mapping[str, Profile], times: Any, level: int) -> dict[str, Profile]:
        def off(medium: Medium) -> Medium:
            k = medium.conductivity
            return replace(medium, conductivity=replace(k, value=1.03 * k.value) if isinstance(k, Curve) else 1.03 * k)

        layers = tuple(replace(la, medium=off(la.medium)) for la in problem.layers)
        return super().leg(problem.with_(layers=layers), start, times, level)


@pytest.mark.parametrize(("kind", "word"), [("cylinder", "spreader, friction"), ("sheet", "seed tray")])
def test_three_per_cent_of_conductivity_are_noticed(kind: str, word: str) -> None:
    """The comparison has teeth: what is allowed is far less than what a property off by so much does."""
    assert told(rows_of(entry(kind, word), _Off()))


def slab(h: float = 400.0) -> Problem:
    """A plate with convection on one face, the other insulated."""
    layer = Layer(Medium(1000.0, 0.25, 2000.0), 5e-3, np.linspace(0.0, 1.0, 25), 150.0 + KELVIN, name="plate")
    return Problem((layer,), (Span(40.0, Face(), Face(exchange=(Exchange(h, 20.0 + KELVIN),))),))


@pytest.mark.parametrize("solver", [Cvode(), Ida(), Elements(), Engine(), Plain()], ids=lambda s: s.name)
def test_each_solver_keeps_to_the_error_it_states(solver: Solver) -> None:
    """Against the series of a plate: Carslaw and Jaeger (1959), section 3.11, sum of cos(b x/L) exp(-b^2 Fo), b tan b = Bi."""
    from scipy.optimize import brentq

    problem, times = slab(), np.array([10.0, 20.0, 40.0])
    biot, fourier = 400.0 * 5e-3 / 0.25, 0.25 / (1000.0 * 2000.0) * times / 5e-3**2
    b = np.array([brentq(lambda x: x * np.tan(x) - biot, n * np.pi, (n + 0.5) * np.pi - 1e-9) for n in range(12)])
    c = 4.0 * np.sin(b) / (2.0 * b + np.sin(2.0 * b))
    x = np.linspace(0.0, 1.0, 11)
    shape = np.cos(np.outer(b, x))
    exact = 20.0 + KELVIN + 130.0 * np.einsum("n,tn,nx->tx", c, np.exp(-np.outer(fourier, b**2)), shape)
    start = {"plate": start_of(problem.layers[0])}
    rough, fine = (
        solver.leg(remeshed(problem, {"plate": n * solver.cells}, {}), start, times, n)["plate"].temperature_at(x)
        for n in (1, 2)
    )
    stated = np.abs(rough - fine).max()
    assert np.abs(fine - exact).max() <= stated
    assert stated < 0.6  # of 130 K


def test_the_mesh_over_a_crystallising_front_keeps_to_its_accuracy() -> None:
    """A third of the difference of two meshes is the error of the finer one for order 2 only: a front goes from cell to cell.

    Here 24 and 48 cells are 0.35 K apart, 48 and 96 cells 0.91 K, and 48 cells 1.1 K off: more than twice what was asked for.
    """
    melting, freezing = Transition(200e3, 393.15, 408.15, 403.15), Transition(200e3, 373.15, 393.15, 390.15)
    medium, times = Medium(950.0, 0.4, 2300.0, melting, freezing), np.array([0.3])

    def build(edges: Any) -> Problem:
        wall = Layer(medium, 3e-3, edges[0], 478.15, name="wall")
        return Problem((wall,), (Span(0.3, Face(), Face(exchange=(Exchange(1200.0, 288.15),))),))

    found = settle(build, [1.0], [None], 0.5, times)
    problem = build([np.linspace(0.0, 1.0, 3)])
    cvode = Cvode()
    rough, fine = (
        cvode.leg(remeshed(problem, {"wall": n}, {}), {"wall": start_of(problem.layers[0])}, times, 2)["wall"]
        for n in (160, 320)
    )
    stated = abs(rough.temperature[0, -1] - fine.temperature[0, -1])
    assert stated < 0.1
    assert found.met
    assert abs(found.history.outer_face[-1] - fine.temperature[0, -1]) <= 0.5 + stated


def test_each_face_is_read_off_its_tables() -> None:
    """Straight pieces between nodes, each side of a jump by itself; sums of convection, radiation and heating."""
    table = Series((0.0, 10.0, 10.0, 30.0), (300.0, 320.0, 400.0, 380.0))
    face = Face(
        exchange=(Exchange(10.0, table),), radiation=(Radiation(0.5, 500.0),), heating=Series((0.0, 20.0), (0.0, 200.0))
    )
    layer = replace(slab().layers[0], name="plate")
    cut = pieces(Problem((layer,), (Span(40.0, Face(), face),)))
    assert [(p.begin, p.end) for p in cut] == [(0.0, 10.0), (10.0, 20.0), (20.0, 30.0), (30.0, 40.0)]
    heat, slope = cut[1].outer.flux(5.0, 350.0)  # at 15 s: air 395 K, heating 150 W/m2
    assert heat == pytest.approx(10.0 * (395.0 - 350.0) + 150.0 + 0.5 * 5.670374419e-8 * (500.0**4 - 350.0**4))
    assert slope == pytest.approx(10.0 + 2.0 * 5.670374419e-8 * 350.0**3)
    assert cut[3].outer.flux(1.0, 380.0)[0] == pytest.approx(200.0 + 0.5 * 5.670374419e-8 * (500.0**4 - 380.0**4))


def test_heat_content_on_two_curves() -> None:
    """Heated through its melting and cooled to between the curves the latent heat is still there; it goes on the cooler one."""
    heat = Heat(Medium(900.0, 0.2, 2000.0, Transition(100e3, 430.0, 440.0), Transition(100e3, 390.0, 400.0)))
    solid = np.ones(1)
    hot = heat.content(np.array([450.0]), solid)
    assert hot - heat.content(np.array([420.0]), solid) == pytest.approx(100e3 + 30.0 * 2000.0)
    molten = heat.share_after(hot, solid)
    assert molten == pytest.approx(0.0, abs=1e-9)
    between = hot - 35.0 * 2000.0  # 415 K, still molten
    assert heat.temperature(between, molten) == pytest.approx(415.0, abs=1e-6)
    half = hot - 55.0 * 2000.0 - 50e3  # half of it given off at 395 K
    assert heat.temperature(half, molten) == pytest.approx(395.0, abs=0.01)
    assert heat.share_after(half, molten) == pytest.approx(0.5, abs=1e-3)
