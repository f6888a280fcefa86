"""What the spans of a section say about its mesh: how deep heat reaches, and how strongly faces take it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN, Curve, Series

if TYPE_CHECKING:
    from thermokit.conduction.problem import Face, Varying
    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_problem import Array, SectionProblem


def depths_of_heat(problem: SectionProblem) -> Array:
    """(regions,) depth sqrt(a t) [m] that heat reaches in the shortest span; infinite where no span has a length."""
    durations = [span.duration for span in problem.spans if np.isfinite(span.duration) and span.duration > 0.0]
    if not durations:
        return np.full(len(problem.regions), np.inf)
    out = []
    for region in problem.regions:
        capacity = highest(region.medium.density) * _at(region.medium.specific_heat, region.start)
        out.append(np.sqrt(conductivity_of(region) / capacity * min(durations)))
    return np.array(out)


def conductivity_of(region: object) -> float:
    """Conductivity of a region at its start [W/m/K]."""
    return _at(region.medium.conductivity, region.start)  # type: ignore[attr-defined]


def coefficients_of(pieces: Pieces, problem: SectionProblem) -> Array:
    """(pieces,) the largest coefficient with which heat passes a piece in any span [W/m2/K].

    0 where nothing passes; infinite where a temperature or a flux is prescribed, or where regions that begin at different
    temperatures touch perfectly (at the same one they are as one body).
    """
    index = {region.name: k for k, region in enumerate(problem.regions)}
    names = problem.face_names
    by_name = np.zeros(len(names) + 1)
    for span in problem.spans:
        for name, face in span.faces.items():
            if name in names:
                place = names.index(name)
                by_name[place] = max(by_name[place], coefficient_of(face))
    out = by_name[pieces.face]  # -1 reads the last: 0
    between = (pieces.left >= 0) & (pieces.right >= 0)
    start = np.array([np.max(region.start) for region in problem.regions])
    contact = np.where(start[:, None] == start, 0.0, np.inf)
    touches = [(t.between, t.conductance) for t in problem.touches]
    named: dict[frozenset[str], float] = {}
    for pair, value in (*touches, *(item for span in problem.spans for item in span.touches.items())):
        key = frozenset(pair)
        named[key] = max(named.get(key, 0.0), highest(value))
    for key, value in named.items():
        one, other = (index[name] for name in key)
        contact[one, other] = contact[other, one] = value
    out[between] = np.maximum(out[between], contact[pieces.left[between], pieces.right[between]])
    return out


def coefficient_of(face: Face) -> float:
    """The largest coefficient of a face [W/m2/K]; infinite where its temperature or a flux is prescribed."""
    if face.temperature is not None or highest(face.heating) != 0.0:
        return np.inf
    linear = sum(highest(exchange.coefficient) for exchange in face.exchange)
    grey = sum(4.0 * highest(r.factor) * STEFAN_BOLTZMANN * highest(r.temperature) ** 3 for r in face.radiation)
    return linear + grey


def highest(value: Varying) -> float:
    """The largest size that a value takes."""
    if isinstance(value, Series):
        return max(float(np.max(np.abs(v))) for v in value.value)
    return float(np.max(np.abs(value)))


def _at(value: float | Curve | Array, temperature: float) -> float:
    if isinstance(value, Curve):
        return float(np.interp(float(np.max(temperature)), value.temperature, value.value))
    return float(np.max(value))
