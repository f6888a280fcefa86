"""What must hold of any section: its mesh is what was drawn, heat closes, nothing is hotter than its surroundings made it, and the
same section drawn, named, cut or written otherwise has the same answer.

Solved on coarse meshes: the laws hold on every mesh. Where two meshes are compared, the allowance is what the answer moves by
when the mesh is halved.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st
from scipy.sparse import csc_matrix, diags
from scipy.sparse.linalg import splu

from tests.siege.generated_drawing import HUNDREDTH, array_of, box, clearance, inside, millimetres, signed_area
from tests.siege.generated_section import STUFFS, Act, Piece, Side, Sketch, Stay, Units, films, sketches, stuff_of
from tests.siege.profiles import sieged
from tests.siege.writing import case_text
from thermokit.case import parse_case
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Exchange, Face
from thermokit.conduction.section_equations import SectionSystem, good_order
from thermokit.conduction.section_faces import section_pieces
from thermokit.conduction.section_history import SectionHistory
from thermokit.conduction.section_march import march
from thermokit.conduction.section_matrices import assemble_section
from thermokit.conduction.section_media import NodeEnergy
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_problem import SectionMesh, SectionProblem
from thermokit.conduction.section_steady import steady
from thermokit.errors import SolveError
from thermokit.processes.run import run_case
from thermokit.processes.section import SectionProcess
from thermokit.processes.section_places import series

STEP = 0.2  # K, local error of a step
COARSE = 0.25  # fineness
FAMILY = (0.5, 1.0)  # of two meshes of which one is cut from the other
LARGE = 1_500  # nodes beyond which a case is left to those that look at meshes only
CONSTANT = tuple(STUFFS)
ROUND_OFF = 1e-12  # of the heat that is held
FLOWS = 1e-14  # of all flows, of which each counts to 1e-16, some ten at a node
ZERO = 273.15


def problem_of(sketch: Sketch) -> SectionProblem:
    return SectionProcess(parse_case(sketch.text())).problem()


def meshed(problem: SectionProblem, fineness: float = COARSE, most: int = LARGE) -> SectionMesh:
    """Its mesh; a drawing that asks for a very fine one is passed over."""
    try:
        mesh = mesh_section(problem, fineness)
    except SolveError:
        event("not meshed")
        assume(False)
        raise
    if len(mesh.x) > most:
        event("too large")
        assume(False)
    return mesh


def gap(sketch: Sketch) -> float:
    """The least distance of a hole from anything else, as a share of its diameter."""
    found = [np.inf]
    for k, h in enumerate(sketch.holes):
        apart = [clearance((h.x, h.y), p.outline) for p in sketch.pieces]
        apart += [float(np.hypot(h.x - o.x, h.y - o.y)) - o.diameter / 2 for o in sketch.holes[:k]]
        found.append((min(apart) - h.diameter / 2) / h.diameter)
    return min(found)


def solved(sketch: Sketch, fineness: float = COARSE) -> SectionHistory:
    problem = problem_of(sketch)
    history = march(problem, meshed(problem, fineness), None, STEP)
    assert history.ending.status == "finished", history.ending
    return history


# -- the mesh ---------------------------------------------------------------------------------------------------------


@sieged(6)
@given(sketches(), st.sampled_from([0.25, 0.5]))
def test_the_mesh_is_what_was_drawn(sketch: Sketch, fineness: float) -> None:
    """Areas to 1e-9, every named run followed, every triangle in its own material, no corner beyond 172 degrees."""
    problem = problem_of(sketch)
    try:
        mesh = mesh_section(problem, fineness)
    except SolveError:
        assert gap(sketch) < 0.02, "only a hole that nearly touches something may ask for too fine a mesh"
        return
    place = np.column_stack([mesh.x, mesh.y]) / HUNDREDTH
    corner = place[mesh.triangles]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2.0
    assert area.min() > 0.0
    _no_slivers(corner, area)
    drawn = [abs(signed_area(p.outline)) for p in sketch.pieces]
    names = [p.name for p in sketch.pieces]
    for name, outer in (sketch.inner or {}).items():
        drawn[names.index(outer)] -= drawn[names.index(name)]
    for k, hole in enumerate(sketch.holes):
        nodes = np.unique(mesh.sides[mesh.side_face == len(sketch.sides) + k])
        ray = place[nodes] - (hole.x, hole.y)
        assert np.allclose(np.hypot(*ray.T), hole.diameter / 2.0, rtol=1e-9, atol=1e-6)
        angle = np.sort(np.arctan2(ray[:, 1], ray[:, 0]))
        turns = np.diff(np.append(angle, angle[0] + 2.0 * np.pi))
        drawn[_owner(sketch, hole.x, hole.y)] -= np.sin(turns).sum() * hole.diameter**2 / 8.0
    for k, outline_area in enumerate(drawn):
        assert np.isclose(area[mesh.region == k].sum(), outline_area, rtol=1e-9, atol=0.0)
    middle = corner.mean(axis=1)
    owned = np.array([_owner(sketch, x, y) for x, y in middle[:: max(1, len(middle) // 300)]])
    assert (owned == mesh.region[:: max(1, len(middle) // 300)]).all()
    _edges_followed(sketch, mesh, place)
    _volumes(sketch, problem, mesh, corner, area)


def _no_slivers(corner: np.ndarray, area: np.ndarray) -> None:
    ways = np.roll(corner, -1, axis=1) - corner, np.roll(corner, 1, axis=1) - corner
    angle = np.degrees(np.arctan2(2.0 * area[:, None], (ways[0] * ways[1]).sum(axis=-1)))
    assert angle.max() < 172.0 and angle.min() > np.degrees(1e-5)


def _owner(sketch: Sketch, x: float, y: float) -> int:
    """The piece at a point: the insert where it is inside one."""
    point = np.array([(x, y)], float)
    holding = [k for k, p in enumerate(sketch.pieces) if inside(point, p.outline)[0]]
    assert holding, "no piece is drawn there"
    return holding[-1]


def _edges_followed(sketch: Sketch, mesh: SectionMesh, place: np.ndarray) -> None:
    """Sides and joints of the mesh with a name cover its whole run; no side lies off it."""
    for k, side in enumerate(sketch.sides):
        run = np.array(side.end, float) - side.start
        length = float(np.hypot(*run))
        pairs = np.concatenate([mesh.sides[mesh.side_face == k], mesh.joints[mesh.joint_face == k][:, :2]])
        shared = [p for p in sketch.pieces[1:] if _on_run(side, p)]
        ends = place[pairs]
        off = ((ends - side.start) @ np.array([-run[1], run[0]])) / length
        assert np.abs(off).max(initial=0.0) < 1e-6 * max(1.0, length)
        if not shared:
            assert np.isclose(np.hypot(*(ends[:, 0] - ends[:, 1]).T).sum(), length, rtol=1e-9)


def _on_run(side: Any, piece: Any) -> bool:
    """Whether a piece has a side on the run of a named one (then no outside is there where they meet perfectly)."""
    a, run = np.array(side.start, float), np.array(side.end, float) - side.start
    rows = (array_of(piece.outline) - a) @ np.array([-run[1], run[0]]) / np.hypot(*run)
    return bool((np.abs(rows) < 1e-6).sum() >= 2 and piece.name != "host")


def _volumes(sketch: Sketch, problem: SectionProblem, mesh: SectionMesh, corner: np.ndarray, area: np.ndarray) -> None:
    """Voronoi volumes are none below 0 and add up to the drawn area, or to the ring about the axis (Pappus's theorem)."""
    body = assemble_section(problem, mesh)
    volume = sum(stuff.volume.sum() for stuff in body.stuffs)
    assert all((stuff.volume >= 0.0).all() for stuff in body.stuffs)
    swept = area * 2.0 * np.pi * corner[..., 0].mean(axis=1) * HUNDREDTH if sketch.axis else area
    assert np.isclose(volume, swept.sum() * HUNDREDTH**2, rtol=1e-9)


def held_in(sketch: Sketch) -> float:
    """About the heat content above absolute zero [J/m, or J of the ring], of which differences are no better than round-off."""
    total = 0.0
    for piece in sketch.pieces:
        _, density, heat = STUFFS.get(piece.stuff, (0.2, 950.0, 2200.0))
        around = 2.0 * np.pi * array_of(piece.outline)[:, 0].max() * HUNDREDTH if sketch.axis else 1.0
        total += abs(signed_area(piece.outline)) * HUNDREDTH**2 * density * heat * 300.0 * around
    return float(total)


def coupled(problem: SectionProblem, mesh: SectionMesh, t: np.ndarray) -> tuple[SectionSystem, np.ndarray]:
    """The equations of the first span, and the entries of its matrix [W/K] with secant conductivities at temperatures [K]."""
    body = assemble_section(problem, mesh)
    piece = section_pieces(problem)[0]
    system = SectionSystem(body, NodeEnergy(body), good_order(body), problem.spans[0].absent, piece)
    apart = t[body.pattern.indices] - t[body.pattern.columns]
    same = np.abs(apart) < 1e-6
    data = system.base.data.copy()
    for curved in system.curved:
        flux = curved.integral(t)[body.pattern.indices] - curved.integral(t)[body.pattern.columns]
        at_node = ((curved.integral(t + 1e-3) - curved.integral(t - 1e-3)) / 2e-3)[body.pattern.indices]
        data += curved.stiffness * np.where(same, at_node, flux / np.where(same, 1.0, apart))
    return system, data


def carried(problem: SectionProblem, mesh: SectionMesh, t: np.ndarray) -> float:
    """All heat flows of a steady state, each counted as it stands before it is taken from another [W/m, or W]: no balance of them
    is better than round-off of these."""
    system, data = coupled(problem, mesh, t)
    inside = np.abs(data * (t - t.min())[system.body.pattern.columns]).sum()
    return float(inside + (system.lin * t + STEFAN_BOLTZMANN * system.quartic * t**4).sum())


def spoiled(problem: SectionProblem, mesh: SectionMesh, t: np.ndarray) -> tuple[float, float]:
    """(above, below): how far a steady state may leave the range of its surroundings because of negative couplings [K].

    Where an angle beyond 90 degrees looks at an outside (or, on a refined mesh, at a channel whose new nodes have moved onto its
    circle) two nodes couple negatively: a_ij < 0. With M the matrix without those, the balance of the nodes is

        M T = h T_air + g,    g_i = sum over a_ij < 0 of |a_ij| (T_i - T_j),

    and M, all of whose couplings are positive, obeys the maximum principle (Ciarlet & Raviart, 1973): T <= max T_air + M^-1 g+ and
    T >= min T_air - M^-1 g-. Conductivities are the secants between two nodes; the coefficient of radiation is at least
    emissivity sigma T^3, and less exchange makes M^-1 larger.
    """
    system, data = coupled(problem, mesh, t)
    row, column = system.body.pattern.indices, system.body.pattern.columns
    aside = row != column
    coupling = np.where(aside, -data, 0.0)
    coupling[np.abs(coupling) < 1e-12 * np.abs(data).max()] = 0.0
    n = len(t)
    pushed = np.bincount(row, np.maximum(-coupling, 0.0) * (t[row] - t[column]), n)
    good = np.maximum(coupling, 0.0)
    own = np.bincount(row, good, n) + system.lin + system.quartic * STEFAN_BOLTZMANN * t**3
    matrix = (diags(own) - csc_matrix((good, (row, column)), shape=(n, n))).tocsc()[system.free][:, system.free]
    factor = splu(matrix)
    above, below = (factor.solve(np.maximum(sign * pushed, 0.0)[system.free]) for sign in (1.0, -1.0))
    return float(above.max(initial=0.0)), float(below.max(initial=0.0))


# -- laws of heat -----------------------------------------------------------------------------------------------------


@sieged(6)
@given(sketches())
def test_heat_closes_and_nothing_leaves_the_range_of_its_surroundings(sketch: Sketch) -> None:
    """Heat to 1e-9 of what is turned over (1e-6 with latent heat) and the round-off of what is held;
    temperatures to the error of a step."""
    history = solved(sketch)
    latent = any(p.stuff == "melting" for p in sketch.pieces)
    heat = history.heat
    turned = heat.entered + abs(heat.stored)
    astray = abs(heat.entered - heat.left - heat.stored)
    assert astray <= (1e-6 if latent else 1e-9) * turned + ROUND_OFF * held_in(sketch), heat
    low, high = sketch.temperatures()
    rows = history.temperature[np.isfinite(history.temperature)] - ZERO
    assert rows.max() <= high + STEP and rows.min() >= low - STEP
    assert history.hottest.value - ZERO <= high + STEP and history.coldest.value - ZERO >= low - STEP
    # extremes are looked for at the ends of steps, rows are read off inside them
    assert rows.max() <= history.hottest.value - ZERO + STEP and rows.min() >= history.coldest.value - ZERO - STEP
    for name, rows_of_region in history.peaks.items():
        assert np.nanmax(rows_of_region, initial=-np.inf) <= history.hottest.value + STEP, name


@sieged(4)
@given(sketches(steady=True, own_starts=False))
def test_a_steady_state_keeps_within_its_surroundings_and_a_long_run_ends_in_it(sketch: Sketch) -> None:
    """The discrete maximum principle holds to what negative couplings carry (``spoiled``) and to the last step of Newton's method,
    1e-6 K."""
    problem = problem_of(sketch)
    mesh = meshed(problem)
    try:
        found = steady(problem, mesh)
    except SolveError as wrong:
        assert "exchanges heat with nothing" in str(wrong) and len(sketch.pieces) > 1
        return
    assert found.ending.status == "finished", found.ending
    low, high = sketch.surroundings()
    rows = found.temperature[0] - ZERO
    above, below = spoiled(problem, mesh, found.temperature[0])
    assert rows.max() <= high + above + 1e-6 and rows.min() >= low - below - 1e-6, (rows.min() - low, rows.max() - high)
    assert abs(found.heat.entered - found.heat.left) <= 1e-9 * found.heat.entered + ROUND_OFF * carried(
        problem, mesh, found.temperature[0]
    ), found.heat
    lengths = (1e3, 1e6, 1e10)
    long = replace(problem, spans=tuple(replace(problem.spans[0], duration=d) for d in lengths))
    history = march(long, mesh, np.array([sum(lengths)]), STEP)
    assert history.ending.status == "finished", history.ending
    assert np.abs(history.temperature[-1] - found.temperature[0]).max() <= STEP


@sieged(8)
@given(sketches(own_starts=False, degrees=st.just(180), surround=st.integers(-20, 180), away=False))
def test_what_only_cools_falls_everywhere(sketch: Sketch) -> None:
    """From a uniform start above constant surroundings dT/dt <= 0 at once, and by the maximum principle for ever: on a mesh to the
    error of a step and to what negative couplings at the outside carry (``spoiled``). Those were seen to lift a node of a slanted
    polygon under 3e5 W/m2/K by 0.130 K of a drop of 74 K, whatever the steps (0.2, 0.02, 0.002 K)."""
    sketch = replace(sketch, stays=sketch.stays[:1])
    history = solved(sketch)
    rise = np.diff(history.temperature, axis=0)
    assert rise.max(initial=0.0) <= STEP
    assert history.temperature.max() <= 180 + ZERO + STEP
    for values in history.peaks.values():
        assert np.diff(values).max(initial=0.0) <= STEP


# -- the same section drawn otherwise -----------------------------------------------------------------------------------


def looked_at(sketch: Sketch) -> list[tuple[float, float]]:
    """Middles of the sides of every piece: not corners, for no mesh is fine enough where a face ends."""
    found = []
    for piece in sketch.pieces:
        ring = zip(piece.outline, (*piece.outline[1:], piece.outline[0]), strict=True)
        found += [((x0 + x1) / 2.0, (y0 + y1) / 2.0) for (x0, y0), (x1, y1) in ring]
    return found[:12]


def at_places(history: SectionHistory, places: list[tuple[float, float]]) -> np.ndarray:
    return np.array([series(history, (x * HUNDREDTH, y * HUNDREDTH))[-1] for x, y in places])


def same_answer(
    sketch: Sketch, other: Sketch, places: list[tuple[float, float]], others: list[tuple[float, float]]
) -> None:
    """Two drawings of one section agree at places at the end, to what each moves by when its mesh is halved."""
    found, apart = [], 0.0
    for one, where in ((sketch, places), (other, others)):
        coarse, fine = (at_places(solved(one, fineness), where) for fineness in FAMILY)
        apart = max(apart, float(np.nanmax(np.abs(coarse - fine))))
        found.append(fine)
    assert np.array_equal(np.isnan(found[0]), np.isnan(found[1])), "a place of a piece that is away"
    off = float(np.nanmax(np.abs(found[0] - found[1])))
    assert off <= apart + 2.0 * STEP, (off, apart)


@pytest.mark.long
@sieged(2)
@given(sketches(axis=False), st.sampled_from(["left", "up", "turned", "moved"]))
def test_mirrored_turned_and_moved(sketch: Sketch, how: str) -> None:
    maps = {
        "left": lambda p: (-p[0], p[1]),
        "up": lambda p: (p[0], -p[1]),
        "turned": lambda p: (-p[1], p[0]),
        "moved": lambda p: (p[0] + 100_000, p[1] - 50_000),
    }
    by = maps[how]
    places = looked_at(sketch)
    same_answer(sketch, sketch.moved(by), places, [by(p) for p in places])


@pytest.mark.long
@sieged(2)
@given(sketches(axis=True), st.integers(-100_000, 100_000))
def test_mirrored_and_moved_along_the_axis(sketch: Sketch, along: int) -> None:
    places = looked_at(sketch)
    same_answer(sketch, sketch.moved(lambda p: (p[0], along - p[1])), places, [(x, along - y) for x, y in places])


@pytest.mark.long
@sieged(2)
@given(sketches(), st.booleans())
def test_the_order_of_corners_pieces_and_names_is_nothing(sketch: Sketch, backwards: bool) -> None:
    """Outlines begun elsewhere or drawn the other way round."""
    pieces = []
    for piece in sketch.pieces:
        outline = piece.outline[1:] + piece.outline[:1]
        pieces.append(replace(piece, outline=outline[::-1] if backwards else outline))
    sides_ = tuple(replace(s, start=s.end, end=s.start) if backwards else s for s in sketch.sides)
    other = replace(sketch, pieces=tuple(pieces), sides=sides_)
    places = looked_at(sketch)
    same_answer(sketch, other, places, places)


@sieged(1)
@given(sketches(own_starts=False))
def test_a_piece_cut_off_that_touches_perfectly_and_is_of_the_same_stuff_changes_nothing(sketch: Sketch) -> None:
    assume(sketch.inner)
    one = replace(sketch, pieces=sketch.pieces[:1], contacts=(), inner={})
    stuff = sketch.pieces[0].stuff
    two = replace(sketch, pieces=tuple(replace(p, stuff=stuff) for p in sketch.pieces), contacts=())
    places = looked_at(two)
    same_answer(one, two, places, places)


@sieged(3)
@given(sketches(away=False), st.integers(1, 99))
def test_a_station_cut_in_two_changes_nothing(sketch: Sketch, percent: int) -> None:
    """On one mesh: to the errors of the steps, whose sequence begins anew at the cut."""
    problem = problem_of(sketch)
    mesh = meshed(problem)
    ends = np.cumsum([span.duration for span in problem.spans])
    first, *rest = problem.spans
    cut = [replace(first, duration=first.duration * share / 100.0) for share in (percent, 100 - percent)]
    one, two = march(problem, mesh, ends, STEP), march(replace(problem, spans=(*cut, *rest)), mesh, ends, STEP)
    assert one.ending.status == two.ending.status == "finished"
    assert np.abs(one.temperature - two.temperature).max() <= 2.0 * STEP


@sieged(3)
@given(sketches(away=False))
def test_what_comes_later_does_not_change_what_was(sketch: Sketch) -> None:
    problem = problem_of(sketch)
    mesh = meshed(problem)
    end = problem.spans[0].duration
    alone = march(replace(problem, spans=problem.spans[:1]), mesh, np.array([end]), STEP)
    whole = march(problem, mesh, np.array([end]), STEP)
    assert np.array_equal(alone.temperature[0], whole.temperature[0])


@sieged(6)
@given(sketches(), st.sampled_from(["cm", "m", "um"]), st.booleans(), st.sampled_from(["s", "ms"]), st.booleans())
def test_the_units_written_are_nothing(sketch: Sketch, lengths: str, kelvin: bool, seconds: str, kilo: bool) -> None:
    """One length written 12.5 mm, 1.25 cm or 0.0125 m is the same to the last bit of the problem."""
    one, two = (
        problem_of(sketch),
        SectionProcess(parse_case(sketch.text(Units(lengths, kelvin, seconds, kilo)))).problem(),
    )
    for a, b in zip(one.regions, two.regions, strict=True):
        assert np.array_equal(a.outline, b.outline) and a.start == b.start
    assert one.channels == two.channels and one.edges == two.edges and one.spans == two.spans
    assert one.touches == two.touches


@sieged(3)
@given(sketches(linear=True, stuffs=CONSTANT))
def test_twice_as_large_four_times_as_long_half_the_coefficients(sketch: Sketch) -> None:
    """Fourier and Biot numbers stay: the same temperatures, to the last bit, since all factors are powers of two."""
    problem = problem_of(sketch)
    mesh = meshed(problem)
    other = replace(
        problem,
        regions=tuple(replace(r, outline=2.0 * r.outline) for r in problem.regions),
        channels=tuple(
            replace(c, centre=(2.0 * c.centre[0], 2.0 * c.centre[1]), diameter=2.0 * c.diameter)
            for c in problem.channels
        ),
        edges=tuple(
            replace(e, start=(2.0 * e.start[0], 2.0 * e.start[1]), end=(2.0 * e.end[0], 2.0 * e.end[1]))
            for e in problem.edges
        ),
        touches=tuple(replace(t, conductance=t.conductance / 2.0) for t in problem.touches),
        spans=tuple(
            replace(s, duration=4.0 * s.duration, faces={n: _halved(f) for n, f in s.faces.items()})
            for s in problem.spans
        ),
    )
    larger = mesh_section(other, COARSE)
    assert np.array_equal(larger.triangles, mesh.triangles)
    assert np.allclose(larger.x, 2.0 * mesh.x, rtol=0.0, atol=1e-12) and np.allclose(larger.y, 2.0 * mesh.y, atol=1e-12)
    one, two = march(problem, mesh, None, STEP), march(other, larger, None, STEP)
    assert np.allclose(one.temperature, two.temperature, rtol=0.0, atol=1e-6, equal_nan=True)


def _halved(face: Face) -> Face:
    return replace(face, exchange=tuple(Exchange(e.coefficient / 2.0, e.temperature) for e in face.exchange))  # type: ignore[operator]


# -- against other kinds, and the whole line ------------------------------------------------------------------------------


@st.composite
def strips(draw: st.DrawFn) -> tuple[list[dict[str, Any]], bool, int]:
    """(layers from the inside out, whether they are rings about an axis, inner radius in hundredths of a millimetre)."""
    count = draw(st.integers(1, 3))
    layers = [
        {
            "stuff": draw(st.sampled_from([*STUFFS, "warming", "melting"])),
            "thick": draw(st.sampled_from([50, 200, 700, 2500])),
            "start": draw(st.integers(0, 200)),
            "contact": draw(st.none() | films()) if k else None,
        }
        for k in range(count)
    ]
    return layers, draw(st.booleans()), draw(st.sampled_from([300, 2000]))


@sieged(2)
@given(
    strips(),
    st.sampled_from([2000, 60_000]),
    st.tuples(films(), films()),
    st.tuples(st.integers(0, 200), st.integers(0, 200)),
)
def test_a_section_with_heat_in_one_direction_is_the_layered_body(
    made: tuple[list[dict[str, Any]], bool, int], milliseconds: int, film: tuple[float, float], air: tuple[int, int]
) -> None:
    """Both as their cases are run, each to 0.2 K of its own accuracy: faces at the end, to the sum."""
    layers, ring, radius = made
    face = [(Act("convection", h, t),) for h, t in zip(film, air, strict=True)]
    section, body = (
        _section_of(layers, ring, radius, face, milliseconds),
        _body_of(layers, ring, radius, face, milliseconds),
    )
    one, two = run_case(parse_case(case_text(section))), run_case(parse_case(case_text(body)))
    assert one.status == two.status == "finished"
    told = [w for w in (*one.warnings, *two.warnings) if "off by" in w or "not to the" in w or "not reached" in w]
    if told:
        event("accuracy not reached, and told")
        return
    width = sum(layer["thick"] for layer in layers)
    history: Any = one.history
    inner, outer = (
        float(series(history, (x * HUNDREDTH, 1e-3))[-1])
        for x in ((radius if ring else 0), (radius if ring else 0) + width)
    )
    other: Any = two.history
    assert abs(inner - other.inner_face[-1]) <= 0.4 and abs(outer - other.outer_face[-1]) <= 0.4, (
        inner - other.inner_face[-1],
        outer - other.outer_face[-1],
    )


def _section_of(
    layers: list[dict[str, Any]], ring: bool, radius: int, face: list[tuple[Act, ...]], milliseconds: int
) -> dict[str, Any]:
    x, pieces, contacts = radius if ring else 0, [], []
    first = x
    for k, layer in enumerate(layers):
        outline = box(x, 0, x + layer["thick"], 200)
        pieces.append(Piece(f"layer_{k}", layer["stuff"], outline, layer["start"]))
        x += layer["thick"]
        if layer["contact"] is not None:
            contacts.append((f"layer_{k - 1}", f"layer_{k}", layer["contact"]))
    ends = (Side("inner", (first, 0), (first, 200)), Side("outer", (x, 0), (x, 200)))
    stay = Stay(milliseconds, {"inner": face[0], "outer": face[1]})
    return Sketch(tuple(pieces), (), tuple(contacts), ends, (stay,), 20, ring, accuracy=0.2).tree() | _probes(first, x)


def _probes(first: int, last: int) -> dict[str, Any]:
    at = [{"name": name, "at": [f"{millimetres(x)} mm", "1 mm"]} for name, x in (("in", first), ("out", last))]
    return {"output": {"probes": at}}


def _body_of(
    layers: list[dict[str, Any]], ring: bool, radius: int, face: list[tuple[Act, ...]], milliseconds: int
) -> dict[str, Any]:
    tree = Sketch((), (), (), (), (Stay(milliseconds, {"inner": face[0], "outer": face[1]}),), 20).tree()
    rows = []
    for k, layer in enumerate(layers):
        beyond = layers[k + 1]["contact"] if k + 1 < len(layers) else None
        row = {
            "material": layer["stuff"],
            "thickness": f"{millimetres(layer['thick'])} mm",
            "start": f"{layer['start']} degC",
        }
        rows.append(row | ({} if beyond is None else {"contact": f"{beyond!r} W/m2/K"}))
    shape = {"shape": "cylinder", "inner_radius": f"{millimetres(radius)} mm"} if ring else {"shape": "plane"}
    stations = [{"duration": f"{milliseconds} ms", **tree["stations"][0]["faces"]}]
    return {
        "process": "body",
        "body": shape | {"start": "20 degC", "layers": rows},
        "materials": {name: stuff_of(name) for name in sorted({layer["stuff"] for layer in layers})},
        "stations": stations,
        "accuracy": {"temperature": "0.2 K"},
    }
