"""Values by cell moved to the cells of a part of their layer, content kept: what is left when the rest is taken away.

Within each cell the value is a straight line whose slope is limited by those of the neighbours (monotone, second order),
so that the new values lie between the old ones and their sum over what is kept is exact:

    integral of u dV over a new cell = U(V_out) - U(V_in),    U(V) : cumulative integral of the straight lines

V : x of a plane, r^2/2 of a cylinder, r^3/3 of a sphere. Slope limiter: monotonised central, van Leer, J. Comput. Phys. 23
(1977) 276. For many cases at once, each with its own edges.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array, Shape

_POWER = {"plane": 1, "cylinder": 2, "sphere": 3}


def kept_part(values: Array, edges: Array, onto: Array, shape: Shape = "plane") -> Array:
    """Means over new cells of values that are given as means over old ones.

    values : (cells,) or (cells, cases); edges : of the old cells, (cells + 1,) or (cells + 1, cases) [m], from the middle
    of the body for a cylinder or sphere; onto : of the new cells, likewise, inside the old ones. Returns (new cells,) or
    (new cells, cases).

    >>> kept_part(np.array([1.0, 3.0]), np.array([0.0, 1.0, 2.0]), np.array([0.0, 2.0])).tolist()
    [2.0]
    """
    flat = values.ndim == 1 and np.ndim(edges) == 1 and np.ndim(onto) == 1
    u, x, y = (v[:, None] if np.ndim(v) == 1 else np.asarray(v) for v in (values, edges, onto))
    power = _POWER[shape]
    x, y = (v**power / power for v in (x, y))
    cases = max(u.shape[1], x.shape[1], y.shape[1])
    u, x, y = (np.broadcast_to(v, (len(v), cases)) for v in (u, x, y))
    width = np.diff(x, axis=0)
    slope = _slopes(u, (x[1:] + x[:-1]) / 2.0, width)
    below = np.concatenate([np.zeros((1, cases)), np.cumsum(u * width, axis=0)])
    cell = np.clip((x[:, None, :] <= y[None]).sum(axis=0) - 1, 0, len(u) - 1)
    a, w, s, base, left = (np.take_along_axis(v, cell, axis=0) for v in (u, width, slope, below, x))
    d = np.clip(y - left, 0.0, w)
    total = base + a * d + s * d * (d - w) / 2.0
    new = np.diff(total, axis=0) / np.diff(y, axis=0)
    return np.asarray(new[:, 0] if flat else new)


def _slopes(u: Array, at: Array, width: Array) -> Array:
    """Limited slope in each cell, so that no edge passes a neighbour; none in the outermost cells."""
    rise = np.diff(u, axis=0)
    step = rise / np.diff(at, axis=0)
    none = np.zeros((1, u.shape[1]))
    before, after = np.concatenate([none, step]), np.concatenate([step, none])
    smaller = np.minimum(np.abs(np.concatenate([none, rise])), np.abs(np.concatenate([rise, none])))
    least = np.minimum(np.abs(before + after) / 2.0, 2.0 * smaller / width)
    return np.where(before * after > 0.0, np.sign(after) * least, 0.0)
