"""The row of channels by finite elements and by sources: film at the bore, even heat at the face, blocks of finite thickness."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from thermokit.exchange.channel_row import channel_row, thin_wire_shape_factor
from validation.references.water import row_shape_factor

pytest.importorskip("skfem")


def by_elements(d: float, z: float, p: float, back: float, biot: float, isothermal: bool) -> tuple[float, float]:
    """(mean of the face over the coolant, highest over the mean) for one unit of heat a pitch, k = 1; quadratic elements.

    Half a pitch, mapped: from the bore to the outline along rays.
    """
    from skfem import BilinearForm, ElementQuad2, FacetBasis, LinearForm, MeshQuad, asm, condense, solve
    from skfem.assembly import Basis
    from skfem.models.poisson import laplace

    r, bottom = d / 2, back - z
    corners = [np.arctan2(p / 2, z), np.pi - np.arctan2(p / 2, bottom)]
    stops = [0.0, *corners, np.pi]
    angle = np.unique(np.concatenate([np.linspace(a, b, 33) for a, b in pairwise(stops)]))
    s = np.linspace(0.0, 1.0, 41) ** 1.3
    mesh = MeshQuad.init_tensor(angle, s)
    ray, share = mesh.p
    with np.errstate(divide="ignore"):
        out = np.minimum.reduce(
            [
                np.where(np.sin(ray) > 1e-12, p / 2 / np.abs(np.sin(ray)), np.inf),
                np.where(np.cos(ray) > 1e-12, z / np.abs(np.cos(ray)), np.inf),
                np.where(np.cos(ray) < -1e-12, bottom / np.abs(np.cos(ray)), np.inf),
            ]
        )
    reach = r + share * (out - r)
    mesh = MeshQuad(np.stack([reach * np.sin(ray), reach * np.cos(ray)]), mesh.t)
    bore = mesh.facets_satisfying(lambda x: np.hypot(x[0], x[1]) < r * (1 + 1e-9), boundaries_only=True)
    face = mesh.facets_satisfying(lambda x: np.abs(x[1] - z) < 1e-9, boundaries_only=True)
    element = ElementQuad2()
    basis = Basis(mesh, element, intorder=4)
    at_bore, at_face = FacetBasis(mesh, element, facets=bore, intorder=4), FacetBasis(mesh, element, facets=face)
    mass = BilinearForm(lambda u, v, w: u * v)
    one = LinearForm(lambda v, w: 1.0 * v)
    matrix = asm(laplace, basis) + biot / r * asm(mass, at_bore)
    weight = asm(one, at_face)
    if isothermal:
        held = basis.get_dofs(face)
        x = np.zeros(basis.N)
        x[held.all()] = 1.0
        x = solve(*condense(matrix, np.zeros(basis.N), x=x, D=held))
        heat = 2 * biot / r * float(asm(one, at_bore) @ x)
        return 1.0 / heat, 0.0
    x = solve(matrix, weight / p)  # half of a unit over half a pitch
    mean = float(weight @ x) / (p / 2)
    highest = float(x[basis.get_dofs(face).all()].max())
    return mean, highest / mean - 1.0


@pytest.mark.parametrize(
    ("d", "z", "p", "block", "biot"),
    [(1.0, 1.5, 3.0, 6.0, 1.0), (1.0, 1.0, 2.5, 2.2, 0.4), (1.0, 2.0, 5.0, 3.2, 30.0), (0.8, 1.2, 4.0, 8.0, 1e7)],
)
def test_even_heat_at_the_face(d: float, z: float, p: float, block: float, biot: float) -> None:
    """Mean and unevenness of the face; biot = h r/k of the bore; blocks so thin that the back matters, and thick ones."""
    mean, uneven = by_elements(d, z, p, block, biot, isothermal=False)
    row = channel_row(1.0, d, z, p, biot / (d / 2), block=block)
    assert float(row.resistance) / p == pytest.approx(mean, rel=2e-4)
    assert float(row.unevenness) == pytest.approx(uneven, rel=2e-3)


def test_face_of_one_temperature_with_a_film() -> None:
    mean, _ = by_elements(1.0, 1.5, 3.0, 6.0, 1.0, isothermal=True)
    row = channel_row(1.0, 1.0, 1.5, 3.0, 2.0, face="temperature", block=6.0)
    assert float(row.resistance) / 3.0 == pytest.approx(mean, rel=2e-4)
    assert float(row.unevenness) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("d", "z", "p"), [(1.0, 2.0, 3.0), (0.2, 2.0, 3.0), (1.0, 0.8, 4.0), (1.0, 1.5, 1.3)])
def test_shape_factor_by_sources(d: float, z: float, p: float) -> None:
    row = channel_row(1.0, d, z, p, face="temperature")
    assert float(row.shape_factor) == pytest.approx(row_shape_factor(d, z, p, 90), rel=1e-5)


def test_thin_wires_are_the_hand_formula() -> None:
    for d, within in ((0.02, 1e-4), (0.2, 3e-3)):
        exact = float(channel_row(1.0, d, 2.0, 3.0, face="temperature").shape_factor)
        assert float(thin_wire_shape_factor(d, 2.0, 3.0)) == pytest.approx(exact, rel=within)
