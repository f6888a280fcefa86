"""Contradictions of a charge case that only show on the whole of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.charge_stations import SIDES
from thermokit.case.declare import known
from thermokit.case.mistakes import shown
from thermokit.conduction.problem import Series
from thermokit.units import format_

if TYPE_CHECKING:
    from thermokit.case.charge import ChargeCase
    from thermokit.case.charge_parts import ChargeLayer
    from thermokit.case.mistakes import At

HALVES = {"upper": "upper_half", "lower": "lower_half"}  # what the result calls the halves of the mould
PRESSED = ("close", "breathe", "cure")
AFTER = ("open", "cool", "post_bake")
#: outcomes that end as those of a probe do
TAKEN = ("hottest", "core", "core_at_opening", "coldest_at_opening")


def check_charge(case: ChargeCase, at: At) -> None:
    """Everything below, each where the sections it needs were read."""
    if known(case.stations) and known(*case.stations):
        check_order(case, at / "stations")
        if known(case.mould) and known(case.mould.upper, case.mould.lower):
            _check_tables(case, at / "stations")
    if known(case.charge):
        _check_layers(case, at / "charge")
        _check_reactions(case, at / "charge")
        _check_loose(case, at)
        if known(case.limits, case.charge.dose) and case.limits.over_cure is not None and case.charge.dose is None:
            (at / "limits" / "over_cure").mistake(
                "no dose is followed", "with [charge.dose]", "add energy, reference and time in [charge.dose]"
            )
    _check_hottest(case, at)
    if known(case.output) and known(case.output.probes):
        for i, probe in enumerate(case.output.probes):
            if known(probe) and probe.name in TAKEN:
                (at / "output" / "probes" / i / "name").mistake(
                    f"{probe.name}_temperature is an outcome of every charge", "another name"
                )


def check_order(case: ChargeCase, at: At) -> None:
    """Load, press, open, cool and bake come in this order, and the press is shut when it opens."""
    kinds = [station.kind for station in case.stations]
    if "cure" not in kinds:
        at.mistake("no station cures", 'one station at least with kind = "cure"')
        return
    shut = opened = False
    for i, kind in enumerate(kinds):
        place = at / i / "kind"
        before = f"stations.{i - 1} ({kinds[i - 1]})" if i else ""
        if kind in AFTER:
            if not shut:
                place.mistake("the press opens before it has closed", "after a cure station")
                return
            if not opened and kinds[i - 1] != "cure":
                place.mistake(
                    f"the part leaves the press after {before}, which does not cure", "after a cure station",
                    "the press is shut again before it is opened",
                )  # fmt: skip
                return
            if kind == "open" and opened and kinds[i - 1] != "open":
                place.mistake(f"the press opens after {before}: the part has left it", "right after the last cure")
            opened = True
        elif opened:
            place.mistake("comes after the press has been opened", "before the first open, cool or post_bake station")
            return
        elif kind == "load" and shut:
            place.mistake("the charge is loaded after the press has closed", "before the first close or cure station")
        elif kind == "breathe" and not shut:
            place.mistake("the press breathes before it has closed", "after a close or cure station")
            return
        shut = shut or kind in PRESSED
    if not opened and kinds[-1] != "cure":
        (at / (len(kinds) - 1) / "kind").mistake("the case ends before the press is shut again", "a cure station last")


def _check_tables(case: ChargeCase, at: At) -> None:
    """A contact with a body is one number a station."""
    for i, station in enumerate(case.stations):
        if station.kind in ("cool", "post_bake"):
            continue
        for side in station.touches:
            entry = getattr(station, side)
            if known(entry) and isinstance(entry.contact, Series) and getattr(case.mould, side).has_body:
                (at / i / side / "contact").mistake(
                    f"a table, and the {side} half has a body", "one conductance for the station",
                    "split the station in two where the contact changes",
                )  # fmt: skip


def _check_layers(case: ChargeCase, at: At) -> None:
    """Layers are not named as the halves are; nothing touches below the last one."""
    layers = case.charge.layers
    if not known(layers) or not layers:
        return
    for i, layer in enumerate(layers):
        if known(layer) and known(layer.name) and layer.name in HALVES.values():
            (at / "layers" / i / "name").mistake(f"{shown(layer.name)} is what the result calls a half", "another name")
    last = layers[-1]
    if known(last) and known(last.contact) and last.contact is not None:
        (at / "layers" / (len(layers) - 1) / "contact").mistake(
            "the last layer has no next one to touch", "on every layer but the last",
            "what touches the mould belongs in a station's lower.contact",
        )  # fmt: skip


def kinetics_of(case: ChargeCase, layer: Any) -> tuple[str, ...]:
    """Names of the kinetics of a layer (or of a charge of one material): given, or the material's own."""
    if layer.kinetics is not None:
        names: tuple[str, ...] = layer.kinetics
        return names
    if layer.material is None or layer.material in case.materials:
        return ()
    from thermokit.materials import library

    if layer.material not in library.names():
        return ()
    return library.load(layer.material).kinetics


def _check_reactions(case: ChargeCase, at: At) -> None:
    """Something cures, once in each layer."""
    charge = case.charge
    entries: list[ChargeLayer | Any] = list(charge.layers) if known(charge.layers) else []
    entries = entries or [charge]
    if not known(case.materials, case.kinetics, *entries) or any(not known(e.material, e.kinetics) for e in entries):
        return
    cures = False
    for i, entry in enumerate(entries):
        place = at / "layers" / i / "kinetics" if charge.layers else at / "kinetics"
        names = kinetics_of(case, entry)
        if not known(*names):
            return
        states = [_state(case, name) for name in names]
        if "" in states:
            return
        if states.count("cure") > 1:
            place.mistake("two sets of kinetics grow the degree of cure in one layer", "one of them")
        cures = cures or "cure" in states
    if not cures:
        own = (charge.material or "") in case.materials
        (at / "kinetics").mistake(
            "nothing in the charge cures", "kinetics whose state is cure",
            "a material of your own has no kinetics of its own" if own else "`thermokit materials --kinetics` lists sets",
        )  # fmt: skip


def _state(case: ChargeCase, name: str) -> str:
    """State that a set grows (cure, gel, ...); empty where the set is not known."""
    if name in case.kinetics:
        own = case.kinetics[name]
        return str(own.state) if known(own) and known(own.state) else ""
    from thermokit.kinetics import library

    return library.load(name).state.removesuffix("_degree") if name in library.names() else ""


def _check_loose(case: ChargeCase, at: At) -> None:
    """What lies loose lies in a load station, and no denser than when it is pressed."""
    loose = case.charge.loose
    if not known(loose) or loose is None:
        return
    if known(case.stations) and known(*case.stations) and not any(s.kind == "load" for s in case.stations):
        (at / "charge" / "loose").mistake("no load station in which it would lie so", 'with a station of kind = "load"')
    thickness = case.charge.thickness
    if not known(loose.thickness, loose.cover, thickness) or thickness is None:
        return
    if np.any(np.asarray(loose.thickness) * loose.cover < np.asarray(thickness) * (1.0 - 1e-9)):
        least = format_(float(np.max(np.asarray(thickness) / loose.cover)), "length", digits=4)
        (at / "charge" / "loose" / "thickness").mistake(
            "the charge would lie there denser than when it is pressed", f"from {least}",
            "thickness times cover is at least the pressed thickness",
        )  # fmt: skip


def _check_hottest(case: ChargeCase, at: At) -> None:
    """A mould hotter than the limit breaks it by itself."""
    if not known(case.limits, case.mould) or not known(case.limits.hottest) or case.limits.hottest is None:
        return
    for side in SIDES:
        half = getattr(case.mould, side)
        if not known(half) or not known(half.temperature) or not isinstance(half.temperature, (int, float)):
            continue
        if half.temperature > np.min(case.limits.hottest):
            (at / "limits" / "hottest").mistake(
                f"lies below the temperature of the {side} half of the mould", "above every face of the mould"
            )
            return
