"""A section's run as a result: outcomes with their places, limits, warnings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.section import REGION_OUTCOMES
from thermokit.conduction.problem import Curve
from thermokit.processes import cautions_run
from thermokit.processes.section_facts import facts_at, nodes_of
from thermokit.results.model import SECTION, LimitCheck, Outcome, Result

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import PlaceOfExtreme
    from thermokit.processes.base import Limit
    from thermokit.processes.section import SectionProcess
    from thermokit.processes.section_facts import SectionFacts

REACHED = 0.5  # K, by which a table must be left before it is said


def judged(
    process: SectionProcess,
    history: SectionHistory,
    probes: Mapping[str, Array],
    study: dict[str, Any],
) -> Result:
    """A history with its outcomes, limits, warnings and cautions."""
    from thermokit.processes.run import heat_warnings, provenance

    case = process.case
    finished = history.ending.status == "finished"
    facts = facts_at(history, len(history.time) - 1, probes) if len(history.time) else None
    result = Result(
        provenance=provenance(case),
        history=history,
        shape=SECTION,
        inner_radius=0.0,
        span_names=tuple(station.name for station in case.stations),
        layer_names=history.region_names,
        layer_edges=(),
        outcomes=tuple(outcomes(history, facts)) if facts is not None and history.ends else (),
        limits=tuple(limit_checks(process.limits(), history, facts if finished else None)),
        probes=dict(probes),
        warnings=(*heat_warnings(history), *ranges(process, history), *left_out(process)),
        cautions=tuple(process.cautions()),
        study=study,
    )
    return cautions_run.complete(process, result)


def outcomes(history: SectionHistory, facts: SectionFacts) -> list[Outcome]:
    """Answers of a run: temperatures with their places, then the heat through each face."""
    values = facts.quantities()
    end = "in the steady state" if history.steady else "at the end"
    found = []
    alone = facts.region_names[0] if len(facts.region_names) == 1 else None
    for name, value in values.items():
        if alone is not None and name in {f"{alone}_{what}" for what in REGION_OUTCOMES}:
            continue  # said already of the whole
        if name == "final_spread":
            found.append(Outcome(name, value, "K", f"hottest less coldest place {end}"))
            continue
        words = _meaning(name, facts, end, history.steady)
        if words:
            found.append(Outcome(name, _or_none(value - 273.15), "degC", words))
    hottest = facts.hottest
    if not history.steady:
        found.append(Outcome("hottest_time", hottest.time, "s", "when the hottest place is hottest"))
    for axis, at in (("x", hottest.x), ("y", hottest.y)):
        found.append(Outcome(f"hottest_{axis}", 1e3 * at, "mm", "where the hottest place is hottest"))
    return found + heat_by_face(history)


def _or_none(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _meaning(name: str, facts: SectionFacts, end: str, steady: bool) -> str:
    """What an outcome stands for, with its place; empty where the steady state says it already."""
    ever = end if steady else "at any time"
    if steady and name.endswith("hottest_final_temperature"):
        return ""
    if name == "hottest_temperature":
        return f"hottest place {ever}: {place_words(facts.hottest)}"
    if name == "coldest_temperature":
        return f"coldest place {end}: {place_words(facts.place_of(hottest=False))}"
    if name == "hottest_final_temperature":
        return f"hottest place {end}: {place_words(facts.place_of(hottest=True))}"
    if name == "mean_temperature":
        return f"mean temperature by volume {end}"
    for i, region in enumerate(facts.region_names):
        what = name.removeprefix(f"{region}_")
        if what == name or what not in REGION_OUTCOMES:
            continue
        late = (
            end
            if steady or facts.last[region][0] >= facts.time
            else f"when it was last there, at {facts.last[region][0]:.4g} s"
        )
        if what == "hottest_temperature":
            return f"hottest place of {region} {ever}" + (f": {place_words(facts.place_of(True, i))}" if steady else "")
        if what == "mean_temperature":
            return f"mean temperature of {region} by volume {late}"
        if not np.isfinite(facts.last[region][1][nodes_of(facts.mesh, i)]).all():
            return f"{region} was never there"
        hot = what == "hottest_final_temperature"
        return f"{'hottest' if hot else 'coldest'} place of {region} {late}: {place_words(facts.place_of(hot, i))}"
    probe = name.removesuffix("_temperature")
    when = facts.probes[probe][1]
    late = end if steady or when >= facts.time else f"when there was last something, at {when:.4g} s"
    return f"temperature at probe {probe} {late}"


def place_words(place: PlaceOfExtreme) -> str:
    """A place in words."""
    return f"{place.region}, at x {1e3 * place.x:.4g} mm, y {1e3 * place.y:.4g} mm"


def heat_by_face(history: SectionHistory) -> list[Outcome]:
    """Heat that went in through each named face, over all stations; in the steady state its flow."""
    unit, what = history.heat.unit, "heat_flow" if history.steady else "heat"
    verb = "flows" if history.steady else "went"
    return [
        Outcome(
            f"{name}_{what}",
            float(sum(end.heat.get(name, 0.0) for end in history.ends)),
            unit,
            f"heat that {verb} into the section through {name} (negative: out)",
        )
        for name in history.face_names
    ]


def limit_checks(limits: tuple[Limit, ...], history: SectionHistory, facts: SectionFacts | None) -> list[LimitCheck]:
    """Every limit held against the run; ``facts`` is None where it did not finish."""
    values = facts.quantities() if facts is not None else {}
    found = []
    for limit in limits:
        value = values.get(limit.quantity)
        known = value is not None and bool(np.isfinite(value))
        margin = float(limit.margin(np.array(value))) if known else None
        where, when = _found_at(limit.quantity, facts) if facts is not None and known else ("", history.ending.time)
        found.append(
            LimitCheck(
                name=limit.name,
                required=limit.required,
                found=limit.shown(float(value)) if value is not None and known else None,
                unit=limit.unit,
                margin=margin,
                met=margin is not None and margin >= 0.0,
                where=where,
                when=None if history.steady else when,
            )
        )
    return found


def _found_at(quantity: str, facts: SectionFacts) -> tuple[str, float | None]:
    """(place in words, time [s]) of what a limit looks at."""
    if quantity == "hottest_temperature":
        return place_words(facts.hottest), facts.hottest.time
    if quantity in ("coldest_temperature", "hottest_final_temperature"):
        return place_words(facts.place_of(quantity.startswith("hottest"))), facts.time
    for i, region in enumerate(facts.region_names):
        if quantity in (f"{region}_hottest_final_temperature", f"{region}_coldest_temperature"):
            found = facts.place_of("hottest" in quantity.removeprefix(region), i)
            return place_words(found), found.time
        if quantity == f"{region}_hottest_temperature":
            return f"hottest place of {region}, at any time", None
        if quantity == f"{region}_mean_temperature":
            return f"whole of {region}", facts.last[region][0]
    if quantity in ("final_spread", "mean_temperature"):
        return "whole section", facts.time
    probe = quantity.removesuffix("_temperature")
    return f"at probe {probe}", facts.probes[probe][1]


def ranges(process: SectionProcess, history: SectionHistory) -> list[str]:
    """Property tables that were left in the regions of their material."""
    reached: dict[str, list[float]] = {}
    for i, entry in enumerate(process.case.section.regions):
        values = history.temperature[:, nodes_of(history.mesh, i)]
        values = values[np.isfinite(values)]
        if values.size:
            reached.setdefault(entry.material, []).extend((float(values.min()), float(values.max())))
    found: list[str] = []
    for name, both in reached.items():
        low, high = min(both), max(both)
        record = process.stuff.material(name)
        if record is not None:
            found += record.warnings_outside(low, high)
            continue
        medium = process.stuff.medium(name)
        for word, table in (("conductivity", medium.conductivity), ("specific heat", medium.specific_heat)):
            if isinstance(table, Curve):
                found += _outside(word, name, table, low, high)
    return found


def _outside(word: str, name: str, table: Curve, low: float, high: float) -> list[str]:
    first, last = float(table.temperature[0]), float(table.temperature[-1])
    return [
        f"{word} of {name}: table covers {first - 273.15:.0f} to {last - 273.15:.0f} degC, the run reached "
        f"{at - 273.15:.0f} degC (the end value was held)"
        for at, outside in ((low, low < first - REACHED), (high, high > last + REACHED))
        if outside
    ]


def left_out(process: SectionProcess) -> list[str]:
    """Stations that a steady state does not look at."""
    if not process.steady or len(process.case.stations) == 1:
        return []
    return [
        f"the steady state is that under the faces of station {process.case.stations[0].name}; the later ones do not count"
    ]
