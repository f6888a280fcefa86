"""Charge cases of all sorts: powders, layers and inserts, halves with and without a body, the whole round of the press."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from .generated_body import kinetics, materials, varying
from .writing import Amount, amount, amounts, temperatures

LIBRARY = ("pf_compound", "uf_compound", "mf_compound", "up_compound", "epoxy_compound")
INSERTS = ("steel_mild", "copper", "aluminium_plate")
HOT = (60.0, 220.0)  # degC, of moulds and platens
ROOM = (0.0, 60.0)


def _maybe(draw: Any, chance: int) -> bool:
    return draw(st.integers(0, chance - 1)) == chance - 1


@st.composite
def halves(draw: Any, last: float, tables: bool) -> dict[str, Any]:
    """A half of the mould."""
    if draw(st.booleans()):
        return {"temperature": draw(varying(temperatures(*HOT), last, tables))}
    return {
        "material": draw(st.sampled_from(["steel_p20", "aluminium_plate", "epoxy_tooling"])),
        "thickness": draw(amounts("length", 5.0, 80.0)), "start": draw(temperatures(*HOT)),
        "platen": {
            "temperature": draw(varying(temperatures(*HOT), last, tables)),
            "coefficient": draw(amounts("heat_transfer_coefficient", 200.0, 6000.0)),
        },
    }  # fmt: skip


def _touch(draw: Any, body: bool, last: float, tables: bool, *, own: bool = True) -> dict[str, Any]:
    made: dict[str, Any] = {}
    if draw(st.booleans()):
        contact = amounts("heat_transfer_coefficient", 50.0, 12000.0)
        made["contact"] = draw(varying(contact, last, tables and not body))
    if own and _maybe(draw, 4):
        made["temperature"] = draw(varying(temperatures(*HOT), last, tables))
    return made


def _air(draw: Any, low: float, high: float, last: float, tables: bool) -> dict[str, Any]:
    h = amounts("heat_transfer_coefficient", 1.0, 60.0)
    return {
        "temperature": draw(varying(temperatures(low, high), last, tables)), "coefficient": draw(varying(h, last, tables))
    }  # fmt: skip


@st.composite
def charges(
    draw: Any, *, tables: bool = True, heated: bool = True, loaded: bool = True, melts: bool = False, after: bool = True,
    kinds: tuple[str, ...] | None = None, own: bool = False,
) -> dict[str, Any]:  # fmt: skip
    """A charge case.

    heated : cure gives off heat; loaded : it may lie in the mould before the press closes; after : it may be opened, cooled and
    baked; own : of materials and kinetics of the case's own only.
    """
    powder = draw(materials(melts))
    resin = draw(kinetics("cure"))
    if not heated:
        resin = {k: v for k, v in resin.items() if k != "heat"}
    order = list(kinds) if kinds is not None else _order(draw, loaded, after)
    durations = [_duration(draw, kind) for kind in order]
    last = float(max(d.number for d in durations))
    mould = {side: draw(halves(last, tables)) for side in ("upper", "lower")}
    charge = _charge(draw, heated and not own, "load" in order)
    stations = []
    for kind, duration in zip(order, durations, strict=True):
        stations.append({"kind": kind, "duration": duration} | _station(draw, kind, mould, last, tables))
    return {
        "title": "generated", "process": "charge", "charge": charge, "mould": mould, "materials": {"powder": powder},
        "kinetics": {"resin": resin}, "stations": stations,
        "accuracy": {"temperature": draw(st.sampled_from(["0.5 K", "2 K", "0.2 K"]))},
    }  # fmt: skip


def _charge(draw: Any, library: bool, load: bool) -> dict[str, Any]:
    charge: dict[str, Any] = {"start": draw(temperatures(0.0, 120.0))}
    if draw(st.booleans()):
        charge["rate"] = draw(st.sampled_from([0.3, 0.7, 1.0, 1.3, 3.0]))
    if _maybe(draw, 3):
        charge["layers"] = []
        for i in range(draw(st.integers(1, 3))):
            layer: dict[str, Any] = {"thickness": draw(amounts("length", 0.2, 25.0))}
            if i and _maybe(draw, 3):
                layer |= {"material": draw(st.sampled_from(INSERTS)), "kinetics": []}
            else:
                layer |= {"material": "powder", "kinetics": "resin"}
            charge["layers"].append(layer)
        for layer in charge["layers"][:-1]:
            if _maybe(draw, 3):
                layer["contact"] = draw(amounts("heat_transfer_coefficient", 50.0, 10000.0))
    else:
        charge["thickness"] = draw(amounts("length", 0.3, 60.0))
        if library and draw(st.booleans()):
            charge["material"] = draw(st.sampled_from(LIBRARY))
        else:
            charge |= {"material": "powder", "kinetics": "resin"}
            if _maybe(draw, 3):
                charge["cured"] = {
                    "conductivity": draw(amounts("conductivity", 0.05, 2.0)),
                    "specific_heat": draw(amounts("specific_heat", 500.0, 3000.0)),
                }
        if load and draw(st.booleans()):
            cover = draw(st.integers(30, 100))
            thick = charge["thickness"].number * 100 / cover * draw(st.integers(100, 400)) / 100
            charge["loose"] = {
                "thickness": Amount(round(thick, 6) + Decimal("0.001"), "length"),
                "cover": amount(cover / 100, "fraction"),
            }  # fmt: skip
            if draw(st.booleans()):
                charge["loose"]["conductivity"] = draw(amounts("conductivity", 0.03, 0.5))
    if _maybe(draw, 3):
        charge["dose"] = {
            "energy": amount(draw(st.integers(50, 200)), "molar_energy"), "reference": draw(temperatures(150.0, 240.0)),
            "time": draw(amounts("time", 10.0, 5000.0)),
        }  # fmt: skip
    return charge


def _order(draw: Any, loaded: bool, after: bool) -> list[str]:
    order = ["load"] * (loaded and draw(st.booleans())) + ["close"] * draw(st.booleans())
    if draw(st.booleans()):
        order += (["close"] if "close" not in order else []) + ["breathe"]
    order += ["cure"] * draw(st.integers(1, 2))
    if after:
        order += ["open"] * draw(st.booleans())
        order += [draw(st.sampled_from(["cool", "post_bake"])) for _ in range(draw(st.integers(0, 2)))]
    return order


def _duration(draw: Any, kind: str) -> Amount:
    low, high = {"cure": (1.0, 3000.0), "post_bake": (60.0, 30000.0), "cool": (5.0, 5000.0)}.get(kind, (0.5, 60.0))
    return draw(amounts("time", low, high))


def _station(draw: Any, kind: str, mould: dict[str, Any], last: float, tables: bool) -> dict[str, Any]:
    body = {side: "material" in mould[side] for side in mould}
    made: dict[str, Any] = {}
    if kind in ("close", "cure"):
        return {side: _touch(draw, body[side], last, tables) for side in ("upper", "lower") if draw(st.booleans())}
    if kind == "load":
        return {"lower": _touch(draw, body["lower"], last, tables), "air": _air(draw, 20.0, 120.0, last, tables)}
    if kind in ("breathe", "open"):
        made["on"] = draw(st.sampled_from(["lower", "upper", "both" if kind == "breathe" else "neither"]))
        for side in ("upper", "lower"):
            if made["on"] in (side, "both"):
                made[side] = _touch(draw, body[side], last, tables)
        made["air"] = _air(draw, *(20.0, 120.0) if kind == "breathe" else ROOM, last, tables)
        return made
    if kind == "cool":
        for side in ("upper", "lower"):
            if _maybe(draw, 3):
                made[side] = {
                    "temperature": draw(varying(temperatures(*ROOM), last, tables)),
                    "contact": draw(amounts("heat_transfer_coefficient", 50.0, 3000.0)),
                }
        made["air"] = _air(draw, *ROOM, last, tables)
        return made
    return {"air": _air(draw, 80.0, 200.0, last, tables)}


def mirrored(tree: dict[str, Any]) -> dict[str, Any]:
    """The same charge upside down; only without a load station, in which it lies on the lower half."""
    other = {"upper": "lower", "lower": "upper"}
    charge = dict(tree["charge"])
    if "layers" in charge:
        layers = charge["layers"]
        turned = []
        for i in reversed(range(len(layers))):
            layer = {k: v for k, v in layers[i].items() if k != "contact"}
            if i > 0 and "contact" in layers[i - 1]:
                layer["contact"] = layers[i - 1]["contact"]
            turned.append(layer)
        charge["layers"] = turned
    stations = []
    for station in tree["stations"]:
        turned_round = {other.get(k, k): v for k, v in station.items()}
        if "on" in station:
            turned_round["on"] = other.get(station["on"], station["on"])
        stations.append(turned_round)
    mould = {other[side]: half for side, half in tree["mould"].items()}
    return tree | {"charge": charge, "mould": mould, "stations": stations}


def layer_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any]:
    """A layer cut in two of the same stuff; a charge of one material becomes one of two layers."""
    charge = dict(tree["charge"])
    if "layers" not in charge:
        own = {k: charge.pop(k) for k in ("material", "thickness", "kinetics", "cured") if k in charge}
        charge["layers"] = [own]
    layers = list(charge["layers"])
    layer = layers[which % len(layers)]
    number = layer["thickness"].number
    inner = {k: v for k, v in layer.items() if k != "contact"}
    parts = [
        part | {"thickness": Amount(number * share / 10, "length")}
        for part, share in ((inner, tenths), (layer, 10 - tenths))
    ]
    at = which % len(layers)
    charge["layers"] = [*layers[:at], *parts, *layers[at + 1 :]]
    return tree | {"charge": charge}


def station_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any]:
    """A station cut in two that follow each other."""
    stations = list(tree["stations"])
    station = stations[which]
    number = station["duration"].number
    parts = [station | {"duration": Amount(number * share / 10, "time")} for share in (tenths, 10 - tenths)]
    return tree | {"stations": [*stations[:which], *parts, *stations[which + 1 :]]}
