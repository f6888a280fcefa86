"""Answers of a heating cylinder: the melt that leaves, its time in the zones, regrind and what hangs back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.base import mean_temperature
from thermokit.processes.media import HEAT_DOSE, sensible_mean
from thermokit.processes.regrind import ages, mean_passes, oldest_pass, share_beyond
from thermokit.results.model import Axis, Field, Outcome

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.processes.base import Facts
    from thermokit.processes.cylinder import CylinderProcess

ZERO = 273.15
PASSES = 12  # of regrind that are told
EVEN = 5.0  # K, spread of a melt that counts as even; common practice, no source


def outcomes(process: CylinderProcess, history: History, facts: Facts) -> list[Outcome]:
    """Answers of a single run."""
    case, found = process.case, {n: float(np.ravel(v)[0]) for n, v in process.quantities(facts).items()}
    shot: Any = case.shot
    resident = float(process.residence / shot.cycle)  # shots that the cylinder holds
    hot = _wall(process)
    out = [
        Outcome("melt_mean", found["mean"] - ZERO, "degC", "mean of the melt that leaves"),
        Outcome("melt_coldest", found["coldest"] - ZERO, "degC", "coldest place of the melt that leaves"),
        Outcome("melt_spread", found["spread"], "K", "hottest less coldest place of the melt that leaves"),
        Outcome("hottest", found["hottest"] - ZERO, "degC", "hottest place at any time"),
        Outcome(
            "heating_efficiency",
            (found["mean"] - shot.start) / (hot - shot.start) if hot != shot.start else None,
            "1",
            "rise of the mean over the rise to the bore (mean of the zones by length); below 0.95 the melt is uneven",
        ),
        Outcome("time_in_cylinder", float(process.residence), "s", "from the hopper to the nozzle"),
        Outcome("shots_in_cylinder", resident, "1", "shots that the cylinder holds"),
        Outcome("content", resident * float(shot.mass), "kg", "material in the cylinder"),
        Outcome("throughput", 3600.0 * float(shot.mass / shot.cycle), "kg/h", "material moulded"),
        Outcome("friction_rise", _friction_rise(process), "K", "rise by friction of injection, without losses"),
        Outcome("heat_power", _power(process, history), "kW", "heat that the barrel gives to the material, mean"),
    ]
    if HEAT_DOSE in facts.states:
        out += _ageing(process, facts, found)
    elif case.regrind is not None:
        out += _passes(process)
    return out


def _shot(process: CylinderProcess) -> Any:
    """The shot of a run, with nothing left to find."""
    return process.case.shot


def _wall(process: CylinderProcess) -> float:
    """Mean temperature of the bore, by length [K]."""
    zones = process.case.zones
    return float(sum(z.length * z.temperature for z in zones) / sum(z.length for z in zones))


def _friction_rise(process: CylinderProcess) -> float:
    """pressure loss/(density specific heat) [K]: an adiabatic fluid that is throttled, with cp of the melt."""
    hot = _wall(process)
    capacity = process.case.melt_density() * sensible_mean(process.medium.specific_heat, hot - 30.0, hot)
    return float(process.case.shot.pressure_loss / capacity)


def _power(process: CylinderProcess, history: History) -> float:
    """Heat through the faces of a slug by mass, times the mass moulded a second [kW]."""
    heat, shot = history.heat, _shot(process)
    gap, inner = float(process.gap), float(process.inner_radius)
    area = np.pi * ((inner + gap) ** 2 - inner**2)
    # the solver counts friction as heat that entered: it does not come from the barrel
    barrel = heat.entered - heat.left - float(np.ravel(process.friction)[0]) * area
    mass = area * float(np.ravel(process.medium.density)[0])
    return float(barrel / mass * shot.mass / shot.cycle / 1e3)


def _passes(process: CylinderProcess) -> list[Outcome]:
    regrind = process.case.regrind
    assert regrind is not None
    oldest = oldest_pass(regrind.share, regrind.oldest)
    words = f"passes of the oldest material; {100 * float(regrind.oldest):.3g} % or less has more behind it"
    return [
        Outcome("mean_passes", float(mean_passes(regrind.share)), "1", "mean number of passes of what is moulded"),
        Outcome("oldest_passes", float(oldest), "1", words),
    ]


def _ageing(process: CylinderProcess, facts: Facts, found: dict[str, float]) -> list[Outcome]:
    """Heat life used in one pass, by the mix, by the oldest and by what hangs back."""
    case = process.case
    once = facts.states[HEAT_DOSE]
    mean = float(_volume_mean(process, facts, once)[0])
    worst = float(once.max(axis=0)[0])
    out = [
        Outcome("heat_dose_once", worst, "1", "share of the heat life used in one pass, at the worst place"),
        Outcome("heat_dose_mean", mean, "1", "share of the heat life used in one pass, mean of the melt"),
    ]
    if case.regrind is not None:
        share = float(case.regrind.share)
        limit = next(float(n.bound) for n in process.limits() if n.name == "heat_dose")
        out += _passes(process)
        out += [
            Outcome("heat_dose_mix", mean * mean_passes(share), "1", "share used by the mix, all passes together"),
            Outcome(
                "heat_dose_oldest", found["heat_dose"], "1", "share used by the oldest, at the worst place each pass"
            ),
            Outcome("share_overheated", share_beyond(share, worst, limit), "1", f"share of the mix beyond {limit:g}"),
        ]
    minutes = float(case.hold_up.times * process.residence) / 60.0
    words = f"share used by what hangs back at the hottest bore for {minutes:.3g} min"
    return [*out, Outcome("hold_up_dose", found["hold_up_dose"], "1", words)]


def _volume_mean(process: CylinderProcess, facts: Facts, values: Any) -> Any:
    radius = facts.edges + np.asarray(process.inner_radius)
    volume = np.diff(radius**2, axis=0)
    return (values * volume).sum(axis=0) / volume.sum(axis=0)


def fields(process: CylinderProcess, history: History, facts: Facts) -> tuple[Field, ...]:
    """The melt at the end of each zone; regrind by the number of its passes."""
    from dataclasses import replace

    zones = Axis("zone", "", tuple(zone.name for zone in process.case.zones), "zone of the barrel")
    means = [
        float(mean_temperature(replace(facts, final=s), "cylinder", process.inner_radius)[0]) for s in facts.stations
    ]
    rows = [
        ("bore_temperature", "degC", [float(z.temperature) - ZERO for z in process.case.zones], "set temperature"),
        ("time", "s", [float(z.duration) for z in process.case.zones], "time of the slug in the zone"),
        ("mean_temperature", "degC", [m - ZERO for m in means], "mean of the melt at the end of the zone"),
        ("coldest_temperature", "degC", [float(s.min()) - ZERO for s in facts.stations], "coldest place there"),
        ("hottest_temperature", "degC", [float(s.max()) - ZERO for s in facts.stations], "hottest place there"),
    ]
    found = [Field(f"barrel/{name}", (zones,), unit, np.array(values), text) for name, unit, values, text in rows]
    regrind = process.case.regrind
    if regrind is not None:
        passes = Axis("passes", "1", np.arange(1, PASSES + 1), "number of passes, the present one counted")
        share = ages(float(regrind.share), PASSES)
        found.append(Field("regrind/share", (passes,), "1", share, "share of what is moulded, in the steady state"))
        if HEAT_DOSE in facts.states:
            once = float(_volume_mean(process, facts, facts.states[HEAT_DOSE])[0])
            used = once * np.arange(1, PASSES + 1)
            found.append(
                Field("regrind/heat_dose", (passes,), "1", used, "share of the heat life used, mean of the melt")
            )
    return tuple(found)


def remarks(process: CylinderProcess, history: History, facts: Facts) -> list[str]:
    """What the answers mean at the machine."""
    found = {n: float(np.ravel(v)[0]) for n, v in process.quantities(facts).items()}
    resident = float(process.residence / _shot(process).cycle)
    text = [
        f"the cylinder holds {resident:.1f} shots: after a change of zones, material or cycle the first "
        f"{int(np.ceil(2 * resident))} shots are not yet the new state (twice what it holds; common practice, no source)"
    ]
    if found["spread"] > EVEN:
        where = process.place(float(np.ravel(facts.depth[int(np.argmin(facts.final[:, 0]))])[0]))
        text.append(
            f"the melt leaves {found['spread']:.0f} K uneven, coldest {where}; 5 to 10 K is common practice: a longer cycle, a "
            "smaller shot, a warmed spreader or a narrower ring even it out, and so does a nozzle that mixes, which is not "
            "counted here"
        )
    rise = _friction_rise(process)
    if rise > 10.0:
        text.append(
            f"friction of injection alone makes up to {rise:.0f} K: watch the melt by needle when speed changes"
        )
    if HEAT_DOSE not in facts.states:
        text.append(
            "no heat life is followed: [shot.dose] with a measured time at a temperature makes regrind and hold-ups count"
        )
    return text
