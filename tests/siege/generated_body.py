"""Body cases of all sorts: any shape, layers, contacts, tables, melting, reactions, faces; wide but allowed ranges.

Every strategy gives a tree for :func:`writing.case_text`, so that a property can mirror it, cut it or write it otherwise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from .writing import Amount, amount, amounts, temperatures

if TYPE_CHECKING:
    from hypothesis.strategies import SearchStrategy

COLD, HOT = -60.0, 320.0  # degC, of starts and of what faces meet
LIBRARY = (
    "abs",
    "pp",
    "hdpe",
    "pa6",
    "steel_mild",
    "aluminium_plate",
    "pmma_cast",
    "porcelain_former",
    "water",
    "copper",
)


def _maybe(draw: Any, chance: int) -> bool:
    """True once in so many; False where it shrinks."""
    return draw(st.integers(0, chance - 1)) == chance - 1


@st.composite
def varying(draw: Any, values: SearchStrategy[Amount], last: float, tables: bool) -> Any:
    """A value, or a table of it against time with bends and steps [s]."""
    if not tables or not _maybe(draw, 4):
        return draw(values)
    count = draw(st.integers(1, 5))
    times = sorted(draw(st.lists(st.integers(0, round(1200 * last)), min_size=count, max_size=count)))
    times = [t for i, t in enumerate(times) if i < 2 or t != times[i - 2]]  # twice is a step, three times too many
    return {
        "time": [amount(f"{t / 1000:.6g}", "time") for t in times],
        "value": [draw(values) for _ in times],
    }


@st.composite
def properties_of(draw: Any, dimension: str, low: float, high: float, *, bend: float = 3.0) -> Any:
    """A property, or a table of it against temperature that bends by no more than so many times."""
    first = draw(amounts(dimension, low, high))
    if not _maybe(draw, 3):
        return first
    count = draw(st.integers(1, 4))
    at = sorted(draw(st.lists(st.integers(-80, 400), min_size=count, max_size=count, unique=True)))
    middle = float(first.number)
    values = [draw(amounts(dimension, middle / bend, middle * bend)) for _ in at]
    return {"temperature": [amount(t, "temperature") for t in at], "value": values}


@st.composite
def materials(draw: Any, melts: bool = True) -> dict[str, Any]:
    """A material of the user's own."""
    made: dict[str, Any] = {
        "conductivity": draw(properties_of("conductivity", 0.02, 400.0)),
        "density": draw(amounts("density", 10.0, 12000.0)),
        "specific_heat": draw(properties_of("specific_heat", 300.0, 5000.0)),
    }
    if melts and _maybe(draw, 3):
        heat = draw(amounts("heat_per_mass", 1.0, 400.0))
        low, width = draw(st.integers(-50, 280)), draw(st.integers(1, 80))
        made["melting"] = _transition(draw, heat, low, width)
        if _maybe(draw, 3):
            made["crystallising"] = _transition(draw, heat, low - draw(st.integers(0, 40)), draw(st.integers(1, 80)))
    return made


def _transition(draw: Any, heat: Amount, low: int, width: int) -> dict[str, Any]:
    made = {"heat": heat, "from": amount(low, "temperature"), "to": amount(low + width, "temperature")}
    if draw(st.booleans()):
        made["peak"] = amount(f"{low + width * draw(st.integers(0, 10)) / 10:.6g}", "temperature")
    return made


@st.composite
def kinetics(draw: Any, state: str = "cure") -> dict[str, Any]:
    """Kinetics of the user's own, with a rate of 1e-6 to 1 1/s at 150 degC."""
    made: dict[str, Any] = {"state": state}
    order = draw(st.booleans())

    def rate() -> dict[str, Any]:
        energy = draw(st.integers(20, 160))
        power = draw(st.floats(-6.0, 0.0)) + energy * 1e3 / (8.314462618 * 423.15) / 2.302585093
        return {"factor": amount(f"{10.0**power:.3g}", "rate"), "energy": amount(energy, "molar_energy")}

    if order:
        made["form"] = "nth_order"
        made["rate_1"] = rate()
    else:
        made["rate_2"] = rate()
        if draw(st.booleans()):
            made["rate_1"] = rate()
        made["m"] = draw(st.integers(0, 20)) / 10
    made["n"] = draw(st.integers(5, 25)) / 10
    made["start"] = draw(st.sampled_from([1e-4, 0.0, 0.01, 0.3]))
    made["heat"] = draw(amounts("heat_per_mass", 1.0, 500.0))
    if _maybe(draw, 3):
        low = draw(st.integers(-60, 40))
        made["glass_transition"] = {
            "start": amount(low, "temperature"), "full": amount(low + draw(st.integers(30, 220)), "temperature"),
            "lambda": draw(st.integers(2, 10)) / 10,
        }  # fmt: skip
        made["vitrification"] = {}
    return made


@st.composite
def faces(
    draw: Any, last: float, *, sources: bool, tables: bool, low: float = COLD, high: float = HOT
) -> dict[str, Any]:
    """A face: nothing, a temperature, or exchange, contact, radiation and heating side by side."""
    kind = draw(st.sampled_from(["convection", "temperature", "insulated", "many"]))
    heat = temperatures(low, high)
    if kind == "insulated":
        return {}
    if kind == "temperature":
        return {"temperature": draw(varying(heat, last, tables))}
    h = amounts("heat_transfer_coefficient", 0.5, 3e4)
    made: dict[str, Any] = {
        "convection": {"coefficient": draw(varying(h, last, tables)), "air": draw(varying(heat, last, tables))}
    }
    if kind == "convection":
        return made
    if draw(st.booleans()):
        made["contact"] = {
            "coefficient": draw(varying(h, last, tables)), "temperature": draw(varying(heat, last, tables))
        }  # fmt: skip
    if draw(st.booleans()):
        made["radiation"] = [
            {
                "emissivity": amount(draw(st.integers(0, 100)) / 100, "fraction"),
                "surround": draw(varying(heat, last, tables)),
                "view": amount(draw(st.integers(0, 100)) / 100, "fraction"),
            }
            for _ in range(draw(st.integers(1, 2)))
        ]
    if sources and draw(st.booleans()):
        flux = st.integers(-200, 2000).map(lambda n: amount(n / 100, "heat_flux"))
        made["heating"] = draw(varying(flux, last, tables))
    return made


@st.composite
def bodies(
    draw: Any,
    *,
    sources: bool = True,
    tables: bool = True,
    melts: bool = True,
    most_stations: int = 3,
    most_layers: int = 4,
    shapes: tuple[str, ...] = ("plane", "cylinder", "sphere"),
    cells: bool | None = None,
    uniform: bool = False,
    above: bool = False,
) -> dict[str, Any]:
    """A body case.

    sources : with heat inside, heating of faces and reactions; tables : values that change in time; cells : every layer has
    its cells (True), none has (False), or as it comes; uniform : one start for all; above : the start is no colder than all
    that the body meets.
    """
    shape = draw(st.sampled_from(shapes))
    own = {f"stuff_{i}": draw(materials(melts)) for i in range(draw(st.integers(1, 2)))}
    names = [*own, *LIBRARY] if melts else [*own, "steel_mild", "copper", "porcelain_former"]
    reacts = sources and draw(st.booleans())
    low, high = COLD, HOT
    durations = [draw(amounts("time", 0.2, 5000.0)) for _ in range(draw(st.integers(1, most_stations)))]
    last = float(max(d.number for d in durations))
    layers = []
    for i in range(draw(st.integers(1, most_layers))):
        layer: dict[str, Any] = {
            "material": draw(st.sampled_from(names)), "thickness": draw(amounts("length", 0.02, 150.0))
        }  # fmt: skip
        if cells is True or (cells is None and _maybe(draw, 4)):
            layer["cells"] = draw(st.integers(1, 16))
        if not uniform and _maybe(draw, 4):
            layer["start"] = draw(temperatures(low, high))
        if sources and _maybe(draw, 4):
            power = st.integers(-20, 500).map(lambda n: amount(n, "volumetric_heat"))
            layer["heat"] = draw(varying(power, last, tables))
        if reacts and i == 0:
            layer["kinetics"] = "resin"
        layers.append(layer)
    for layer in layers[:-1]:
        if _maybe(draw, 3):
            layer["contact"] = draw(amounts("heat_transfer_coefficient", 1.0, 1e5))
    start = temperatures(high - 40.0, high) if above else temperatures(low, high)
    body: dict[str, Any] = {"shape": shape, "start": draw(start)}
    solid = False
    if shape != "plane":
        solid = not draw(st.booleans())
        if not solid:
            body["inner_radius"] = draw(amounts("length", 0.1, 200.0))
    most = float(body["start"].number) if above else high
    stations = []
    for duration in durations:
        station: dict[str, Any] = {"duration": duration}
        for side in ("outer", "inner"):
            if side == "inner" and solid:
                continue
            face = draw(faces(last, sources=sources, tables=tables, low=low, high=most))
            if face:
                station[side] = face
        stations.append(station)
    body["layers"] = layers
    tree: dict[str, Any] = {
        "title": "generated", "process": "body", "body": body, "materials": own, "stations": stations,
        "accuracy": {"temperature": draw(st.sampled_from(["0.5 K", "0.1 K", "2 K"]))},
    }  # fmt: skip
    if reacts:
        tree["kinetics"] = {"resin": draw(kinetics(draw(st.sampled_from(["cure", "gel", "fusion"]))))}
    return tree


def mirrored(tree: dict[str, Any]) -> dict[str, Any]:
    """The same plane body seen from its other face."""
    layers = tree["body"]["layers"]
    turned = []
    for i in reversed(range(len(layers))):
        layer = {k: v for k, v in layers[i].items() if k != "contact"}
        if i > 0 and "contact" in layers[i - 1]:
            layer["contact"] = layers[i - 1]["contact"]
        turned.append({"name": f"turned_{i}"} | layer)
    other = {"inner": "outer", "outer": "inner"}
    stations = [{other.get(k, k): v for k, v in station.items()} for station in tree["stations"]]
    return tree | {"body": tree["body"] | {"layers": turned}, "stations": stations}


def layer_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any]:
    """One layer cut in two of the same stuff that touch perfectly; with cells, where one cell ends and the next begins."""
    layers = list(tree["body"]["layers"])
    layer = layers[which]
    thickness, cells = layer["thickness"].number, layer.get("cells")
    if cells is not None:  # ten cells for each that it had
        layer = layer | {"cells": 10}
    inner = {k: v for k, v in layer.items() if k != "contact"}
    parts = [inner, dict(layer)]
    for part, share in zip(parts, (tenths, 10 - tenths), strict=True):
        part["thickness"] = Amount(thickness * share / 10, "length")
        if cells is not None:
            part["cells"] = share
    return tree | {"body": tree["body"] | {"layers": [*layers[:which], *parts, *layers[which + 1 :]]}}


def with_cells(tree: dict[str, Any], which: int, cells: int) -> dict[str, Any]:
    """The same with so many cells in one layer."""
    layers = list(tree["body"]["layers"])
    layers[which] = layers[which] | {"cells": cells}
    return tree | {"body": tree["body"] | {"layers": layers}}


def station_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any]:
    """One station cut in two that follow each other; only where nothing in it runs by its own clock."""
    stations = list(tree["stations"])
    station = stations[which]
    duration = station["duration"].number
    parts = [station | {"duration": Amount(duration * share / 10, "time")} for share in (tenths, 10 - tenths)]
    return tree | {"stations": [*stations[:which], *parts, *stations[which + 1 :]]}


def length_of(tree: dict[str, Any]) -> float:
    """Time of all stations [s]."""
    return float(sum(station["duration"].number for station in tree["stations"]))


def with_rows(tree: dict[str, Any], count: int = 24) -> dict[str, Any]:
    """Rows at times that do not depend on where stations are cut."""
    total = sum(station["duration"].number for station in tree["stations"])
    times = [Amount(round(total * i / count, 9), "time") for i in range(count)] + [Amount(total, "time")]
    return tree | {"output": {"times": times}}
