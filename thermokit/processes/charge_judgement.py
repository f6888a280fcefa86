"""What a charge is judged by: when the press is shut, when it opens, at any time, at the end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Curve, Series
from thermokit.processes.base import Limit
from thermokit.processes.charge_course import CURE, DOSE, reactions_of

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.charge import ChargeProcess

LEAST_DEGREE = 0.85  # for release, where neither case nor material says; common practice, no source
HOT, OVERSHOOT = 473.15, 40.0  # K, and K above the mould, that a charge may reach where nothing says; common practice
OPENS = "when the press opens"
LEFT = "hottest that the heat of cure still in it could make a place, when the press opens"


@dataclass(frozen=True)
class RateLimit(Limit):
    """A bound on a rate [1/s]."""

    @property
    def unit(self) -> str:
        """Unit of the value as it is shown."""
        return "1/s"

    @property
    def margin_unit(self) -> str:
        """Unit of the margin as it is shown."""
        return "1/s"


def limits(process: ChargeProcess) -> tuple[Limit, ...]:
    """Limits of the case, those it leaves out from the material, and some from the practice of the trade."""
    given = process.case.limits
    found = [
        Limit("cure_degree", "cure_degree", True, least_degree(process), "fraction", f"where it is lowest, {OPENS}"),
        Limit("firm_degree", "firm_degree", True, given.firm_degree, "fraction", f"hot places, {OPENS}"),
    ]
    if given.core_rate is not None:
        found.append(RateLimit("core_rate", "core_rate", False, given.core_rate, "rate", f"core, {OPENS}"))
    most = precure(process)
    if most is not None and process.shut is not None:
        found.append(Limit("precure", "precure", False, most, "fraction", "the further face, when the press is shut"))
    found.append(Limit("hottest", "hottest", False, peak_limit(process), where="hottest place, at any time"))
    if process.opening == len(process.case.stations) - 1:  # nothing is followed behind the opening
        found.append(Limit("heat_left", "heat_left", False, peak_limit(process), where=LEFT))
    for name, dimension, where in (
        ("over_cure", "fraction", "where it is highest, at the end"),
        ("temperature_spread", "temperature_difference", f"hottest less coldest place, {OPENS}"),
        ("degree_spread", "fraction", f"highest less lowest, {OPENS}"),
    ):
        bound = getattr(given, name)
        if bound is not None:
            found.append(Limit(name, name, False, bound, dimension, where))
    if given.final_cure_degree is not None:
        found.append(
            Limit(
                "final_cure_degree", "final_cure_degree", True, given.final_cure_degree, "fraction",
                "where it is lowest, at the end",
            )
        )  # fmt: skip
    return tuple(found)


def least_degree(process: ChargeProcess) -> Any:
    """Lowest degree of cure for opening."""
    if process.case.limits.cure_degree is not None:
        return process.case.limits.cure_degree
    records = [process.stuff.material(part.material) for part in process.parts if part.reacts]
    known = [r.record.get("release", {}).get("least_cure_degree") for r in records if r is not None]
    return max((float(x) for x in known if x is not None), default=LEAST_DEGREE)


def precure(process: ChargeProcess) -> Any:
    """Highest degree of a face when the press is shut: half the gel degree (common practice), None where not known."""
    if process.case.limits.precure is not None:
        return process.case.limits.precure
    gel = process.gel_degree()
    return None if gel is None else gel / 2.0


def peak_limit(process: ChargeProcess) -> Any:
    """Highest temperature at any time [K]: of the case, the material's scorch, else 200 degC or 40 K above the mould."""
    if process.case.limits.hottest is not None:
        return process.case.limits.hottest
    records = [process.stuff.material(part.material) for part in process.parts if part.reacts]
    known = [(r.surface_limit or {}).get("scorch") for r in records if r is not None]
    scorch = [x for x in known if x is not None]
    if scorch:
        return min(scorch)
    return np.maximum(mould_temperature(process) + OVERSHOOT, HOT)


def peak_limit_words(process: ChargeProcess) -> str:
    """Where the limit on the peak comes from."""
    if process.case.limits.hottest is not None:
        return "the case's limit"
    records = [process.stuff.material(part.material) for part in process.parts if part.reacts]
    if any((r.surface_limit or {}).get("scorch") for r in records if r is not None):
        return "at which the material scorches"
    return f"the higher of {HOT - 273.15:.0f} degC and {OVERSHOOT:.0f} K above the mould; common practice, no source"


def mould_temperature(process: ChargeProcess) -> Any:
    """Hottest that any half of the mould, its platen or its start is, in any station [K]."""
    case = process.case
    named: list[Any] = []
    for half in (case.mould.upper, case.mould.lower):
        named += [half.temperature] if half.platen is None else [half.platen.temperature, half.start]
    for station in case.stations:
        if station.kind not in ("cool", "post_bake"):
            named += [getattr(station, side).temperature for side in station.touches]
    return _highest([value for value in named if value is not None])


def _highest(values: list[Any]) -> Any:
    flat = [entry for value in values for entry in (value.value if isinstance(value, Series) else (value,))]
    top: Any = flat[0]
    for entry in flat[1:]:
        top = np.maximum(top, entry)
    return float(top) if np.ndim(top) == 0 else top


def quantities(process: ChargeProcess, facts: Facts) -> dict[str, Array]:
    """What limits are put on, (cases,) in SI; NaN where a run did not get that far."""
    cases = len(np.ravel(facts.failed))
    if len(facts.stations) < len(process.case.stations):
        return {limit.quantity: np.full(cases, np.nan) for limit in limits(process)}
    at = process.opening
    temperature, degree = facts.stations[at], facts.station_states[at][CURE]
    cells = temperature[1:-1]
    with np.errstate(invalid="ignore"):
        hot = (cells > process.case.limits.blister_temperature) & np.isfinite(degree)
        lowest, highest = np.fmin.reduce(degree, axis=0), np.fmax.reduce(degree, axis=0)
        found = {
            "cure_degree": lowest,
            "firm_degree": np.where(hot, degree, 1.0).min(axis=0),
            "hottest": facts.hottest,
            "temperature_spread": temperature.max(axis=0) - temperature.min(axis=0),
            "degree_spread": highest - lowest,
            "final_cure_degree": np.fmin.reduce(facts.states[CURE], axis=0),
            "core_rate": core_rate(process, facts, at),
            "heat_left": heat_left(process, facts, at),
        }
        if process.shut is not None:
            faces = face_degrees(facts.depth, facts.station_states[process.shut][CURE])
            found["precure"] = np.nan_to_num(np.stack(faces)).max(axis=0)  # an insert on a face does not precure
        if process.case.charge.dose is not None:
            found["over_cure"] = np.fmax.reduce(facts.states[DOSE], axis=0)
    return found


def face_degrees(depth: Array, degree: Array) -> tuple[Array, Array]:
    """(upper, lower) degree of cure at the faces, (cases,): a line through the two outermost cells, within 0 and 1.

    depth (cells + 2, .) of faces and cells; degree (cells, cases), NaN where nothing reacts.
    """
    if len(degree) < 2:
        return degree[0], degree[-1]

    def line(face: int, near: int, far: int) -> Array:
        x, a, b = depth[face], depth[1:-1][near], depth[1:-1][far]
        return np.asarray(np.clip(degree[near] + (degree[far] - degree[near]) * (x - a) / (b - a), 0.0, 1.0))

    return line(0, 0, 1), line(-1, -1, -2)


def core_cell(depth: Array, degree: Array) -> int:
    """Number of the cell that reacts nearest to the middle; depth (cells + 2, .), degree (cells, .)."""
    middle = depth[-1, 0] / 2.0
    distance = np.abs(depth[1:-1, 0] - middle)
    reacting = np.isfinite(degree).any(axis=1)
    return int(np.argmin(np.where(reacting, distance, np.inf))) if reacting.any() else int(np.argmin(distance))


def cells_of(process: ChargeProcess, facts: Facts) -> list[Any]:
    """Numbers of the cells of each layer of the charge."""
    # thickness may differ from case to case, the order of the cells does not
    middles = (facts.edges[1:, 0] + facts.edges[:-1, 0]) / 2
    bounds = np.cumsum([float(np.ravel(part.thickness)[0]) for part in process.parts])
    owner = np.clip(np.searchsorted(bounds, middles), 0, len(bounds) - 1)
    return [np.flatnonzero(owner == i) for i in range(len(bounds))]


def heat_left(process: ChargeProcess, facts: Facts, station: int) -> Array:
    """Hottest that a place could become after a station if its heat of cure stayed in it, (cases,) [K]: T + (1 - a) H/cp.

    What a press opened on an uncured charge would do, where no station behind the opening is followed.
    """
    temperature, degree = facts.stations[station][1:-1], facts.station_states[station][CURE]
    top = temperature.max(axis=0)
    for part, cells in zip(process.parts, cells_of(process, facts), strict=True):
        heat: Any = sum(r.heat for r in reactions_of(process, part) if r.state == CURE)
        if not part.reacts or not np.any(np.asarray(heat) > 0.0):
            continue
        here = temperature[cells]
        rise = (1.0 - degree[cells]) * heat / at_temperature(process.stuff.medium(part.material).specific_heat, here)
        top = np.fmax(top, (here + np.maximum(rise, 0.0)).max(axis=0))
    return np.asarray(top)


def at_temperature(value: Any, temperature: Array) -> Any:
    """A property at temperatures (cells, cases) [K]; a table that differs from case to case is read by its first."""
    if not isinstance(value, Curve):
        return value
    column = value.value if value.value.ndim == 1 else value.value[:, 0]
    return np.interp(temperature, value.temperature, column)


def core_rate(process: ChargeProcess, facts: Facts, station: int) -> Array:
    """Rate of cure in the core at the end of a station, (cases,) [1/s]."""
    degree = facts.station_states[station][CURE]
    i = core_cell(facts.depth, degree)
    part = next(part for part, cells in zip(process.parts, cells_of(process, facts), strict=True) if i in cells)
    law = next((r.rate for r in reactions_of(process, part) if r.state == CURE), None)
    if law is None:
        return np.full(degree.shape[1], np.nan)
    rate = law.evaluate(facts.stations[station][1 + i][None], (degree[i][None],))
    return np.asarray(rate[0])


def found_at(process: ChargeProcess, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
    """Place in words and time of what a limit looks at, in a run that finished."""
    at = process.opening
    opens = history.ends[at].time
    degree = facts.station_states[at][CURE][:, 0]
    depth = facts.depth[1:-1, 0]
    if limit.quantity == "hottest":
        return process.place(history.hottest.depth), history.hottest.time
    if limit.quantity == "cure_degree":
        return process.place(float(depth[int(np.nanargmin(degree))])), opens
    if limit.quantity == "firm_degree":
        hot = facts.stations[at][1:-1, 0] > float(np.ravel(process.case.limits.blister_temperature)[0])
        firm = np.where(hot & np.isfinite(degree), degree, np.inf)
        return (process.place(float(depth[int(np.argmin(firm))])) if hot.any() else "nothing is that hot"), opens
    if limit.quantity == "precure" and process.shut is not None:
        faces = face_degrees(facts.depth, facts.station_states[process.shut][CURE])
        upper = float(np.nan_to_num(faces[0][0], nan=-1.0)) > float(np.nan_to_num(faces[1][0], nan=-1.0))
        return ("upper face" if upper else "lower face") + ", when the press is shut", history.ends[process.shut].time
    if limit.quantity == "final_cure_degree":
        return process.place(float(depth[int(np.nanargmin(facts.states[CURE][:, 0]))])), history.ending.time
    if limit.quantity == "over_cure":
        return process.place(float(depth[int(np.nanargmax(facts.states[DOSE][:, 0]))])), history.ending.time
    return (limit.where.removesuffix(f", {OPENS}"), opens)
