"""Which cautions belong to a case by its process and set-up, whatever the run says; printed with every answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.shaping import BLOWN, VACUUM
from thermokit.conduction.problem import Series
from thermokit.processes import cautions as of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

WARMED = 313.15  # K, a charge hotter than that was preheated
GLOWING = 873.15  # K, from which elements are seen to glow; common knowledge
HOT_ROLL = 320.0  # K


def told(process: Any) -> list[str]:
    """Texts of a case: those of its kind, those of its materials, and last the one that defers to local codes.

    process : anything with a ``case`` (of one kind in ``case/kinds.py``) and its ``stuff``.
    """
    found = [*_KINDS[process.case.process](process.case), *process.stuff.cautions(), of.DEFERENCE]
    return list(dict.fromkeys(found))


def hottest_of(values: list[Any]) -> float:
    """Highest of numbers, arrays and tables in time [K]; None among them is skipped, 0 where there is nothing."""
    return max((float(np.max(v)) for v in _numbers(values)), default=0.0)


def _numbers(value: Any) -> Iterator[Any]:
    """All arrays of numbers in it: tables in time and of zones are gone through."""
    if isinstance(value, Series):
        value = value.value
    if isinstance(value, (tuple, list)):
        for entry in value:
            yield from _numbers(entry)
    elif value is not None:
        yield np.ravel(np.asarray(value, float))


def _sheet(case: Any) -> list[str]:
    panels = [s for s in case.stations if s.kind == "panels"]
    found = [of.RADIANT, of.CUT_OUT, of.SAGGING_ON_ELEMENTS] if panels else []
    faces = [side.temperature for s in panels for side in (s.upper, s.lower) if side is not None]
    if hottest_of(faces) > GLOWING:
        found.append(of.EYES)
    found += [of.HOT_SURFACE, of.CLAMP, of.FUME]
    if case.shaping is not None or any(s.kind == "tool" for s in case.stations):
        found.append(of.TOOL)
    if case.shaping is None:
        return found
    found.append(of.SAGGING_ON_ELEMENTS)
    found.append(of.VACUUM_BOX if case.shaping.method in VACUUM else of.UNDER_PRESSURE)
    if case.shaping.method in BLOWN:
        found.append(of.BLOWING)
    return [*found, of.TRIMMING]


def _charge(case: Any) -> list[str]:
    found = [of.REACTING, of.OPENING, of.PRESS, of.HOT_SURFACE, of.CUT_OUT, of.CURE_FUME, of.DUST, of.PEROXIDE]
    starts = [case.charge.start, *(layer.start for layer in case.charge.layers)]
    if hottest_of(starts) > WARMED:
        found.append(of.HIGH_FREQUENCY)
    if any(station.kind == "post_bake" for station in case.stations):
        found.append(of.POST_BAKE)
    return found


def _dip(case: Any) -> list[str]:
    found = [of.HOT_SURFACE, of.CUT_OUT, of.PASTE, of.OVEN_VAPOUR]
    airs = [s.temperature for s in case.stations if s.kind == "oven"]
    airs += [oven.temperature for oven in case.ovens.values()]
    dose = case.limits.heat_dose
    if hottest_of(airs) > of.HYDROGEN_CHLORIDE_FROM or (dose is not None and hottest_of([dose]) > of.DOSE):
        found.append(of.HYDROGEN_CHLORIDE)
    return found + _warm_water([s.temperature for s in case.stations if s.kind == "quench"])


def _warm_water(temperatures: list[Any]) -> list[str]:
    low, high = of.WARM_WATER
    return [of.LEGIONELLA] if any(np.any((t > low) & (t < high)) for t in _numbers(temperatures)) else []


def _mill(case: Any) -> list[str]:
    return [of.MILL_NIP, *of.OILS_AND_FUME, of.CUT_OUT, of.DUST]


def _cylinder(case: Any) -> list[str]:
    return [*of.CYLINDER, of.CUT_OUT, of.DUST]


def _mould(case: Any) -> list[str]:
    found = [of.MELT, of.OPEN_MOULD, of.HOT_PARTS]
    if hottest_of([circuit.temperature for circuit in case.circuits]) >= of.BOILS:
        found.append(of.STEAM)
    return [*found, of.HOT_SURFACE, of.CUT_OUT]


def _line(case: Any) -> list[str]:
    from thermokit.case.line_stations import ROLLS  # here: other kinds need nothing of lines

    kinds = {station.kind for station in case.stations}
    found = []
    if kinds & {"roll", "drum", "chill_roll", "nip", "wind_up"}:
        found.append(of.NIPS)
    if "nip" in kinds or hottest_of([s.temperature for s in case.stations if s.kind in ROLLS]) > HOT_ROLL:
        found.append(of.HOT_ROLLS)
    if "lamps" in kinds:
        found += [of.LAMPS, of.EYES]
    if "oven" in kinds or case.line.product == "cloth":  # a paste gives off plasticiser under lamps too
        found.append(of.OVEN_VAPOUR)
    if kinds & {"bath", "die"}:
        found.append(of.WATER)
        found += _warm_water([s.temperature for s in case.stations if s.kind in ("bath", "die")])
    if case.line.product in ("pipe", "wire"):
        found += [of.EXTRUDER, of.START_UP, of.PIPE if case.line.product == "pipe" else of.WIRE]
    return [*found, of.CUT_OUT, of.LINE_FUME]


def _body(case: Any) -> list[str]:
    body = case.body
    named: list[Any] = [body.start, *(layer.start for layer in body.layers)]
    named += _of_faces([face for station in case.stations for face in (station.inner, station.outer)])
    found = [of.HOT_SURFACE] if hottest_of(named) > of.HOT else []
    if any(layer.kinetics for layer in body.layers):
        found += [of.REACTING, of.PEROXIDE]
    return found


def _section(case: Any) -> list[str]:
    named: list[Any] = [case.section.start, *(region.start for region in case.section.regions)]
    named += _of_faces([face for station in case.stations for face in station.faces.values()])
    return [of.HOT_SURFACE] if hottest_of(named) > of.HOT else []


def _of_faces(faces: list[Any]) -> list[Any]:
    """Every temperature that faces name [K]."""
    named: list[Any] = []
    for face in faces:
        named += [face.temperature, face.convection and face.convection.air]
        named += [face.contact and face.contact.temperature, *(seen.surround for seen in face.radiation)]
    return named


_KINDS: dict[str, Callable[[Any], list[str]]] = {
    "body": _body,
    "section": _section,
    "sheet": _sheet,
    "charge": _charge,
    "dip": _dip,
    "mill": _mill,
    "cylinder": _cylinder,
    "mould": _mould,
    "line": _line,
}
