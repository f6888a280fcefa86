"""Answers of a charge: outcomes, and the curves that go into the result beside its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.watch import along
from thermokit.processes.charge_course import CURE, DOSE
from thermokit.processes.charge_judgement import core_cell, face_degrees, mould_temperature, precure, quantities
from thermokit.processes.charge_runaway import CRITICAL, clamp_force, danger
from thermokit.processes.charge_times import ChargeFacts
from thermokit.processes.media import typical
from thermokit.results.model import Axis, Field, Outcome

if TYPE_CHECKING:
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.charge import ChargeProcess

ZERO = 273.15
OPENS = "when the press opens"


def outcomes(process: ChargeProcess, history: History, facts: Facts) -> list[Outcome]:
    """Answers of a single run, in the order in which a setter reads them."""
    if len(facts.stations) < len(process.case.stations):
        return []
    found = _opening(process, history, facts)
    found += _peak(process, history, facts)
    if isinstance(facts, ChargeFacts):
        found += _flow(process, history, facts)
    found += _end(process, history, facts)
    found += _press(process)
    for probe in process.case.output.probes:
        value = along(facts.depth[:, 0], facts.final.T, float(probe.at))[0]
        found.append(
            Outcome(
                f"{probe.name}_temperature",
                float(value) - ZERO,
                "degC",
                f"temperature at probe {probe.name} at the end",
            )
        )
    return found


def _opening(process: ChargeProcess, history: History, facts: Facts) -> list[Outcome]:
    at = process.opening
    values = {name: float(value[0]) for name, value in quantities(process, facts).items()}
    degree, cells = facts.station_states[at][CURE][:, 0], facts.stations[at][1:-1, 0]
    core = core_cell(facts.depth, facts.station_states[at][CURE])
    lowest = int(np.nanargmin(degree))
    found = [
        Outcome("opening_time", history.ends[at].time, "s", "from loading until the press opens"),
        Outcome("cure_degree", values["cure_degree"], "1", f"lowest degree of cure {OPENS}"),
        Outcome("cure_degree_depth", 1e3 * float(facts.depth[1 + lowest, 0]), "mm", "where, below the upper face"),
        Outcome("core_degree", float(degree[core]), "1", f"degree of cure in the middle {OPENS}"),
        Outcome("core_at_opening_temperature", float(cells[core]) - ZERO, "degC", f"the middle {OPENS}"),
        Outcome("core_rate", values["core_rate"], "1/s", f"rate of cure in the middle {OPENS}"),
        Outcome("degree_spread", values["degree_spread"], "1", f"highest less lowest degree of cure {OPENS}"),
        Outcome("temperature_spread", values["temperature_spread"], "K", f"hottest less coldest place {OPENS}"),
    ]
    glass = [process.stuff.glass_transition(name) for part in process.parts for name in part.kinetics]
    known = [g for g in glass if g is not None]
    if known:
        value = float(np.nanmin(known[0].at(degree))) - ZERO
        found.append(
            Outcome("glass_transition", value, "degC", f"lowest glass transition {OPENS}; below it the part is rigid")
        )
    return found


def _peak(process: ChargeProcess, history: History, facts: Facts) -> list[Outcome]:
    own = danger(process)
    peak, mould = history.hottest, float(np.ravel(mould_temperature(process))[0])
    found = [
        Outcome("hottest_temperature", peak.value - ZERO, "degC", "hottest place at any time"),
        Outcome("hottest_time", peak.time, "s", "when that is"),
        Outcome("hottest_depth", 1e3 * peak.depth, "mm", "where, below the upper face"),
        Outcome("overshoot", peak.value - mould, "K", "hottest place above the hottest face of the mould"),
    ]
    if isinstance(facts, ChargeFacts) and facts.fast is not None:
        found.append(
            Outcome("hottest_if_faster", facts.fast.value - ZERO, "degC", "hottest place with the rate of cure 30 % up")
        )
    return [
        *found,
        Outcome("adiabatic_rise", own.adiabatic_rise, "K", "what the heat of cure could do if none of it left"),
        Outcome(
            "frank_kamenetskii", own.frank_kamenetskii, "1",
            f"heat made over heat led away; {CRITICAL:.2f} is critical for a slab that does not use itself up. A thin charge "
            "stands far above and is safe: the run decides",
        ),
    ]  # fmt: skip


def _flow(process: ChargeProcess, history: History, facts: ChargeFacts) -> list[Outcome]:
    """Precure, gelling, and the times that go with them."""
    found: list[Outcome] = []
    gel, most = process.gel_degree(), precure(process)
    if process.shut is not None:
        faces = face_degrees(facts.depth, facts.station_states[process.shut][CURE])
        value = float(np.nan_to_num(np.stack(faces)).max())
        shut = history.ends[process.shut].time
        found.append(Outcome("shut_time", shut, "s", "from loading until the press is first shut"))
        found.append(Outcome("face_degree_at_shut", value, "1", "degree of cure of the further face then"))
    if most is not None:
        words = f"has reached {float(np.ravel(most)[0]):.3g}, its limit"
        value_full = facts.full_contact[0]
        found.append(
            Outcome(
                "load_to_close_most",
                value_full,
                "s",
                f"load to close at most: a face in full contact with the mould {words}",
            )
        )
        if process.case.stations[0].kind == "load":
            found.append(
                Outcome("load_to_close_as_loaded", facts.as_loaded[0], "s", "the same as it lies in the load station")
            )
    if gel is not None:
        at = f"gels (degree {float(np.ravel(gel)[0]):.2g})"
        upper, core, lower = facts.gel
        found += [
            Outcome("upper_face_gel_time", upper, "s", f"from loading until the upper face {at}"),
            Outcome("core_gel_time", core, "s", f"from loading until the middle {at}"),
            Outcome("lower_face_gel_time", lower, "s", f"from loading until the lower face {at}"),
        ]
        first = [t for t in (upper, lower) if t is not None]
        lag = core - min(first) if core is not None and first else None
        found.append(Outcome("gel_lag", lag, "s", "the middle gels so long after the first face (below 0: before it)"))
        breath = last_breath(process, history)
        if breath is not None:
            spare = min(first) - breath if first else None
            found.append(Outcome("breathe_spare", spare, "s", "a face still flows so long after the last breath"))
    return found


def last_breath(process: ChargeProcess, history: History) -> float | None:
    """End of the last breathe station [s]."""
    ends = [end.time for s, end in zip(process.case.stations, history.ends, strict=False) if s.kind == "breathe"]
    return ends[-1] if ends else None


def _end(process: ChargeProcess, history: History, facts: Facts) -> list[Outcome]:
    found = []
    if process.opening < len(process.case.stations) - 1:
        value = float(np.nanmin(facts.states[CURE]))
        found.append(Outcome("final_cure_degree", value, "1", "lowest degree of cure at the end of the last station"))
    if process.case.charge.dose is not None:
        found.append(
            Outcome("over_cure", float(np.nanmax(facts.states[DOSE])), "1", "heat dose of the hottest place at the end")
        )
    if facts.travel is not None:
        for name, own in facts.travel.companions.items():
            # the side that touches: the lower side of the upper half, the upper side of the lower
            face = own.temperature[:, -1 if name == "upper_half" else 0]
            lowest = int(np.argmin(face))
            spoken = name.replace("_", " ")
            found.append(
                Outcome(
                    f"{name}_lowest", float(face[lowest]) - ZERO, "degC", f"coldest that the {spoken}'s face becomes"
                )
            )
            found.append(
                Outcome(
                    f"{name}_highest", float(face.max()) - ZERO, "degC", f"hottest that the {spoken}'s face becomes"
                )
            )
    return found


def _press(process: ChargeProcess) -> list[Outcome]:
    """Mass of the charge and force of the press."""
    charge = process.case.charge
    if charge.area is None and charge.volume is None:
        return []
    found = []
    area = float(np.ravel(charge.area)[0]) if charge.area is not None else None
    flash = float(np.ravel(charge.flash)[0])
    if charge.mass is not None:
        mass: float | None = float(np.ravel(charge.mass)[0])
    else:
        # layers have each its density; the moulding's volume is divided as the thickness is
        areal = sum(
            _one(part.thickness) * typical(process.stuff.medium(part.material).density) for part in process.parts
        )
        thickness = float(np.ravel(process.thickness)[0])
        volume = float(np.ravel(charge.volume)[0]) if charge.volume is not None else None
        covered = volume / thickness if volume is not None else area
        mass = None if covered is None else areal * covered * (1.0 + flash)
    if mass is not None:
        words = f"with {100 * flash:.3g} % flash" if flash else "without flash"
        found.append(Outcome("charge_mass", 1e3 * mass, "g", f"mass of the charge, {words}"))
    force = clamp_force(process)
    if force is not None:
        found.append(Outcome("clamp_force", force / 1e3, "kN", "moulding pressure on the projected area"))
        if charge.rating is not None:
            share = force / float(np.ravel(charge.rating)[0])
            found.append(Outcome("clamp_share", share, "1", "of what the press is rated for"))
    return found


def _one(value: Any) -> float:
    return float(np.ravel(value)[0])


def fields(process: ChargeProcess, facts: Facts) -> tuple[Field, ...]:
    """Curves of faces and middle while the press is shut and as long again."""
    if not isinstance(facts, ChargeFacts) or facts.curves is None:
        return ()
    curves = facts.curves
    axes = (Axis("time", "s", curves.time, "time from loading"),)

    def of(name: str, values: Array, words: str) -> Field:
        if name.endswith("_temperature"):
            return Field(f"press/{name}", axes, "degC", values - ZERO, words)
        return Field(f"press/{name}", axes, "1", values, words)

    return (
        of("upper_face_temperature", curves.upper, "temperature of the upper face"),
        of("core_temperature", curves.core, "temperature of the middle"),
        of("lower_face_temperature", curves.lower, "temperature of the lower face"),
        of("coldest_temperature", curves.coldest, "coldest place"),
        of("hottest_temperature", curves.hottest, "hottest place"),
        of("upper_face_degree", curves.upper_degree, "degree of cure of the upper face"),
        of("core_degree", curves.core_degree, "degree of cure in the middle"),
        of("lower_face_degree", curves.lower_degree, "degree of cure of the lower face"),
        of("lowest_degree", curves.lowest_degree, "lowest degree of cure"),
        of("highest_degree", curves.highest_degree, "highest degree of cure"),
        *_at_opening(process, facts),
    )


def _at_opening(process: ChargeProcess, facts: Facts) -> tuple[Field, ...]:
    """Temperature and degree of cure through the charge when the press opens, faces included."""
    at = process.opening
    degree = facts.station_states[at][CURE]
    upper, lower = face_degrees(facts.depth, degree)
    axes = (Axis("depth", "mm", 1e3 * facts.depth[:, 0], "depth below the upper face"),)
    whole = np.concatenate([upper, degree[:, 0], lower])
    return (
        Field("opening/temperature", axes, "degC", facts.stations[at][:, 0] - ZERO, f"temperature {OPENS}"),
        Field("opening/cure_degree", axes, "1", whole, f"degree of cure {OPENS}"),
    )


def half_fields(travel: Travel) -> tuple[Field, ...]:
    """Rows of the halves of the mould that have bodies, while the charge touches them."""
    found = []
    for name, own in travel.companions.items():
        axes = (
            Axis(f"{name}_time", "s", own.time, "time from loading"),
            Axis(f"{name}_depth", "mm", 1e3 * own.depth, "depth in it, from its upper side"),
        )
        words = f"temperature of the {name.replace('_', ' ')} of the mould while the charge touches it"
        found.append(Field(f"tool/{name}_temperature", axes, "degC", own.temperature - ZERO, words))
    return tuple(found)
