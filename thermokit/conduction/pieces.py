"""Spans cut at the knots of their time tables: within a piece everything at a face is a polynomial in time.

At a face of a body with surface temperature Ts the heat into the body per m2 is

    q = drive - linear Ts - quartic sigma Ts^4
    drive = heating + sum h Ta + sigma sum eF T^4,    linear = sum h,    quartic = sum eF

With h, Ta, T and heating linear in time between knots, ``linear`` is of degree 1 and ``drive`` of degree up to 4 in the
time since the piece began. A prescribed temperature is a polynomial of degree 1. A jump (two equal times) starts a new
piece at which the solver restarts; a mere bend starts one at which it only lands.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN, Face, Problem, Series, Span

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array, Varying

DEGREE = 4


@dataclass(frozen=True)
class Piece:
    """One piece of one span; every entry has the cases as its last axis (length 1 where they do not differ).

    duration : (cases,) [s]; span : its index; fresh : True where the solver must restart; faces : axis 0 is inner, outer.
    drive (2, 5, .), linear (2, 2, .), quartic (2, .), prescribed : (2,) flags, temperature (2, 2, .);
    heat : (layers, 2, .) internal source [W/m3]; factor (sources, 2, .) of the span's depth sources, as many as the span
    with most has. Coefficients in ascending powers of the time since the piece began.
    """

    duration: Array
    span: int
    fresh: bool
    last: bool
    drive: Array
    linear: Array
    quartic: Array
    prescribed: tuple[bool, bool]
    temperature: Array
    heat: Array
    factor: Array
    varies: bool


def _series(value: Varying) -> tuple[Array, Array]:
    """(times (knots, .), values (knots, .)); no knots for a constant."""
    if isinstance(value, Series):
        times = [np.atleast_1d(np.asarray(t, float)) for t in value.time]
        values = [np.atleast_1d(np.asarray(v, float)) for v in value.value]
        tw = max(len(t) for t in times)
        vw = max(len(v) for v in values)
        return (
            np.stack([np.broadcast_to(t, (tw,)) for t in times]),
            np.stack([np.broadcast_to(v, (vw,)) for v in values]),
        )
    return np.zeros((0, 1)), np.atleast_1d(np.asarray(value, float))[None, :]


def _line(value: Varying, a: Array, b: Array, offset: Any = 0.0) -> Array:
    """Coefficients (2, .) of a value on the piece from a to b [s, after ``offset``], with the one-sided limits there."""
    times, values = _series(value)
    if not len(times):
        return np.stack([values[0], np.zeros_like(values[0])])
    start, end = a + offset, b + offset
    middle = (start + end) / 2
    cases = max(times.shape[1], values.shape[1], np.size(middle))
    times, values = (np.broadcast_to(x, (len(times), cases)) for x in (times, values))
    middle, start = np.broadcast_to(middle, (cases,)), np.broadcast_to(start, (cases,))
    before = values[0].copy()
    slope = np.zeros(cases)
    anchor = np.zeros(cases)
    for j in range(len(times)):
        past = times[j] <= middle
        before = np.where(past, values[j], before)
        anchor = np.where(past, times[j], anchor)
        if j + 1 < len(times):
            width = times[j + 1] - times[j]
            rise = np.divide(values[j + 1] - values[j], width, out=np.zeros(cases), where=width > 0)
            slope = np.where(past, rise, slope)
        else:
            slope = np.where(past, 0.0, slope)
    return np.stack([before + slope * (start - anchor), slope])


def _multiply(p: Array, q: Array) -> Array:
    """Product of two polynomials (degree + 1, .), with the cases broadcast."""
    width = max(p.shape[1], q.shape[1])
    out = np.zeros((len(p) + len(q) - 1, width))
    for i, row in enumerate(p):
        for j, other in enumerate(q):
            out[i + j] += row * other
    return out


def _add(total: Array, p: Array) -> Array:
    """Sum of two polynomials, the second of no higher degree."""
    width = max(total.shape[1], p.shape[1])
    out = np.empty((len(total), width))
    out[:] = total
    out[: len(p)] += p
    return out


def _face(face: Face, a: Array, b: Array) -> tuple[Array, Array, Array, bool, Array]:
    """(drive, linear, quartic, prescribed, temperature) polynomials of one face on the piece from a to b."""
    drive, linear = np.zeros((DEGREE + 1, 1)), np.zeros((2, 1))
    quartic = np.zeros(1)
    if face.temperature is not None:
        return drive, linear, quartic, True, _line(face.temperature, a, b)
    constant: Any = 0.0  # what does not change in time is added up as plain numbers
    exchange: Any = 0.0
    if isinstance(face.heating, Series):
        drive = _add(drive, _line(face.heating, a, b))
    else:
        constant = constant + face.heating
    for term in face.exchange:
        if isinstance(term.coefficient, Series) or isinstance(term.temperature, Series):
            h = _line(term.coefficient, a, b)
            drive = _add(drive, _multiply(h, _line(term.temperature, a, b)))
            linear = _add(linear, h)
        else:
            constant = constant + term.coefficient * term.temperature
            exchange = exchange + term.coefficient
    for seen in face.radiation:
        if isinstance(seen.temperature, Series):
            t = _line(seen.temperature, a, b)
            square = _multiply(t, t)
            factor = np.atleast_1d(np.asarray(seen.factor, float))
            drive = _add(drive, STEFAN_BOLTZMANN * factor * _multiply(square, square))
        else:
            constant = constant + STEFAN_BOLTZMANN * seen.factor * seen.temperature**4
        quartic = quartic + seen.factor
    drive = _add(drive, np.atleast_1d(np.asarray(constant, float))[None])
    linear = _add(linear, np.atleast_1d(np.asarray(exchange, float))[None])
    return drive, linear, quartic, False, np.zeros((2, 1))


def _varyings(span: Span) -> list[Varying]:
    out: list[Varying] = []
    for face in (span.inner, span.outer):
        out += [face.heating] + ([face.temperature] if face.temperature is not None else [])
        for term in face.exchange:
            out += [term.coefficient, term.temperature]
        out += [seen.temperature for seen in face.radiation]
    return out + [source.factor for source in span.sources]


def _jumps(series: list[tuple[Series, Any]], cuts: Array) -> bool:
    """True where any series jumps at the cut (cases,)."""
    for value, offset in series:
        times, values = _series(value)
        for j in range(len(times) - 1):
            same = (times[j] == times[j + 1]) & (np.abs(times[j] - offset - cuts) <= 0.0)
            if np.any(same & (values[j] != values[j + 1])):
                return True
    return False


def expand(problem: Problem, cases: int | None = None) -> list[Piece]:
    """All pieces of a problem, in order; with no time tables there is one a span."""
    width = cases or 1
    begun: Array = np.zeros(1)
    pieces: list[Piece] = []
    most = max((len(span.sources) for span in problem.spans), default=0)
    for index, span in enumerate(problem.spans):
        duration = np.atleast_1d(np.asarray(span.duration, float))
        series: list[tuple[Series, Any]] = [(v, 0.0) for v in _varyings(span) if isinstance(v, Series)]
        series += [(layer.heat, begun) for layer in problem.layers if isinstance(layer.heat, Series)]
        knots: list[Array] = [np.zeros(1), duration]
        for value, offset in series:
            times, _ = _series(value)
            knots += [np.clip(row - offset, 0.0, duration) for row in times]
        if len(knots) > 2:
            wide = max(np.size(k) for k in knots)
            cuts = np.sort(np.stack([np.broadcast_to(k, (wide,)) for k in knots]), axis=0)
            keep = np.concatenate([[True], np.any(np.diff(cuts, axis=0) > 0, axis=1)])
            cuts = cuts[keep] if np.any(keep[1:]) else np.stack([cuts[0], cuts[0]])  # an empty span stays a piece
        else:
            cuts = np.stack([np.broadcast_to(k, duration.shape) for k in knots])
        for j in range(len(cuts) - 1):
            a, b = cuts[j], cuts[j + 1]
            faces = [_face(span.inner, a, b), _face(span.outer, a, b)]
            heat = [_line(layer.heat, a, b, begun) for layer in problem.layers]
            factor = _factors(span, a, b, most)
            drive, linear, quartic, temperature = (_pair(faces, i) for i in (0, 1, 2, 4))
            varies = bool(
                np.any(drive[:, 1:]) or np.any(linear[:, 1:]) or np.any(temperature[:, 1:]) or np.any(factor[:, 1:])
                or any(np.any(h[1:]) for h in heat)
            )  # fmt: skip
            pieces.append(
                Piece(
                    duration=b - a,
                    span=index,
                    fresh=j == 0 or _jumps(series, a),
                    last=j == len(cuts) - 2,
                    drive=drive,
                    linear=linear,
                    quartic=quartic,
                    prescribed=(faces[0][3], faces[1][3]),
                    temperature=temperature,
                    heat=np.stack([np.broadcast_to(h, (2, max(np.size(x[0]) for x in heat))) for h in heat]),
                    factor=factor,
                    varies=varies,
                )
            )
        begun = begun + duration
    for piece in pieces:
        for part in (
            piece.duration,
            piece.drive,
            piece.linear,
            piece.quartic,
            piece.temperature,
            piece.heat,
            piece.factor,
        ):
            if part.shape[-1] not in (1, width):
                raise ValueError(f"a leaf of the problem has {part.shape[-1]} values, there are {width} cases")
    return pieces


def _factors(span: Span, a: Array, b: Array, most: int) -> Array:
    """(most, 2, .) factors of the span's depth sources on the piece from a to b, zero for those that it lacks."""
    lines = [_line(source.factor, a, b) for source in span.sources]
    lines += [np.zeros((2, 1))] * (most - len(lines))
    width = max((line.shape[-1] for line in lines), default=1)
    return np.stack([np.broadcast_to(line, (2, width)) for line in lines]) if lines else np.zeros((0, 2, width))


def _pair(faces: list[Any], i: int) -> Array:
    """Entry i of both faces stacked, with the cases broadcast."""
    width = max(faces[0][i].shape[-1], faces[1][i].shape[-1])
    return np.stack([np.broadcast_to(f[i], (*f[i].shape[:-1], width)) for f in faces])
