"""Sheet cases of all sorts: panels by temperature or power, by factor or place, air, tools with and without a body, shots."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from .generated_body import materials, varying
from .writing import Amount, amount, amounts, temperatures

LIBRARY = ("abs", "hips", "petg", "pp", "hdpe", "pmma_cast", "pc", "pvc_rigid")
PANEL = (80.0, 700.0)  # degC
AIR = (-20.0, 180.0)
TOOL = (0.0, 140.0)


def _maybe(draw: Any, chance: int) -> bool:
    return draw(st.integers(0, chance - 1)) == chance - 1


def _share(draw: Any, low: int = 0, high: int = 100) -> Amount:
    return amount(draw(st.integers(low, high)) / 100, "fraction")


@st.composite
def panels(draw: Any, last: float, *, placed: bool, tables: bool, power: bool) -> dict[str, Any]:
    """One panel."""
    made: dict[str, Any] = {}
    heat = temperatures(*PANEL)
    if placed:
        made["size"] = [draw(amounts("length", 420.0, 1500.0)), draw(amounts("length", 320.0, 1500.0))]
        made["gap"] = draw(amounts("length", 30.0, 600.0))
        if draw(st.booleans()):
            made["offset"] = [amount(draw(st.integers(-100, 100)), "length") for _ in range(2)]
    else:
        made["exchange"] = _share(draw)
    if power and draw(st.booleans()):
        made |= {"power": _share(draw, 1), "installed": draw(amounts("heat_flux", 2.0, 60.0))}
        made["back_loss"] = _share(draw, 0, 60)
    elif placed and _maybe(draw, 3):
        made["temperature"] = [[draw(heat) for _ in range(2)] for _ in range(draw(st.integers(1, 2)))]
    else:
        made["temperature"] = draw(varying(heat, last, tables))
    if tables and not isinstance(made.get("temperature"), dict) and _maybe(draw, 4):
        made |= {"initial": draw(temperatures(20.0, 300.0)), "time_constant": draw(amounts("time", 1.0, 500.0))}
    if _maybe(draw, 3):
        made["emissivity"] = _share(draw, 30)
    return made


@st.composite
def airs(draw: Any, last: float, tables: bool) -> dict[str, Any]:
    """Air on both faces."""
    h = amounts("heat_transfer_coefficient", 0.5, 200.0)
    return {
        "temperature": draw(varying(temperatures(*AIR), last, tables)), "coefficient": draw(varying(h, last, tables))
    }  # fmt: skip


@st.composite
def tool_sides(draw: Any, name: str, has_body: bool, last: float, tables: bool) -> dict[str, Any]:
    """A side that touches."""
    made: dict[str, Any] = {"tool": name}
    made["contact"] = draw(varying(amounts("heat_transfer_coefficient", 5.0, 3000.0), last, tables and not has_body))
    if _maybe(draw, 3):
        made["share"] = _share(draw, 5)
    return made


@st.composite
def sheets(
    draw: Any, *, tables: bool = True, power: bool = True, followed: bool = True, tools: bool = True,
    most_stations: int = 3, melts: bool = True, in_depth: bool = True,
) -> dict[str, Any]:  # fmt: skip
    """A sheet case.

    tables : what changes in time (tables, warm-up, slow cooling); power : panels set by power; followed : sag, dose, map.
    """
    own = {"stuff": draw(materials(melts))}
    sheet: dict[str, Any] = {
        "material": draw(st.sampled_from(["stuff", *(LIBRARY if melts else ("abs", "hips", "petg"))])),
        "thickness": draw(amounts("length", 0.1, 20.0)), "start": draw(temperatures(-20.0, 120.0)),
    }  # fmt: skip
    sized = draw(st.booleans())
    if sized:
        sheet |= {"length": draw(amounts("length", 100.0, 800.0)), "width": draw(amounts("length", 100.0, 600.0))}
    if _maybe(draw, 3):
        sheet["emissivity"] = _share(draw, 5)
    if in_depth and _maybe(draw, 3):
        sheet |= {"absorption": "in_depth", "path": draw(st.sampled_from([1.0, 1.4, 2.0]))}
        sheet["bands"] = draw(bands())
    placed = sized and draw(st.booleans())
    if sized:
        sheet["spots"] = [draw(st.integers(1, 3)), draw(st.integers(1, 2))]
        if _maybe(draw, 4):
            sheet["frame"] = {"temperature": draw(temperatures(20.0, 120.0))}
    if followed and _maybe(draw, 3):
        sheet["sag"] = {
            "softening": draw(temperatures(60.0, 160.0)), "rate": amount(draw(st.integers(1, 20)) / 100, "inverse_temperature"),
            "span": draw(amounts("length", 50.0, 900.0)), "known_good": 12.0,
        }  # fmt: skip
    if followed and _maybe(draw, 3):
        sheet["dose"] = {
            "energy": amount(draw(st.integers(50, 200)), "molar_energy"), "reference": draw(temperatures(150.0, 240.0)),
            "time": draw(amounts("time", 10.0, 5000.0)),
        }  # fmt: skip
    kinds = ["panels"] + [
        draw(st.sampled_from(["air", "panels"])) for _ in range(draw(st.integers(0, most_stations - 1)))
    ]  # fmt: skip
    if tools and draw(st.booleans()):
        kinds.append("tool")
    durations = [draw(amounts("time", 1.0, 600.0)) for _ in kinds]
    last = float(max(d.number for d in durations))
    moulds: dict[str, Any] = {}
    stations = [
        {"kind": kind, "duration": duration} | _station(draw, kind, last, tables, power, placed, moulds)
        for kind, duration in zip(kinds, durations, strict=True)
    ]
    tree: dict[str, Any] = {
        "title": "generated", "process": "sheet", "sheet": sheet, "materials": own, "stations": stations,
        "accuracy": {"temperature": draw(st.sampled_from(["0.5 K", "2 K", "0.2 K"]))},
    }  # fmt: skip
    if moulds:
        tree["tools"] = moulds
        if any("material" in tool for tool in moulds.values()) and _maybe(draw, 2):
            tree["shots"] = {
                "count": draw(st.integers(1, 4)), "between": draw(amounts("time", 1.0, 200.0)), "settled": draw(st.booleans())
            }  # fmt: skip
    return tree


@st.composite
def bands(draw: Any) -> list[dict[str, Any]]:
    """Absorption, grey or in bands that do not overlap."""
    count = draw(st.integers(1, 3))
    each = [
        {"coefficient": draw(amounts("absorption", 0.005, 20.0)), "reflectance": _share(draw, 0, 30)}
        for _ in range(count)
    ]
    if count == 1 and draw(st.booleans()):
        return each
    ends = sorted(draw(st.lists(st.integers(4, 250), min_size=count + 1, max_size=count + 1, unique=True)))
    for band, low, high in zip(each, ends, ends[1:], strict=False):
        band |= {"from": Amount(amount(low, "length").number / 10000, "length"),
                 "to": Amount(amount(high, "length").number / 10000, "length")}  # fmt: skip
    return each


def _station(
    draw: Any, kind: str, last: float, tables: bool, power: bool, placed: bool, moulds: dict[str, Any]
) -> dict[str, Any]:
    made: dict[str, Any] = {"air": draw(airs(last, tables))}
    if kind == "panels":
        sides = draw(st.sampled_from([("upper", "lower"), ("upper",), ("lower",)]))
        for side in sides:
            made[side] = draw(panels(last, placed=placed, tables=tables, power=power))
        if _maybe(draw, 3):
            made["oven"] = {
                "surround": draw(temperatures(*AIR)), "reflectance": _share(draw, 0, 95), "behind": _share(draw, 0, 95)
            }  # fmt: skip
        if any("installed" in made[side] for side in sides) and _maybe(draw, 3):
            made["mains"] = {"rated": amount(400, "voltage"), "actual": amount(draw(st.integers(340, 440)), "voltage")}
        return made
    if _maybe(draw, 3):
        made["draw_ratio"] = draw(st.integers(8, 30)) / 10
    if kind == "air":
        if tables and isinstance(made["air"]["temperature"], Amount) and _maybe(draw, 4):
            made["ends_at"] = draw(temperatures(*AIR))
        if _maybe(draw, 3):
            made |= {"emissivity": _share(draw), "surround": draw(temperatures(*AIR))}
        return made
    for side in draw(st.sampled_from([("lower",), ("upper",), ("upper", "lower")])):
        name = f"tool_{side}"
        has_body = draw(st.booleans())
        if has_body:
            moulds[name] = {
                "material": draw(st.sampled_from(["aluminium_cast", "steel_mild", "epoxy_tooling"])),
                "thickness": draw(amounts("length", 2.0, 60.0)), "start": draw(temperatures(*TOOL)),
            }  # fmt: skip
            for face in ("back", "open"):
                if draw(st.booleans()):
                    moulds[name][face] = {
                        "coefficient": draw(amounts("heat_transfer_coefficient", 1.0, 3000.0)),
                        "temperature": draw(temperatures(*TOOL)),
                    }
        else:
            moulds[name] = {"temperature": draw(varying(temperatures(*TOOL), last, tables))}
        made[side] = draw(tool_sides(name, has_body, last, tables))
    if draw(st.booleans()):
        made["emissivity"] = _share(draw)
    return made


def mirrored(tree: dict[str, Any]) -> dict[str, Any]:
    """The same sheet turned over: what was above is below."""
    other = {"upper": "lower", "lower": "upper"}
    return tree | {"stations": [{other.get(k, k): v for k, v in s.items()} for s in tree["stations"]]}


def station_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any]:
    """A station cut in two that follow each other: drawn where the first begins."""
    stations = list(tree["stations"])
    station = stations[which]
    number = station["duration"].number
    parts = [station | {"duration": Amount(number * share / 10, "time")} for share in (tenths, 10 - tenths)]
    parts[1].pop("draw_ratio", None)
    return tree | {"stations": [*stations[:which], *parts, *stations[which + 1 :]]}
