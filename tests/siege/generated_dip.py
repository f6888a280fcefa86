"""Dip cases of all sorts: any former, bare or clothed, one dip or more, ovens as set, draining, quench, stripping, racks."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from .generated_body import varying
from .writing import Amount, amount, amounts, temperatures

FORMERS = ("steel_mild", "steel_stainless", "aluminium_wrought", "porcelain_former", "copper")
HOT = (90.0, 220.0)  # degC, of ovens
ROOM = (5.0, 45.0)


def _maybe(draw: Any, chance: int) -> bool:
    return bool(draw(st.integers(0, chance - 1)) == chance - 1)


@st.composite
def dips(
    draw: Any, *, tables: bool = True, places: bool = True, fabric: bool = True, dipped: int = 2, ovens: bool = False,
    given: bool = True, strip: bool = True,
) -> dict[str, Any]:  # fmt: skip
    """A dip case.

    places : immersion, withdrawal and uneven air may make several places; fabric : the former may be clothed; dipped : most
    dips; ovens : the oven behind the last dip is one of the case's, under its load; given : air has its coefficient (else it
    may go by speed, which depends on what stood before); strip : it may be stripped.
    """
    former = _former(draw, fabric)
    order: list[str] = []
    for _ in range(draw(st.integers(1, dipped))):
        order += ["oven"] * draw(st.booleans()) + ["air"] * draw(st.booleans()) + ["dip"]
        order += [draw(st.sampled_from(["drain", "air"]))] if draw(st.booleans()) else []
    order += ["oven"] if ovens or draw(st.booleans()) else []
    order += ["quench"] * draw(st.booleans()) + ["air"] * draw(st.booleans())
    order += ["strip"] if strip and order[-1] != "dip" and draw(st.booleans()) else []
    order += ["air"] if order[-1] == "dip" else []
    durations = [_duration(draw, kind) for kind in order]
    last = float(max(d.number for d in durations))
    stations = []
    for kind, duration in zip(order, durations, strict=True):
        own = _station(draw, kind, last, tables, places, given)
        stations.append({"kind": kind, "duration": duration} | own)
    tree: dict[str, Any] = {
        "title": "generated", "process": "dip", "former": former, "paste": _paste(draw), "stations": stations,
        "accuracy": {"temperature": draw(st.sampled_from(["0.5 K", "2 K"]))},
    }  # fmt: skip
    if ovens:
        at = max(i for i, kind in enumerate(order) if kind == "oven")
        stations[at] = {k: v for k, v in stations[at].items() if k not in ("temperature", "walls")} | {"oven": "box"}
        tree["ovens"] = {"box": _oven(draw, former)}
    return tree


def _former(draw: Any, fabric: bool) -> dict[str, Any]:
    shape = draw(st.sampled_from(["plane", "cylinder", "sphere", "capped"]))
    former: dict[str, Any] = {
        "shape": shape, "start": draw(temperatures(0.0, 80.0)), "length": draw(amounts("length", 20.0, 400.0)),
        "emissivity": amount(draw(st.integers(0, 100)) / 100, "fraction"), "area": draw(amounts("area", 20.0, 900.0)),
    }  # fmt: skip
    if shape != "plane" and draw(st.booleans()):
        former["inner_radius"] = draw(amounts("length", 1.0, 60.0))
    if (shape == "plane" or "inner_radius" in former) and draw(st.booleans()):
        former["open_inside"] = True
    former["layers"] = []
    for _ in range(draw(st.integers(1, 2))):
        layer: dict[str, Any] = {"material": draw(st.sampled_from(FORMERS))}
        if _maybe(draw, 4):
            layer["mass"] = draw(amounts("mass", 20.0, 800.0))
        else:
            layer["thickness"] = draw(amounts("length", 0.3, 15.0))
        former["layers"].append(layer)
    for layer in former["layers"][:-1]:
        if draw(st.booleans()):
            layer["contact"] = draw(amounts("heat_transfer_coefficient", 100.0, 20000.0))
    if fabric and _maybe(draw, 4):
        former["fabric"] = {
            "thickness": draw(amounts("length", 0.2, 2.0)),
            "takes_up": amount(draw(st.integers(0, 100)) / 100, "fraction"),
            "porosity": amount(draw(st.integers(20, 90)) / 100, "fraction"),
        }
    return former


def _paste(draw: Any) -> dict[str, Any]:
    paste: dict[str, Any] = {
        "temperature": draw(temperatures(15.0, 35.0)), "stays": amount(draw(st.integers(20, 60)) / 100, "fraction"),
        "viscosity": f"{draw(st.integers(1, 100)) / 10} Pa s", "yield_stress": f"{draw(st.integers(0, 100)) / 10} Pa",
        "index": draw(st.integers(5, 12)) / 10,
    }  # fmt: skip
    if draw(st.booleans()):
        paste["emissivity"] = amount(draw(st.integers(0, 100)) / 100, "fraction")
    if _maybe(draw, 3):
        paste["bath"] = {
            "mass": draw(amounts("mass", 20_000.0, 500_000.0)), "dips": f"{draw(st.integers(0, 200))} 1/h",
            "losses": f"{draw(st.integers(0, 40))} W/K",
        }  # fmt: skip
    return paste


def _duration(draw: Any, kind: str) -> Amount:
    low, high = {"oven": (20.0, 1500.0), "dip": (2.0, 150.0), "quench": (5.0, 300.0)}.get(kind, (1.0, 100.0))
    return draw(amounts("time", low, high))  # type: ignore[no-any-return]


def _station(draw: Any, kind: str, last: float, tables: bool, places: bool, given: bool) -> dict[str, Any]:
    h = amounts("heat_transfer_coefficient", 2.0, 80.0)
    if kind == "oven":
        made = {"temperature": draw(varying(temperatures(*HOT), last, tables))}
        made |= {"coefficient": draw(varying(h, last, tables))} if given or draw(st.booleans()) else {"speed": "3 m/s"}
        if _maybe(draw, 4):
            made["walls"] = draw(varying(temperatures(*HOT), last, tables))
        if draw(st.booleans()):
            made["view"] = amount(draw(st.integers(0, 100)) / 100, "fraction")
        if places and _maybe(draw, 3):
            made["uneven"] = amount(draw(st.integers(1, 50)) / 100, "fraction")
        return made
    if kind == "dip":
        made = {}
        for word in ("withdrawal", "immersion") if places else ():
            if draw(st.booleans()):
                made[word] = f"{draw(st.integers(1, 400)) / 10} mm/s"
        return made
    if kind == "quench":
        water = amounts("heat_transfer_coefficient", 200.0, 4000.0)
        return {
            "temperature": draw(varying(temperatures(*ROOM), last, tables)),
            "coefficient": draw(varying(water, last, tables)),
        }
    air: dict[str, Any] = {"temperature": draw(varying(temperatures(*ROOM), last, tables))}
    if given or draw(st.booleans()):
        air["coefficient"] = draw(varying(h, last, tables))
    return {"air": air}


def _oven(draw: Any, former: dict[str, Any]) -> dict[str, Any]:
    """An oven with a rack; strong enough to hold its temperature."""
    other = draw(st.sampled_from(["plane", "cylinder", "sphere"]))
    entry: dict[str, Any] = {
        "count": draw(st.integers(1, 30)), "shape": other,
        "layers": [{"material": draw(st.sampled_from(FORMERS)), "thickness": draw(amounts("length", 0.5, 12.0))}],
    }  # fmt: skip
    if other != "plane":
        entry["inner_radius"] = draw(amounts("length", 2.0, 30.0))
    box: dict[str, Any] = {
        "temperature": draw(temperatures(150.0, 210.0)), "power": f"{draw(st.integers(80, 200)) / 10} kW",
        "losses": f"{draw(st.integers(2, 20))} W/K", "count": draw(st.integers(1, 30)), "rack": [entry],
    }  # fmt: skip
    if draw(st.booleans()):
        box["doors"] = [{"at": amount(draw(st.integers(0, 100)), "time"), "lasts": "15 s", "exchange": "0.1 m3/s"}]
    return box


def station_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any]:
    """A station that is no dip cut in two that follow each other."""
    stations = list(tree["stations"])
    able = [i for i, s in enumerate(stations) if s["kind"] not in ("dip", "strip")]
    at = able[which % len(able)]
    number = stations[at]["duration"].number
    parts = [stations[at] | {"duration": Amount(number * share / 10, "time")} for share in (tenths, 10 - tenths)]
    return tree | {"stations": [*stations[:at], *parts, *stations[at + 1 :]]}


def layer_cut(tree: dict[str, Any], tenths: int) -> dict[str, Any]:
    """The innermost layer of the former cut in two of the same stuff that touch perfectly."""
    layers = tree["former"]["layers"]
    whole = layers[0]
    word = "mass" if "mass" in whole else "thickness"
    parts = [
        whole | {word: Amount(whole[word].number * share / 10, whole[word].dimension)}
        for share in (tenths, 10 - tenths)
    ]
    parts[0].pop("contact", None)
    return tree | {"former": tree["former"] | {"layers": [*parts, *layers[1:]]}}
