"""Meshes are what was drawn: areas, borders, circles, names, doubled nodes; and they are fit for finite volumes."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from tests.unit.section_shapes import (
    SHAPES,
    box,
    channel,
    edge,
    elbow,
    region,
    section,
    turned,
)
from thermokit.conduction import section_mesh, section_mesh_grid
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_mesh_places import regions_of_nodes
from thermokit.conduction.section_problem import SectionMesh, SectionProblem, Touch
from thermokit.errors import DataError, SolveError

#: inner region -> the region that it lies in; all others lie in none
WITHIN = {"plug": "block", "core of inserts": "block", "hexagon of hexagon": "block"}


@cache
def meshed(name: str, fineness: float = 1.0) -> tuple[SectionProblem, SectionMesh]:
    problem = SHAPES[name]()
    return problem, mesh_section(problem, fineness)


def shoelace(outline: np.ndarray) -> float:
    """Area of a polygon (Gauss), counter-clockwise positive."""
    x, y = outline.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2


def areas_of(mesh: SectionMesh) -> np.ndarray:
    return np.array([shoelace(np.column_stack([mesh.x[t], mesh.y[t]])) for t in mesh.triangles])


def around(mesh: SectionMesh, problem: SectionProblem, name: str) -> np.ndarray:
    """Nodes of a channel."""
    return np.unique(mesh.sides[mesh.side_face == problem.face_names.index(name)])


def check_drawn(problem: SectionProblem, mesh: SectionMesh, within: dict[str, str]) -> None:
    """Areas of regions, the channels' polygons, and that triangles fit together without gap, overlap or hanging node."""
    area = areas_of(mesh)
    assert area.min() > 0.0
    drawn = {r.name: abs(shoelace(r.outline)) for r in problem.regions}
    whole = dict(drawn)
    for inner, outer in within.items():
        drawn[outer] -= whole[inner]
    holes = {r.name: 0 for r in problem.regions}
    for ch in problem.channels:
        nodes = around(mesh, problem, ch.name)
        assert np.hypot(mesh.x[nodes] - ch.centre[0], mesh.y[nodes] - ch.centre[1]) == pytest.approx(ch.diameter / 2)
        owner = problem.regions[regions_of_nodes(mesh)[nodes[0]]].name
        angle = np.sort(np.arctan2(mesh.y[nodes] - ch.centre[1], mesh.x[nodes] - ch.centre[0]))
        steps = np.diff(np.concatenate([angle, angle[:1] + 2 * np.pi]))
        drawn[owner] -= float(np.sin(steps).sum()) * ch.diameter**2 / 8  # triangles from the centre
        holes[owner] += 1
    for inner, outer in within.items():
        x, y = np.vstack([r.outline for r in problem.regions if r.name == outer]).T
        ix, iy = np.vstack([r.outline for r in problem.regions if r.name == inner]).T
        if ix.min() > x.min() and ix.max() < x.max() and iy.min() > y.min() and iy.max() < y.max():
            holes[outer] += 1  # an insert that touches no side of the outer one leaves a hole in it
    for k, r in enumerate(problem.regions):
        cells = mesh.triangles[mesh.region == k]
        assert area[mesh.region == k].sum() == pytest.approx(drawn[r.name], rel=1e-9)
        sides = np.concatenate([cells[:, [0, 1]], cells[:, [1, 2]], cells[:, [2, 0]]])
        assert len(np.unique(sides, axis=0)) == len(sides), "two triangles on the same side of an edge"
        edges = np.unique(np.sort(sides, axis=1), axis=0)
        # Euler: a disc with holes has vertices - edges + faces = 1 - holes; a hanging node or a gap breaks it
        assert len(np.unique(cells)) - len(edges) + len(cells) == 1 - holes[r.name]


@pytest.mark.parametrize("name", SHAPES)
def test_areas_and_borders_are_those_drawn(name: str) -> None:
    problem, mesh = meshed(name)
    names = {r.name for r in problem.regions}
    within = {k.split(" of ")[0]: v for k, v in WITHIN.items() if k.split(" of ")[-1] in (name, *names)}
    check_drawn(problem, mesh, {k: v for k, v in within.items() if k in names and v in names})


def test_corners_are_nodes_to_the_last_digit() -> None:
    problem, mesh = meshed("ribbed")
    nodes = {(x, y) for x, y in zip(mesh.x.tolist(), mesh.y.tolist(), strict=True)}
    for r in problem.regions:
        assert {(x, y) for x, y in r.outline.tolist()} <= nodes


@pytest.mark.parametrize("name", SHAPES)
def test_triangles_are_fair_and_couple_without_negative_signs(name: str) -> None:
    """An inner edge couples its nodes by the sum of the cotangents opposite; below 0 the matrix is no M-matrix there."""
    _, mesh = meshed(name)
    corner = np.stack([mesh.x[mesh.triangles], mesh.y[mesh.triangles]], axis=-1)
    u, v = np.roll(corner, -1, axis=1) - corner, np.roll(corner, 1, axis=1) - corner
    dot, cross = (u * v).sum(axis=-1), u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    widest = np.degrees(np.arctan2(cross, dot)).max(axis=1)
    assert widest.max() < 160.0 and (widest > 120.0).mean() < 0.01
    opposite = np.sort(
        np.concatenate([mesh.triangles[:, [1, 2]], mesh.triangles[:, [2, 0]], mesh.triangles[:, [0, 1]]])
    )
    _, index = np.unique(opposite, axis=0, return_inverse=True)
    coupling = np.bincount(index.ravel(), (dot / cross).T.ravel())
    assert (coupling < -0.1).mean() < 0.015


def test_the_mould_section_has_a_mesh_of_some_thousand_nodes() -> None:
    problem, mesh = meshed("five_channels")
    assert 3000 <= len(mesh.x) <= 6000
    part = np.unique(mesh.triangles[mesh.region == 1])
    assert 12 <= len(np.unique(mesh.y[part].round(12))) - 1 <= 20  # cells through the part
    for ch in problem.channels:
        assert len(around(mesh, problem, ch.name)) >= 24


@pytest.mark.parametrize("name", ["five_channels", "cone", "bowl"])
def test_a_finer_mesh_is_the_same_one_with_every_triangle_cut_in_four(name: str) -> None:
    problem, mesh = meshed(name)
    finer = mesh_section(problem, 2.0)
    assert len(finer.triangles) == 4 * len(mesh.triangles)
    places = {(x, y) for x, y in zip(finer.x.round(12).tolist(), finer.y.round(12).tolist(), strict=True)}
    assert {(x, y) for x, y in zip(mesh.x.round(12).tolist(), mesh.y.round(12).tolist(), strict=True)} <= places
    for ch in problem.channels:
        assert len(around(finer, problem, ch.name)) == 2 * len(around(mesh, problem, ch.name))


def test_any_fineness_has_its_family() -> None:
    problem = elbow()
    assert len(mesh_section(problem, 1.4).triangles) == 4 * len(mesh_section(problem, 0.7).triangles)
    assert len(mesh_section(problem, 0.3).x) < len(mesh_section(problem, 0.5).x)


@pytest.mark.parametrize("name", ["five_channels", "ribbed", "cone", "hexagon"])
def test_a_turned_section_has_the_same_mesh_turned(name: str) -> None:
    problem, mesh = meshed(name)
    other = mesh_section(turned(problem, 27.0))
    c, s = np.cos(np.radians(27.0)), np.sin(np.radians(27.0))
    x, y = c * other.x + s * other.y, c * other.y - s * other.x  # turned back

    def triangles(x: np.ndarray, y: np.ndarray, cells: np.ndarray) -> set[tuple[tuple[int, int], ...]]:
        tens_of_nanometres = np.column_stack([x, y]) * 1e8 + 0.25
        return {tuple(sorted(map(tuple, t))) for t in tens_of_nanometres.round().astype(int)[cells].tolist()}

    assert triangles(x, y, other.triangles) == triangles(mesh.x, mesh.y, mesh.triangles)


def test_same_section_same_mesh() -> None:
    problem, mesh = meshed("ribbed")
    again = mesh_section(problem)
    assert np.array_equal(again.x, mesh.x) and np.array_equal(again.triangles, mesh.triangles)


def length(mesh: SectionMesh, ends: np.ndarray) -> np.ndarray:
    return np.hypot(mesh.x[ends[:, 1]] - mesh.x[ends[:, 0]], mesh.y[ends[:, 1]] - mesh.y[ends[:, 0]])


def test_sides_have_the_names_of_edges_and_channels() -> None:
    problem, mesh = meshed("five_channels")
    drawn = {"bottom": 0.12, "left": 0.06, "right": 0.06, "left_land": 0.01, "right_land": 0.01}
    for name, long in drawn.items():
        ends = mesh.sides[mesh.side_face == problem.face_names.index(name)]
        assert length(mesh, ends).sum() == pytest.approx(long)
    assert length(mesh, mesh.sides[mesh.side_face < 0]).sum() == pytest.approx(
        0.1 + 2 * 0.0015
    )  # mid-plane and part ends
    nodes = around(mesh, problem, "c3")
    ends = mesh.sides[mesh.side_face == problem.face_names.index("c3")]
    count = len(nodes)
    assert length(mesh, ends).sum() == pytest.approx(2 * count * 0.005 * np.sin(np.pi / count))  # of a regular polygon
    assert set(mesh.side_region[mesh.side_face >= 0].tolist()) == {0}


def test_material_is_on_the_left_of_sides_and_joints() -> None:
    problem, mesh = meshed("ribbed")
    owner = {}
    for cell, (a, b, c) in enumerate(mesh.triangles.tolist()):
        for pair in ((a, b), (b, c), (c, a)):
            owner[pair] = problem.regions[mesh.region[cell]].name
    for (a, b), k in zip(mesh.sides.tolist(), mesh.side_region.tolist(), strict=True):
        assert owner[a, b] == problem.regions[k].name and (b, a) not in owner
    for (a1, a2, b1, b2), (one, other) in zip(mesh.joints.tolist(), mesh.joint_regions.tolist(), strict=True):
        assert owner[a1, a2] == problem.regions[one].name
        assert owner[b2, b1] == problem.regions[other].name


def test_nodes_are_doubled_where_a_touch_is_named_or_a_region_goes() -> None:
    problem, mesh = meshed("five_channels")
    a1, a2, b1, b2 = mesh.joints.T
    for one, other in ((a1, b1), (a2, b2)):
        assert mesh.x[one] == pytest.approx(mesh.x[other], abs=0) and mesh.y[one] == pytest.approx(mesh.y[other], abs=0)
        assert (one != other).all()
    assert length(mesh, mesh.joints[:, :2]).sum() == pytest.approx(0.1)
    assert {problem.face_names[k] for k in mesh.joint_face.tolist()} == {"cavity"}
    own = [set(np.unique(mesh.triangles[mesh.region == k]).tolist()) for k in (0, 1)]
    assert not own[0] & own[1]


def test_nodes_are_shared_where_regions_touch_perfectly() -> None:
    problem, mesh = meshed("inserts")
    names = [r.name for r in problem.regions]
    own = {n: set(np.unique(mesh.triangles[mesh.region == k]).tolist()) for k, n in enumerate(names)}
    assert own["block"] & own["plug"]  # perfect
    assert not own["block"] & own["core"]  # a touch all round
    assert not own["part"] & (own["plug"] | own["block"])
    met = {frozenset((names[a], names[b])) for a, b in mesh.joint_regions.tolist()}
    assert met == {frozenset(t.between) for t in problem.touches}


def test_where_three_regions_meet_contacts_decide_which_share_a_node() -> None:
    """Over a seam of two blocks that touch perfectly lies a part that touches both with a conductance: two nodes there."""
    regions = [region("a", box(0, -10, 10, 0)), region("b", box(10, -10, 20, 0)), region("part", box(0, 0, 20, 2))]
    touches = [Touch(("a", "part"), 500.0), Touch(("b", "part"), 500.0)]
    mesh = mesh_section(section(regions, touches=touches))
    there = np.nonzero(np.hypot(mesh.x - 0.01, mesh.y) < 1e-9)[0]
    assert len(there) == 2
    # all three apart, since the seam is a joint too: three nodes
    mesh = mesh_section(section(regions, touches=[*touches, Touch(("a", "b"), 500.0)]))
    assert len(np.nonzero(np.hypot(mesh.x - 0.01, mesh.y) < 1e-9)[0]) == 3
    # the seam a joint, the part perfect with both: heat goes round through it, one node
    mesh = mesh_section(section(regions, touches=[Touch(("a", "b"), 500.0)]))
    assert len(np.nonzero(np.hypot(mesh.x - 0.01, mesh.y) < 1e-9)[0]) == 1


def test_walls_askew_are_cut_into_rows() -> None:
    """A wall that leans by 9.5 degrees has at least 12 cells across: so many different distances from its left face."""
    _, mesh = meshed("cone")
    part = np.unique(mesh.triangles[mesh.region == 2])
    middle = part[(mesh.y[part] > 0.02) & (mesh.y[part] < 0.04)]
    lean = np.array([60.0, -10.0]) / np.hypot(60.0, 10.0)
    across = np.column_stack([mesh.x[middle] - 0.02, mesh.y[middle]]) @ lean
    rows = np.unique((across / across.max()).round(4))
    assert 13 <= len(rows) <= 24


def test_a_wrong_drawing_is_told() -> None:
    with pytest.raises(
        DataError, match=r"channel 'c' crosses or touches the outline of region 'block' at \(10 mm, 0 mm\)"
    ):
        mesh_section(section([region("block", box(0, -60, 120, 0))], [channel("c", 10, -4, 10)]))
    with pytest.raises(DataError, match="fineness"):
        mesh_section(elbow(), 0.0)


def test_too_many_nodes_are_told_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(SolveError, match=r"needs more than 400000 nodes"):
        mesh_section(elbow(), 64.0)
    monkeypatch.setattr(section_mesh_grid, "MOST_CELLS", 100)
    with pytest.raises(
        SolveError, match=r"needs more than 400 nodes\n.*smallest detail asks for triangles of 0\.\d+ mm"
    ):
        mesh_section(elbow())


def test_another_way_is_taken_where_the_first_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each way meshes what is drawn; where all fail, the words say what and where."""
    problem = SHAPES["cone"]()
    for way in section_mesh.WAYS:
        monkeypatch.setattr(section_mesh, "WAYS", (way,))
        check_drawn(problem, mesh_section(problem, 0.5), {})
    monkeypatch.setattr(
        section_mesh, "flaw_of", lambda *_: ("a triangle of region 'part' has no area", np.array([0.01, 0.02]))
    )
    with pytest.raises(SolveError, match=r"region 'part' has no area, at \(10 mm, 20 mm\)"):
        mesh_section(problem)


def test_a_curved_section_has_the_same_nodes_when_turned() -> None:
    """Which diagonal a quadrilateral on a circle takes is a tie."""
    problem, mesh = meshed("bowl")
    other = mesh_section(turned(problem, 27.0))
    c, s = np.cos(np.radians(27.0)), np.sin(np.radians(27.0))
    back = np.column_stack([c * other.x + s * other.y, c * other.y - s * other.x])
    away, _ = cKDTree(back).query(np.column_stack([mesh.x, mesh.y]))
    assert len(back) == len(mesh.x) and away.max() < 1e-12


def test_smaller_parts_of_a_section_do_not_change_the_rest() -> None:
    """A notch of 0.05 mm in a block of 120 mm costs some hundred nodes, not some ten thousand."""
    problem, mesh = meshed("notched")
    plain = mesh_section(section([region("block", box(0, -60, 120, 0))], problem.channels))
    assert len(mesh.x) < len(plain.x) + 2000


place = st.integers(0, 40)


@st.composite
def drawn(draw: st.DrawFn) -> SectionProblem:
    """A block with an insert, a part on it and channels, turned by any angle: mostly sound, sometimes not."""
    x0, y0 = draw(place), draw(place)
    w, h = draw(st.integers(2, 30)), draw(st.integers(2, 30))
    regions = [region("block", box(0, 0, 75, 75)), region("insert", box(x0 + 1, y0 + 1, x0 + 1 + w, y0 + 1 + h))]
    thick = draw(st.floats(0.3, 6.0))
    left, right = draw(st.floats(0, 30)), draw(st.floats(40, 75))
    lean = draw(st.floats(-2.0, 2.0))
    outline = np.array([[left, 75], [right, 75], [right + lean, 75 + thick], [left, 75 + thick]]) * 1e-3
    regions.append(region("part", outline))
    channels = [
        channel(f"c{i}", draw(st.floats(2, 73)), draw(st.floats(2, 73)), draw(st.floats(1, 20)))
        for i in range(draw(st.integers(0, 4)))
    ]
    touches = [Touch(("part", "block"), 1000.0)]
    problem = section(regions, channels, [edge("top", 0, 0, 75, 0)], touches, ["part"])
    return turned(problem, draw(st.floats(0, 360)))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(drawn())
def test_any_drawing_is_meshed_as_drawn_or_refused_plainly(problem: SectionProblem) -> None:
    try:
        mesh = mesh_section(problem, 0.5)
    except DataError as error:
        assert "channel" in str(error) and "mm" in str(error)
        return
    area = areas_of(mesh)
    assert area.min() > 0.0
    drawn_area = sum(abs(shoelace(r.outline)) for r in problem.regions if r.name != "insert")
    for ch in problem.channels:
        nodes = around(mesh, problem, ch.name)
        angle = np.sort(np.arctan2(mesh.y[nodes] - ch.centre[1], mesh.x[nodes] - ch.centre[0]))
        steps = np.diff(np.concatenate([angle, angle[:1] + 2 * np.pi]))
        drawn_area -= float(np.sin(steps).sum()) * ch.diameter**2 / 8
    assert area.sum() == pytest.approx(drawn_area, rel=1e-9)
    sides = np.concatenate([mesh.triangles[:, [0, 1]], mesh.triangles[:, [1, 2]], mesh.triangles[:, [2, 0]]])
    assert len(np.unique(sides, axis=0)) == len(sides)
    assert length(mesh, mesh.joints[:, :2]).sum() == pytest.approx(
        np.hypot(*(problem.regions[2].outline[1] - problem.regions[2].outline[0]))
    )
