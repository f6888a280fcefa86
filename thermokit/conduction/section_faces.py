"""Spans of a section cut at the knots of their time tables, and what each face does on such a piece.

At a face with surface temperature Ts the heat into the section per m2 is, as in :mod:`thermokit.conduction.pieces`,

    q = drive - linear Ts - quartic sigma Ts^4

Within a piece every table is a straight line in time, so that values at any time of a stage are one-sided and right.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN, Face, Series

if TYPE_CHECKING:
    from thermokit.conduction.problem import Varying
    from thermokit.conduction.section_problem import SectionProblem, SectionSpan

    Line = tuple[float, float]  # value at the beginning of the piece, rise per second


@dataclass(frozen=True)
class FaceLines:
    """One face on one piece: all its entries as straight lines of the time since the piece began."""

    temperature: Line | None
    heating: Line
    exchange: tuple[tuple[Line, Line], ...]
    radiation: tuple[tuple[float, Line], ...]

    def drive(self, tau: float) -> float:
        """Flux into a face at 0 K [W/m2]."""
        q = self.heating[0] + self.heating[1] * tau
        for h, t in self.exchange:
            q += (h[0] + h[1] * tau) * (t[0] + t[1] * tau)
        for factor, t in self.radiation:
            q += factor * STEFAN_BOLTZMANN * (t[0] + t[1] * tau) ** 4
        return q

    def linear(self, tau: float) -> float:
        """Sum of the coefficients [W/m2/K]."""
        return sum(h[0] + h[1] * tau for h, _ in self.exchange)

    @property
    def quartic(self) -> float:
        """Sum of the exchange factors [-]."""
        return sum(factor for factor, _ in self.radiation)

    @property
    def drive_varies(self) -> bool:
        """True where the drive changes in time."""
        return bool(
            self.heating[1] or any(h[1] or t[1] for h, t in self.exchange) or any(t[1] for _, t in self.radiation)
        )

    @property
    def linear_varies(self) -> bool:
        """True where a coefficient changes in time."""
        return any(h[1] for h, _ in self.exchange)


@dataclass(frozen=True)
class SectionPiece:
    """One piece of one span: ``begun`` seconds after its start; fresh : whether faces jump where it begins.

    faces : index into the problem's face names -> lines; touches : index into its touches -> line; heat : a region's index ->
    line of its source [W/m3].
    """

    span: int
    begun: float
    duration: float
    fresh: bool
    last: bool
    faces: dict[int, FaceLines]
    touches: dict[int, Line]
    heat: dict[int, Line]

    @property
    def key(self) -> tuple[object, ...]:
        """What two pieces with the same matrices share."""
        lines = tuple(
            (f, face.temperature is None, face.quartic, tuple(h for h, _ in face.exchange))
            for f, face in sorted(self.faces.items())
        )
        return lines, tuple(sorted(self.touches.items()))


def conductances(problem: SectionProblem, span: SectionSpan) -> list[Varying]:
    """Conductance of every touch of the problem in a span; its time runs from the start of the span."""
    instead = {frozenset(pair): value for pair, value in span.touches.items()}
    return [instead.get(frozenset(touch.between), touch.conductance) for touch in problem.touches]


def section_pieces(problem: SectionProblem) -> list[SectionPiece]:
    """All pieces of a problem in order; with no time tables there is one a span. A span without length has one too.

    Raises ValueError for the face of a name that the problem does not have.
    """
    names = {name: i for i, name in enumerate(problem.face_names)}
    pieces: list[SectionPiece] = []
    begun = 0.0
    for index, span in enumerate(problem.spans):
        duration = float(span.duration)
        faces = {}
        for name, face in span.faces.items():
            if name not in names:
                raise ValueError(f"no edge or channel is named {name!r}; there are {', '.join(names) or 'none'}")
            faces[names[name]] = face
        touches = conductances(problem, span)
        local = [v for face in faces.values() for v in _varyings(face)] + touches
        tables = [(v, 0.0) for v in local if isinstance(v, Series)]
        tables += [(region.heat, begun) for region in problem.regions if isinstance(region.heat, Series)]
        knots = np.concatenate([[0.0, duration], *(np.array(v.time, float) - offset for v, offset in tables)])
        cuts = np.unique(np.clip(knots, 0.0, duration))
        if len(cuts) == 1:
            cuts = np.array([0.0, 0.0])
        for j, (a, b) in enumerate(zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True)):
            pieces.append(
                SectionPiece(
                    span=index,
                    begun=a,
                    duration=b - a,
                    fresh=j == 0 or any(_jumps(v, a + offset) for v, offset in tables),
                    last=j == len(cuts) - 2,
                    faces={f: _lines(face, a, b) for f, face in faces.items()},
                    touches={i: _line(value, a, b) for i, value in enumerate(touches)},
                    heat={
                        i: _line(region.heat, a + begun, b + begun)
                        for i, region in enumerate(problem.regions)
                        if isinstance(region.heat, Series) or np.any(region.heat)
                    },
                )
            )
        begun += duration
    return pieces


def _varyings(face: Face) -> list[Varying]:
    out: list[Varying] = [face.heating] + ([face.temperature] if face.temperature is not None else [])
    for term in face.exchange:
        out += [term.coefficient, term.temperature]
    return out + [seen.temperature for seen in face.radiation]


def _lines(face: Face, a: float, b: float) -> FaceLines:
    if face.temperature is not None:
        return FaceLines(_line(face.temperature, a, b), (0.0, 0.0), (), ())
    return FaceLines(
        None,
        _line(face.heating, a, b),
        tuple((_line(term.coefficient, a, b), _line(term.temperature, a, b)) for term in face.exchange),
        tuple((float(seen.factor), _line(seen.temperature, a, b)) for seen in face.radiation),
    )


def _line(value: Varying, a: float, b: float) -> Line:
    """(value just after a, rise per second) between two times that have no knot between them."""
    if not isinstance(value, Series):
        return float(value), 0.0
    times, values = np.array(value.time, float), np.array(value.value, float)
    middle = (a + b) / 2
    i = int(np.searchsorted(times, middle, side="right")) - 1
    if i < 0:
        return float(values[0]), 0.0
    if i == len(times) - 1:
        return float(values[-1]), 0.0
    rise = (values[i + 1] - values[i]) / (times[i + 1] - times[i])
    return float(values[i] + rise * (a - times[i])), float(rise)


def _jumps(series: Series, at: float) -> bool:
    times, values = np.array(series.time, float), np.array(series.value, float)
    same = (times[:-1] == times[1:]) & (np.abs(times[:-1] - at) <= 1e-12 * max(abs(at), 1.0))
    return bool(np.any(same & (values[:-1] != values[1:])))
