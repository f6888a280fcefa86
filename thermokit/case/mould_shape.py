"""The outlines of a mould case: part, halves, inserts, channels, and what is bare when the mould is open.

The parting line runs straight from either side of the mould to the part, and cuts the part's outline into two chains: the
one below is the cavity's face, the one above the core's. Coordinates are those of the part; everything in metres.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.case.mould import MouldCase
    from thermokit.case.mould_blocks import CircuitEntry

    Array = NDArray[np.float64]

BEYOND = 0.06  # m, of a half beyond the part where the case does not say: assumed
BESIDE = 0.03  # m, of a half beside the part: assumed
SAME = 1e-7  # m, distances below which two points are one


class ShapeError(ValueError):
    """What cannot be drawn: the path of the key to blame, what is wrong, what is allowed."""

    def __init__(self, path: tuple[str, ...], what: str, allowed: str = "", advice: str = ""):
        self.path, self.what, self.allowed, self.advice = path, what, allowed, advice
        super().__init__(what)


@dataclass(frozen=True)
class Hole:
    """A channel: its name, circuit, number in the circuit from 1 as the coolant meets them, axis and diameter [m]."""

    name: str
    circuit: str
    number: int
    centre: tuple[float, float]
    diameter: float


@dataclass(frozen=True)
class MouldShape:
    """The outlines of a mould section [m], (corners, 2) each, counter-clockwise.

    cavity_face, core_face : (points, 2) chains of the part's outline from left to right; outside : straight runs that
    lie in the shop's air, (name, start, end); wall : thickness of the wall.
    """

    part: Array
    cavity: Array
    core: Array
    inserts: tuple[tuple[str, Array], ...]
    holes: tuple[Hole, ...]
    cavity_face: Array
    core_face: Array
    outside: tuple[tuple[str, tuple[float, float], tuple[float, float]], ...]
    wall: float

    @property
    def length(self) -> float:
        """Extent of the part along x [m]."""
        return float(np.ptp(self.part[:, 0]))

    @property
    def area(self) -> float:
        """Area of the part's section [m2]."""
        return abs(signed_area(self.part))


def signed_area(outline: Array) -> float:
    """Area of a polygon, positive where it runs counter-clockwise (shoelace formula) [m2].

    >>> signed_area(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]]))
    2.0
    """
    x, y = outline[:, 0], outline[:, 1]
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2.0)


def shape_of(case: MouldCase) -> MouldShape:
    """The outlines of a case whose numbers are single ones. Raises ShapeError where they cannot be drawn."""
    part = _turned(_part_outline(case))
    drawn = case.drawn.outlines if case.drawn is not None else {}
    below, above, left, right = _chains(case, part)
    if "cavity" in drawn and "core" in drawn:
        cavity, core = _turned(drawn["cavity"]), _turned(drawn["core"])
    else:
        cavity, core = _halves(case, part, below, above, left, right)
    inserts = tuple(
        (entry.name, _turned(_insert_outline(case, entry, i))) for i, entry in enumerate(case.mould.inserts)
    )
    wall = (
        _number(case.part.thickness) if case.part.thickness is not None else 2.0 * abs(signed_area(part)) / _girth(part)
    )
    holes = tuple(
        hole for i, circuit in enumerate(case.circuits) for hole in _holes(case, circuit, i, part, below, above)
    )
    return MouldShape(part, cavity, core, inserts, holes, below, above, _outside(cavity, core, part), wall)


def _number(value: Any) -> float:
    return float(np.ravel(value)[0])


def _points(entries: Any) -> Array:
    return np.array([[_number(x), _number(y)] for x, y in entries])


def _turned(outline: Array) -> Array:
    """The outline counter-clockwise, without a repeated corner."""
    keep = np.hypot(*(outline - np.roll(outline, 1, axis=0)).T) > SAME
    outline = outline[keep]
    return outline if signed_area(outline) > 0.0 else outline[::-1].copy()


def _girth(outline: Array) -> float:
    return float(np.hypot(*(np.roll(outline, -1, axis=0) - outline).T).sum())


def _part_outline(case: MouldCase) -> Array:
    part = case.part
    if case.drawn is not None and "part" in case.drawn.outlines:
        return case.drawn.outlines["part"]
    if part.outline:
        return _points(part.outline)
    assert part.length is not None
    assert part.thickness is not None
    return flat_wall(_number(part.length), _number(part.thickness), part.ribs)


def flat_wall(length: float, wall: float, ribs: Any) -> Array:
    """Outline of a flat wall with ribs, from its lower left corner round [m].

    Raises ShapeError where ribs overlap each other or the ends.
    """
    corners = []
    for side, y, out, ends in (("cavity", 0.0, -1.0, (0.0, length)), ("core", wall, 1.0, (length, 0.0))):
        run: list[tuple[float, float]] = []
        reached = 0.0
        own = sorted((r for r in ribs if r.side == side), key=lambda r: _number(r.position))
        for rib in own:
            half, tip = _number(rib.thickness) / 2, _number(rib.tip if rib.tip is not None else rib.thickness) / 2
            x, top = _number(rib.position), y + out * _number(rib.height)
            place = next(i for i, r in enumerate(ribs) if r is rib)
            if x - half < reached - SAME or x + half > length + SAME:
                raise ShapeError(
                    ("part", "ribs", str(place), "position"), "the rib runs into another one or over the part's end",
                    f"ribs beside each other, from 0 mm to {1e3 * length:g} mm",
                )  # fmt: skip
            reached = x + half
            run += [(x - half, y), (x - tip, top), (x + tip, top), (x + half, y)]
        corners += [(ends[0], y), *(run if out < 0 else run[::-1]), (ends[1], y)]
    outline = np.array(corners)
    return np.asarray(outline[np.hypot(*(outline - np.roll(outline, 1, axis=0)).T) > SAME])


def _insert_outline(case: MouldCase, entry: Any, i: int) -> Array:
    if case.drawn is not None and entry.name in case.drawn.outlines:
        return case.drawn.outlines[entry.name]
    if entry.outline:
        return _points(entry.outline)
    if entry.corner is None or entry.size is None:
        raise ShapeError(
            ("mould", "inserts", str(i)),
            "its place is not given",
            "an outline, corner and size, or a layer of the drawing",
        )
    (x, y), (w, h) = _points([entry.corner])[0], _points([entry.size])[0]
    return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])


def _chains(case: MouldCase, part: Array) -> tuple[Array, Array, Array, Array]:
    """(lower chain, upper chain, left point, right point) of the part's outline at the parting line.

    The parting line is followed from the left and from the right until it meets the part.
    """
    if case.part.parting is not None:
        height = (_number(case.part.parting),) * 2
    else:
        ends = (part[:, 0].min(), part[:, 0].max())
        height = tuple(float(part[np.abs(part[:, 0] - x) < SAME, 1].min()) for x in ends)  # type: ignore[assignment]
    ring = part
    points = []
    for y, side in zip(height, (1.0, -1.0), strict=True):
        ring, at = _with_point(ring, y, side)
        points.append(at)
    left, right = (int(np.argmin(np.hypot(*(ring - p).T))) for p in points)
    ring = np.roll(ring, -left, axis=0)
    right = (right - left) % len(ring)
    lower = ring[: right + 1]  # counter-clockwise from the left point: along the lower side
    upper = np.concatenate([ring[right:], ring[:1]])[::-1]
    return lower, upper, points[0], points[1]


def _with_point(ring: Array, y: float, side: float) -> tuple[Array, Array]:
    """(the outline with the point in it, the point) where a level line from the left (side 1) or right first meets it."""
    best: tuple[float, int, Array] | None = None
    for i in range(len(ring)):
        a, b = ring[i], ring[(i + 1) % len(ring)]
        if min(a[1], b[1]) - SAME > y or max(a[1], b[1]) + SAME < y:
            continue
        ends = [a, b] if abs(b[1] - a[1]) < SAME else [a + np.clip((y - a[1]) / (b[1] - a[1]), 0.0, 1.0) * (b - a)]
        for p in ends:
            if best is None or side * p[0] < best[0] - SAME:
                best = (side * float(p[0]), i, np.asarray(p))
    if best is None:
        raise ShapeError(
            ("part", "parting"), f"at {1e3 * y:g} mm the parting line passes the part by",
            f"from {1e3 * ring[:, 1].min():g} mm to {1e3 * ring[:, 1].max():g} mm",
        )  # fmt: skip
    _, i, p = best
    near = np.hypot(*(ring - p).T)
    if near.min() < SAME:
        return ring, ring[int(near.argmin())]
    return np.insert(ring, i + 1, p, axis=0), p


def _halves(case: MouldCase, part: Array, below: Array, above: Array, left: Array, right: Array) -> tuple[Array, Array]:
    """Outlines of the two halves round the part."""
    x0, x1 = float(part[:, 0].min()), float(part[:, 0].max())
    width = _number(case.mould.width) if case.mould.width is not None else x1 - x0 + 2.0 * BESIDE
    if width <= x1 - x0:
        raise ShapeError(("mould", "width"), "the mould is not wider than the part", f"above {1e3 * (x1 - x0):.6g} mm")
    west, east = (x0 + x1 - width) / 2.0, (x0 + x1 + width) / 2.0
    parting = (left[1] + right[1]) / 2.0
    deepest, highest = float(part[:, 1].min()), float(part[:, 1].max())
    low = parting - _height(case, "cavity", parting - deepest)
    high = parting + _height(case, "core", highest - parting)
    sides = np.array([[west, left[1]]]), np.array([[east, right[1]]])
    cavity = np.concatenate([[[west, low], [east, low]], sides[1], below[::-1], sides[0]])
    core = np.concatenate([[[east, high], [west, high]], sides[0], above, sides[1]])
    return _turned(cavity), _turned(core)


def _height(case: MouldCase, side: str, part: float) -> float:
    block = getattr(case.mould, side)
    height = _number(block.height) if block.height is not None else part + BEYOND
    if height <= part:
        raise ShapeError(
            ("mould", side, "height"), "the part reaches through this half",
            f"above {1e3 * part:.6g} mm, from the parting line to the back",
        )  # fmt: skip
    return height


def _holes(case: MouldCase, circuit: CircuitEntry, i: int, part: Array, below: Array, above: Array) -> list[Hole]:
    """The channels of a circuit in the order in which the coolant meets them."""
    at = ("circuits", str(i))
    drawn = case.drawn.circles.get(circuit.name) if case.drawn is not None else None
    if drawn:
        own = sorted(drawn, key=lambda c: c[0][0])
        return [Hole(f"{circuit.name}_{n}", circuit.name, n, c, d) for n, (c, d) in enumerate(own, start=1)]
    if circuit.diameter is None:
        raise ShapeError((*at, "diameter"), "missing", "the diameter of the channels, or circles on the drawing")
    if circuit.centres:
        centres = [(float(x), float(y)) for x, y in _points(circuit.centres)]
    else:
        if circuit.depth is None:
            raise ShapeError((*at, "depth"), "missing", "from the part's face to the axis, or centres")
        depth = _number(circuit.depth)
        flat = not case.part.outline and case.drawn is None
        if circuit.side == "cavity":
            y = (0.0 if flat else float(part[:, 1].min())) - depth
        else:
            assert case.part.thickness is not None or not flat
            y = (_number(case.part.thickness) if flat else float(part[:, 1].max())) + depth
        centres = [(x, y) for x in _along(circuit, at, part)]
    diameter = _number(circuit.diameter)
    return [Hole(f"{circuit.name}_{n}", circuit.name, n, c, diameter) for n, c in enumerate(centres, start=1)]


def _along(circuit: CircuitEntry, at: tuple[str, ...], part: Array) -> list[float]:
    """x of every channel [m]."""
    if circuit.positions:
        return [_number(x) for x in circuit.positions]
    if circuit.count is None:
        raise ShapeError((*at, "count"), "missing", "pitch and count, positions, centres, or circles on the drawing")
    middle = (float(part[:, 0].min()) + float(part[:, 0].max())) / 2.0
    pitch = _number(circuit.pitch) if circuit.pitch is not None else 0.0
    return [middle + (n - (circuit.count - 1) / 2.0) * pitch for n in range(circuit.count)]


def _outside(
    cavity: Array, core: Array, part: Array
) -> tuple[tuple[str, tuple[float, float], tuple[float, float]], ...]:
    """The straight runs of the halves that touch neither the part nor the other half."""
    found = []
    for name, own, other in (("cavity", cavity, core), ("core", core, cavity)):
        count = 0
        for a, b in zip(own, np.roll(own, -1, axis=0), strict=True):
            middle = (a + b) / 2.0
            if _on(middle, part) or (_on(middle, other) and _on(a, other) and _on(b, other)):
                continue
            count += 1
            found.append((f"{name}_outside_{count}", (float(a[0]), float(a[1])), (float(b[0]), float(b[1]))))
    return tuple(found)


def _on(point: Array, outline: Array) -> bool:
    """Whether a point lies on an outline."""
    a, b = outline, np.roll(outline, -1, axis=0)
    run = b - a
    share = np.clip(((point - a) * run).sum(axis=1) / np.maximum((run**2).sum(axis=1), 1e-30), 0.0, 1.0)
    return bool(np.hypot(*(a + share[:, None] * run - point).T).min() < SAME)
