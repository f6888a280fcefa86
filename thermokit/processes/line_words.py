"""What the answers of a line mean at the machine, what lies outside what is known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.line_stations import ROLLS
from thermokit.conduction.follow_batch import follow_batch
from thermokit.exchange.nip_heat import followed_bowl
from thermokit.exchange.roll_contact import MEASURED_FILM, air_film, air_viscosity, outside_of_film
from thermokit.processes.base import facts_of_batch
from thermokit.processes.line_judgement import at_end
from thermokit.processes.line_speed import HOT_ROLLS as HEATING
from thermokit.processes.line_speed import deciding
from thermokit.processes.line_track import freezing

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess

ZERO = 273.15
FUSED = 0.9  # degree of fusion that counts as sellable, as the kinetics set says
CRAWL = 30.0  # times slower, for what a station reaches however slowly the line runs
AIR_RULES = 1.5  # times the effect of a hotter roll, from which trapped air is said to set the speed
UNSUPPORTED = 0.5  # s, a covering may hang molten in air: common practice 0.2 to 0.5, no source


def place(process: LineProcess, depth: float) -> str:
    """A depth in words."""
    total = sum(float(np.ravel(thickness)[0]) for _, thickness, *_ in process.layers())
    round_ = process.shape == "cylinder"
    if depth <= 0.0:
        return ("axis of the conductor" if process.wire else "bore") if round_ else "back"
    if depth >= total * (1.0 - 1e-12):
        return "skin" if round_ else "face"
    return f"{1e3 * (total - depth):.3g} mm under the {'skin' if round_ else 'face'}"


def remarks(process: LineProcess, history: History, facts: Facts) -> list[str]:
    """What the answers mean at the line."""
    if facts.travel is None:
        return []
    return [
        *_speed_words(process),
        *_air_words(process, facts),
        *_drum_words(process, facts),
        *_fusion_words(process, facts),
        *_freezing_words(process, history, facts),
        *_bowl_words(process),
        *[text for event in process.happened(facts) for text in event.words],
    ]


def _speed_words(process: LineProcess) -> list[str]:
    if not process.limits():
        return []
    rows = process.speeds()
    now = process.pace
    fast = min((x for x in rows if x.fastest is not None), key=lambda x: x.fastest or 0.0, default=None)
    slow = max((x for x in rows if x.slowest is not None), key=lambda x: x.slowest or 0.0, default=None)
    closed = [x.limit for x in rows if x.slowest is not None and np.isnan(x.slowest)]
    if closed:
        return [f"no speed near {60 * now:.3g} m/min meets {', '.join(closed)}: another setting is needed first"]
    found = []
    if fast is not None and fast.fastest is not None:
        share = 100.0 * (1.1 * now / fast.fastest - 1.0)
        longer = "; to run 10 % faster than now "
        longer += f"all lengths up to there must grow by {share:.0f} %" if share >= 0.5 else "the line is long enough"
        found.append(f"fastest about {60.0 * fast.fastest:.2g} m/min, set by {fast.limit}{longer}")
    if slow is not None and slow.slowest is not None:
        found.append(f"slowest about {60.0 * slow.slowest:.2g} m/min, set by {slow.limit}")
    return found


def _air_words(process: LineProcess, facts: Facts) -> list[str]:
    """Whether the film of air under the web or the roll's temperature sets the speed."""
    limit = deciding(process, facts)
    if limit is None:
        return []
    rows = process.changed(limit)
    found = []
    for station in process.case.stations:
        if station.kind not in HEATING:
            continue
        air = next((c for c in rows if c.words.startswith(f"air trapped on {station.name}")), None)
        hotter = next(
            (c for c in rows if c.words.startswith(f"{station.name} ") and c.words.endswith("K hotter")), None
        )
        if air is None or hotter is None or abs(air.by) < 1.0:
            continue
        told = (
            f"air trapped on {station.name} (contact 200 W/m2/K) brings {limit.quantity} to {air.value:.0f} degC "
            f"({air.by:+.0f} K), 10 K more on the roll brings {hotter.by:+.0f} K"
        )
        if abs(air.by) > AIR_RULES * abs(hotter.by):
            told += ": the speed limit is set by the air under the web, not by the roll's temperature"
        found.append(told)
    return found


def _drum_words(process: LineProcess, facts: Facts) -> list[str]:
    """Whether a drum alone, without lamps, gets a coat as hot as it must be."""
    held = process.case.limits.held
    drums = [i for i, s in enumerate(process.case.stations) if s.kind in ("drum", "roll") and _hot(s)]
    lamps = [s.name for s in process.case.stations if s.kind == "lamps"]
    if held is None or not drums or not lamps:
        return []
    values: dict[str, Any] = {f"stations.{name}.setting": 0.0 for name in lamps}
    values["line.speed"] = process.pace / CRAWL
    other = type(process)(process.case.with_values(values))
    batch = facts_of_batch(follow_batch(other.course(process.edges), 1, process.tolerance))
    profile = batch.stations[other.last_span(drums[-1])]
    cells = other.cells(*other.held_layers())
    end = at_end(other, batch, profile)
    coldest = min(
        float(np.nanmin(profile[1 + cells, 0])), float(end.face[0] if cells[-1] == len(profile) - 3 else np.inf)
    )
    needed = float(np.ravel(held.temperature)[0])
    name = process.case.stations[drums[-1]].name
    if coldest < needed:
        return [
            f"the drum alone cannot fuse the face: however slowly the line runs, without lamps {name} brings it to "
            f"{coldest - ZERO:.0f} degC only ({needed - ZERO:.0f} degC are needed)"
        ]
    return [
        f"{name} alone would do, without lamps, at a crawl: it brings the coldest place to {coldest - ZERO:.0f} degC"
    ]


def _fusion_words(process: LineProcess, facts: Facts) -> list[str]:
    """Where the rule of so hot for so long is met and the kinetics do not call it fused: which of the two is not known."""
    held, values = process.case.limits.held, process.quantities(facts)
    if held is None or "fusion_degree" not in values or process.case.limits.fusion_degree is not None:
        return []
    degree, share = float(values["fusion_degree"][0]), float(values["held"][0])
    if not share >= 1.0 or not degree < FUSED:
        return []
    return [
        f"held for {share * float(np.ravel(held.time)[0]):.1f} s: the rule of the trade is met, yet the kinetics call the least "
        f"fused place {degree:.2f} fused ({FUSED:g} is sellable): the rule has no source, and the kinetics are set to ten minutes "
        "in an oven, not to seconds; a solvent rub or a pull on the first metres tells which is right"
    ]


def _hot(station: Any) -> bool:
    return float(np.ravel(station.temperature)[0]) > 320.0


def _freezing_words(process: LineProcess, history: History, facts: Facts) -> list[str]:
    """Order of freezing, and what it leaves behind."""
    froze = freezing(process, history, facts)
    if froze is None:
        return []
    inside = (
        "the covering at the conductor" if process.wire else "the bore" if process.shape == "cylinder" else "the back"
    )
    if froze.skin is None:
        return [f"the skin does not freeze on the line (solid below {froze.at - ZERO:.0f} degC)"]
    found = []
    if froze.back is None:
        found.append(f"the skin freezes after {froze.skin:.1f} s, {inside} not on the line: longer, or slower")
    elif froze.back > froze.skin:
        found.append(
            f"the skin freezes first, {inside} {froze.back - froze.skin:.1f} s later: the stress that stays is pressure outside "
            "and tension inside"
            + ("; what shrinks last can leave a void at the conductor" if process.wire else " (a slit ring closes)")
        )
    else:
        found.append(f"{inside} freezes before the skin: no void, and tension at the skin")
    if froze.mean_then is not None and froze.skin_metres is not None:
        gap = froze.mean_then - froze.at
        found.append(
            f"when the skin freezes, {froze.skin_metres:.2f} m along, the mean of the wall is {froze.mean_then - ZERO:.0f} degC "
            f"({gap:+.0f} K from freezing): the nearer, the less is left to shrink behind it; warmer first water"
            + (" and preheat bring it nearer" if process.wire else " brings it nearer")
        )
    if process.wire:
        found += _hanging(process)
    return found


def _hanging(process: LineProcess) -> list[str]:
    """Time that a covering hangs molten in the air before the first water."""
    seconds, coated = 0.0, False
    for number, station in enumerate(process.case.stations):
        coated = coated or station.kind == "coat"
        if station.kind == "bath":
            break
        if coated and process.has_length(number):
            seconds += float(np.ravel(station.duration)[0])
    if seconds > UNSUPPORTED:
        return [
            f"the covering hangs molten in the air for {seconds:.2f} s; more than {UNSUPPORTED:g} s lets it sag out of centre "
            "(common practice, no source)"
        ]
    return []


def _bowl_words(process: LineProcess) -> list[str]:
    """Which bowl of a nip keeps the sheet, against where the case leads it."""
    found = []
    stations = process.case.stations
    for i, station in enumerate(stations):
        if station.kind != "nip" or station.gauge is None:
            continue
        speed = float(np.ravel(process.speed(i))[0])
        pair = (float(np.ravel(station.back)[0]), float(np.ravel(station.face)[0]))
        keeps, why = followed_bowl(pair, (speed, speed * float(station.ratio)))
        follows = next((s.side for s in stations[i + 1 : i + 2] if s.kind in ROLLS), None)
        side = None if keeps is None else ("back", "face")[keeps]
        if side is None:
            found.append(f"{station.name}: {why}")
        elif follows is not None and follows != side:
            found.append(
                f"{station.name}: the bowl on the {side} keeps the sheet ({why}), the case leads it to the {follows}"
            )
        else:
            found.append(f"{station.name}: the sheet stays with the bowl on the {side}: {why}")
    return found


def warnings(process: LineProcess, history: History) -> list[str]:
    """What in the run lies outside what is known."""
    gelling = tuple(
        f"kinetics {name}:" for name in process.sets_of("gel_degree")
    )  # hotter than its range all gels at once
    found = [told for told in process.stuff.warnings(history) if not told.startswith(gelling or ("\0",))]
    line = process.line
    for number, station in enumerate(process.case.stations):
        ratio = float(np.ravel(process.ratios[number])[0])
        before = float(np.ravel(process.ratios[number - 1])[0]) if number else 1.0
        if getattr(station, "gauge", None) is not None and ratio < before:
            found.append(
                f"station {station.name}: its gauge is thicker than the sheet that comes: nothing is rolled out"
            )
        if station.kind in ROLLS and line.tension is not None and line.width is not None:
            pull = float(np.ravel(line.tension / line.width)[0])
            radius, speed = float(np.ravel(station.diameter)[0]) / 2.0, float(np.ravel(process.speed(number))[0])
            eta = float(air_viscosity(float(np.ravel(station.temperature)[0])))
            # a thinner film than was measured hardly counts
            if float(air_film(radius, speed, speed, pull, eta)) > MEASURED_FILM[1] * radius:
                found.append(f"station {station.name}: {outside_of_film(radius, speed, pull, eta)}")
    layers = [*line.layers, *(layer for _, layer in process.coats())]
    for layer in layers:
        for name, state in process.stuff.missing_states(layer.kinetics):
            found.append(f"kinetics {name} reads {state}, which nothing in {layer.name} grows")
    return found
