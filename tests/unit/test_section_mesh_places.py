"""Reading a mesh: nodes along faces, and values at any point."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.section_shapes import box, edge, five_channels, inserts, region, section
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_mesh_places import face_path, interpolation
from thermokit.errors import DataError


def test_a_path_runs_along_an_edge_from_its_start() -> None:
    problem = five_channels()
    mesh = mesh_section(problem)
    nodes, distance = face_path(mesh, problem, "cavity")
    assert distance == pytest.approx(mesh.x[nodes] - 0.01) and (np.diff(distance) > 0.0).all()
    assert (distance[0], distance[-1]) == pytest.approx((0.0, 0.1))
    block = set(np.unique(mesh.triangles[mesh.region == 0]).tolist())
    assert set(nodes.tolist()) <= block  # the part is away at times


def test_a_path_runs_round_a_channel() -> None:
    problem = five_channels()
    mesh = mesh_section(problem)
    nodes, distance = face_path(mesh, problem, "c2")
    angle = distance / 0.005
    assert mesh.x[nodes] == pytest.approx(0.04 + 0.005 * np.cos(angle))
    assert mesh.y[nodes] == pytest.approx(-0.015 + 0.005 * np.sin(angle))
    assert len(np.unique(nodes)) == len(nodes) == (mesh.side_face == problem.face_names.index("c2")).sum()


def test_a_path_between_regions_that_touch_perfectly() -> None:
    regions = [region("a", box(0, 0, 10, 10)), region("b", box(10, 0, 20, 10))]
    problem = section(regions, edges=[edge("seam", 10, 10, 10, 0)])
    mesh = mesh_section(problem)
    nodes, distance = face_path(mesh, problem, "seam")
    assert mesh.x[nodes] == pytest.approx(0.01) and mesh.y[nodes] == pytest.approx(0.01 - distance)
    assert distance[-1] == pytest.approx(0.01)


def test_an_unknown_face_is_told() -> None:
    problem = five_channels()
    with pytest.raises(DataError, match="no edge or channel 'lid'; it has: bottom, left"):
        face_path(mesh_section(problem, 0.5), problem, "lid")


def test_a_linear_field_is_read_exactly() -> None:
    mesh = mesh_section(inserts(), 0.5)
    rng = np.random.default_rng(3)
    points = rng.uniform((0.0, -0.06), (0.12, -0.021), (200, 2))  # below the plug and its channel
    points = points[
        (np.hypot(*(points - (0.02, -0.015)).T) > 0.0055) & (np.hypot(*(points - (0.1, -0.015)).T) > 0.0055)
    ]
    corners = np.array([[0.0, -0.06], [0.12, 0.0], [0.04, -0.02], [0.06, -0.06], [0.055, -0.03], [0.01, 0.002]])
    points = np.concatenate([points, corners])
    nodes, weights = interpolation(mesh, points)
    field = 3.0 + 40.0 * mesh.x - 25.0 * mesh.y
    assert (field[nodes] * weights).sum(axis=1) == pytest.approx(3.0 + 40.0 * points[:, 0] - 25.0 * points[:, 1])
    assert weights.min() >= 0.0 and weights.sum(axis=1) == pytest.approx(1.0)


def test_where_nodes_are_doubled_the_region_is_chosen() -> None:
    mesh = mesh_section(five_channels(), 0.5)
    jump = np.zeros(len(mesh.x))
    jump[np.unique(mesh.triangles[mesh.region == 1])] = 1.0
    point = np.array([[0.06, 0.0]])

    def read(**how: object) -> float:
        nodes, weights = interpolation(mesh, point, **how)  # type: ignore[arg-type]
        return float((jump[nodes] * weights).sum())

    assert (read(), read(region=1), read(absent=[0])) == (0.0, 1.0, 1.0)


@pytest.mark.parametrize(("point", "words"), [((0.5, 0.5), "no region"), ((0.02, -0.015), "no region")])
def test_a_point_in_nothing_is_told(point: tuple[float, float], words: str) -> None:
    with pytest.raises(DataError, match=words):
        interpolation(mesh_section(five_channels(), 0.5), np.array([point]))
