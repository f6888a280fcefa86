"""Sections to be meshed: a mould with channels, ribs, inserts, curved and askew walls; lengths are written in mm."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Medium
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionProblem, SectionSpan, Touch

STEEL = Medium(7800.0, 29.0, 460.0)
PLASTIC = Medium(1050.0, 0.19, 2000.0)
ALUMINIUM = Medium(2700.0, 160.0, 900.0)


def mm(*corners: tuple[float, float]) -> np.ndarray:
    return np.array(corners, float) * 1e-3


def box(left: float, bottom: float, right: float, top: float) -> np.ndarray:
    return mm((left, bottom), (right, bottom), (right, top), (left, top))


def region(name: str, outline: np.ndarray, medium: Medium = STEEL, start: float = 300.0) -> Region:
    return Region(name, outline, medium, start)


def channel(name: str, x: float, y: float, diameter: float) -> Channel:
    return Channel(name, (x * 1e-3, y * 1e-3), diameter * 1e-3)


def edge(name: str, x0: float, y0: float, x1: float, y1: float) -> Edge:
    return Edge(name, (x0 * 1e-3, y0 * 1e-3), (x1 * 1e-3, y1 * 1e-3))


def section(
    regions: Iterable[Region],
    channels: Iterable[Channel] = (),
    edges: Iterable[Edge] = (),
    touches: Iterable[Touch] = (),
    absent: Iterable[str] = (),
    axisymmetric: bool = False,
) -> SectionProblem:
    """20 s with all faces in contact, then 5 s without what is absent."""
    faces = {one.name: Face(exchange=(Exchange(1000.0, 300.0),)) for one in (*edges, *channels)}
    spans = (SectionSpan(20.0, faces), SectionSpan(5.0, faces, frozenset(absent)))
    return SectionProblem(tuple(regions), spans, tuple(channels), tuple(edges), tuple(touches), axisymmetric)


def turned(problem: SectionProblem, degrees: float) -> SectionProblem:
    """The section turned about the origin, counter-clockwise."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))

    def turn(point: tuple[float, float]) -> tuple[float, float]:
        return c * point[0] - s * point[1], s * point[0] + c * point[1]

    return replace(
        problem,
        regions=tuple(replace(r, outline=np.array([turn(p) for p in r.outline])) for r in problem.regions),
        channels=tuple(replace(ch, centre=turn(ch.centre)) for ch in problem.channels),
        edges=tuple(replace(e, start=turn(e.start), end=turn(e.end)) for e in problem.edges),
    )


def five_channels() -> SectionProblem:
    """A mould block with five channels under half of a part of 3 mm."""
    air = Face(exchange=(Exchange(10.0, 298.15),))
    water = Face(exchange=(Exchange(5000.0, 298.15),))
    edges = (
        edge("bottom", 0, -60, 120, -60),
        edge("left", 0, -60, 0, 0),
        edge("right", 120, -60, 120, 0),
        edge("left_land", 0, 0, 10, 0),
        edge("right_land", 110, 0, 120, 0),
        edge("cavity", 10, 0, 110, 0),
    )
    channels = tuple(channel(f"c{i + 1}", 20 + 20 * i, -15, 10) for i in range(5))
    faces = {**{e.name: air for e in edges}, **{c.name: water for c in channels}}
    return SectionProblem(
        (region("block", box(0, -60, 120, 0), STEEL, 298.15), region("part", box(10, 0, 110, 1.5), PLASTIC, 503.15)),
        (SectionSpan(20.0, faces), SectionSpan(5.0, faces, frozenset(["part"]))),
        channels,
        edges,
        (Touch(("part", "block"), 2000.0),),
    )


def ribbed() -> SectionProblem:
    """A part of 2 mm with two drafted ribs between two mould halves with channels."""
    ribs = [(62, 2), (61.6, 14), (60.4, 14), (60, 2), (31, 2), (30.7, 12), (29.3, 12), (29, 2)]
    part = mm((10, 0), (90, 0), (90, 2), *ribs, (10, 2))
    top = mm((0, 50), (0, 0), (10, 0), (10, 2), *ribs[::-1], (90, 2), (90, 0), (100, 0), (100, 50))
    channels = [channel(f"b{x}", x, -15, 8) for x in (20, 40, 60, 80)]
    channels += [channel(f"t{x}", x, 25, 8) for x in (15, 45, 75)]
    touches = [Touch(("part", "top"), 2e3), Touch(("part", "bottom"), 2e3), Touch(("top", "bottom"), 5e3)]
    regions = [region("bottom", box(0, -40, 100, 0)), region("top", top), region("part", part, PLASTIC, 500.0)]
    return section(regions, channels, [edge("below", 0, -40, 100, -40)], touches, ["part"])


def inserts() -> SectionProblem:
    """A block with an aluminium insert flush with its face and another one deep inside, under a part."""
    regions = [
        region("block", box(0, -60, 120, 0)),
        region("plug", box(40, -20, 80, 0), ALUMINIUM),
        region("core", box(55, -50, 60, -30), ALUMINIUM),
        region("part", box(10, 0, 110, 2), PLASTIC, 500.0),
    ]
    channels = [channel("c1", 20, -15, 10), channel("c2", 100, -15, 10), channel("c3", 60, -10, 6)]
    touches = [Touch(("part", "block"), 2e3), Touch(("part", "plug"), 2e3), Touch(("core", "block"), 1e4)]
    return section(regions, channels, [edge("top", 10, 2, 110, 2)], touches)


def elbow() -> SectionProblem:
    """An L of 2 mm over a core."""
    part = region("part", mm((0, 0), (50, 0), (50, 2), (2, 2), (2, 30), (0, 30)), PLASTIC, 500.0)
    core = region("core", mm((2, 2), (50, 2), (50, 30), (2, 30)))
    edges = [edge("below", 0, 0, 50, 0), edge("left", 0, 0, 0, 30)]
    return section([part, core], [channel("c", 20, 15, 8)], edges, [Touch(("part", "core"), 2e3)])


def disc(corners: int = 200) -> SectionProblem:
    """A circle drawn as a polygon, 50 mm across, with a bore."""
    angle = 2 * np.pi * np.arange(corners) / corners
    outline = 25e-3 * np.column_stack([np.cos(angle), np.sin(angle)])
    return section([region("disc", outline)], [channel("bore", 0, 0, 10)])


def bowl(corners: int = 60) -> SectionProblem:
    """A half ring of 2 mm under a block with three channels."""
    angle = np.pi * np.arange(corners + 1) / corners
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    part = np.concatenate([30e-3 * ring, 28e-3 * ring[::-1]])
    block = np.concatenate([mm((-60, 0), (-60, 60), (60, 60), (60, 0)), 30e-3 * ring])
    channels = [channel("c1", 0, 42, 8), channel("c2", -32, 28, 8), channel("c3", 32, 28, 8)]
    regions = [region("block", block), region("part", part, PLASTIC, 500.0)]
    return section(regions, channels, [], [Touch(("part", "block"), 1500.0)], ["part"])


def cone() -> SectionProblem:
    """A wall of 2 mm that leans by 9.5 degrees between a core and a cavity."""
    regions = [
        region("core", mm((0, 0), (20, 0), (30, 60), (0, 60))),
        region("cavity", mm((22, 0), (80, 0), (80, 60), (32, 60))),
        region("part", mm((20, 0), (22, 0), (32, 60), (30, 60)), PLASTIC, 500.0),
    ]
    channels = [channel("c", 50, 20, 8), channel("d", 55, 45, 8), channel("e", 12, 30, 6)]
    touches = [Touch(("part", "core"), 1500.0), Touch(("part", "cavity"), 1500.0)]
    return section(regions, channels, [], touches, ["part"])


def notched() -> SectionProblem:
    """A block with a notch of 0.05 mm in a face of 120 mm."""
    outline = mm((0, -60), (120, -60), (120, 0), (60.05, 0), (60.05, -0.05), (60, -0.05), (60, 0), (0, 0))
    return section([region("block", outline)], [channel("c", 60, -15, 10)])


def wedge() -> SectionProblem:
    """A wedge of 2.9 degrees with a region on its back."""
    wedge_ = region("wedge", mm((0, 0), (100, 0), (100, 5)))
    return section([wedge_, region("roof", mm((0, 0), (100, 5), (50, 60)))])


def coat() -> SectionProblem:
    """A coat of 0.02 mm on a block of 30 mm."""
    regions = [region("block", box(0, -30, 60, 0)), region("coat", box(0, 0, 60, 0.02), PLASTIC)]
    return section(regions, [channel("c", 30, -15, 10)], [edge("top", 0, 0.02, 60, 0.02)])


def hexagon() -> SectionProblem:
    """An askew hexagon in a block, a channel in it, and another one with only 0.25 mm to the face."""
    angle = 2 * np.pi * np.arange(6) / 6 + 0.1
    outline = 25e-3 + 10e-3 * np.column_stack([np.cos(angle), np.sin(angle)])
    regions = [region("block", box(0, 0, 50, 50)), region("hexagon", outline, ALUMINIUM)]
    return section(regions, [channel("inside", 25, 25, 6), channel("near", 25, 6, 11.5)])


def star() -> SectionProblem:
    """A star with ten points."""
    angle = np.pi * np.arange(20) / 10
    radius = np.where(np.arange(20) % 2, 10e-3, 25e-3)
    return section([region("star", radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)]))])


SHAPES = {
    "five_channels": five_channels,
    "ribbed": ribbed,
    "inserts": inserts,
    "elbow": elbow,
    "disc": disc,
    "bowl": bowl,
    "cone": cone,
    "notched": notched,
    "wedge": wedge,
    "coat": coat,
    "hexagon": hexagon,
    "star": star,
}
