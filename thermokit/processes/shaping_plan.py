"""What a shaped sheet becomes: regions of the part with their draw and what touches them, and the dome that is blown.

Every method is a few stations with other faces: the sheet process solves the regions side by side as it solves any places.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.shaping import AIR_ONLY, BLOWN
from thermokit.case.shaping_checks import partly, region_names, released_at, shaped_at
from thermokit.conduction.problem import Series
from thermokit.errors import DataError, SolveError
from thermokit.shaping.dome import Dome, dome
from thermokit.shaping.modulus import HotModulus, hot_modulus
from thermokit.shaping.thinning import bands, box_draw_ratio
from thermokit.stations.tools import scaled

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array
    from thermokit.processes.sheet import SheetProcess

BAND = {  # how a tray is drawn, for its usual bands of thickness
    "blow_into_mould": "female", "vacuum_female": "female", "vacuum_plug": "plug", "vacuum_bubble": "bubble",
    "snap_back": "bubble",
}  # fmt: skip
PRESSED_ON = (
    0.95  # exponent of pressure in a contact conductance, Cooper, Mikic and Yovanovich (1969); assumed for hot sheet
)
ARRIVES = {
    "ring": 0.0,
    "middle": 0.5,
    "pole": 1.0,
    "wall": 0.3,
    "flat": 0.6,
    "corner": 1.0,
}  # of the filling time; assumed
DELAYED = 3.0  # times the filling time where air is trapped; assumed
TRAPPED = 0.3  # share of contact left where air is trapped; assumed
SETTING = 1.0e6  # Pa, any modulus: the shape of a dome of given height does not depend on it


@dataclass(frozen=True)
class Plan:
    """How the sheet is shaped: stations, regions (names, areal draw ratios, whether a tool touches them), the dome.

    at : station at whose beginning it is drawn; release : at whose end it is let go; first_touch : the first station that
    touches, None in air alone; final : draw ratios of the part that is left (a bubble that snaps back thickens again); dome :
    what the part is in the end; burst : why the pressure cannot be held, in words.
    """

    at: int
    release: int
    first_touch: int | None
    names: tuple[str, ...]
    ratios: tuple[float, ...]
    final: tuple[float, ...]
    touched: tuple[float, ...]
    dome: Dome | None
    burst: str | None = None


def plan_of(process: SheetProcess) -> Plan | None:
    """The plan of a case with [shaping], else None."""
    case = process.case
    if case.shaping is None or case.part is None:
        return None
    at, release = shaped_at(case), released_at(case)
    touching = [i for i, station in enumerate(case.stations) if i >= at and getattr(station, "touches", {})]
    blown, burst = blown_dome(process)
    names = region_names(case)
    ratios = _slipped(process, _ratios(process, blown))
    made = blown
    if case.shaping.method == "snap_back" and blown is not None:
        made = _dome(blown.ring_radius, blown.blank_thickness, blown.modulus, case.part.height, None)
    final = _slipped(process, _ratios(process, made))
    thickness = blank(process)
    for name, own in case.shaping.measured.items():
        final[name] = thickness / own
        ratios[name] = max(ratios[name], final[name]) if made is not blown else final[name]
    ribs = partly(case)
    air = case.shaping.method in AIR_ONLY
    return Plan(
        at=at,
        release=release,
        first_touch=touching[0] if touching else None,
        names=names,
        ratios=tuple(ratios[name] for name in names),
        final=tuple(final[name] for name in names),
        touched=tuple(0.0 if air or (ribs and name != "rib") else 1.0 for name in names),
        dome=made,
        burst=burst,
    )


def _slipped(process: SheetProcess, ratios: dict[str, float]) -> dict[str, float]:
    """Draw ratios with what slips in from under the clamp."""
    assert process.case.shaping is not None
    return {name: 1.0 + (ratio - 1.0) * (1.0 - process.case.shaping.slip) for name, ratio in ratios.items()}


def blank(process: SheetProcess) -> float:
    """Thickness of the blank [m]; the first of a batch."""
    return float(np.ravel(process.case.sheet.thickness)[0])


def modulus(process: SheetProcess, temperature: float) -> float | None:
    """Shear modulus of the hot sheet [Pa]: the case's, or the library's at the nearest temperature that it knows; or None."""
    shaping = process.case.shaping
    assert shaping is not None
    if shaping.modulus is not None:
        return shaping.modulus
    record = _of_library(process.case.sheet.material)
    return None if record is None else float(record.value(min(max(temperature, record.lowest), record.highest)))


@lru_cache(maxsize=16)
def _of_library(material: str) -> HotModulus | None:
    """Hot modulus of a material of the library, None where it has none; a study asks many times."""
    try:
        return hot_modulus(material)
    except DataError:
        return None


def middle_of_window(process: SheetProcess) -> float:
    """Middle of the forming window [K]: what the sheet is taken to have before a run says it."""
    from thermokit.processes.sheet_judgement import window

    bounds = [float(np.ravel(b)[0]) for b in window(process) if b is not None]
    return sum(bounds) / len(bounds) if bounds else 430.0


def blown_dome(process: SheetProcess, temperature: float | None = None) -> tuple[Dome | None, str | None]:
    """(dome, why it bursts) of a part that is one, with the modulus at a temperature (middle of the window if None)."""
    part, shaping = process.case.part, process.case.shaping
    assert part is not None and shaping is not None
    if part.shape != "dome":
        return None, None
    assert part.ring is not None and part.height is not None
    own = modulus(process, temperature if temperature is not None else middle_of_window(process))
    radius, thickness = part.ring / 2, blank(process)
    if shaping.stop == "pressure" and shaping.method in BLOWN and own is not None:
        assert shaping.pressure is not None
        try:
            return _dome(radius, thickness, own, None, shaping.pressure), None
        except SolveError as burst:
            top = _dome(radius, thickness, own, part.height, None)
            height = top.limit_height if np.isfinite(top.limit_height) else part.height
            return _dome(radius, thickness, own, min(height, 2 * radius), None), str(burst).splitlines()[0]
        except DataError:
            pass  # so little pressure that it stays flat, or beyond what is known: the part's height
    height = shaping.depth if shaping.method == "snap_back" and shaping.depth is not None else part.height
    return _dome(radius, thickness, own if own is not None else SETTING, min(height, 2 * radius), None), None


@lru_cache(maxsize=64)
def _dome(radius: float, thickness: float, own: float, height: float | None, pressure: float | None) -> Dome:
    """A dome; a study asks for the same one many times."""
    return dome(radius, thickness, own, height=height, pressure=pressure)


def part_areas(process: SheetProcess) -> dict[str, float]:
    """Areas of flat, wall and corner of a tray [m2]: rounded edge between wall and bottom, upright walls."""
    part = process.case.part
    assert part is not None and part.length is not None and part.width is not None
    assert part.depth is not None and part.corner is not None
    length, width, r = part.length - 2 * part.corner, part.width - 2 * part.corner, part.corner
    return {
        "flat": length * width,
        "wall": max(2.0 * (part.length + part.width) * (part.depth - r), 1e-9),
        "corner": np.pi * r * (length + width) + 2.0 * np.pi * r**2,
    }


def mean_draw(process: SheetProcess, plan: Plan | None = None) -> float:
    """Areal draw ratio of the whole part."""
    part = process.case.part
    assert part is not None
    if part.shape == "dome":
        shape = plan.dome if plan is not None else blown_dome(process)[0]
        assert shape is not None
        return shape.area / (np.pi * shape.ring_radius**2)
    if part.shape == "panel":
        return 1.0
    return float(box_draw_ratio(part.length, part.width, part.depth))  # type: ignore[arg-type]


def _ratios(process: SheetProcess, blown: Dome | None) -> dict[str, float]:
    """Areal draw ratio by region, without slip."""
    case = process.case
    part, shaping = case.part, case.shaping
    assert part is not None and shaping is not None
    if blown is not None:
        share = blown.thickness / blown.blank_thickness
        # the middle : half of the area lies outside of it
        strip = np.diff(blown.place**2) / ((share[1:] + share[:-1]) / 2.0)
        half = float(np.interp(0.5, np.concatenate([[0.0], np.cumsum(strip) / strip.sum()]), share))
        found = {"pole": 1.0 / float(share[0]), "middle": 1.0 / half, "ring": 1.0 / float(share[-1])}
        return found | {"rib": found["middle"]}
    if part.shape == "panel":
        return {"panel": 1.0, "web": 1.0, "rib": 1.0}
    areas = part_areas(process)
    assert part.length is not None and part.width is not None
    usual = bands(
        BAND.get(shaping.method, "male"), areas, min(part.length * part.width, 0.999 * sum(areas.values())), 1.0
    )
    found = {name: 1.0 / band.usual for name, band in usual.items()}
    return found | {"rib": found["corner"]}


# -- what the course asks ----------------------------------------------------------------------------------------------


def touch_of(process: SheetProcess, station: Any, touch: Any) -> Any:
    """The touch of a station with its share by region and its contact by pressure; as it is without [shaping]."""
    plan = process.plan
    if plan is None:
        return touch
    if not any(station is other for other in process.case.stations[plan.at :]):
        return touch
    factor = contact_factor(process)
    contact = touch.contact if factor == 1.0 else scaled(touch.contact, factor)
    share = touch.share
    if set(plan.touched) != {1.0}:
        share = process.tiled(np.array(plan.touched)[process.at.region])
    elif trapped(process):
        last = np.array([TRAPPED if name == plan.names[0] else 1.0 for name in plan.names])
        share = process.tiled(last[process.at.region]) * touch.share
    late = arrivals(process)
    if late.any() and plan.first_touch is not None and station is process.case.stations[plan.first_touch]:
        at = process.tiled(late[process.at.region])
        share = Series((at, at), (0.0 * share, share))
    if share is touch.share and contact is touch.contact:
        return touch
    return replace(touch, contact=contact, share=share)


def arrivals(process: SheetProcess) -> Array:
    """When each region arrives at the mould after the first touch [s], (regions,): rim and wall first, crown and corner last.

    Shares of the filling time, assumed; where air is trapped the last region takes three times as long (assumed).
    """
    plan, shaping = process.plan, process.case.shaping
    assert plan is not None and shaping is not None
    late = np.array([ARRIVES.get(name, 0.0) for name in plan.names]) * shaping.fills_in
    if trapped(process):
        late[late >= shaping.fills_in] *= DELAYED
    return late


def arrival(process: SheetProcess) -> float:
    """When the region whose skin is followed arrives [s]; 0 without [shaping]."""
    plan = process.plan
    if plan is None:
        return 0.0
    own = process.thickest_region()
    followed = own if plan.touched[own] > 0.0 else int(np.argmax(plan.touched))
    return float(arrivals(process)[followed])


def trapped(process: SheetProcess) -> bool:
    """Whether air is trapped where the sheet arrives last: a mould without vents."""
    shaping = process.case.shaping
    return (
        shaping is not None
        and shaping.vents is False
        and shaping.method in ("blow_into_mould", "vacuum_female", "vacuum_plug")
    )


def contact_factor(process: SheetProcess) -> float:
    """Contact conductance over that of the stations: (p/p0)^0.95, where the case says at which pressure these hold."""
    from thermokit.case.shaping import VACUUM

    shaping = process.case.shaping
    if shaping is None or shaping.contact_pressure is None:
        return 1.0
    pressure = shaping.vacuum if shaping.method in VACUUM else shaping.pressure
    return 1.0 if pressure is None else float((pressure / shaping.contact_pressure) ** PRESSED_ON)


def jet_factor(process: SheetProcess, station: Any, side: str) -> Array | float:
    """Coefficient of the air on a side over that of the station: more at the pole where a jet meets it."""
    plan, shaping = process.plan, process.case.shaping
    if plan is None or shaping is None or shaping.jet == 1.0 or side != shaping.pressed_face:
        return 1.0
    if station is not process.case.stations[plan.at]:
        return 1.0
    own = np.array([shaping.jet if name == "pole" else 1.0 for name in plan.names])
    found: Array | float = process.tiled(own[process.at.region])
    return found
