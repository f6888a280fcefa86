"""Contradictions of a line case that only show on the whole of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from thermokit.case.declare import known
from thermokit.case.line_body import ROUND, check_layer, check_opening
from thermokit.case.line_limits import PLAIN
from thermokit.case.line_stations import PLACES, CoatStation
from thermokit.case.mistakes import nearest, shown

if TYPE_CHECKING:
    from thermokit.case.line import LineCase
    from thermokit.case.mistakes import At

#: kinds of station that only some products pass
OF_PRODUCTS = {
    "roll": ("web", "cloth"), "drum": ("web", "cloth"), "chill_roll": ("web", "cloth"), "nip": ("web", "cloth"),
    "lamps": ("web", "cloth"), "die": ("pipe",),
}  # fmt: skip
HAPPENS = {"water_lost": "bath", "lamps_out": "lamps"}


def check_line(case: LineCase, at: At) -> None:
    """Everything below, each where the sections it needs were read; UNKNOWN stands where one was not."""
    if not known(case.stations) or not known(*case.stations) or not known(case.line):
        return
    if known(case.line.product):
        _check_stations(case, at)
    _check_order(case, at)
    _check_layers(case, at)
    _check_limits(case, at)
    if known(case.events) and known(*case.events):
        _check_events(case, at)


def _check_stations(case: LineCase, at: At) -> None:
    product = case.line.product
    for i, station in enumerate(case.stations):
        products = OF_PRODUCTS.get(station.kind, (product,))
        if product not in products:
            (at / "stations" / str(i) / "kind").mistake(
                f"a {product} passes no {station.kind}", f"{station.kind} with {' or '.join(products)}"
            )
        if isinstance(station, CoatStation):
            check_opening(station.opening, product not in ROUND, at / "stations" / str(i) / "opening")
            if product in ROUND and station.side == "back":
                (at / "stations" / str(i) / "side").mistake(f"nothing can be put inside a {product}", '"face"')
            if known(station.layers) and known(*station.layers):
                for j, layer in enumerate(station.layers):
                    check_layer(layer, product, at / "stations" / str(i) / "layers" / str(j))
                    if layer.start is None:
                        (at / "stations" / str(i) / "layers" / str(j) / "start").mistake(
                            "missing: with what temperature it comes on", 'such as "25 degC" for paste'
                        )


def _check_order(case: LineCase, at: At) -> None:
    """Preheat before coats, wind-up last, at least one station with a length, a wire with its covering."""
    kinds = [station.kind for station in case.stations]
    if all(kind in PLACES for kind in kinds):
        (at / "stations").mistake("no station has a length", "a roll, span, oven, lamps, die or bath")
        return
    for i, kind in enumerate(kinds):
        if kind == "wind_up" and i < len(kinds) - 1:
            (at / "stations" / str(i) / "kind").mistake("wind-up stands before other stations", "wind_up as the last")
        if kind == "preheat" and ("coat" in kinds[:i] or (known(case.line.layers) and case.line.product == "wire"
                                                           and case.line.layers)):  # fmt: skip
            (at / "stations" / str(i) / "kind").mistake("something is on it already", "preheat before the first coat")
    if kinds[-1] == "coat":
        (at / "stations" / str(len(kinds) - 1) / "kind").mistake("nothing comes after it", "a station with a length")
    wire = case.line.product == "wire"
    if wire and known(case.line.layers) and not case.line.layers and "coat" not in kinds:
        (at / "stations").mistake(
            "the wire is never covered", 'a station of kind = "coat" (the crosshead), or [[line.layers]]'
        )


def layer_names(case: LineCase) -> list[str]:
    """Names of all layers, those of the line first, then those of its coats."""
    names = [layer.name for layer in case.line.layers]
    return names + [layer.name for s in case.stations if isinstance(s, CoatStation) for layer in s.layers]


def _check_layers(case: LineCase, at: At) -> None:
    """Layers are followed by their names: each stands once."""
    if not known(case.line.layers) or not known(*case.line.layers):
        return
    coats = [s for s in case.stations if isinstance(s, CoatStation)]
    if any(not known(s.layers) or not known(*s.layers) for s in coats):
        return
    coated = [layer for station in coats for layer in station.layers]
    if not known(*(layer.name for layer in (*case.line.layers, *coated))):
        return
    seen: set[str] = set()
    for i, layer in enumerate(case.line.layers):
        if layer.name in seen:
            (at / "line" / "layers" / str(i) / "name").mistake(f"{shown(layer.name)} stands twice", "each name once")
        seen.add(layer.name)
    for i, station in enumerate(case.stations):
        if isinstance(station, CoatStation):
            for j, layer in enumerate(station.layers):
                if layer.name in seen:
                    (at / "stations" / str(i) / "layers" / str(j) / "name").mistake(
                        f"{shown(layer.name)} stands twice", "each name once", "name the layers of coats"
                    )
                seen.add(layer.name)
    held = case.limits.held if known(case.limits) else None
    if known(held) and held is not None and known(held.layer) and held.layer is not None and held.layer not in seen:
        (at / "limits" / "held" / "layer").mistake(
            f"{shown(held.layer)} is no layer of the case", " or ".join(sorted(seen)), nearest(held.layer, list(seen))
        )


def _check_limits(case: LineCase, at: At) -> None:
    """A limit needs what it looks at; a wire's covering must be on."""
    if not known(case.limits):
        return
    covered = case.line.product != "wire" or bool(known(case.line.layers) and case.line.layers)
    for i, station in enumerate(case.stations):
        covered = covered or station.kind == "coat"
        if known(station.limits) and station.limits is not PLAIN and not covered and station.limits != PLAIN:
            (at / "stations" / str(i) / "limits").mistake("there is no covering yet", "limits behind the crosshead")
        if station.kind == "coat" and known(station.limits) and station.limits != PLAIN:
            (at / "stations" / str(i) / "limits").mistake(
                "a coat has just come on", "limits of a station with a length behind it"
            )
    from thermokit.case.dip_checks import states_of

    sets = [name for names in _kinetics(case) for name in names]
    states = states_of(sets, case.kinetics if known(case.kinetics) else {})
    recipes = known(case.materials) and any(getattr(own, "recipe", None) is not None for own in case.materials.values())
    for word in ("gel_degree", "fusion_degree", "heat_dose"):
        if getattr(case.limits, word) is not None and word not in states and not recipes:
            (at / "limits" / word).mistake(
                "the case does not follow what this limits", f"a set for {word} in a layer's kinetics"
            )


def _kinetics(case: LineCase) -> list[Any]:
    coats = [layer for s in case.stations if isinstance(s, CoatStation) and known(s.layers) for layer in s.layers]
    layers = [*(case.line.layers if known(case.line.layers) else ()), *coats]
    return [layer.kinetics for layer in layers if known(layer) and known(layer.kinetics)]


def _check_events(case: LineCase, at: At) -> None:
    """An event happens to something that is there."""
    if not known(*(station.name for station in case.stations)):
        return
    names = {station.name: station.kind for station in case.stations}
    for i, event in enumerate(case.events):
        if not known(event.kind, event.station):
            continue
        kind = HAPPENS.get(event.kind)
        place = at / "events" / str(i)
        if kind is not None and kind not in names.values():
            (place / "kind").mistake(f"the line has no {kind}", f'{event.kind} with a station of kind = "{kind}"')
        elif event.station is not None and names.get(event.station) != kind:
            fitting = [name for name, own in names.items() if own == kind]
            (place / "station").mistake(
                f"{shown(event.station)} is no {kind} of the case",
                " or ".join(fitting),
                nearest(event.station, fitting),
            )
