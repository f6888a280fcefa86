"""What is wrong with a drawing is named with its place."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.section_shapes import SHAPES, box, channel, edge, mm, region, turned
from thermokit.conduction.section_geometry import Finding, mistakes_of
from thermokit.conduction.section_geometry_plain import area_of, inside_polygon, owner_of
from thermokit.conduction.section_mesh_pieces import pieces_of
from thermokit.conduction.section_problem import Touch

BLOCK = region("block", box(0, -60, 120, 0))


def told(found: list[Finding]) -> list[tuple[str, str]]:
    return [(f.kind, f.name) for f in found]


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("degrees", [0.0, 27.0])
def test_nothing_is_wrong_with_sound_sections(name: str, degrees: float) -> None:
    p = turned(SHAPES[name](), degrees)
    assert mistakes_of(p.regions, p.channels, p.edges, p.touches) == []


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        (mm((0, 0), (10, 10), (10, 0), (0, 10)), "'r' has an outline that crosses or touches itself at (5 mm, 5 mm)"),
        (mm((0, 0), (10, 0), (10, 5), (5, 0), (0, 5)), "crosses or touches itself at (5 mm, 0 mm)"),
        (mm((0, 0), (10, 0), (10, 5), (10, 2)), "crosses or touches itself at (10 mm, 2 mm)"),  # runs back on itself
        (mm((0, 0), (10, 10)), "has 2 corners; an outline needs at least three"),
        (mm((0, 0), (10, 0), (10, 10), (0, 0)), "repeats its first corner at the end"),
        (mm((0, 0), (10, 0), (10, 0), (10, 10)), "has the same corner twice, as number 2 and 3, at (10 mm, 0 mm)"),
        (mm((0, 0), (10, 0), (np.nan, 4)), "has a corner that is not a number"),
        (mm((5, 5), (5, 5), (5, 5)), "has the same corner twice"),
    ],
)
def test_an_unsound_outline(outline: np.ndarray, words: str) -> None:
    (found,) = mistakes_of([region("r", outline)])
    assert words in str(found) and found.kind == "region"


def test_no_region_at_all() -> None:
    assert "at least one region" in str(mistakes_of([])[0])


@pytest.mark.parametrize(
    ("outline", "place"),
    [
        (box(10, -1, 20, 5), (15.0, -1.0)),  # dips in by 1 mm
        (box(-5, -40, 125, -20), (60.0, -40.0)),  # across it
        (mm((60, 10), (60, -30), (130, -30)), None),
    ],
)
def test_regions_that_cross(outline: np.ndarray, place: tuple[float, float] | None) -> None:
    (found,) = mistakes_of([BLOCK, region("part", outline)])
    assert "lies partly inside and partly outside region 'block'" in str(found) and found.name == "part"
    assert found.place is not None
    if place is not None:
        assert (found.place[0] * 1e3, found.place[1] * 1e3) == pytest.approx(place)


def test_the_same_outline_twice() -> None:
    assert "same outline as region 'block'" in str(mistakes_of([BLOCK, region("other", box(0, -60, 120, 0))])[0])


@pytest.mark.parametrize(
    "outline",
    [
        box(10, -40, 30, -20),  # deep inside
        box(10, -20, 30, 0),  # flush
        box(10, 0, 30, 5),  # on it, beside it
        box(120, 0, 130, 5),  # corner to corner
        mm((0, -60), (120, -60), (60, 0)),  # its corners on the outline of the block
        box(200, 0, 210, 10),  # far off
    ],
)
def test_regions_that_touch_or_lie_inside_are_sound(outline: np.ndarray) -> None:
    assert mistakes_of([BLOCK, region("other", outline)]) == []


def test_channels() -> None:
    channels = [
        channel("out", 10, -2, 6),
        channel("far", 300, 0, 5),
        channel("tangent", 60, -5, 10),
        channel("a", 30, -30, 10),
        channel("b", 38, -30, 10),
        channel("sound", 80, -30, 10),
        channel("flat", 50, -50, 0),
        channel("insert", 100, -40, 20),
    ]
    regions = [BLOCK, region("plug", box(95, -42, 105, -38))]  # the last channel swallows it
    found = mistakes_of(regions, channels)
    assert told(found) == [("channel", n) for n in ("out", "far", "tangent", "b", "flat", "insert")]
    assert "outline of region 'block' at (10 mm, 0 mm)" in str(found[0])
    assert "centre outside all regions at (300 mm, 0 mm)" in str(found[1])
    assert "overlaps channel 'a' at (34 mm, -30 mm)" in str(found[3])
    assert "outline of region 'plug'" in str(found[5])


def test_edges() -> None:
    edges = [
        edge("long", 0, 0, 125, 0),
        edge("inside", 0, -5, 10, -5),
        edge("diagonal", 0, 0, 120, -60),
        edge("one", 0, -60, 50, -60),
        edge("two", 40, -60, 60, -60),
        edge("point", 0, -30, 0, -30),
    ]
    found = mistakes_of([BLOCK], (), edges)
    assert told(found) == [("edge", n) for n in ("long", "inside", "diagonal", "two", "point")]
    assert "it lies on nothing at (120 mm, 0 mm)" in str(found[0])
    assert "neither on the outside of the section nor between two regions" in str(found[1])
    assert "overlaps edge 'one' at (45 mm, -60 mm)" in str(found[3])
    # over several corners and a region beside it: sound
    assert mistakes_of([BLOCK, region("part", box(10, 0, 110, 2))], (), [edge("top", 0, 0, 120, 0)]) == []


def test_touches() -> None:
    regions = [BLOCK, region("part", box(10, 0, 110, 2)), region("far", box(200, 0, 210, 2))]
    touches = [
        Touch(("part", "block"), 1.0),
        Touch(("block", "part"), 2.0),
        Touch(("block", "nobody"), 1.0),
        Touch(("part", "part"), 1.0),
        Touch(("part", "far"), 1.0),
    ]
    words = [str(f) for f in mistakes_of(regions, (), (), touches)]
    assert [w.split("' ", 1)[1].split(";")[0] for w in words] == [
        "is given twice",
        "names 'nobody', which is no region",
        "names the same region twice",
        "names two regions that have no outline in common",
    ]


def test_across_the_axis() -> None:
    (found,) = mistakes_of([region("r", box(-1, 0, 5, 5))], axisymmetric=True)
    assert "across the axis" in str(found) and found.place is not None and found.place[0] == pytest.approx(-1e-3)
    assert mistakes_of([region("r", box(0, 0, 5, 5))], axisymmetric=True) == []


def test_area_inside_and_owner() -> None:
    ell = mm((0, 0), (50, 0), (50, 2), (2, 2), (2, 30), (0, 30))
    assert area_of(ell) == pytest.approx((50 * 2 + 28 * 2) * 1e-6)
    assert area_of(ell[::-1]) == pytest.approx(area_of(ell))
    points = mm((1, 20), (40, 1), (40, 20), (-1, 1))
    assert inside_polygon(points, ell).tolist() == [True, True, False, False]
    regions = [BLOCK, region("insert", box(10, -20, 30, -5)), region("core", box(15, -15, 20, -10))]
    assert owner_of(mm((5, -5), (12, -18), (17, -12), (17, 5)), regions).tolist() == [0, 1, 2, -1]


def test_pieces_know_what_is_on_either_side() -> None:
    """A part of 100 mm on a block of 120 mm: three pieces of the block's face, and the part's own on the middle one."""
    pieces = pieces_of([BLOCK, region("part", box(10, 0, 110, 2))], [edge("land", 0, 0, 10, 0)])
    level = (pieces.start[:, 1] == 0.0) & (pieces.end[:, 1] == 0.0)
    met = {frozenset((int(a), int(b))) for a, b in zip(pieces.left[level], pieces.right[level], strict=True)}
    assert level.sum() == 3 and met == {frozenset((0, -1)), frozenset((0, 1))}
    named = pieces.face >= 0
    assert np.hypot(*(pieces.end - pieces.start)[named].T).sum() == pytest.approx(0.01)
