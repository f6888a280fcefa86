"""The same part by another method: the stations, tools and settings that the trade would begin with.

What stands here beside the case's own is common practice (contacts, shares, tool temperatures): starting values, assumed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from thermokit.case.shaping import BLOWN, OF_METHODS, PRESSED, ShapingSection
from thermokit.case.shaping_checks import shaped_at
from thermokit.case.sheet_stations import AirEntry, AirStation, ToolStation, Touch
from thermokit.case.tables import Find
from thermokit.case.tools import ToolEntry

if TYPE_CHECKING:
    from thermokit.case.sheet import SheetCase

HOLD = (0.2, 7200.0)  # s, between which the hold is looked for
BUBBLE = 2000.0  # s/m, time in the bubble before the skeleton goes in, by thickness of the sheet (2 s a mm); assumed
AIR = (297.15, 15.0)  # K, W/m2/K: air on a formed part where the case has none; assumed
SKELETON = 333.15  # K; common practice 50 to 80 degC
NOSE = 333.15  # K, a rubber nose that warms; common practice at most 150 degC
MOULD = 333.15  # K, where the material has no mould temperature


@dataclass(frozen=True)
class Usual:
    """How a method usually touches: tool, conductance [W/m2/K], share of the area; the other side or None (air)."""

    tool: str
    contact: float
    share: float = 1.0
    other: tuple[str, float] | None = None
    other_face: bool = False


USUAL: dict[str, Usual | None] = {
    "free_blowing": None,
    "blow_into_mould": Usual("mould", 150.0),  # at 1 bar
    "drape": Usual("former", 100.0, 0.15),
    "skeleton_press": Usual("skeleton", 150.0, 0.1),
    "matched_press": Usual("die", 400.0, other=("punch", 400.0)),
    # a nose of 10 mm of rubber, 0.2 W/m/K: 1/(1/200 + 0.05)
    "rubber_nose": Usual("die", 400.0, other=("nose", 18.0)),
    "snap_back": Usual("skeleton", 150.0, 0.1),
    "vacuum_female": Usual("mould", 250.0),
    "vacuum_male": Usual("mould", 250.0),
    "vacuum_plug": Usual("mould", 250.0),
    "vacuum_bubble": Usual("mould", 250.0),
}


def by_method(case: SheetCase, method: str) -> SheetCase:
    """The case's part made by a method: its own stations and tools where it is the case's own, else the usual ones.

    Heating and transfer stay as they are, the hold is to be found.
    """
    assert case.shaping is not None and case.part is not None
    at = shaped_at(case)
    if method == case.shaping.method:
        return replace(case, stations=_open_end(case), tolerances={})
    before, usual = tuple(case.stations[:at]), USUAL[method]
    air = _air(case, at)
    stations: tuple[Any, ...]
    tools: dict[str, ToolEntry] = {}
    if usual is None:
        stations = (AirStation(name="hold", duration=Find(low=HOLD[0], high=HOLD[1]), air=air),)
    else:
        side, far = ("upper", "lower") if case.part.clear_face == "lower" else ("lower", "upper")
        touches: dict[str, Any] = {side: Touch(tool=usual.tool, contact=usual.contact, share=usual.share), far: None}
        if usual.other is not None:
            touches[far] = Touch(tool=usual.other[0], contact=usual.other[1])
        tools = {touch.tool: _tool(case, touch.tool) for touch in touches.values() if touch is not None}
        hold = ToolStation(
            name="hold", duration=Find(low=HOLD[0], high=HOLD[1]), emissivity=0.9 if usual.share < 1.0 else 0.0, air=air,
            **touches,
        )  # fmt: skip
        bubble = AirStation(name="bubble", duration=BUBBLE * float(case.sheet.thickness), air=air)
        stations = (bubble, hold) if method == "snap_back" else (hold,)
    own, plain = case.shaping, ShapingSection(method=method)
    pressed = method in (*BLOWN, *PRESSED) and own.pressure is not None and own.method in (*BLOWN, *PRESSED)
    others = {word: getattr(plain, word) for word, methods in OF_METHODS.items() if method not in methods}
    changes: dict[str, Any] = {
        "method": method,
        "at": stations[0].name,
        "release": "hold",
        "stop": "height",
        "pressure": own.pressure if pressed else None,
        "contact_pressure": 1e5 if method == "blow_into_mould" else None,
        "depth": None,
        "fills_in": 0.0,
        "slip": own.slip if method in (*PRESSED, "drape") else 0.0,
        "blanking": False,
        "measured": {},
    }
    shaping = replace(own, **(changes | others))
    return replace(case, stations=before + stations, tools=tools, shots=None, shaping=shaping, tolerances={})


def _open_end(case: SheetCase) -> tuple[Any, ...]:
    """The case's stations with the last one to the release left to be found."""
    from thermokit.case.shaping_checks import released_at

    last = released_at(case)
    return tuple(
        replace(station, duration=Find(low=HOLD[0], high=HOLD[1])) if i == last else station
        for i, station in enumerate(case.stations[: last + 1])
    )


def _air(case: SheetCase, at: int) -> AirEntry:
    """The air of the case's own shaping, or usual air."""
    for station in reversed(case.stations[at:]):
        if station.air is not None:
            return station.air
    return AirEntry(temperature=AIR[0], coefficient=AIR[1])


def _tool(case: SheetCase, name: str) -> ToolEntry:
    """A tool of the case by that name if it has a temperature, else one of the usual temperature."""
    own = case.tools.get(name)
    if own is not None and not own.has_body:
        return own
    if name in ("skeleton", "former"):
        return ToolEntry(temperature=SKELETON)
    if name == "nose":
        return ToolEntry(temperature=NOSE)
    return ToolEntry(temperature=_mould_temperature(case))


def _mould_temperature(case: SheetCase) -> float:
    """Lower end of what is usual for the material: quick, and released within its limit."""
    from thermokit.processes.media import Stuff

    forming = getattr(Stuff(case.materials, {}).material(case.sheet.material), "forming", None) or {}
    return float(forming.get("mould_low", MOULD))
