"""Faces and sources of the lanes in flight: every lane is in a piece of time of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.lanes import fold
from thermokit.conduction.pieces import expand
from thermokit.conduction.problem import STEFAN_BOLTZMANN
from thermokit.conduction.surface import MOST, SETTLED, surface_temperature

if TYPE_CHECKING:
    from thermokit.conduction.batch_body import BatchBody
    from thermokit.conduction.lanes import Array
    from thermokit.conduction.pieces import Piece

BOUND = 1e9  # a prescribed temperature is exchange with it over this many times the half cell's conductance
UNKNOWN_BOUND = 1e13  # the same where conductivities change, W/m2/K


class BatchFaces:
    """Conditions of both faces (axis of length 2) of all lanes; drive, linear, quartic as in ``pieces``, quartic with sigma."""

    def __init__(self, body: BatchBody, lanes: int):
        self.body = body
        self.pieces = pieces = expand(body.problem, body.cases)
        self.span = np.array([p.span for p in pieces])
        self.fresh = np.array([p.fresh for p in pieces])
        self.last = np.array([p.last for p in pieces])
        self._prescribed = np.array([p.prescribed for p in pieces])
        self.varies = any(p.varies for p in pieces)
        self.duration = _stacked(pieces, "duration")
        self._drive, self._linear = _stacked(pieces, "drive"), _stacked(pieces, "linear")
        self._quartic, self._given = _stacked(pieces, "quartic"), _stacked(pieces, "temperature")
        self._heat, self._factor = _stacked(pieces, "heat"), _stacked(pieces, "factor")
        self.radiates = bool(np.any(self._quartic))
        self.heated = bool(np.any(self._heat)) or any(s.sources for s in body.problem.spans)
        self.drive, self.linear = np.zeros((5, 2, lanes)), np.zeros((2, 2, lanes))
        self.quartic = np.zeros((2, lanes))
        self.source = np.zeros((2, body.rows, 2, lanes)) if self.heated else None
        self.emits = any(s.emission is not None for s in body.problem.spans)
        self.emission = np.zeros((body.rows, 2, lanes)) if self.emits else None  # W/K4 of the cells
        self.temperature = np.full((2, lanes), 300.0)
        # a face with any half-cell conductance is never closed
        self.always_open = body.k_const and bool(np.all(body.g0.source > 0.0))
        self._masks = [_mask(body.n, cells) for cells in body.rod.slices]

    def names(self) -> list[str]:
        """Arrays whose last axis is the lane."""
        more = [*(["source"] if self.heated else []), *(["emission"] if self.emits else [])]
        return ["drive", "linear", "quartic", "temperature", *more]

    def enter(self, lanes: Array, piece: Array, case: Array) -> None:
        """Take the conditions of a piece for each of these lanes."""

        def of(x: Array) -> Array:
            return np.moveaxis(x[piece, case if x.shape[1] > 1 else 0], 0, -1)

        self.drive[:, :, lanes] = of(self._drive).transpose(1, 0, 2)
        self.linear[:, :, lanes] = of(self._linear).transpose(1, 0, 2)
        self.quartic[:, lanes] = STEFAN_BOLTZMANN * of(self._quartic)
        held = self._prescribed[piece].T
        if np.any(held):
            strong: Any = UNKNOWN_BOUND
            if self.body.k_const:
                strong = BOUND * self.body.g0.of(lanes)
            given = of(self._given).transpose(1, 0, 2)
            for power in range(2):
                self.drive[power][:, lanes] = np.where(held, strong * given[power], self.drive[power][:, lanes])
            self.linear[0][:, lanes] = np.where(held, strong, self.linear[0][:, lanes])
        if self.source is not None:
            self.source[..., lanes] = self._sources(lanes, piece, case, of)
        if self.emission is not None:
            self.emission[..., lanes] = self._emission(lanes, piece, case)

    def _emission(self, lanes: Array, piece: Array, case: Array) -> Array:
        """Heat given off in depth over T^4, (rows, 2, k) [W/K4]."""
        body = self.body
        total = np.zeros((body.rows, 2, len(lanes)))
        for s, span in enumerate(body.problem.spans):
            here = self.span[piece] == s
            if span.emission is not None and np.any(here):
                total[..., here] = _of_cases(span.emission, case[here])
        return np.asarray(STEFAN_BOLTZMANN * total * body.volume.of(lanes))

    def _sources(self, lanes: Array, piece: Array, case: Array, of: Any) -> Array:
        """Heat of layers and depth sources, (powers, rows, 2, k) [W]."""
        body = self.body
        heat = of(self._heat)  # (layers, powers, k)
        total = np.zeros((2, body.rows, 2, len(lanes)))
        for j, mask in enumerate(self._masks):
            total += heat[j][:, None, None, :] * mask
        factor = of(self._factor)
        for s, span in enumerate(body.problem.spans):
            here = self.span[piece] == s
            if not np.any(here):
                continue
            for j, put in enumerate(span.sources):
                total[..., here] += factor[j][:, None, None, here] * _of_cases(put.density, case[here])
        return np.asarray(total * body.volume.of(lanes))

    def drive_at(self, tau: Array) -> tuple[Array, Array]:
        """(drive, linear) of both faces at times since the pieces began."""
        d, linear = self.drive, self.linear
        if not self.varies:
            return d[0], linear[0]
        return d[0] + tau * (d[1] + tau * (d[2] + tau * (d[3] + tau * d[4]))), linear[0] + tau * linear[1]

    def flux(self, g: Array, cell: Array, tau: Array) -> Array:
        """Heat into the body per m2, (2, lanes); ``temperature`` and ``slope`` (g + linear) are kept for the Jacobian."""
        drive, linear = self.drive_at(tau)
        base = g * cell
        base += drive
        slope = g + linear
        self.slope = slope
        if not self.always_open:
            closed = slope <= 0.0  # insulated, or an inner face that is not there
            slope = np.where(closed, 1.0, slope)
            base = np.where(closed, cell, base)
        if not self.radiates:
            self.temperature = base / slope
            return np.asarray(g * (self.temperature - cell))
        s4, face = self.quartic, self.temperature
        cube, top = np.empty_like(base), np.empty_like(base)
        for turn in range(MOST):
            np.multiply(face, face, out=cube)
            cube *= face
            cube *= s4
            np.add(slope, cube, out=top)
            top *= face
            top -= base
            cube *= 4.0
            cube += slope
            top /= cube
            face = face - top
            # fmax passes over lanes that are not a number; the first turn is never enough
            if turn and np.fmax.reduce(np.abs(top, out=top), axis=None) <= SETTLED:
                break
        self.temperature = face
        return np.asarray(g * (face - cell))

    def slopes(self, g: Array, cell: Array, tau: Array, by_conductance: Any) -> tuple[Array, Array | None]:
        """(dq/dTc, dq/dt or None) per m2 at the state of the last flux; ``by_conductance`` = dg/dTc."""
        total = self.slope + 4.0 * self.quartic * self.temperature**3
        total = total + (total <= 0.0)
        ratio = g / total
        by_cell = g * (ratio - 1.0) + (self.temperature - cell) * (1.0 - ratio) * by_conductance
        if not self.varies:
            return by_cell, None
        d, linear = self.drive, self.linear
        change = d[1] + tau * (2.0 * d[2] + tau * (3.0 * d[3] + tau * 4.0 * d[4])) - self.temperature * linear[1]
        return by_cell, ratio * change

    def at(self, g: Array, cell: Array, tau: Array, lanes: Array) -> Array:
        """Face temperatures (2, k) of some lanes."""
        d, line = self.drive[..., lanes], self.linear[..., lanes]
        drive = d[0] + tau * (d[1] + tau * (d[2] + tau * (d[3] + tau * d[4])))
        linear = line[0] + tau * line[1]
        closed = g + linear <= 0.0
        quartic = self.quartic[:, lanes] / STEFAN_BOLTZMANN
        faces = surface_temperature(np.where(closed, 1.0, g), cell, drive, linear, quartic, cell)
        return np.array(np.broadcast_to(faces, cell.shape))


def _of_cases(profile: Any, case: Array) -> Array:
    """A profile (cells,), (cells, 1) or (cells, cases) folded, for some cases: (rows, 2, k or 1)."""
    x = np.asarray(profile, float)
    x = fold(x[:, None] if x.ndim == 1 else x)
    return np.asarray(x[..., case] if x.shape[-1] > 1 else x)


def _stacked(pieces: list[Piece], name: str) -> Array:
    """(pieces, cases or 1, ...) of an entry of all pieces."""
    parts = [getattr(p, name) for p in pieces]
    width = max(p.shape[-1] for p in parts)
    whole = np.stack([np.broadcast_to(p, (*p.shape[:-1], width)) for p in parts])
    return np.ascontiguousarray(np.moveaxis(whole, -1, 1))


def _mask(n: int, cells: slice) -> Array:
    mask = np.zeros((n, 1))
    mask[cells] = 1.0
    folded: Array = fold(mask)
    return folded
