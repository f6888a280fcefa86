"""The batch against the single run, case by case, and against tight references."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from batches import batch, edges, one, two_curves

from thermokit.conduction.batch import BatchHistory, solve_batch
from thermokit.conduction.history import History
from thermokit.conduction.problem import Curve, Exchange, Face, Layer, Medium, Problem, Radiation, Span
from thermokit.conduction.single import solve

TOLERANCE = 0.03
APART = 2.0 * TOLERANCE  # two runs of the same equations, each a tolerance a step
CLOSED = 1e-12  # heat balance in float64
SHARES = np.array([0.0, 0.13, 0.5, 0.77, 1.0])[:, None]
BODIES = [("plane", False), ("cylinder", False), ("cylinder", True), ("sphere", False), ("sphere", True)]


def rows_of(problem: Problem, cases: int) -> np.ndarray:
    """Rows at the same shares of each case's own time, (rows, cases)."""
    return SHARES * sum(np.broadcast_to(span.duration, (cases,)) for span in problem.spans)


def compare(found: BatchHistory, i: int, own: History, apart: float = APART) -> None:
    """Everything that both give."""
    assert own.ending.status == "finished"
    assert found.status[i] == 0
    assert found.temperature[:, :, i] == pytest.approx(own.temperature, abs=apart)
    assert found.inner_face[:, i] == pytest.approx(own.inner_face, abs=apart)
    assert found.outer_face[:, i] == pytest.approx(own.outer_face, abs=apart)
    for name, values in own.states.items():
        assert found.states[name][:, :, i] == pytest.approx(values, abs=apart / 30.0, nan_ok=True), name
    assert len(own.ends) == len(found.end_temperature)
    for k, end in enumerate(own.ends):
        assert found.end_temperature[k, :, i] == pytest.approx(end.temperature, abs=apart), k
        assert found.end_inner_face[k, i] == pytest.approx(end.inner_face, abs=apart), k
        assert found.end_outer_face[k, i] == pytest.approx(end.outer_face, abs=apart), k
        for name, values in end.states.items():
            assert found.end_states[name][k, :, i] == pytest.approx(values, abs=apart / 30.0, nan_ok=True), name
    # a degree of 1 K of the whole body is the measure of heat
    turned = own.heat.entered + own.heat.left + abs(own.heat.released)
    assert found.stored[i] == pytest.approx(own.heat.stored, abs=1e-3 * turned)
    assert found.released[i] == pytest.approx(own.heat.released, abs=1e-3 * turned)
    assert found.entered[i] - found.left[i] == pytest.approx(own.heat.entered - own.heat.left, abs=1e-3 * turned)
    assert found.unit == own.heat.unit
    assert found.mismatch[i] <= CLOSED
    assert own.heat.mismatch <= CLOSED


@pytest.mark.parametrize("cells", [1, 2, 3, 5, 20, 21])
@pytest.mark.parametrize(("shape", "solid"), BODIES)
def test_every_leaf_differs(shape: str, solid: bool, cells: int) -> None:
    """More cases than lanes, so that lanes take further cases while others are in the middle of theirs."""
    cases = 5
    problem = batch(shape, cells, cases, seed=10 * cells, solid=solid)
    times = rows_of(problem, cases)
    found = solve_batch(problem, cases, times, TOLERANCE, lanes=2)
    for i in range(cases):
        compare(found, i, solve(one(problem, i), times[:, i], TOLERANCE))


@pytest.mark.parametrize("cells", [1, 2, 5, 20])
@pytest.mark.parametrize(("shape", "solid"), BODIES)
def test_extremes(shape: str, solid: bool, cells: int) -> None:
    """The batch looks at the ends of its steps, the single run inside them too: a few tenths of a kelvin at most."""
    cases = 4
    problem = batch(shape, cells, cases, seed=7, solid=solid)
    found = solve_batch(problem, cases, None, TOLERANCE)
    for i in range(cases):
        own = solve(one(problem, i), np.zeros(0), TOLERANCE)
        assert found.hottest[i] == pytest.approx(own.hottest.value, abs=0.3)
        assert found.coldest[i] == pytest.approx(own.coldest.value, abs=0.3)


@pytest.mark.parametrize("cells", [1, 4, 9])
def test_two_curves(cells: int) -> None:
    cases = 4
    problem = two_curves(cells, cases, seed=cells)
    times = rows_of(problem, cases)
    found = solve_batch(problem, cases, times, TOLERANCE, lanes=3)
    for i in range(cases):
        own = solve(one(problem, i), times[:, i], TOLERANCE)
        compare(found, i, own)
    share = found.states["crystalline_share"]
    assert np.nanmin(share) < 0.99  # the draws do melt
    assert np.nanmin(share) >= 0.0
    assert np.nanmax(share) <= 1.0


@pytest.mark.parametrize("cells", [5, 20, 21])
@pytest.mark.parametrize("shape", ["plane", "sphere"])
def test_steps_as_in_the_single_run(shape: str, cells: int) -> None:
    """The same error control: a batch that steps much more than single runs has lost its speed."""
    cases = 4
    problem = batch(shape, cells, cases, seed=3)
    found = solve_batch(problem, cases, None, TOLERANCE)
    steps = [solve(one(problem, i), None, TOLERANCE).accepted for i in range(cases)]
    assert found.steps == pytest.approx(steps, rel=0.15)


@pytest.mark.parametrize("cells", [4, 9])
def test_steps_of_two_curves(cells: int) -> None:
    problem = two_curves(cells, 6, seed=9)
    found = solve_batch(problem, 6, None, TOLERANCE)
    steps = [solve(one(problem, i), None, TOLERANCE).accepted for i in range(6)]
    assert found.steps == pytest.approx(steps, rel=0.25)


def test_lanes_do_not_matter() -> None:
    """Cases do not feel each other: any number of lanes, any company, the same numbers to the last bit or nearly so."""
    problem = batch("cylinder", 6, 7, seed=1)
    alone = solve_batch(problem, 7, rows_of(problem, 7), TOLERANCE, lanes=1)
    for lanes in (2, 7, 512):
        other = solve_batch(problem, 7, rows_of(problem, 7), TOLERANCE, lanes=lanes)
        assert other.steps.tolist() == alone.steps.tolist()
        assert other.temperature == pytest.approx(alone.temperature, abs=1e-7)
    again = solve_batch(problem, 7, rows_of(problem, 7), TOLERANCE, lanes=2)
    same = solve_batch(problem, 7, rows_of(problem, 7), TOLERANCE, lanes=2)
    assert np.array_equal(again.temperature, same.temperature)


@pytest.mark.parametrize("bad", ["conductivity", "start", "air", "duration"])
@pytest.mark.parametrize("lanes", [2, 8])
def test_a_case_that_is_not_a_number_does_not_poison_the_others(bad: str, lanes: int) -> None:
    cases = 6
    values = {
        "conductivity": np.full(cases, 0.3),
        "start": np.full(cases, 300.0),
        "air": np.full(cases, 400.0),
        "duration": np.full(cases, 20.0),
    }
    sound = {name: value.copy() for name, value in values.items()}
    values[bad][2] = np.nan

    def problem(v: dict[str, np.ndarray]) -> Problem:
        layer = Layer(Medium(1000.0, v["conductivity"], 1500.0), 2e-3, edges(5), v["start"])
        return Problem((layer,), (Span(v["duration"], Face(exchange=(Exchange(50.0, v["air"]),)), Face()),))

    found = solve_batch(problem(values), cases, None, TOLERANCE, lanes=lanes)
    expected = solve_batch(problem(sound), cases, None, TOLERANCE, lanes=lanes)
    assert found.status.tolist() == [0, 0, 2, 0, 0, 0]
    others = [0, 1, 3, 4, 5]
    assert found.end_temperature[..., others] == pytest.approx(expected.end_temperature[..., others], abs=1e-9)


@pytest.mark.parametrize("cells", [4, 5])
def test_as_many_cases_as_cells(cells: int) -> None:
    """An array as long as the cells are many is read as one value a case, but for a profile (cells, 1 or cases)."""
    d = np.linspace(0.0, 1.0, cells)
    medium = Medium(1000.0 + 100.0 * d, 0.2 + 0.1 * d, 1500.0)
    span = Span(20.0 + 5.0 * d, Face(exchange=(Exchange(30.0 + 20.0 * d, 400.0),)), Face(heating=200.0 * d))
    starts: list[tuple[np.ndarray, list[object]]] = [
        (290.0 + 20.0 * d, [290.0 + 20.0 * x for x in d]),
        ((290.0 + 20.0 * d)[:, None], [290.0 + 20.0 * d] * cells),
        (300.0 + 10.0 * np.outer(d, d), [300.0 + 10.0 * d * x for x in d]),
    ]
    for start, each in starts:
        problem = Problem((Layer(medium, 2e-3, edges(cells), start),), (span,))
        found = solve_batch(problem, cells, None, TOLERANCE)
        for i in range(cells):
            single = one(problem, i)
            single = single.with_(layers=(replace(single.layers[0], start=each[i]),))
            assert found.end_temperature[-1, :, i] == pytest.approx(
                solve(single, None, TOLERANCE).ends[-1].temperature, abs=APART
            )


def test_leaves_of_another_length_are_refused() -> None:
    layer = Layer(Medium(1000.0, np.full(3, 0.2), 1500.0), 2e-3, edges(4), 300.0)
    with pytest.raises(ValueError):
        solve_batch(Problem((layer,), (Span(5.0),)), 4)
    layer = Layer(Medium(1000.0, 0.2, 1500.0), 2e-3, edges(4), 300.0)
    with pytest.raises(ValueError):
        solve_batch(Problem((layer,), (Span(np.array([5.0, 6.0])),)), 4)


def test_a_batch_of_one_and_a_batch_without_differences() -> None:
    layer = Layer(Medium(1000.0, 0.2, 1500.0), 2e-3, edges(5), 300.0)
    problem = Problem((layer,), (Span(20.0, Face(exchange=(Exchange(50.0, 400.0),)), Face()),))
    own = solve(problem, None, TOLERANCE).ends[-1].temperature
    for cases in (1, 3):
        found = solve_batch(problem, cases, None, TOLERANCE)
        for i in range(cases):
            assert found.end_temperature[-1, :, i] == pytest.approx(own, abs=APART)


def sheets(cases: int, seed: int) -> Problem:
    """Sheets between panels, as in the first reference problem, that differ in all that a shop can change."""
    random = np.random.default_rng(seed)

    def draw(low: float, high: float) -> np.ndarray:
        return random.uniform(low, high, cases)

    nodes = np.array([20.0, 80.0, 105.0, 120.0, 220.0]) + 273.15
    heat = np.array([1300.0, 1550.0, 1750.0, 1950.0, 2250.0])[:, None] * draw(0.9, 1.1)
    layer = Layer(
        Medium(draw(1000, 1100), draw(0.15, 0.22), Curve(nodes, heat)),
        draw(2e-3, 6e-3),
        np.linspace(0, 1, 21),
        draw(285, 305),
    )
    air = draw(310, 350)

    def face() -> Face:
        return Face(exchange=(Exchange(draw(4, 14), air),), radiation=(Radiation(draw(0.4, 0.8), draw(550, 750)),))

    still = Face(exchange=(Exchange(draw(5, 10), 298.0),), radiation=(Radiation(0.9, 298.0),))
    return Problem((layer,), (Span(draw(30, 80), face(), face()), Span(draw(0, 8), still, still)))


def sheet_reference(p: Problem, cases: int) -> np.ndarray:
    """Finite volumes of all sheets as one system by scipy's BDF, (rows, cells, cases); rows at 0.4, 0.9, 1 of span 1, end.

    Each span runs from 0 to 1 in all sheets, so that they share a clock.
    """
    from scipy.integrate import solve_ivp
    from scipy.sparse import eye, kron

    layer, sigma, n = p.layers[0], 5.670374419e-8, 20
    medium = layer.medium
    dx, k = layer.thickness / n, medium.conductivity
    g = 2.0 * k / dx
    nodes, heat = medium.specific_heat.temperature, medium.specific_heat.value
    bands = kron(np.abs(np.subtract.outer(np.arange(n), np.arange(n))) < 2, eye(cases))

    def specific_heat(t: np.ndarray) -> np.ndarray:
        j = np.clip(np.searchsorted(nodes, t) - 1, 0, len(nodes) - 2)
        case = np.arange(cases)
        share = np.clip((t - nodes[j]) / (nodes[j + 1] - nodes[j]), 0.0, 1.0)
        return heat[j, case] * (1.0 - share) + heat[j + 1, case] * share

    def run(span: Span, start: np.ndarray, rows: list[float]) -> np.ndarray:
        faces = (span.inner, span.outer)

        def both(x: str, kind: str) -> np.ndarray:
            return np.array([np.broadcast_to(getattr(getattr(f, kind)[0], x), (cases,)) for f in faces])

        h, air = both("coefficient", "exchange"), both("temperature", "exchange")
        factor, panel = both("factor", "radiation") * sigma, both("temperature", "radiation")
        surface = start[[0, -1]].copy()

        def slope(_: float, flat: np.ndarray) -> np.ndarray:
            nonlocal surface
            t = flat.reshape(n, cases)
            cell = t[[0, -1]]
            for _i in range(30):  # Newton on the balance of the faces
                miss = g * (cell - surface) + h * (air - surface) + factor * (panel**4 - surface**4)
                change = miss / (g + h + 4.0 * factor * surface**3)
                surface = surface + change
                if np.abs(change).max() < 1e-10:
                    break
            net = np.zeros((n, cases))
            flow = k / dx * np.diff(t, axis=0)
            net[:-1] += flow
            net[1:] -= flow
            net[[0, -1]] += g * (surface - cell)
            return (net * span.duration / (medium.density * dx * specific_heat(t))).ravel()

        found = solve_ivp(slope, (0.0, 1.0), start.ravel(), "BDF", rows, rtol=1e-7, atol=1e-6, jac_sparsity=bands)
        return found.y.T.reshape(len(rows), n, cases)

    first = run(p.spans[0], np.array(np.broadcast_to(layer.start, (n, cases))), [0.4, 0.9, 1.0])
    return np.concatenate([first, run(p.spans[1], first[-1], [1.0])])


def test_worst_error_of_sixty_sheets() -> None:
    """At most 4 tolerances from scipy's BDF on the same cells, the equations written down again."""
    cases = 60
    problem = sheets(cases, seed=11)
    first, last = (np.asarray(span.duration) for span in problem.spans)
    reference = sheet_reference(problem, cases)
    for tolerance in (0.03, 0.003):
        found = solve_batch(
            problem, cases, np.stack([0.4 * first, 0.9 * first, first, first + last]), tolerance, lanes=25
        )
        assert np.all(found.status == 0)
        assert found.mismatch.max() <= CLOSED
        assert np.abs(found.temperature - reference).max() <= 4.0 * tolerance
