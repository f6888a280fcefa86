"""What a dipped article is judged by: wall, fusion, heat dose, skin, former at the dip, stripping, bath."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.dip_checks import DOSE, FUSION
from thermokit.processes.base import Limit
from thermokit.processes.dip_bath import bath_at_end

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.dip import DipProcess

LEAST_FUSION = 0.9  # sellable; see the set pvc_paste_fusion
MOST_DOSE = 0.3  # of the heat life; common practice, no source
#: quantities of which the smallest place counts; of all others it is the largest
SMALLEST = ("wall_least", "fusion_degree", "held", "former_least", "strip_least")


@dataclass(frozen=True)
class WallLimit(Limit):
    """A bound on a length [m], shown in mm."""

    def margin(self, value: Array) -> Array:
        """Margin in mm, positive where the limit is met."""
        return 1e3 * super().margin(value)

    @property
    def unit(self) -> str:
        """Unit of the value as it is shown."""
        return "mm"

    @property
    def margin_unit(self) -> str:
        """Unit of the margin as it is shown."""
        return "mm"

    def shown(self, value: float) -> float:
        """A length in mm."""
        return 1e3 * value


def limits(process: DipProcess) -> tuple[Limit, ...]:
    """Limits of the case, those it leaves out from the material and the practice of the trade."""
    given = process.case.limits
    record = process.stuff.material(process.case.paste.material)
    strip = record.record.get("strip", {}) if record is not None else {}
    liquid = record.record.get("liquid", {}) if record is not None else {}
    found: list[Limit] = []

    def put(name: str, least: bool, bound: Any, dimension: str, where: str) -> None:
        if bound is not None:
            found.append(Limit(name, name, least, bound, dimension, where))

    for name, least in (("wall_least", True), ("wall_most", False)):
        if getattr(given, name) is not None:
            found.append(WallLimit(name, name, least, getattr(given, name), "length", "all coats, at the end"))
    if FUSION in process.states:
        fused = given.fusion_degree
        if fused is None and _oven_after_dip(process):
            fused = LEAST_FUSION
        put("fusion_degree", True, fused, "fraction", "where it is lowest, at the end")
    if given.held is not None:
        words = (
            f"least hot layer: share of the time above {float(np.ravel(given.held.temperature)[0]) - 273.15:.0f} degC"
        )
        put("held", True, 1.0, "fraction", words)
    if DOSE in process.states:
        put(
            DOSE,
            False,
            MOST_DOSE if given.heat_dose is None else given.heat_dose,
            "fraction",
            "hottest place, at the end",
        )
    skin = given.skin
    if skin is None and record is not None:
        skin = (record.surface_limit or {}).get("caution")
    put("skin", False, skin, "temperature", "hottest place of the coat, at any time")
    put("former_least", True, given.former_least, "temperature", "face of the former, when it goes into the paste")
    put("former_most", False, given.former_most, "temperature", "face of the former, when it goes into the paste")
    if process.strip is not None:
        for name, least, word in (("strip_least", True, "low"), ("strip_most", False, "high")):
            bound = getattr(given, name)
            bound = _kelvin(strip.get(word)) if bound is None else bound
            put(name, least, bound, "temperature", "coat where it lies on the former, when it is stripped")
    if process.case.paste.bath is not None:
        bound = given.bath if given.bath is not None else _kelvin(liquid.get("store_below"))
        put("bath", False, bound, "temperature", "bath, at the end of the shift")
    return tuple(found)


def _kelvin(text: Any) -> float | None:
    from thermokit.units import parse

    return parse(text, "temperature") if isinstance(text, str) else None


def _oven_after_dip(process: DipProcess) -> bool:
    return any(station.kind == "oven" for station in process.case.stations[process.dips[0] + 1 :])


def coat_thickness(process: DipProcess, facts: Facts) -> dict[str, Array]:
    """Thickness of each coat, (cases,) [m]."""
    found = {}
    for name in process.coats:
        first, last = process.edge(name)
        found[name] = np.broadcast_to(facts.edges[last] - facts.edges[first], facts.hottest.shape)
    return found


def wall(process: DipProcess, facts: Facts) -> Array:
    """Thickness of all coats, (cases,) [m]."""
    return np.asarray(sum(coat_thickness(process, facts).values()))


def coat_volume(process: DipProcess, facts: Facts) -> Array:
    """Volume of all coats on one m2 of the bare former, (cases,) [m3/m2]: w of a plane, ((R + w)^n - R^n)/(n R^(n-1)) of a
    cylinder (n = 2) and a sphere (n = 3), R outside of former and fabric."""
    thick = wall(process, facts)
    n = {"plane": 1, "cylinder": 2, "sphere": 3}[process.shape]
    radius = np.asarray(process.outer_radius if n > 1 else 1.0)
    return np.asarray(((radius + thick) ** n - radius**n) / (n * radius ** (n - 1)) if n > 1 else thick)


def former_face(process: DipProcess, facts: Facts, station: int) -> Array:
    """Outermost cell of the former at the end of a station, (cases,) [K]; its start before the first one."""
    if station < 0:
        return np.asarray(np.broadcast_to(process.case.former.start, facts.hottest.shape), float)
    last = process.cells(process.case.former.layers[-1].name)[-1]
    return np.asarray(facts.stations[station][1 + last])


def by_place(process: DipProcess, facts: Facts) -> dict[str, Array]:
    """Every quantity at every place of every case, (cases x places,) in SI; NaN where a run did not get that far."""
    nothing = np.full(facts.hottest.shape, np.nan)
    if len(facts.stations) < len(process.case.stations):
        names = [limit.quantity for limit in limits(process)] + ["wall"]
        return dict.fromkeys(names, nothing)
    cells = process.cells(*process.article)
    thick = wall(process, facts)
    found = {"wall": thick, "wall_least": thick, "wall_most": thick, "skin": facts.hottest}
    if FUSION in facts.states:
        found[FUSION] = facts.states[FUSION][cells].min(axis=0)
    if DOSE in facts.states:
        found[DOSE] = facts.states[DOSE][cells].max(axis=0)
    if "held_share" in facts.states:
        found["held"] = facts.states["held_share"][cells].min(axis=0)
    found["former_least"] = found["former_most"] = former_face(process, facts, process.dips[0] - 1)
    if process.strip is not None:
        found["strip_least"] = found["strip_most"] = facts.stations[process.strip][1 + cells[0]]
    if process.case.paste.bath is not None:
        found["bath"] = bath_at_end(process, facts)
    return found


def quantities(process: DipProcess, facts: Facts) -> dict[str, Array]:
    """What limits are put on, the worst of the places, (cases,) in SI."""
    process = process.judging(facts)
    m = process.places()
    found = {}
    for name, values in by_place(process, facts).items():
        table = np.reshape(np.broadcast_to(values, facts.hottest.shape), (-1, m))
        if name == "bath":  # the middle stands for the whole former
            found[name] = table[:, 0]
        else:
            found[name] = table.min(axis=1) if name in SMALLEST else table.max(axis=1)
    return found


def found_at(process: DipProcess, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
    """Place in words and time of what a limit looks at, in a run that finished."""
    from thermokit.processes.dip_outcomes import place_in_layer

    judged = process.judging(facts)
    values = np.broadcast_to(by_place(judged, facts)[limit.quantity], facts.hottest.shape)
    worst = int(np.argmin(values) if limit.quantity in SMALLEST else np.argmax(values))
    where = f" ({judged.at[worst]})" if judged.places() > 1 and limit.quantity != "bath" else ""
    ends = [end.time for end in history.ends]
    if limit.quantity == "skin":
        when = float(facts.hottest_when[worst])
        return f"{process.place(history.hottest.depth)}{where}", when
    if limit.quantity in (FUSION, DOSE):
        cells = process.cells(*process.article)
        column = facts.states[limit.quantity][cells, worst]
        cell = cells[int(np.argmin(column) if limit.quantity == FUSION else np.argmax(column))]
        return f"{place_in_layer(process, int(cell), facts)}{where}", ends[-1]
    if limit.quantity.startswith("former"):
        first = process.dips[0] - 1
        return f"{limit.where}{where}", ends[first] if first >= 0 else 0.0
    if limit.quantity.startswith("strip") and process.strip is not None:
        return f"{limit.where}{where}", ends[process.strip]
    return f"{limit.where}{where}", ends[-1]
