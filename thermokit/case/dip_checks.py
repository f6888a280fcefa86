"""Contradictions of a dip case that only show on the whole of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from thermokit.case.declare import known
from thermokit.case.dip_stations import OvenStation, StripStation
from thermokit.case.mistakes import nearest, shown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.case.dip import DipCase
    from thermokit.case.mistakes import At

FABRIC = "fabric"
OURS = ("coat_", "paste_")  # beginnings of the names of layers that a dip makes
GEL, FUSION, DOSE = "gel_degree", "fusion_degree", "heat_dose"


def check_dip(case: DipCase, at: At) -> None:
    """Everything below, each where the sections it needs were read; UNKNOWN stands where one was not."""
    if known(case.stations) and known(*case.stations):
        _check_order(case, at / "stations")
        if known(case.ovens):
            _check_ovens(case, at)
    if known(case.paste, case.kinetics) and known(case.paste.kinetics) and known(*case.paste.kinetics):
        _check_kinetics(case, at)
    if known(case.former) and known(case.former.layers):
        for i, layer in enumerate(case.former.layers):
            if known(layer) and known(layer.name) and (layer.name == FABRIC or layer.name.startswith(OURS)):
                (at / "former" / "layers" / i / "name").mistake(
                    f"{shown(layer.name)} is what the result calls a layer of its own", "another name"
                )
    if known(case.former, case.ovens):
        _check_racks(case, at / "ovens")


def _check_order(case: DipCase, at: At) -> None:
    """A dip somewhere; strip last; drain after a dip."""
    kinds = [station.kind for station in case.stations]
    if "dip" not in kinds:
        at.mistake("no station is a dip", 'one with kind = "dip"', 'a former without paste: process = "body"')
        return
    if kinds[-1] == "dip":
        (at / (len(kinds) - 1) / "kind").mistake(
            "is the last station: nothing is drawn out of the paste", "a station after it, such as drain or oven"
        )
    for i, station in enumerate(case.stations):
        if isinstance(station, StripStation) and i < len(kinds) - 1:
            (at / i / "kind").mistake("strip stands before other stations", "strip as the last station")
        if station.kind == "drain" and "dip" not in kinds[:i]:
            (at / i / "kind").mistake("nothing to drain: no dip stands before it", "drain after a dip")


def _check_ovens(case: DipCase, at: At) -> None:
    """Every oven that is named is there, every one that is there is named."""
    used: dict[str, None] = {}
    for i, station in enumerate(case.stations):
        if isinstance(station, OvenStation) and known(station.oven) and station.oven is not None:
            used[station.oven] = None
            if station.oven not in case.ovens:
                advice = nearest(station.oven, case.ovens) or f"add [ovens.{station.oven}]"
                (at / "stations" / i / "oven").mistake(
                    f"{shown(station.oven)} is no oven of the case", "one of [ovens.*]", advice
                )
    for name in case.ovens:
        if name not in used:
            (at / "ovens" / name).mistake("no station is in this oven", "ovens that are used", nearest(name, used))


def states_of(names: Any, own: Mapping[str, Any]) -> dict[str, str]:
    """State -> name of the set that grows it; sets that are not known are left out."""
    from thermokit.kinetics import library

    found: dict[str, str] = {}
    for name in names:
        if name in own:
            entry = own[name]
            if known(entry) and known(entry.state):
                found.setdefault(f"{entry.state}_degree", name)
        elif name in library.names():
            found.setdefault(library.load(name).state, name)
    return found


def _check_kinetics(case: DipCase, at: At) -> None:
    """What gels it must be known; a limit needs what it limits."""
    states = states_of(case.paste.kinetics, case.kinetics)
    if GEL not in states:
        (at / "paste" / "kinetics").mistake(
            "none of the sets grows gel_degree: nothing would stay on the former",
            'with "pvc_paste_gelation" or your own',
        )
    if not known(case.limits):
        return
    for word, state in ((FUSION, FUSION), (DOSE, DOSE)):
        if getattr(case.limits, word, None) is not None and state not in states:
            (at / "limits" / word).mistake(
                "the case does not follow what this limits", f"a set for {state} in paste.kinetics"
            )
    if case.limits.bath is not None and known(case.paste.bath) and case.paste.bath is None:
        (at / "limits" / "bath").mistake("the case does not follow what this limits", "with [paste.bath]")
    strips = known(case.stations) and known(*case.stations) and case.stations[-1].kind == "strip"
    if not strips and known(case.stations) and known(*case.stations):
        for word in ("strip_least", "strip_most"):
            if getattr(case.limits, word) is not None:
                (at / "limits" / word).mistake("nothing is stripped", 'a last station with kind = "strip"')


def _check_racks(case: DipCase, at: At) -> None:
    """Other formers on a rack have a wall of their own, and masses an area."""
    for name, oven in case.ovens.items():
        if not known(oven) or not known(oven.rack):
            continue
        for i, entry in enumerate(oven.rack):
            if not known(entry) or not known(entry.layers, entry.shape, entry.inner_radius):
                continue
            shape = entry.shape or case.former.shape
            if entry.inner_radius is not None and shape == "plane":
                (at / name / "rack" / i / "inner_radius").mistake("a plane has no radius", "with another shape")
            if (
                entry.area is None
                and case.former.area is None
                and any(known(layer) and layer.mass is not None for layer in entry.layers)
            ):
                (at / name / "rack" / i / "area").mistake("missing: a layer is given by its mass", "the former's area")
