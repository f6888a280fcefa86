"""Shaped sheets for tests: thin sheet of constant properties, so that closed forms of one temperature hold."""

from __future__ import annotations

from typing import Any

from sheets import K, air, case, stuff, touch

THIN = 1.0  # mm
RHO_CP = 1000.0 * 1500.0  # J/m3/K
THIN_STUFF = stuff(1000.0, 2.0, 1500.0)  # conducts so well that it has one temperature
DOME = {"shape": "dome", "ring": "200 mm", "height": "60 mm"}
TRAY = {"shape": "tray", "length": "200 mm", "width": "100 mm", "depth": "30 mm", "corner": "8 mm"}
HOT = 150.0  # degC, as the sheet comes


def station(
    kind: str = "air", name: str = "hold", duration: Any = "20 s", coefficient: float = 40.0, **more: Any
) -> Any:
    """A station in air of 25 degC, or on a tool with that air on the rest."""
    own = {"name": name, "kind": kind, "duration": duration, "air": air(25.0, coefficient)}
    return own | ({"emissivity": 0.0} if kind == "air" else {}) | more


def blown(shaping: Any = None, part: Any = None, stations: Any = None, **more: Any) -> Any:
    """A dome blown freely from hot sheet, without radiation."""
    return shaped("free_blowing", stations or [station()], part or DOME, shaping, **more)


def pressed(
    method: str = "skeleton_press", shaping: Any = None, part: Any = None, share: Any = 0.1, **more: Any
) -> Any:
    """A tray pressed from above by a tool of 60 degC."""
    own = touch(150.0, **({} if share is None else {"share": share}))
    tools = more.pop("tools", {"mould": {"temperature": "60 degC"}})
    return shaped(method, [station("tool", upper=own)], part or TRAY, shaping, tools=tools, **more)


def shaped(
    method: str, stations: Any, part: Any, shaping: Any = None, sheet: Any = None, limits: Any = None, **more: Any
) -> Any:
    """A shaped sheet that comes hot."""
    own = {"thickness": f"{THIN} mm", "start": f"{HOT} degC", **(sheet or {})}
    bounds = {"release_temperature": "90 degC", **(limits or {})}
    return case(
        *stations,
        sheet=own,
        limits=bounds,
        material=THIN_STUFF,
        shaping={"method": method, **(shaping or {})},
        part=part,
        **more,
    )


def acrylic(
    method: str,
    stations: Any,
    part: Any,
    shaping: Any = None,
    thickness: float = 6.35,
    start: float = 160.0,
    **more: Any,
) -> Any:
    """The same of cast acrylic of the library [mm, degC]."""
    own = {
        "material": "pmma_cast",
        "thickness": f"{thickness} mm",
        "start": f"{start} degC",
        "emissivity": 1e-6,
        "dried": True,
    }
    return case(
        *stations, sheet=own, limits={"coldest_point": None, "hottest_face": None, **more.pop("limits", {})},
        shaping={"method": method, **(shaping or {})}, part=part, **more,
    )  # fmt: skip


def kelvin(celsius: float) -> float:
    """A temperature in kelvin."""
    return celsius + K
