"""When things happen in the press: curves of faces and core, gelling, how long a charge may lie before the press is shut."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import as_course
from thermokit.conduction.follow import follow
from thermokit.conduction.problem import Series
from thermokit.conduction.watch import along
from thermokit.processes.base import Facts
from thermokit.processes.charge_course import CURE, reactions_of
from thermokit.processes.charge_judgement import core_cell, face_degrees, precure
from thermokit.processes.media import typical

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import Extreme, History
    from thermokit.conduction.problem import Array
    from thermokit.processes.charge import ChargeProcess

FASTER = 1.3  # rate of a fast batch over that of the set: cure rates are known to 30 %; common practice, no source
ROWS = 240
LONGEST = 86_400.0  # s, beyond which nobody waits with a charge in an open press
SMALLEST = 1e-9  # degree from which isothermal times are counted where a set starts at 0


@dataclass(frozen=True)
class Curves:
    """The charge against time, from loading until some time after the press opens; temperatures [K], degrees NaN in inserts.

    time (rows,) [s]; upper, core, lower : at the faces and in the middle; lowest, highest : anywhere.
    """

    time: Array
    upper: Array
    core: Array
    lower: Array
    coldest: Array
    hottest: Array
    upper_degree: Array
    core_degree: Array
    lower_degree: Array
    lowest_degree: Array
    highest_degree: Array


@dataclass(frozen=True)
class ChargeFacts(Facts):
    """Facts of a single run, and what was computed beside it.

    curves; gel : when the upper face, the core and the lower face gel [s], None where not until the end of the curves;
    fast : hottest place with the rate 30 % up; full_contact : times [s] at which a face laid against the hot mould with the
    contact of the cure reaches (the limit of precure, the gel degree); as_loaded : the same in the first load station.
    """

    curves: Curves | None = None
    gel: tuple[float | None, float | None, float | None] = (None, None, None)
    fast: Extreme | None = None
    full_contact: tuple[float | None, float | None] = (None, None)
    as_loaded: tuple[float | None, float | None] = (None, None)
    mesh: Sequence[Array] = ()
    tolerance: float = 0.03


def looked_at(
    process: ChargeProcess, facts: Facts, travel: Travel, edges: Sequence[Array], tolerance: float
) -> ChargeFacts:
    """The facts of a run with its curves, gel times and the peak of a faster batch."""
    ends = travel.history.ends
    opens, end = ends[process.opening].time, ends[-1].time
    # as long again after the opening: a thick charge is often hottest then
    last = min(end, 2.0 * opens)
    peak = min(travel.history.hottest.time, last)  # a row there, so that the curves show it
    times = np.unique(np.concatenate([np.linspace(0.0, opens, ROWS), np.linspace(opens, last, ROWS), [peak]]))
    curves = curves_of(follow(process.course(edges), times, tolerance).history)
    fast = follow(process.changed(process.case, FASTER * process.rate_factor).course(edges), times[-1:], tolerance)
    gel, most = process.gel_degree(), precure(process)
    when = tuple(
        None if gel is None else crossing(curves.time, values, float(gel))
        for values in (curves.upper_degree, curves.core_degree, curves.lower_degree)
    )
    known = {item.name: getattr(facts, item.name) for item in fields(Facts)} | {"travel": travel}
    cure = next(station for station in process.case.stations if station.kind == "cure")
    load = next((station for station in process.case.stations if station.kind == "load"), None)
    degrees = tuple(None if x is None else float(x) for x in (most, gel))
    return ChargeFacts(
        **known,
        curves=curves,
        gel=when,  # type: ignore[arg-type]
        fast=fast.history.hottest if fast.history.ending.status == "finished" else None,
        full_contact=_times_in(process, cure, degrees, edges, tolerance),
        as_loaded=(None, None) if load is None else _times_in(process, load, degrees, edges, tolerance),
        mesh=edges,
        tolerance=tolerance,
    )


def curves_of(history: History) -> Curves:
    """The curves of a history."""
    depth = np.concatenate([[0.0], history.centres, [history.edges[-1]]])
    profile = np.column_stack([history.inner_face, history.temperature, history.outer_face])
    degree = history.states[CURE]
    upper, lower = face_degrees(depth[:, None], degree.T)
    i = core_cell(depth[:, None], degree.T)
    with np.errstate(invalid="ignore"):
        return Curves(
            time=history.time,
            upper=history.inner_face,
            core=along(depth, profile, float(depth[-1] / 2.0)),
            lower=history.outer_face,
            coldest=profile.min(axis=1),
            hottest=profile.max(axis=1),
            upper_degree=upper,
            core_degree=degree[:, i],
            lower_degree=lower,
            lowest_degree=np.nanmin(degree, axis=1),
            highest_degree=np.nanmax(degree, axis=1),
        )


def crossing(time: Array, values: Array, threshold: float) -> float | None:
    """When a rising curve first reaches a threshold, by a straight line between rows; None where it does not.

    >>> crossing(np.array([0.0, 1.0, 2.0]), np.array([0.0, 0.2, 0.6]), 0.4)
    1.5
    """
    reached = np.flatnonzero(values >= threshold)
    if not len(reached):
        return None
    i = int(reached[0])
    if i == 0:
        return float(time[0])
    share = (threshold - values[i - 1]) / (values[i] - values[i - 1])
    return float(time[i - 1] + share * (time[i] - time[i - 1]))


def isothermal_time(law: Any, temperature: float, start: float, end: float) -> float:
    """Time [s] from one degree to another at a constant temperature: the integral of d(degree)/rate; inf where it stops.

    >>> from thermokit.kinetics.rates import NthOrder
    >>> round(isothermal_time(NthOrder(0.05, 0.0, 1.3), 443.15, 0.0, 0.85), 2)  # 20 s (0.15^-0.3 - 1)/0.3
    51.12
    """
    begin = max(start, SMALLEST)
    if end <= begin:
        return 0.0
    # fine towards both ends: rates may begin at nothing and end at nothing
    low = np.geomspace(begin, end, 1500)
    degree = np.unique(np.concatenate([low, end - np.geomspace(1e-9, end - begin, 1500)[::-1], [end]]))
    degree = degree[(degree >= begin) & (degree <= end)]
    rate = law.evaluate(np.full(len(degree), temperature), (degree,))
    if not np.all(rate > 0.0):
        return float("inf")
    return float(np.trapezoid(1.0 / rate, degree))


def _times_in(
    process: ChargeProcess, station: Any, degrees: Sequence[float | None], edges: Sequence[Array], tolerance: float
) -> tuple[float | None, float | None]:
    """When the further face reaches each degree if the charge stays in one station from the beginning."""
    known = [degree for degree in degrees if degree is not None]
    if not known:
        return None, None
    horizon = _horizon(process, station, max(known))
    if horizon is None:
        return None, None
    alone = process.changed(replace(process.case, stations=(replace(station, duration=horizon), *_rest(process))))
    course = as_course(alone.course(edges))
    # only this station is followed; those behind it are there because every case cures
    only = replace(course, legs=(replace(course.legs[0], spans=course.legs[0].spans[:1]),))
    times = np.concatenate([[0.0], np.geomspace(1e-4 * horizon, horizon, ROWS)])
    history = follow(only, times, tolerance).history
    if history.ending.status != "finished":
        return None, None
    curves = curves_of(history)
    with np.errstate(invalid="ignore"):
        face = np.fmax(curves.upper_degree, curves.lower_degree)
    first, second = (None if degree is None else crossing(curves.time, face, degree) for degree in degrees)
    return first, second


def _rest(process: ChargeProcess) -> tuple[Any, ...]:
    """A last station for a case that must cure."""
    cure = next(station for station in process.case.stations if station.kind == "cure")
    return (replace(cure, name="afterwards", duration=1.0),)


def _horizon(process: ChargeProcess, station: Any, degree: float) -> float | None:
    """Time within which a face surely gels if it gels at all [s]: several times as long as at the mould's temperature."""
    temperatures = []
    for side in station.touches:
        half = getattr(process.case.mould, side)
        own = getattr(station, side).temperature
        value = own if own is not None else half.temperature if half.platen is None else half.start
        temperatures.append(
            max(float(np.max(entry)) for entry in value.value) if isinstance(value, Series) else float(value)
        )
    waits = []
    for part in process.parts:
        for reaction in reactions_of(process, part):
            if reaction.state == CURE:
                waits.append(
                    isothermal_time(reaction.rate, max(temperatures), float(np.ravel(reaction.start)[0]), degree)
                )
    wait = min(waits, default=float("inf"))
    if not np.isfinite(wait):
        return None
    # a face behind a contact warms with the time k rho cp/contact^2; ten of them are generous
    medium = process.stuff.medium(process.parts[0].material)
    contacts = [_lowest(getattr(station, side).contact) for side in station.touches]
    own = typical(medium.conductivity) * typical(medium.density) * typical(medium.specific_heat) / min(contacts) ** 2
    return float(min(5.0 * wait + 10.0 * own, LONGEST))


def _lowest(value: Any) -> float:
    """A contact that may be a table, as its lowest value [W/m2/K]."""
    return (
        min(float(np.min(entry)) for entry in value.value) if isinstance(value, Series) else float(np.ravel(value)[0])
    )
