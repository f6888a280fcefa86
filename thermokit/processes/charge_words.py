"""What is said of a charge besides numbers: warnings, what the outcomes mean at the press."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Series
from thermokit.processes.charge_course import CURE
from thermokit.processes.charge_judgement import core_cell, face_degrees, precure
from thermokit.processes.charge_outcomes import last_breath
from thermokit.processes.charge_times import ChargeFacts

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.charge import ChargeProcess

ZERO = 273.15
SPARE = 3.0  # s, that a face should still flow after the last breath; common practice, no source
LOCKED = (
    3.0  # times as long as the face, after which the middle gels inside a shell that is set; common practice, no source
)
WARM = 20.0  # K above the mould, from which that matters; common practice, no source


def remarks(process: ChargeProcess, history: History, facts: Facts) -> list[str]:
    """What the outcomes mean at the press, in sentences."""
    if not isinstance(facts, ChargeFacts):
        return []
    found = []
    most = precure(process)
    if most is not None and facts.full_contact[0] is not None:
        degree = float(np.ravel(most)[0])
        text = (
            f"Load to close at most {facts.full_contact[0]:.1f} s: in full contact with the mould a face has then reached "
            f"degree {degree:.3g}, and what has set does not flow any more"
        )
        if facts.as_loaded[0] is not None:
            text += f" (as it lies in the load station, {facts.as_loaded[0]:.1f} s)"
        found.append(f"{text}.")
    peak = history.hottest
    text = f"Peak {peak.value - ZERO:.0f} degC, {process.place(peak.depth)}, {peak.time:.0f} s after loading"
    if facts.fast is not None:
        text += f"; with the rate of cure 30 % up {facts.fast.value - ZERO:.0f} degC"
    found.append(f"{text}.")
    upper, core, lower = facts.gel
    first = [t for t in (upper, lower) if t is not None]
    if core is not None and first:
        lag = core - min(first)
        text = (
            f"The faces gel {lag:.0f} s before the middle"
            if lag >= 0.0
            else f"The middle gels {-lag:.0f} s before a face"
        )
        mould = (
            max(float(facts.curves.upper.max()), float(facts.curves.lower.max()))
            if facts.curves is not None
            else np.inf
        )
        if min(first) > 0.0 and core > LOCKED * min(first) and peak.value > mould + WARM:
            text += (
                ": the middle then heats up and shrinks inside a shell that has set; cracks and sinks come from that. A cooler "
                "mould, or a step-cure, brings the two nearer to each other"
            )
        found.append(f"{text}.")
    breath = last_breath(process, history)
    if breath is not None and first and min(first) - breath < SPARE:
        found.append(
            f"A face gels {min(first) - breath:.1f} s after the last breath; {SPARE:.0f} s are wanted for the gas to get out."
        )
    at = process.opening
    degree_there = facts.station_states[at][CURE]
    i = core_cell(facts.depth, degree_there)
    found.append(
        f"When the press opens the middle is at {facts.stations[at][1 + i, 0] - ZERO:.0f} degC with a degree of cure of "
        f"{degree_there[i, 0]:.2f}."
    )
    return found


def warnings(process: ChargeProcess, history: History) -> list[str]:
    """What in the run lies outside what is known or usual."""
    found = process.stuff.warnings(history)
    for part in process.parts:
        for name, state in process.stuff.missing_states(part.kinetics):
            found.append(f"layer {part.name}: kinetics {name} reads {state}, which nothing in the layer grows")
        for name in process.stuff.never_starting(part.kinetics):
            found.append(
                f"layer {part.name}: kinetics {name} has no first rate and starts at degree 0: it hardly begins; give it a "
                "start of about 1e-4"
            )
        found += _outside_practice(process, part)
        record = process.stuff.material(part.material)
        caution = ((record.surface_limit if record is not None else None) or {}).get("caution")
        if part.reacts and caution is not None and history.hottest.value > caution:
            found.append(
                f"the charge reaches {history.hottest.value - ZERO:.0f} degC; above {caution - ZERO:.0f} degC {part.material} "
                "begins to discolour and suffer"
            )
    if process.gel_degree() is None:
        found.append("the gel degree is not known, so precure and gelling are not judged: give gel_degree in [charge]")
    opens = history.ends[process.opening].time if len(history.ends) > process.opening else np.inf
    if history.hottest.time > opens and history.hottest.value > history.ends[process.opening].hottest.value:
        found.append(
            f"the charge is hottest at {history.hottest.time:.0f} s, after the press has opened: it is opened on a charge that "
            "has not cured"
        )
    return [*found, *_gas(process, history)]


def _outside_practice(process: ChargeProcess, part: Any) -> list[str]:
    """Mould temperature and pressure against the range in which the material is moulded."""
    from thermokit.units import parse

    record = process.stuff.material(part.material)
    usual = record.record.get("moulding", {}) if record is not None and part.reacts else {}
    found = []
    for word, dimension, value in (
        ("mould", "temperature", _cure_temperatures(process)),
        ("pressure", "pressure", process.case.charge.pressure),
    ):
        if value is None or f"{word}_low" not in usual:
            continue
        low, high = (parse(usual[f"{word}_{end}"], dimension) for end in ("low", "high"))
        numbers = np.ravel(value)
        if float(numbers.min()) < low or float(numbers.max()) > high:
            spoken = "mould temperature" if word == "mould" else "pressure"
            found.append(
                f"{spoken} outside what is usual for {part.material}: {usual[f'{word}_low']} to {usual[f'{word}_high']}"
            )
    return found


def _cure_temperatures(process: ChargeProcess) -> Array | None:
    """Temperatures of the mould's faces in cure stations [K], where they are given."""
    found: list[Any] = []
    for station in process.case.stations:
        if station.kind == "cure":
            for side in station.touches:
                half, own = getattr(process.case.mould, side), getattr(station, side).temperature
                value = own if own is not None else half.temperature
                if value is not None and half.platen is None:
                    found += list(value.value) if isinstance(value, Series) else [value]
    return np.array([float(np.ravel(x)[0]) for x in found]) if found else None


def _gas(process: ChargeProcess, history: History) -> list[str]:
    """Said where the face has gelled before the gas is out, from the rows of the run."""
    gel, breath = process.gel_degree(), last_breath(process, history)
    if gel is None or breath is None:
        return []
    end = next(
        e for s, e in zip(process.case.stations, history.ends, strict=False) if s.kind == "breathe" and e.time == breath
    )
    depth = np.concatenate([[0.0], history.centres, [history.edges[-1]]])[:, None]
    faces = np.nan_to_num(np.stack(face_degrees(depth, end.states[CURE][:, None])))
    if float(faces.max()) < float(np.ravel(gel)[0]):
        return []
    return ["a face has gelled before the last breath ends: the skin is torn and gas stays in; breathe sooner"]
