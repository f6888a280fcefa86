"""Whether a charge may be run at all: its own peak, its peak with the rate 30 % up, and the force of the press.

The run decides. The adiabatic rise and the Frank-Kamenetskii number explain: an ordinary thin charge stands far above the
critical number and is safe, since it cures through before heat that stays in it could matter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.follow_batch import follow_batch
from thermokit.processes.base import Facts, facts_of_batch
from thermokit.processes.charge_changes import starting_at, stepped_mould, times_as_thick, warmer_mould
from thermokit.processes.charge_course import CURE, reactions_of
from thermokit.processes.charge_judgement import mould_temperature, peak_limit, peak_limit_words
from thermokit.processes.charge_times import FASTER
from thermokit.processes.media import sensible_mean, typical

if TYPE_CHECKING:
    from thermokit.processes.charge import ChargeProcess
    from thermokit.processes.charge_times import ChargeFacts

CRITICAL = (
    0.8784577  # of a slab between faces of a given temperature: Frank-Kamenetskii (1938), 0.88; root of its equation
)
ZERO = 273.15
COLD = 298.15  # K, a charge from the store
ENOUGH = "enough"
ENOUGH_EDGES, LOOSE = 193, 0.05  # mesh and local error [K] for what is only tried


@dataclass(frozen=True)
class Danger:
    """What a charge would do by itself: adiabatic_rise [K], the Frank-Kamenetskii number of its thickness."""

    adiabatic_rise: float
    frank_kamenetskii: float


def danger(process: ChargeProcess) -> Danger:
    """Adiabatic rise H/cp of the layer where it is largest, and the Frank-Kamenetskii number

    delta = rho H (a^2/k) max over degree of d(rate)/dT at the mould's temperature,

    which for a rate A exp(-E/RT) is rho H A exp(-E/RT) E a^2/(k R T^2); a : half the thickness of the charge [m], rho, H, k
    of the layer. Source: Frank-Kamenetskii, Acta Physicochimica URSS 10 (1939) 365.
    """
    hot, half = _first(mould_temperature(process)), _first(process.thickness) / 2.0
    rise = number = 0.0
    degree = np.linspace(0.0, 0.99, 400)
    for part in process.parts:
        medium = process.stuff.medium(part.material)
        for reaction in reactions_of(process, part):
            heat = _first(reaction.heat)
            if reaction.state != CURE or heat <= 0.0:
                continue
            start = _first(part.start)
            rise = max(rise, heat / sensible_mean(medium.specific_heat, min(start, hot), max(start, hot) + 1.0))
            _, slope, _ = reaction.rate.linearise(np.full(len(degree), hot), (degree,))
            density, conductivity = typical(medium.density), typical(medium.conductivity)
            number = max(number, density * heat * half**2 / conductivity * float(slope.max()))
    return Danger(rise, number)


def clamp_force(process: ChargeProcess) -> float | None:
    """Pressure times projected area [N], None where either is not given."""
    charge = process.case.charge
    if charge.area is None or charge.pressure is None:
        return None
    return _first(charge.area) * _first(charge.pressure)


def stop(process: ChargeProcess, facts: ChargeFacts) -> dict[str, Any]:
    """``{"stop": {...}}`` where the charge must not be run, else nothing: why, and what was tried against it."""
    reasons: list[str] = []
    remedies: list[str] = []
    force, rating = clamp_force(process), process.case.charge.rating
    if force is not None and rating is not None and force > _first(rating):
        reasons.append(
            f"STOP: the press cannot hold this moulding shut. {_first(process.case.charge.pressure) / 1e6:.3g} MPa on the "
            f"projected area make {force / 1e3:.4g} kN, it is rated for {_first(rating) / 1e3:.4g} kN"
        )
        most = _first(rating) / _first(process.case.charge.area)
        remedies.append(f"pressure {most / 1e6:.3g} MPa at most, a smaller projected area, or a larger press")
    limit = _first(peak_limit(process))
    peak = float(facts.hottest[0])
    fast = facts.fast.value if facts.fast is not None else float("inf")
    if peak > limit or fast > limit:
        reasons.append(_why(process, facts, peak, fast, limit))
        remedies += tried(process, facts, limit)
    if not reasons:
        return {}
    return {"stop": {"why": ". ".join(reasons) + ".", "remedies": remedies}}


def _why(process: ChargeProcess, facts: ChargeFacts, peak: float, fast: float, limit: float) -> str:
    place, when = process.place(float(facts.hottest_depth[0])), float(facts.hottest_when[0])
    own = danger(process)
    words = f"{limit - ZERO:.0f} degC, {peak_limit_words(process)}"
    if peak > limit:
        text = (
            f"STOP: do not run this charge. It would reach {peak - ZERO:.0f} degC ({place}, after {when:.0f} s), above "
            f"{words}"
        )
    else:
        text = (
            f"STOP: do not run this charge, it is too near to running away. It would reach {peak - ZERO:.0f} degC, below "
            f"{words}; but a batch that reacts 30 % faster passes that"
        )
    if np.isfinite(fast):
        text += f"; with the rate 30 % up {fast - ZERO:.0f} degC"
    else:
        text += "; with the rate 30 % up the run does not finish"
    return text + (
        f". The heat of cure alone could warm it by {own.adiabatic_rise:.0f} K; its Frank-Kamenetskii number is "
        f"{own.frank_kamenetskii:.3g} ({CRITICAL:.2f} is critical for a slab that does not use itself up)"
    )


@dataclass(frozen=True)
class _Try:
    """One change: family and words, the values by path, a factor on the heat of cure."""

    family: str
    words: str
    values: dict[str, Any]
    heat: float = 1.0


def tried(process: ChargeProcess, facts: ChargeFacts, limit: float) -> list[str]:
    """What was tried against a runaway, each by running the model with the rate 30 % up, in words."""
    peaks = _run_all(process, facts, _trials(process))
    peaks += _steps(process, facts)
    found: list[str] = []
    for family in dict.fromkeys(trial.family for trial, *_ in peaks):
        mine = [entry for entry in peaks if entry[0].family == family]
        good = next((entry for entry in mine if entry[1] <= limit), None)
        if family == "together" and any(ENOUGH in text.split(": ")[-1] and "not" not in text for text in found):
            continue
        trial, peak, lowest = good if good is not None else mine[-1]
        if good is not None:
            found.append(
                f"{trial.words}: {ENOUGH}, {peak - ZERO:.0f} degC with the rate 30 % up (lowest degree when the press opens "
                f"{lowest:.2f})"
            )
        else:
            reached = f"still {peak - ZERO:.0f} degC" if np.isfinite(peak) else "the run does not finish"
            found.append(f"{trial.words}: not enough, {reached} with the rate 30 % up")
    return found


def _trials(process: ChargeProcess) -> list[_Try]:
    """The changes, in each family the mildest first."""
    case = process.case
    starts = [_first(part.start) for part in process.parts]
    warm = max(starts)
    found: list[_Try] = []
    for start in sorted({warm - 20.0, warm - 40.0, COLD}, reverse=True):
        if COLD <= start < warm - 5.0:
            words = f"preheat less, the charge at {start - ZERO:.0f} degC instead of {warm - ZERO:.0f}"
            found.append(_Try("preheat", words, starting_at(case, start)))
    hot = _first(mould_temperature(process))
    for by in (10.0, 20.0, 30.0):
        words = f"mould {by:.0f} K cooler ({hot - by - ZERO:.0f} degC)"
        found.append(_Try("mould", words, warmer_mould(case, -by)))
    thickness = _first(process.thickness)
    for factor in (0.75, 0.5, 0.25):
        words = (
            f"thinner, {1e3 * thickness * factor:.3g} mm instead of {1e3 * thickness:.3g} (or cured in several goes)"
        )
        found.append(_Try("thinner", words, times_as_thick(case, factor)))
    for heat in (0.75, 0.5):
        words = f"filler, so that the heat of cure falls by {100 * (1 - heat):.0f} %"
        found.append(_Try("filler", words, {}, heat))
    cold = starting_at(case, min(warm, COLD))
    both = cold | warmer_mould(case, -20.0) | times_as_thick(case, 0.75)
    words = f"together: charge at {min(warm, COLD) - ZERO:.0f} degC, mould 20 K cooler, three quarters of the thickness"
    found.append(_Try("together", words, both))
    return found


def _run_all(process: ChargeProcess, facts: ChargeFacts, trials: list[_Try]) -> list[tuple[_Try, float, float]]:
    """(trial, peak [K], lowest degree at the opening) of each, in one batch; inf where a run did not finish."""
    from thermokit.case.paths import value
    from thermokit.conduction.problem import Series

    count = len(trials)
    paths = list(dict.fromkeys(path for trial in trials for path in trial.values))
    values: dict[str, Any] = {}
    for path in paths:
        present = value(process.case, path)
        column = [trial.values.get(path, present) for trial in trials]
        if isinstance(present, Series):
            rows = [np.array([entry.value[i] for entry in column], float) for i in range(len(present.value))]
            values[path] = Series(present.time, tuple(rows))
        else:
            values[path] = np.array([float(np.ravel(x)[0]) for x in column])
    changed = process.changed(
        process.case.with_values(values), FASTER * process.rate_factor,
        process.heat_factor * np.array([trial.heat for trial in trials]),
    )  # fmt: skip
    peak, lowest = _solved(changed, facts, count)
    return [(trial, float(p), float(d)) for trial, p, d in zip(trials, peak, lowest, strict=True)]


def _steps(process: ChargeProcess, facts: ChargeFacts) -> list[tuple[_Try, float, float]]:
    """A step-cure by 20, 40 and 60 K: three times as long in the first cure station, the last third at full temperature."""
    case = process.case
    station = next(s for s in case.stations if s.kind == "cure")
    duration = float(np.ravel(station.duration)[0])
    steps = np.array([20.0, 40.0, 60.0])
    hold, ramp = 2.0 * duration, 0.2 * duration
    values = stepped_mould(case, station.name, steps, hold, ramp)
    if values is None:
        return []
    values[f"stations.{station.name}.duration"] = 3.0 * duration
    changed = process.changed(case.with_values(values), FASTER * process.rate_factor)
    peak, lowest = _solved(changed, facts, len(steps))
    hot = _first(mould_temperature(process))
    return [
        (
            _Try(
                "step", f"step-cure, {hold:.0f} s with the mould at {hot - by - ZERO:.0f} degC, then up to "
                f"{hot - ZERO:.0f} degC, {3.0 * duration:.0f} s in all", {},
            ),
            float(p), float(d),
        )
        for by, p, d in zip(steps, peak, lowest, strict=True)
    ]  # fmt: skip


def _solved(process: ChargeProcess, facts: ChargeFacts, count: int) -> tuple[Any, Any]:
    """(peaks [K], lowest degrees at the opening) of a batch."""
    mesh = [_coarser(cut) for cut in facts.mesh]
    travel = follow_batch(process.course(mesh), count, max(facts.tolerance, LOOSE))
    batch: Facts = facts_of_batch(travel)
    with np.errstate(invalid="ignore"):
        lowest = np.nanmin(np.nan_to_num(batch.station_states[process.opening][CURE], nan=np.inf), axis=0)
    return np.where(batch.failed, np.inf, batch.hottest), lowest


def _coarser(cut: Any) -> Any:
    """A mesh that suits advice: every second edge until few are left."""
    while len(cut) > ENOUGH_EDGES and len(cut) % 2:
        cut = cut[::2]
    return cut


def _first(value: Any) -> float:
    """The number, or that of the first case."""
    return float(np.ravel(value)[0])
