"""Meshes: what is cut and graded, and that a mesh which is said to meet an accuracy meets it against exact solutions."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.conduction import mesh
from thermokit.conduction.mesh import difference, equal_edges, first_edges, graded_edges, halved, settle
from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Span
from thermokit.conduction.single import solve
from validation.references import convective_series as series
from validation.references.plane_series import constant_flux

RADIUS, TIMES = 0.01, np.array([2.0, 5.0, 10.0, 30.0, 80.0])
MEDIUM = Medium(1000.0, 1.0, 1000.0)  # a = 1e-6 m2/s: Fo = t / 100 s


def heated(shape: str, biot: float, cut: np.ndarray) -> Problem:
    """From 300 K into a medium at 400 K."""
    face = Face(exchange=(Exchange(100.0 * biot, 400.0),))
    return Problem((Layer(MEDIUM, RADIUS, cut, 300.0),), (Span(80.0, Face(), face),), shape)  # type: ignore[arg-type]


def exact(shape: str, biot: float, times: np.ndarray, positions: np.ndarray) -> np.ndarray:
    return np.array([[400.0 - 100.0 * series.ratio(shape, biot, t / 100.0, x) for x in positions] for t in times])


@pytest.mark.parametrize("accuracy", [1.0, 0.1, 0.02])
@pytest.mark.parametrize(("shape", "biot"), [("plane", 0.5), ("plane", 20.0), ("cylinder", 5.0), ("sphere", 5.0)])
def test_accuracy_is_met_against_the_series(shape: str, biot: float, accuracy: float) -> None:
    found = settle(lambda cuts: heated(shape, biot, cuts[0]), [10.0], [None], accuracy, TIMES)
    assert found.met
    assert found.history.time.tolist() == TIMES.tolist()
    centres = found.history.centres / RADIUS
    error = np.abs(found.history.temperature - exact(shape, biot, TIMES, centres)).max()
    faces = np.abs(found.history.outer_face - exact(shape, biot, TIMES, np.array([1.0]))[:, 0]).max()
    assert max(error, faces) <= accuracy
    assert found.space_error is not None
    assert found.space_error <= mesh.SPACE_SHARE * accuracy


def test_accuracy_is_met_where_layers_differ() -> None:
    """Two layers of one material are one: the series of the whole, with the layers' meshes of different fineness."""

    def build(cuts: list[np.ndarray]) -> Problem:
        one = heated("plane", 5.0, cuts[0])
        layers = (Layer(MEDIUM, 0.2 * RADIUS, cuts[0], 300.0), Layer(MEDIUM, 0.8 * RADIUS, cuts[1], 300.0))
        return one.with_(layers=layers)

    found = settle(build, [2.0, 8.0], [None, None], 0.1, TIMES)
    error = np.abs(found.history.temperature - exact("plane", 5.0, TIMES, found.history.centres / RADIUS))
    assert found.met
    assert error.max() <= 0.1


def test_a_constant_flux() -> None:
    """Rise under 5 kW/m2 (Carslaw and Jaeger 3.8): the face is the hottest place and in the mesh's corner."""

    def build(cuts: list[np.ndarray]) -> Problem:
        return Problem((Layer(MEDIUM, RADIUS, cuts[0], 300.0),), (Span(80.0, Face(), Face(heating=5e3)),))

    found = settle(build, [10.0], [None], 0.05, TIMES)
    rise = [constant_flux(RADIUS, t, RADIUS, 1.0, 1e6, 5e3) for t in TIMES]
    assert found.history.outer_face - 300.0 == pytest.approx(rise, abs=0.05)


def test_finer_accuracy_takes_more_cells() -> None:
    cells = [
        len(settle(lambda cuts: heated("plane", 5.0, cuts[0]), [10.0], [None], a, TIMES).history.centres)
        for a in (1.0, 0.02, 0.002)
    ]
    assert cells == sorted(cells)
    assert cells[0] < cells[-1]


def test_given_cells_are_kept() -> None:
    found = settle(lambda cuts: heated("plane", 5.0, cuts[0]), [10.0], [7], 0.01, TIMES)
    assert found.edges[0] == pytest.approx(np.arange(8) / 7)
    assert found.space_error is None

    def build(cuts: list[np.ndarray]) -> Problem:
        layers = tuple(Layer(MEDIUM, RADIUS / 2, cut, 300.0) for cut in cuts)
        return heated("plane", 5.0, cuts[0]).with_(layers=layers)

    mixed = settle(build, [5.0, 5.0], [3, None], 0.5, TIMES)
    assert len(mixed.edges[0]) == 4
    assert len(mixed.edges[1]) > 4


def test_an_accuracy_out_of_reach_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Just after a jump of a face no mesh is fine enough."""
    monkeypatch.setattr(mesh, "MOST_CELLS", 100)
    found = settle(lambda cuts: heated("plane", 500.0, cuts[0]), [10.0], [None], 1e-3, np.array([1e-4, 1.0]))
    assert not found.met
    assert found.space_error is not None
    assert found.space_error > mesh.SPACE_SHARE * 1e-3
    assert found.where is not None
    assert found.where[0] == 1e-4  # at the early row
    assert found.where[1] > 0.9 * RADIUS  # at the face that jumps


def test_many_rows_end_the_halving(monkeypatch: pytest.MonkeyPatch) -> None:
    """A ring of three metres with a row every 20 s over a month took 2.8 GB: what is kept is bounded, and it is said."""
    rows = np.linspace(1e-4, 1.0, 50)
    monkeypatch.setattr(mesh, "MOST_KEPT", 50 * 100)
    found = settle(lambda cuts: heated("plane", 500.0, cuts[0]), [10.0], [None], 1e-3, rows)
    assert not found.met
    assert found.history.temperature.size <= 50 * 100
    assert found.space_error is not None
    assert found.space_error > mesh.SPACE_SHARE * 1e-3


def test_halving_and_grading() -> None:
    assert halved(np.array([0.0, 0.2, 1.0])) == pytest.approx([0.0, 0.1, 0.2, 0.6, 1.0])
    assert equal_edges(4) == pytest.approx([0.0, 0.25, 0.5, 0.75, 1.0])
    for cells in (1, 2, 5, 12):
        cut = graded_edges(cells, 1.5)
        assert len(cut) == cells + 1
        assert cut + cut[::-1] == pytest.approx(np.ones(cells + 1))  # even about the middle
        widths = np.diff(cut)
        assert cut[0] == 0.0
        assert widths[0] == widths.min()


def test_a_layer_that_conducts_quickly_gets_few_cells() -> None:
    steel, plastic = (len(e) - 1 for e in first_edges([2.0, 40.0]))
    assert steel == 4
    assert plastic == mesh.FIRST_CELLS


def test_difference_of_two_meshes() -> None:
    """A body without gradients is the same on every mesh; the difference of two starts is what was put in."""
    coarse = solve(heated("plane", 0.0, equal_edges(3)), TIMES)
    fine = solve(heated("plane", 0.0, equal_edges(6)), TIMES)
    assert difference(coarse, fine)[0] == pytest.approx(0.0, abs=1e-9)
    layer = Layer(MEDIUM, RADIUS, equal_edges(6), np.array([300.0, 300.0, 300.0, 300.0, 304.0, 306.0]))
    cold = Layer(Medium(1000.0, 1e-9, 1000.0), RADIUS, equal_edges(3), 300.0)
    warm = Layer(Medium(1000.0, 1e-9, 1000.0), RADIUS, layer.edges, layer.start)
    rows = np.array([1.0])
    one = solve(Problem((cold,), (Span(1.0),)), rows)
    other = solve(Problem((warm,), (Span(1.0),)), rows)
    size, when, where = difference(one, other)
    assert size == pytest.approx(6.0, abs=1e-6)  # the outer face
    assert (when, where) == (1.0, RADIUS)
