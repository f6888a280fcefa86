"""How a small change of a tool's temperatures comes through one shot: the slope of the map from shot to shot, in one go.

A tool (one layer or several) passes through legs, each a :class:`~thermokit.conduction.problem.Problem`: with a hot body
on it, then alone. A small change v of its cell temperatures obeys the linearised equations of
:mod:`thermokit.conduction.rod`, with C_i the heat capacity of cell i [J/K] and K the symmetric tridiagonal matrix of the
conductances between cells and to the faces [W/K], both constant over a span:

    C dv/dt = -K v,      v(t) = C^(-1/2) Q exp(-Lambda t) Q^T C^(1/2) v(0),      Q Lambda Q^T = C^(-1/2) K C^(-1/2)

A face with linear exchange h and radiation factor f has h + 4 f sigma T^3 in series with its half cell. Sources and
heatings drop out, what reacts is left out. The change of all tool cells through all spans is the matrix M = dP/dx.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.pieces import expand
from thermokit.conduction.problem import STEFAN_BOLTZMANN
from thermokit.conduction.rod import assemble
from thermokit.conduction.tables import coordinate_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array, Layer, Problem
    from thermokit.conduction.rod import Rod

LEAST = 1.0  # K over which a heat capacity is taken at least


def linear_map(problems: Sequence[Problem], tool: Sequence[str], cases: int | None = None) -> Array:
    """What a small change of the tool at the beginning of a shot has become at its end: M = dP/dx, (n, n).

    problems : the legs of a shot in their order; a layer whose name stood in an earlier leg goes on with its change, any
    other begins with none. tool : names of the layers that last from shot to shot; the n cells are theirs, in the order of
    these names. cases : as in ``solve_batch`` where leaves are arrays, for (n, n, cases).
    Properties are those between the start of a layer and the temperature at which the leg's layers would even out, tables
    over time count with their mean in a span: the map is that of the solver where properties and faces are constant and
    nothing radiates, and an estimate elsewhere. Raises ValueError for a tool layer that is in no leg, or a layer that
    changes its number of cells.
    """
    size = _sizes(problems, tool)
    n = sum(size.values())
    change: dict[str, Array] = {}  # layer -> (1 or cases, cells, n)
    first = 0
    for name in tool:
        change[name] = np.eye(n)[None, first : first + size[name]]
        first += size[name]
    for problem in problems:
        rod = assemble(problem, cases)
        parts = [change.get(layer.name, np.zeros((1, layer.cells, n))) for layer in problem.layers]
        width = max(len(part) for part in parts)
        v = np.concatenate([np.broadcast_to(part, (width, *part.shape[1:])) for part in parts], axis=1)
        v = _through(problem, rod, cases, v)
        change |= {layer.name: v[:, cut] for layer, cut in zip(problem.layers, rod.slices, strict=True) if layer.name}
    width = max(len(change[name]) for name in tool)
    whole = np.concatenate([np.broadcast_to(change[name], (width, size[name], n)) for name in tool], axis=1)
    if cases is None:
        return np.asarray(whole[0])
    return np.ascontiguousarray(np.moveaxis(np.broadcast_to(whole, (cases, n, n)), 0, -1))


def _sizes(problems: Sequence[Problem], tool: Sequence[str]) -> dict[str, int]:
    """Cells of each layer of the tool."""
    size: dict[str, int] = {}
    for problem in problems:
        for layer in problem.layers:
            if layer.name and size.setdefault(layer.name, layer.cells) != layer.cells:
                raise ValueError(
                    f"layer {layer.name!r} has {size[layer.name]} cells in one leg, {layer.cells} in another"
                )
    missing = [name for name in tool if name not in size]
    if missing:
        raise ValueError(f"no leg has a layer named {missing[0]!r}; there are {', '.join(map(repr, size)) or 'none'}")
    return {name: size[name] for name in tool}


def _through(problem: Problem, rod: Rod, cases: int | None, v: Array) -> Array:
    """Changes (1 or cases, cells, n) at the end of all spans of one leg."""
    if not np.any(v):
        return v  # the tool has not touched yet
    start, end = _passed(problem.layers, rod, cases)
    temperature = (start + end) / 2
    weight = np.sqrt(_capacity(rod, start, end))
    k, _ = rod.conductivity_at(temperature if cases is not None else temperature[:, 0])
    k, half_in, half_out, joint, volume = map(_wide, (k, rod.half_in, rod.half_out, rod.joint, rod.volume))
    with np.errstate(divide="ignore"):
        between = 1.0 / (half_out[:-1] / k[:-1] + half_in[1:] / k[1:] + joint)
        half_cell = (half_in[0] / k[0], half_out[-1] / k[-1])  # resistance to the faces [K/W]
    for number, (duration, exchange) in enumerate(_faces(problem, cases, temperature[[0, -1]])):
        width = np.broadcast_shapes(between.shape[1:], weight.shape[1:], exchange.shape[1:], temperature.shape[1:])
        diagonal = np.zeros((len(k), *width))
        diagonal[:-1] += between
        diagonal[1:] += between
        for cell, area, inner, h in zip((0, -1), (rod.area_in, rod.area_out), half_cell, exchange, strict=True):
            if np.all(area):
                with np.errstate(divide="ignore"):
                    diagonal[cell] += 1.0 / (inner + 1.0 / (h * area))
        emission = problem.spans[number].emission
        if emission is not None:
            diagonal += 4.0 * STEFAN_BOLTZMANN * _wide(emission) * temperature**3 * volume
        v = _faded(diagonal / weight**2, -between / (weight[:-1] * weight[1:]), duration, weight, v)
    return v


def _faded(diagonal: Array, beside: Array, duration: Array, weight: Array, v: Array) -> Array:
    """Changes after a time, from the diagonals of C^(-1/2) K C^(-1/2); weight = C^(1/2)."""
    n, width = diagonal.shape
    matrix = np.zeros((width, n, n))
    i = np.arange(n)
    matrix[:, i, i] = diagonal.T
    matrix[:, i[1:], i[:-1]] = beside.T  # the lower triangle is what eigh reads
    rates, modes = np.linalg.eigh(matrix)
    fading = np.exp(-np.maximum(rates, 0.0) * duration[:, None])
    scale = weight.T[:, :, None]
    return np.asarray((modes * fading[:, None, :]) @ (modes.swapaxes(1, 2) @ (scale * v)) / scale)


def _passed(layers: tuple[Layer, ...], rod: Rod, cases: int | None) -> tuple[Array, Array]:
    """(start, evened out) temperatures of the cells, (cells, 1 or cases) [K]: what a leg takes them through, roughly."""
    parts = []
    for layer in layers:
        start = np.asarray(layer.start, float)
        if cases is None or start.ndim == 0:
            mean = np.full(1, start.mean())
        else:
            mean = start if start.ndim == 1 else start.mean(axis=0)
        parts.append((layer.cells, mean))
    width = max(len(mean) for _, mean in parts)
    start = np.concatenate([np.broadcast_to(mean, (cells, width)) for cells, mean in parts])
    capacity = _capacity(rod, start, start)
    even = np.sum(capacity * start, axis=0) / np.sum(capacity, axis=0)
    return start, np.broadcast_to(even, np.broadcast_shapes(start.shape, even.shape))


def _capacity(rod: Rod, start: Array, end: Array) -> Array:
    """Heat capacity of the cells between two temperatures, latent heat included, (cells, 1 or cases) [J/K]."""
    low, high = np.minimum(start, end), np.maximum(start, end)
    short = np.maximum(LEAST - (high - low), 0.0) / 2
    low, high = low - short, high + short
    single = rod.capacity.ndim == 1

    def rise(tables: Any) -> Array:
        ends = (high[:, 0], low[:, 0]) if single else (high, low)
        return _wide(coordinate_of(tables, ends[0]) - coordinate_of(tables, ends[1]))

    if rod.melting is not None and rod.crystallising is not None:
        up = np.where(start > end, rise(rod.crystallising), rise(rod.melting))
    else:
        up = rise(rod.energy)
    return np.asarray(_wide(rod.capacity) * up / (high - low))


def _faces(problem: Problem, cases: int | None, temperature: Array) -> list[tuple[Array, Array]]:
    """(duration (1 or cases,) [s], exchange of inner and outer face (2, 1 or cases) [W/m2/K], its mean) of every span."""
    total: list[Any] = [0.0] * len(problem.spans)
    exchange: list[Any] = [0.0] * len(problem.spans)
    radiating = 4.0 * STEFAN_BOLTZMANN * temperature**3
    for piece in expand(problem, cases):
        h = piece.linear[:, 0] + piece.linear[:, 1] * piece.duration / 2 + piece.quartic * radiating
        h[list(piece.prescribed)] = np.inf
        total[piece.span] = total[piece.span] + piece.duration
        exchange[piece.span] = exchange[piece.span] + h * np.maximum(piece.duration, 1e-300)
    return [(t, e / np.maximum(t, 1e-300)) for t, e in zip(total, exchange, strict=True)]


def _wide(value: Any) -> Array:
    """(n, 1 or cases) of an array over cells."""
    array: Array = np.asarray(value, float)
    return array if array.ndim == 2 else array[:, None]
