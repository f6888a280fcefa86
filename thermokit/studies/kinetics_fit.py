"""Kinetics from a calorimeter's runs: energies without a law, and the constants of a two-rate law with their confidence.

The energies of Kissinger and Ozawa come from the peaks of the ramps, Vyazovkin's against conversion from all runs. From
Kissinger's energy a spread of starting sets is tried on all runs in one pass, the best are refined by least squares, and
simpler laws are held against the result: where one fits as well, that is said and it is offered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import DataError
from thermokit.kinetics.along import ROUGH
from thermokit.kinetics.conversion import Cure, cured, noise_in, peak_of
from thermokit.kinetics.isoconversional import EnergyAgainstDegree, Line, kissinger, ozawa, vyazovkin
from thermokit.studies.kinetics_model import MOST_ROWS, Model, rows_of
from thermokit.studies.kinetics_search import FittedSet, check_explained, search, set_of, simpler_set

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from thermokit.kinetics.dsc import Run

    Array = NDArray[np.float64]

_ENOUGH = 3  # ramps from which energy against degree is taken from them alone


@dataclass(frozen=True)
class FittedRun:
    """A run beside the fitted set: measured and fitted rate of heat [W/kg, baseline taken off] or degree, and their
    difference, at the rows that were fitted; heat : its own total [J/kg]; peak, peak_error [K] of a ramp.
    """

    cure: Cure
    time: Array
    temperature: Array
    measured: Array
    fitted: Array
    heat: float | None
    peak: float | None
    peak_error: float | None

    @property
    def miss(self) -> float:
        """Largest smooth departure beyond the noise, as a share of the peak: differences in the mean of 1/20 of the rows."""
        width = max(1, len(self.time) // 20)
        mean = np.convolve(self.measured - self.fitted, np.ones(width) / width, "valid")
        noise = 4.0 * noise_in(self.measured) / np.sqrt(width)
        return float(max(0.0, np.abs(mean).max() - noise) / np.abs(self.fitted).max())


@dataclass(frozen=True)
class KineticsFit:
    """Everything that ``thermokit kinetics fit`` finds.

    kissinger, ozawa, ozawa_refined : None where fewer than two ramps of different rate were given; isoconversional; fitted :
    the set of the form asked for; simpler : one with fewer constants that fits as well, or None; heat, heat_ends : mean
    total heat of the runs [J/kg], None for conversions; valid : coldest and hottest temperature at which the runs cured [K].
    """

    runs: tuple[FittedRun, ...]
    kissinger: Line | None
    ozawa: Line | None
    ozawa_refined: Line | None
    isoconversional: EnergyAgainstDegree
    fitted: FittedSet
    simpler: FittedSet | None
    heat: float | None
    heat_ends: tuple[float, float] | None
    valid: tuple[float, float]
    notes: tuple[str, ...]

    @property
    def energies_from(self) -> str:
        """Which runs the energy against degree was found from."""
        ramps = sum(run.cure.run.kind == "ramp" for run in self.runs)
        return "from the ramps" if ramps >= _ENOUGH else "from all runs"


def fit_kinetics(
    runs: Sequence[Run], form: str = "two_rate", progress: Callable[[float], None] | None = None
) -> KineticsFit:
    """Energies and constants from runs at two and more heating rates or temperatures.

    form : ``two_rate``, ``one_energy`` (both rates share one), ``autocatalytic`` (no first rate), ``nth_order``.

    Raises DataError where the runs cannot tell an energy, SolveError where no set of the form follows them.
    """
    runs = sorted(runs, key=_place)
    _check_spread(runs)
    cures = _cures(runs)
    ramps = [(cure, *peak_of(cure)) for cure in cures if cure.run.kind == "ramp"]
    lines = _lines(ramps)
    # a hold's level at its end is a poor baseline where it has not cured: three ramps are better without it
    energies = vyazovkin([cure for cure, _, _ in ramps] if len(ramps) >= _ENOUGH else cures)
    reference = _reference(cures)
    begin = lines[0].energy if lines else float(np.nanmedian(energies.energy))
    begin = begin if np.isfinite(begin) and 2e4 < begin < 3e5 else 8e4

    rough, rows = [rows_of(cure, ROUGH) for cure in cures], [rows_of(cure) for cure in cures]
    model = Model(form, rows, reference)
    best = search(model, Model(form, rough, reference), cures, begin)
    if progress is not None:
        progress(0.6)
    check_explained(model, best)
    fitted = set_of(model, best)
    simpler = simpler_set(fitted, model, rough)
    beside = tuple(_beside(model, best, cure, i) for i, cure in enumerate(cures))
    heats = np.array([run.heat for run in beside if run.heat is not None and run.cure.run.kind == "ramp"])
    if not len(heats):
        heats = np.array([run.heat for run in beside if run.heat is not None])
    notes = _notes(runs, ramps, beside, heats)
    if progress is not None:
        progress(1.0)
    heat, heat_ends = _mean_heat(heats)
    straight, unrefined, refined = lines or (None, None, None)
    return KineticsFit(
        runs=beside, kissinger=straight, ozawa=unrefined, ozawa_refined=refined, isoconversional=energies, fitted=fitted,
        simpler=simpler, heat=heat, heat_ends=heat_ends, valid=_valid(cures), notes=tuple(notes),
    )  # fmt: skip


def _place(run: Run) -> tuple[int, float]:
    """Ramps by their rate, then holds by their temperature, then the others."""
    if run.kind == "ramp":
        return 0, run.heating_rate
    return (1, run.held_at) if run.kind == "hold" else (2, 0.0)


def _cures(runs: Sequence[Run]) -> list[Cure]:
    """The runs as degrees; that of a hold counts by the mean heat of the ramps, or without any by that of the best hold."""
    first = [cured(run) for run in runs]
    heats = {kind: [c.heat for c in first if c.heat is not None and c.run.kind == kind] for kind in ("ramp", "hold")}
    total = float(np.mean(heats["ramp"])) if heats["ramp"] else max(heats["hold"], default=None)
    return [cured(c.run, total) if c.run.kind == "hold" else c for c in first]


def _check_spread(runs: Sequence[Run]) -> None:
    """Rates or temperatures must differ, or no energy can be told."""
    if len(runs) < 2:
        raise DataError(
            f"{runs[0].name if runs else 'no file'}: one run cannot tell an activation energy; give runs at two and more "
            "heating rates or temperatures (four rates between 2 and 20 K/min are usual)"
        )
    rates = [run.heating_rate for run in runs if run.kind == "ramp"]
    holds = [run.held_at for run in runs if run.kind == "hold"]
    differ = (len(rates) and max(rates) > 1.2 * min(rates)) or (len(holds) and max(holds) - min(holds) > 4.0)
    if not differ and not (rates and holds) and all(run.kind != "programme" for run in runs):
        raise DataError(
            "the runs are all at one heating rate, or all at one temperature: an activation energy needs two that differ"
        )


def _lines(ramps: list[tuple[Cure, float, float]]) -> tuple[Line, Line, Line] | None:
    """Kissinger's and Ozawa's lines, where ramps of different rates were given."""
    rates = [cure.run.heating_rate for cure, _, _ in ramps]
    if len(rates) < 2 or max(rates) < 1.2 * min(rates):
        return None
    peaks = [peak for _, peak, _ in ramps]
    return kissinger(rates, peaks), ozawa(rates, peaks, refined=False), ozawa(rates, peaks)


def _reference(cures: Sequence[Cure]) -> float:
    """A temperature in the middle of the cure of all runs [K]: there rate constants and energies are told apart best."""
    halves = [1.0 / float(np.interp(0.5, np.maximum.accumulate(c.degree), c.run.temperature)) for c in cures]
    return round(1.0 / float(np.mean(halves)))


def _beside(model: Model, vector: Array, cure: Cure, i: int) -> FittedRun:
    """A run and the fitted set at its rows."""
    rows = model.runs[i]
    degree, rate = (values[:, 0] for values in model.followed(vector[None])[i])
    peak, error = peak_of(cure) if cure.run.kind == "ramp" else (None, None)
    if not rows.heat_flow:
        return FittedRun(cure, rows.time, rows.temperature, rows.signal, degree, None, peak, error)
    straight = rows.straight
    columns = np.column_stack([rate, straight])
    found, *_ = np.linalg.lstsq(columns, rows.signal, rcond=None)
    measured = rows.signal - straight @ found[1:]
    return FittedRun(cure, rows.time, rows.temperature, measured, found[0] * rate, float(found[0]), peak, error)


def _mean_heat(heats: Array) -> tuple[float | None, tuple[float, float] | None]:
    """Mean total heat with its 95 % ends by the scatter between runs."""
    if not len(heats):
        return None, None
    mean = float(heats.mean())
    if len(heats) < 2:
        return mean, None
    from scipy.special import stdtrit

    half = float(stdtrit(len(heats) - 1, 0.975) * heats.std(ddof=1) / np.sqrt(len(heats)))
    return mean, (mean - half, mean + half)


def _valid(cures: Sequence[Cure]) -> tuple[float, float]:
    """Temperatures between which the runs cured, from degree 0.02 to 0.98 [K]."""
    curing = [c.run.temperature[(c.degree > 0.02) & (c.degree < 0.98) & c.run.counts] for c in cures]
    together = np.concatenate([t for t in curing if len(t)])
    return float(together.min()), float(together.max())


def _notes(
    runs: Sequence[Run], ramps: list[Any], beside: Sequence[FittedRun], heats: Array
) -> list[str]:  # fmt: skip
    """What was done to the files and what the reader must know."""
    found = [f"{run.name}: {note}" for run in runs for note in run.notes]
    for run in runs:
        used = int(np.count_nonzero(run.counts))
        group = -(-used // MOST_ROWS)
        if group > 1:
            found.append(f"{run.name}: {used} rows were averaged in groups of {group} for the fit")
    if len(ramps) == 2:
        found.append("two heating rates: a line through two points has no error; three and more give one")
    if len(ramps) < _ENOUGH and any(run.kind == "hold" and run.measures == "heat_flow" for run in runs):
        found.append(
            "energy against degree uses holds, whose baseline is the level of their end: where a hold had not cured by then, "
            "it comes out too high at high degrees; the fitted set does not lean on that level"
        )
    mean = float(heats.mean()) if len(heats) else 0.0
    for one in beside:
        name = one.cure.run.name
        if one.heat is not None and one.cure.run.kind == "hold" and len(ramps) and one.heat < 0.93 * mean:
            found.append(
                f"{name}: {100 * one.heat / mean:.0f} % of the heat of the ramps: it vitrified before its end, "
                "or part of its cure was lost before the first row; a limit by vitrification is not fitted"
            )
        if one.miss > 0.05:
            found.append(
                f"{name}: the fitted set misses it by up to {100 * one.miss:.0f} % of its peak: one law of this "
                "form does not describe it; trust the confidence less than it says"
            )
    return found
