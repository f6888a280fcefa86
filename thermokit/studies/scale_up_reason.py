"""Why an answer grows with the wall as it does: Biot, flux and Fourier numbers of the station that decides.

    Bi = h l/k            resistance inside over resistance outside; small: even through the wall, large: faces as what they touch
    N  = q l/(k dT)       temperature difference inside over the rise, at the mean flux; small: even through the wall
    Fo = a t/l^2          time over the time of conduction; much larger than 1: heat had long come through

l : depth that heat goes through: the whole wall from one face, half of it from two alike faces; h with radiation linearised at
the mean of the face, 4 F sigma ((T + Ts)/2)^3. Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, chapter 5 (Bi, Fo).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN, Series
from thermokit.errors import ThermokitError
from thermokit.processes import direct_of, process_of
from thermokit.processes.media import typical
from thermokit.processes.run import settled

if TYPE_CHECKING:
    from thermokit.conduction.problem import Face

GROWN = ("cure_degree", "gel_degree", "fusion_degree")
MUCH = 2.0  # Fourier number beyond which conduction is done long before the end; common sense, no source


@dataclass(frozen=True)
class Reason:
    """Numbers of the station, in SI; biot inf at a prescribed temperature; reacts : something cures, gels or fuses in the part."""

    station: str
    biot: float
    flux_number: float
    fourier: float
    depth: float
    capacity: float
    diffusivity: float
    reacts: bool

    def words(self) -> str:
        """What they say, in a sentence."""
        biot = "no resistance outside" if np.isinf(self.biot) else f"Biot {self.biot:.2g}"
        text = f"{biot}, flux number {self.flux_number:.2g}, Fourier {self.fourier:.2g} over {1e3 * self.depth:.3g} mm"
        if self.reacts and self.fourier > MUCH:
            return f"{text}: heat has long come through, the rest of the time is the reaction's"
        if self.reacts and self.biot > 2.0:
            return f"{text}: the wall holds heat up more than the outside, and the reaction goes on while it warms"
        if self.biot < 0.3:
            return f"{text}: the outside lets heat through far worse than the wall, so the time goes with its mass"
        if self.biot > 5.0:
            return f"{text}: the wall lets heat through far worse than the outside, so the time goes with its square"
        return f"{text}: wall and outside hold the heat up alike"


def reason_of(case: Any, path: str, setting: float, limit: str = "") -> Reason | None:
    """The numbers of the station whose setting is sought; None for sections and moulds.

    Where no station's own setting is sought (a line's speed): of that in which the part changes most, up to where ``limit`` looks.
    """
    filled = case.with_values({path: setting})
    if direct_of(filled) is not None:
        return None
    try:
        process = process_of(filled)
        solved = settled(filled, process)
        course = process.course(solved.edges)
    except ThermokitError:
        return None
    history = solved.history
    if not history.ends:
        return None
    spans = course.spans
    names = [span.name for span in spans]
    own = path.split(".")[1] if path.startswith("stations.") else ""
    width = np.diff(history.edges)
    at = limit.partition(" at ")[2]
    rows = [history.temperature[0], *(end.temperature for end in history.ends)]
    whole = all(len(row) == len(width) for row in rows)  # a layer that comes later changes the cells
    means = [float((row * width).sum() / width.sum()) if whole else float(np.mean(row)) for row in rows]
    last = names.index(at) + 1 if at in names else len(history.ends)
    most = int(np.argmax(np.abs(np.diff(means))[: min(last, len(history.ends))]))
    i = min(names.index(own) if own in names else most, len(history.ends) - 1)
    layers = [
        (float(np.ravel(t)[0]), medium)
        for name, t, medium, _ in process.layers()
        if name in course.shown or not course.body
    ]
    wall = sum(t for t, _ in layers)
    resistance = sum(t / typical(m.conductivity) for t, m in layers)
    capacity = sum(t * float(np.ravel(m.density)[0]) * typical(m.specific_heat) for t, m in layers) / wall
    k = wall / resistance
    end = history.ends[i]
    begin = history.ends[i - 1] if i else None
    faces = []
    for side, face in (("inner_face", spans[i].inner), ("outer_face", spans[i].outer)):
        first = getattr(begin, side) if begin is not None else float(getattr(history, side)[0])
        faces.append(coefficient(face, (first + getattr(end, side)) / 2.0))
    h = max(faces)
    total = sum(faces)
    depth = (
        wall if not total or (np.isinf(h) and min(faces) < 1.0) else wall / 2.0 if np.isinf(total) else wall * h / total
    )
    mean_first, mean_last = means[i], means[i + 1]
    time = end.time - (begin.time if begin is not None else 0.0)
    flux = capacity * wall * abs(mean_last - mean_first) / time * (depth / wall)
    rise = max(abs(mean_last - mean_first), 1e-9)
    return Reason(
        station=names[i],
        biot=h * depth / k,
        flux_number=flux * depth / (k * rise),
        fourier=k / capacity * time / depth**2,
        depth=depth,
        capacity=capacity,
        diffusivity=k / capacity,
        reacts=bool(set(history.states) & set(GROWN)),
    )


def coefficient(face: Face, temperature: float) -> float:
    """Heat transfer coefficient of a face at a temperature, radiation included [W/m2/K]; inf where it is prescribed."""
    if face.temperature is not None:
        return float("inf")
    total = sum(_first(term.coefficient) for term in face.exchange)
    for seen in face.radiation:
        mean = (temperature + _first(seen.temperature)) / 2.0
        total += 4.0 * float(np.ravel(seen.factor)[0]) * STEFAN_BOLTZMANN * mean**3
    return total


def _first(value: Any) -> float:
    """A number; a time table counts with the mean of its values."""
    return float(np.mean(np.asarray(value.value, float))) if isinstance(value, Series) else float(np.ravel(value)[0])
