"""Outlines, holes and their arithmetic for generated cases, in whole hundredths of a millimetre so that texts are exact.

Nothing here uses the geometry of thermokit: areas by Gauss's formula, insides by counting crossings, distances by projection, so
that what thermokit says of a drawing is held against something else.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from hypothesis import strategies as st

Corner = tuple[int, int]  # hundredths of a millimetre
Outline = tuple[Corner, ...]
HUNDREDTH = 1e-5  # m


def box(left: int, low: int, right: int, high: int) -> Outline:
    return ((left, low), (right, low), (right, high), (left, high))


@st.composite
def outlines(draw: st.DrawFn, least: int = 800, most: int = 12_000) -> Outline:
    """A simple outline: rectangle, L, T, U, slanted or convex polygon, comb, star; either way round, at any place."""
    w, h = draw(st.integers(least, most)), draw(st.integers(least, most))
    kind = draw(st.sampled_from(["box", "box", "ell", "tee", "you", "slant", "convex", "comb", "star", "step"]))
    part = draw(st.integers(20, 80)), draw(st.integers(20, 80))  # per cent
    a, b = w * part[0] // 100, h * part[1] // 100
    shape: list[Corner]
    if kind == "ell":
        shape = [(0, 0), (w, 0), (w, b), (a, b), (a, h), (0, h)]
    elif kind == "tee":
        left, right = a // 2, w - a // 3
        shape = [(0, b), (left, b), (left, 0), (right, 0), (right, b), (w, b), (w, h), (0, h)]
    elif kind == "you":
        left, right = a // 2, w - a // 3
        shape = [(0, 0), (w, 0), (w, h), (right, h), (right, b), (left, b), (left, h), (0, h)]
    elif kind == "slant":
        shear = draw(st.integers(-w // 2, w // 2))
        shape = [(0, 0), (w, 0), (w + shear, h), (shear // 2, h)]
    elif kind in ("convex", "star"):
        count = draw(st.integers(3, 12))
        turn = draw(st.integers(0, 359))
        angle = np.radians(turn + 360.0 * np.arange(count if kind == "convex" else 2 * count) / count)
        radius = np.ones(len(angle))
        if kind == "star":
            angle = np.radians(turn) + np.pi * np.arange(2 * count) / count
            radius = np.where(np.arange(2 * count) % 2, part[0] / 100.0 * 0.8 + 0.15, 1.0)
        xy = radius[:, None] * np.column_stack([w * np.cos(angle), h * np.sin(angle)]) / 2.0
        shape = [(round(float(x)), round(float(y))) for x, y in xy]
    elif kind == "comb":
        teeth = draw(st.integers(2, 4))
        shape = [(0, 0), (w, 0)]
        for k in reversed(range(teeth)):
            left, right = w * (2 * k) // (2 * teeth), w * (2 * k + 1) // (2 * teeth)
            shape += [(right, b), (right, h), (left, h), (left, b)]
        shape = [(w * (2 * teeth - 1) // (2 * teeth) if p == (w, 0) else p[0], p[1]) for p in shape]
        # the last tooth ends with the block, the first begins with it: corners that lie on a straight run are drawn, as people do
        shape = [p for p in shape if p != (0, b)]
        if shape[2] == (shape[1][0], b):
            del shape[2]
    elif kind == "step":
        shape = [(0, 0), (w, 0), (w, h), (a, h), (a, h - 5), (0, h - 5)]  # a step of 0.05 mm
    else:
        shape = [(0, 0), (w, 0), (w, h), (0, h)]
    dx, dy = draw(st.integers(-5_000, 5_000)), draw(st.integers(-5_000, 5_000))
    shape = [(x + dx, y + dy) for x, y in shape]
    return tuple(shape[::-1] if draw(st.booleans()) else shape)


def array_of(outline: Outline) -> np.ndarray:
    return np.array(outline, float)


def signed_area(outline: Outline) -> float:
    """Gauss's formula, in squared hundredths of a millimetre, exact: coordinates are whole numbers."""
    total = 0
    for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        total += x0 * y1 - x1 * y0
    return total / 2.0


def sides(outline: Outline) -> list[tuple[Corner, Corner]]:
    return list(zip(outline, (*outline[1:], outline[0]), strict=True))


def clearance(point: tuple[float, float], outline: Outline) -> float:
    """Distance of a point from the outline, by projection on every side."""
    p = np.array(point, float)
    a = array_of(outline)
    way = np.roll(a, -1, axis=0) - a
    share = np.clip(((p - a) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-300), 0.0, 1.0)
    return float(np.hypot(*(a + share[:, None] * way - p).T).min())


def inside(points: np.ndarray, outline: Outline) -> np.ndarray:
    """(points,) whether each lies inside, by the turning number of the outline about it (sum of the angles of its sides)."""
    a = array_of(outline)
    u = a[None] - points[:, None]
    v = np.roll(u, -1, axis=1)
    angle = np.arctan2(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0], (u * v).sum(axis=-1))
    return np.asarray(np.abs(angle.sum(axis=1)) > np.pi)


def convex(outline: Outline) -> bool:
    a = array_of(outline)
    u = np.roll(a, -1, axis=0) - a
    v = np.roll(u, -1, axis=0)
    turn = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    return bool((turn > 0).all() or (turn < 0).all())


@st.composite
def holes(draw: st.DrawFn, outline: Outline, most: int = 3) -> tuple[tuple[int, int, int], ...]:
    """(x, y, diameter) of round holes in an outline, some of which nearly touch its walls or each other."""
    low, high = array_of(outline).min(axis=0).astype(int), array_of(outline).max(axis=0).astype(int)
    found: list[tuple[int, int, int]] = []
    for _ in range(draw(st.integers(0, most))):
        x, y = draw(st.integers(int(low[0]), int(high[0]))), draw(st.integers(int(low[1]), int(high[1])))
        if not inside(np.array([(x, y)], float), outline)[0]:
            continue
        room = clearance((x, y), outline)
        room = min([room, *(float(np.hypot(x - a, y - b)) - d / 2.0 for a, b, d in found)])
        share = draw(st.sampled_from([0.2, 0.5, 0.8, 0.95, 0.99, 0.997]))
        diameter = int(2.0 * share * room)
        if diameter >= 100:  # 1 mm
            found.append((x, y, diameter))
    return tuple(found)


def mapped(outline: Outline, by: Callable[[Corner], Corner]) -> Outline:
    return tuple(by(p) for p in outline)


def millimetres(value: int) -> str:
    """Hundredths of a millimetre as an exact decimal of millimetres, without trailing zeros.

    >>> [millimetres(v) for v in (1250, -5, 300, 0)]
    ['12.5', '-0.05', '3', '0']
    """
    sign, whole = ("-" if value < 0 else ""), abs(value)
    text = f"{whole // 100}.{whole % 100:02d}".rstrip("0").rstrip(".")
    return f"{sign}{text}" if text != "0" else "0"
