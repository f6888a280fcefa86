"""Lines of all sorts: webs over rolls and nips, coated cloth under lamps, pipes through dies and baths, covered wire."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from .generated_body import kinetics, materials
from .writing import Amount, amount, amounts, temperatures

HOT = (60.0, 220.0)  # degC, of rolls, ovens and melts
ROOM = (5.0, 45.0)
FLAT, ROUND = ("web", "cloth"), ("pipe", "wire")
LIBRARY = ("pvc_plasticised", "hdpe", "pp", "pvc_wire_covering")


def _maybe(draw: Any, chance: int) -> bool:
    return bool(draw(st.integers(0, chance - 1)) == chance - 1)


@st.composite
def lines(
    draw: Any, *, products: tuple[str, ...] = (*FLAT, *ROUND), sources: bool = True, melts: bool = True, draws: bool = True,
    reacts: bool = True, coats: bool = True, given: bool = False, heats: bool = True, own: bool = False,
) -> dict[str, Any]:  # fmt: skip
    """A line case.

    sources : lamps and friction; melts : stuff may melt; draws : it may be drawn; reacts : something may gel; coats : layers
    may come on; given : air has its coefficient (else it may go by length and speed); heats : stations may be hot; own : stuff
    of the case's own only.
    """
    product = draw(st.sampled_from(products))
    flat = product in FLAT
    stuff = ["stuff", *(() if own else LIBRARY if melts else LIBRARY[:1])]
    hot = HOT if heats else ROOM
    tree: dict[str, Any] = {"title": "generated", "process": "line", "materials": {"stuff": draw(materials(melts))}}
    kinetic = reacts and draw(st.booleans())
    if kinetic:
        tree["kinetics"] = {"resin": draw(kinetics("gel"))}
        if not sources:
            tree["kinetics"]["resin"]["heat"] = amount(0, "heat_per_mass")
    line: dict[str, Any] = {
        "product": product, "speed": f"{draw(st.integers(1, 60))} m/min",
        "start": draw(temperatures(*(ROOM if flat or product == "wire" else (120.0, 220.0)))),
        "air": {"temperature": draw(temperatures(*ROOM)), "emissivity": amount(draw(st.integers(0, 100)) / 100, "fraction")},
    }  # fmt: skip
    if given or draw(st.booleans()):
        line["air"]["coefficient"] = draw(amounts("heat_transfer_coefficient", 2.0, 40.0))
    thick = (0.05, 2.0) if flat else (0.3, 12.0)
    layers = [_layer(draw, stuff, thick, i, kinetic) for i in range(draw(st.integers(1, 2)))]
    for layer in layers[:-1]:
        if draw(st.booleans()):
            layer["contact"] = draw(amounts("heat_transfer_coefficient", 100.0, 10000.0))
    if product == "pipe":
        wall = sum((layer["thickness"].number for layer in layers), Decimal(0))
        line["diameter"] = Amount(2 * wall * draw(st.integers(12, 80)) / 10, "length")
        line["bore"] = {
            "state": draw(st.sampled_from(["still", "blown", "water"])),
            "temperature": draw(temperatures(*ROOM)),
        }
    covered = product != "wire"
    if product == "wire":
        line["conductor"] = {"diameter": draw(amounts("length", 0.4, 8.0))}
        covered = not coats or draw(st.booleans())
        layers = [_layer(draw, stuff, (0.2, 3.0), 0, kinetic)] if covered else []
        if covered:
            line["start"] = draw(temperatures(120.0, 200.0))
    if layers:
        line["layers"] = layers
    if flat and draw(st.booleans()):
        line["width"] = draw(amounts("length", 200.0, 2500.0))
    stations: list[dict[str, Any]] = []
    if not covered and draw(st.booleans()):
        stations.append({"kind": "preheat", "temperature": draw(temperatures(60.0, 130.0))})
    for n in range(draw(st.integers(1, 5))):
        coat = not covered if n == 0 else coats and _maybe(draw, 5)
        if coat:
            skin = _layer(draw, stuff, (0.05, 3.0), 10 + n, kinetic)
            skin["start"] = draw(temperatures(*ROOM) if flat else temperatures(120.0, 220.0))
            stations.append({"kind": "coat", "layers": [skin]})
        stations.append(_station(draw, product, sources, draws, given, hot))
    if draw(st.booleans()):
        stations.append({"kind": draw(st.sampled_from(["haul_off", "wind_up"]))})
    for i, station in enumerate(stations):
        station["name"] = f"place {i}"
    accuracy = {"temperature": draw(st.sampled_from(["0.5 K", "2 K"]))}
    return tree | {"line": line, "stations": stations, "accuracy": accuracy}


def _layer(draw: Any, stuff: list[str], thick: tuple[float, float], number: int, kinetic: bool) -> dict[str, Any]:
    made: dict[str, Any] = {
        "name": f"layer {number}", "material": draw(st.sampled_from(stuff)), "thickness": draw(amounts("length", *thick))
    }  # fmt: skip
    if kinetic and draw(st.booleans()):
        made["kinetics"] = "resin"
    return made


def _station(
    draw: Any, product: str, sources: bool, draws: bool, given: bool, hot: tuple[float, float]
) -> dict[str, Any]:
    flat = ["roll", "drum", "chill_roll", "nip", *(["lamps"] if sources else [])]
    both = ["span", "air_knife", "oven"]
    kinds = {"web": flat + both, "cloth": flat + both, "pipe": ["die", "bath", "bath", *both], "wire": ["bath", *both]}
    kind = draw(st.sampled_from(kinds[product]))
    made: dict[str, Any] = {"kind": kind}
    h = amounts("heat_transfer_coefficient", 5.0, 150.0)
    if kind in ("roll", "drum", "chill_roll"):
        made |= {
            "diameter": draw(amounts("length", 80.0, 1500.0)), "wrap": f"{draw(st.integers(10, 340))} deg",
            "temperature": draw(temperatures(*(ROOM if kind == "chill_roll" else hot))),
            "side": draw(st.sampled_from(["face", "back"])),
        }  # fmt: skip
        if draw(st.booleans()):
            made["contact"] = draw(amounts("heat_transfer_coefficient", 50.0, 3000.0))
    elif kind == "nip":
        made |= {"face": draw(temperatures(*hot)), "back": draw(temperatures(*hot))}
        if sources and draw(st.booleans()):
            made["friction"] = amount(draw(st.integers(0, 20)), "temperature_difference")
    elif kind == "lamps":
        zone = {"length": draw(amounts("length", 100.0, 3000.0)), "power": draw(amounts("heat_flux", 0.5, 15.0))}
        made |= {"zones": [zone], "passes": amount(draw(st.integers(0, 50)) / 100, "fraction")}
        made["absorbed"] = amount(draw(st.integers(20, 100)) / 100, "fraction")
    else:
        made["length"] = draw(amounts("length", 30.0, 6000.0))
        if kind == "oven":
            made |= {"temperature": draw(temperatures(*hot)), "coefficient": draw(h)}
        elif kind == "air_knife":
            made |= {"temperature": draw(temperatures(*ROOM)), "coefficient": draw(h)}
            made["side"] = draw(st.sampled_from(["face", "back", "both"]))
        elif kind in ("die", "bath"):
            made["temperature"] = draw(temperatures(*ROOM))
            if kind == "bath":
                words = ["still", "stirred", "spray", *(["trough"] if not given else [])]
                made["state"] = draw(st.sampled_from(words))
    if draws and kind not in ("air_knife", "bath", "lamps") and _maybe(draw, 4):
        made["draw"] = draw(st.integers(70, 250)) / 100
    return made


def station_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any] | None:
    """A station by its length (an oven, a bath, a span) cut in two; None where the line has none."""
    stations = list(tree["stations"])
    able = [i for i, s in enumerate(stations) if "length" in s]
    if not able:
        return None
    at = able[which % len(able)]
    number = stations[at]["length"].number
    parts = [
        stations[at] | {"length": Amount(number * share / 10, "length"), "name": f"part {share}.{i}"}
        for i, share in enumerate((tenths, 10 - tenths))
    ]
    parts[1].pop("draw", None)
    return tree | {"stations": [*stations[:at], *parts, *stations[at + 1 :]]}


def mirrored(tree: dict[str, Any]) -> dict[str, Any]:
    """A flat line seen from its other face."""
    other = {"face": "back", "back": "face"}
    layers = tree["line"]["layers"]
    turned = []
    for i in reversed(range(len(layers))):
        layer = {k: v for k, v in layers[i].items() if k != "contact"}
        if i > 0 and "contact" in layers[i - 1]:
            layer["contact"] = layers[i - 1]["contact"]
        turned.append(layer)
    stations = []
    for station in tree["stations"]:
        kind, own = station["kind"], dict(station)
        if kind == "nip":
            own["face"], own["back"] = station["back"], station["face"]
        elif kind in ("roll", "drum", "chill_roll", "lamps", "coat", "air_knife"):
            usual = {"lamps": "face", "coat": "face", "air_knife": "both"}.get(kind, "back")
            side = station.get("side", usual)
            own["side"] = other.get(side, side)
        stations.append(own)
    return tree | {"line": tree["line"] | {"layers": turned}, "stations": stations}
