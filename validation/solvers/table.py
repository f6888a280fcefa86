"""What is compared: every place of thermokit's mesh at every row, and the allowed difference from the two errors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermokit.conduction.course import cells_of
from thermokit.studies.comparison import share_of_kelvin
from validation.solvers.mesh import Profile
from validation.solvers.rows import Row, row
from validation.solvers.way import Ours, Solver, travelled

Array = NDArray[np.float64]
TEMPERATURE = "temperature"
CLOSE = 0.2  # of its range, that an answer may move by between two rows
LEAST = 1e-9  # below which a difference is one of digits
Fields = list[dict[str, Array]]


def fields_of_ours(case: Ours) -> Fields:
    """Temperatures (rows, inner face, cells, outer face) and states (rows, cells) of each leg."""
    found = []
    for run in case.travel.runs:
        late = run.time > 0.0
        own = {TEMPERATURE: np.column_stack([run.inner_face, run.temperature, run.outer_face])[late]}
        found.append(own | {name: values[late] for name, values in run.states.items()})
    return found


def fields_of_finer(case: Ours) -> Fields:
    """The same by thermokit on its finer mesh, read at the places of the other."""
    legs = []
    for run, leg in zip(case.finer().runs, case.finer().legs, strict=True):
        late, profiles = run.time > 0.0, {}
        for i, (layer, cells) in enumerate(cells_of(leg)):
            middle = _middle(layer.edges)
            x, t = middle, run.temperature[late][:, cells]
            if i == 0:
                x, t = np.append(0.0, x), np.column_stack([run.inner_face[late], t])
            if i == len(leg.layers) - 1:
                x, t = np.append(x, 1.0), np.column_stack([t, run.outer_face[late]])
            states = {n: v[late][:, cells] for n, v in run.states.items() if np.all(np.isfinite(v[late][:, cells]))}
            profiles[layer.name] = Profile(x, t, middle, states)
        legs.append(profiles)
    return fields_of_theirs(case, legs)


def _middle(edges: Array) -> Array:
    return np.asarray((np.asarray(edges)[1:] + np.asarray(edges)[:-1]) / 2.0)


def fields_of_theirs(case: Ours, legs: list[dict[str, Profile]]) -> Fields:
    """The same by another solver, read at thermokit's places."""
    found = []
    for leg, run, profiles in zip(case.travel.legs, case.travel.runs, legs, strict=True):
        rows = int(np.sum(run.time > 0.0))
        temperature = np.full((rows, len(run.centres) + 2), np.nan)
        states = {name: np.full((rows, len(run.centres)), np.nan) for name in run.states}
        for layer, cells in cells_of(leg):
            middle = _middle(layer.edges)
            profile = profiles[layer.name]
            temperature[:, cells.start + 1 : cells.stop + 1] = profile.temperature_at(middle)
            for name in profile.states:
                states[name][:, cells] = profile.state_at(name, middle)
        temperature[:, 0] = profiles[leg.layers[0].name].temperature[:, 0]
        temperature[:, -1] = profiles[leg.layers[-1].name].temperature[:, -1]
        found.append({TEMPERATURE: temperature, **states})
    return found


def apart(a: Fields, b: Fields, name: str) -> tuple[float, int, int, int]:
    """(largest difference, its leg, row and place); infinite where one has a value and the other none."""
    worst = (0.0, 0, 0, 0)
    for leg, (one, other) in enumerate(zip(a, b, strict=True)):
        if name not in one:
            continue
        gap = np.abs(one[name] - other[name])
        gap = np.where(np.isnan(one[name]) & np.isnan(other[name]), 0.0, np.where(np.isnan(gap), np.inf, gap))
        row, place = np.unravel_index(int(np.argmax(gap)), gap.shape)
        if gap[row, place] > worst[0]:
            worst = (float(gap[row, place]), leg, int(row), int(place))
    return worst


def compared(kind: str, title: str, case: Ours, solver: Solver, answer: Answer | None = None) -> list[Row]:
    """Lines of one case and one other solver: temperature and each state where they differ most, and the main answer."""
    rough, fine = (fields_of_theirs(case, travelled(case, solver, level)) for level in (1, 2))
    own = fields_of_ours(case)
    kelvin = share_of_kelvin(case.course)
    found = []
    for name in dict.fromkeys(name for leg in own for name in leg):
        if name != TEMPERATURE and max(_moves(own, name), _moves(fine, name)) < LEAST:
            continue  # a state that stands still says nothing
        _, leg, at, place = apart(own, fine, name)
        error = apart(rough, fine, name)[0]
        enough = case.accuracy * (1.0 if name == TEMPERATURE else kelvin[name])
        unit, zero = ("degC", 273.15) if name == TEMPERATURE else ("1", 0.0)
        where = f"{name.replace('_', ' ')} ({_where(case, leg, at, place + (name != TEMPERATURE))})"

        def value(fields: Fields, name: str = name, leg: int = leg, at: int = at, place: int = place) -> float:
            return float(fields[leg][name][at, place])

        a, b = value(own) - zero, value(fine) - zero
        why = _why(case, value, own, fine, error)
        found.append(row(kind, title, solver.name, where, unit, a, b, error, enough + error, why))
    if answer is not None and answer.told(case, own):
        found.append(_answered(kind, title, case, solver, answer, (own, rough, fine)))
    return found


def _moves(fields: Fields, name: str) -> float:
    """Between what values a state lies."""
    values = np.concatenate([leg[name].ravel() for leg in fields if name in leg])
    return float(np.nanmax(values) - np.nanmin(values))


def _answered(
    kind: str, title: str, case: Ours, solver: Solver, answer: Answer, fields: tuple[Fields, Fields, Fields]
) -> Row:
    """The line of the main answer; fields : thermokit's, the rough and the fine ones of the other solver."""
    own, rough, fine = fields
    a, b = answer.find(case, own), answer.find(case, fine)
    error = abs(answer.find(case, rough) - b)
    enough = case.accuracy
    if answer.quantity != TEMPERATURE:
        enough *= share_of_kelvin(case.course)[answer.quantity]
    allowed = enough / answer.slope(case, own) + error
    why = _why(case, lambda found: answer.find(case, found), own, fine, error)
    return row(kind, title, solver.name, answer.words, answer.unit, a, b, error, allowed, why)


def _why(case: Ours, value: Callable[[Fields], float], own: Fields, fine: Fields, error: float) -> str:
    """Where the two are further apart than the other solver's own error: what of it is thermokit's own."""
    apart_by = abs(value(own) - value(fine))
    if apart_by <= error or apart_by < LEAST:
        return ""
    better = value(fields_of_finer(case))
    moved, left = abs(better - value(own)), abs(better - value(fine))
    return f"thermokit's own error: finer it moves by {moved:.2g} here and is then {left:.2g} apart"


@dataclass(frozen=True)
class Answer:
    """The main answer of a case: when a quantity reaches a level, or what it comes to at the end.

    pick : (values of a leg (rows, places)) -> (rows,); level in SI, None for the value at the end; leg : the leg in which it
    counts, -1 the last. A difference in time may be that in the quantity over how fast it moves there.
    """

    words: str
    unit: str
    quantity: str
    pick: Callable[[Array], Array]
    level: float | None = None
    leg: int = -1
    shift: float = 0.0

    def find(self, case: Ours, fields: Fields) -> float:
        """The answer [s, or the unit of the quantity]."""
        values = self._values(fields)
        if self.level is None:
            return float(values[-1]) - self.shift
        return self._crossing(case, values)

    def told(self, case: Ours, fields: Fields) -> bool:
        """Whether the rows are close enough together to tell it: between two of them it moves by a part of its range only."""
        if self.level is None:
            return True
        values = self._values(fields)
        i = self._row(values)
        return bool(abs(values[i] - values[i - 1]) <= CLOSE * np.ptp(values))

    def slope(self, case: Ours, fields: Fields) -> float:
        """How fast the quantity moves where the answer is [1/s]; 1 for a value."""
        if self.level is None:
            return 1.0
        values, times = self._values(fields), self._times(case)
        i = self._row(values)
        return float(abs(values[i] - values[i - 1]) / (times[i] - times[i - 1]))

    def _values(self, fields: Fields) -> Array:
        return self.pick(fields[self.leg][self.quantity])

    def _times(self, case: Ours) -> Array:
        time = case.travel.runs[self.leg].time
        return np.asarray(time[time > 0.0])

    def _row(self, values: Array) -> int:
        side = np.sign(values - float(self.level or 0.0))
        rows = np.flatnonzero(side[1:] * side[:-1] <= 0.0)
        if not len(rows):
            raise ValueError(f"{self.words}: not reached in its leg, {values[0]:g} to {values[-1]:g}")
        return int(rows[0]) + 1

    def _crossing(self, case: Ours, values: Array) -> float:
        from scipy.interpolate import PchipInterpolator
        from scipy.optimize import brentq

        times, i, level = self._times(case), self._row(values), float(self.level or 0.0)
        curve = PchipInterpolator(times, values)
        return float(brentq(lambda t: float(curve(t)) - level, times[i - 1], times[i]))


def _where(case: Ours, leg: int, row: int, place: int) -> str:
    """Time and place in words."""
    runs = case.travel.runs
    begun = sum(float(span.duration) for done in case.travel.legs[:leg] for span in done.spans)
    run = runs[leg]
    at = begun + float(run.time[run.time > 0.0][row])
    if place == 0:
        return f"{at:.4g} s, inner face"
    if place > len(run.centres):
        return f"{at:.4g} s, outer face"
    name = next(la.name for la, cells in cells_of(case.travel.legs[leg]) if place - 1 < cells.stop)
    return f"{at:.4g} s, {name}, {1e3 * float(run.centres[place - 1]):.3g} mm"
