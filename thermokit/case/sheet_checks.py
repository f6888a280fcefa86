"""Contradictions of a sheet case that only show on the whole of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from thermokit.case.declare import known
from thermokit.case.mistakes import nearest, shown
from thermokit.case.sheet_stations import PanelsStation, ToolStation
from thermokit.conduction.problem import Series
from thermokit.units import format_

if TYPE_CHECKING:
    from collections.abc import Iterator

    from thermokit.case.mistakes import At
    from thermokit.case.panels import PanelEntry
    from thermokit.case.sheet import SheetCase

LEAST_COVER = 0.5  # of a side of the sheet: a smaller panel is rather a mistake of unit or of side


def check_sheet(case: SheetCase, at: At) -> None:
    """Everything below, each where the sections it needs were read; UNKNOWN stands where one was not."""
    if known(case.sheet):
        _check_absorption(case, at)
    if known(case.stations) and known(*case.stations):
        _check_panels(case, at)
        _check_regions(case, at)
        if known(case.tools):
            _check_tools(case, at)
        if known(case.sheet):
            _check_map(case, at)
            if known(case.zones) and case.zones is not None:
                _check_zones(case, at / "zones")
            if known(case.limits):
                _check_limits(case, at / "limits")


def _panels(case: SheetCase) -> Iterator[tuple[int, str, PanelEntry]]:
    """(number of the station, side, panel) of every panel that was read."""
    for i, station in enumerate(case.stations):
        for side in ("upper", "lower"):
            panel = getattr(station, side) if isinstance(station, PanelsStation) else None
            if panel is not None and known(panel):
                yield i, side, panel


def _check_absorption(case: SheetCase, at: At) -> None:
    """Clear sheet needs bands: its own, or those of a record of the library."""
    sheet = case.sheet
    if sheet.absorption != "in_depth" or sheet.bands or not known(sheet.bands, sheet.material, case.materials):
        return
    if sheet.material in case.materials:
        what = "missing: a material of your own has no absorption bands"
    else:
        from thermokit.materials import library

        if sheet.material not in library.names():
            return
        record = library.load(sheet.material).record
        if record.get("radiation", {}).get("bands", {}).get("each"):
            return
        what = f"missing: the library has no absorption bands of {sheet.material}"
    (at / "sheet" / "bands").mistake(
        what, "one entry with coefficient and reflectance, or several with from and to as well",
        'absorption = "at_face" where the sheet is opaque',
    )  # fmt: skip


def _check_panels(case: SheetCase, at: At) -> None:
    """A panel much smaller than the sheet is a mistake; one only somewhat smaller is a matter of warnings."""
    sheet = case.sheet
    if not known(sheet) or not known(sheet.length, sheet.width):
        return
    for i, side, panel in _panels(case):
        if not known(panel.size) or panel.size is None or not known(*panel.size):
            continue
        for n, (word, length) in enumerate((("length", sheet.length), ("width", sheet.width))):
            if length is not None and panel.size[n] < LEAST_COVER * length:
                (at / "stations" / i / side / "size" / n).mistake(
                    f"{_length(panel.size[n])} covers less than half of the sheet's {word} of {_length(length)}",
                    f"{_length(LEAST_COVER * length)} and more",
                    "size is that of the whole panel, first along the sheet's length, then along its width",
                )


def _length(value: Any) -> str:
    return format_(float(value), "length", digits=6)


def _check_regions(case: SheetCase, at: At) -> None:
    """The sheet is divided into regions once."""
    divided = [
        i for i, station in enumerate(case.stations)
        if isinstance(station, ToolStation) and known(station.regions) and station.regions
    ]  # fmt: skip
    for i in divided[1:]:
        (at / "stations" / i / "regions").mistake(
            f"the sheet is divided into regions at stations.{divided[0]} already", "regions in one station",
            "the regions stay as they are in the stations after it",
        )  # fmt: skip


def _check_tools(case: SheetCase, at: At) -> None:
    """Every tool that is touched is there, every one that is there is touched; shots need one that warms."""
    used: dict[str, None] = {}
    for i, station in enumerate(case.stations):
        touches = station.touches if isinstance(station, ToolStation) else {}
        for side, touch in touches.items():
            if not known(touch) or not known(touch.tool):
                continue
            place = at / "stations" / i / side / "tool"
            if touch.tool not in case.tools:
                advice = nearest(touch.tool, case.tools) or f"add [tools.{touch.tool}]"
                place.mistake(f"{shown(touch.tool)} is no tool of the case", "one of [tools.*]", advice)
            used[touch.tool] = None
            own = case.tools.get(touch.tool)
            if own is not None and known(own) and own.has_body and isinstance(touch.contact, Series):
                (at / "stations" / i / side / "contact").mistake(
                    "a table of times, and the tool has a body", "one conductance for the station",
                    "split the station in two where the contact changes",
                )  # fmt: skip
        names = [touch.tool for touch in touches.values() if known(touch) and known(touch.tool)]
        if len(names) > 1 and names[0] == names[1]:
            tool = case.tools.get(names[0])
            if tool is not None and known(tool) and tool.has_body:
                (at / "stations" / i / "lower" / "tool").mistake(
                    f"{shown(names[0])} touches the upper face already", "a tool for each face",
                    "a tool with a body of its own has one face; write two alike",
                )  # fmt: skip
    for name in case.tools:
        if name not in used:
            (at / "tools" / name).mistake("no station touches this tool", "tools that are used", nearest(name, used))
    if case.shots is not None and known(case.shots):
        tools = [case.tools[name] for name in used if name in case.tools]
        if not any(not known(tool) or tool.has_body for tool in tools):
            (at / "shots").mistake(
                "no tool that warms up from shot to shot", "a tool station, its tool with material, thickness and start"
            )


def _check_map(case: SheetCase, at: At) -> None:
    """The frame cools the edge of a map."""
    sheet = case.sheet
    if sheet.frame is not None and known(sheet.length, sheet.width) and sheet.length is not None and not _mapped(case):
        (at / "sheet" / "frame").mistake(
            "the sheet has no map whose edge it could cool", "spots of the sheet, or size and gap of a panel"
        )


def _mapped(case: SheetCase) -> bool:
    """Whether the sheet is mapped, or may be once the mistakes are mended."""
    sheet = case.sheet
    if not known(sheet.length, sheet.width, sheet.spots):
        return True
    return sheet.length is not None and (
        sheet.spots is not None
        or any(not known(panel.size, panel.gap) or panel.geometric for _, _, panel in _panels(case))
    )


def _check_zones(case: SheetCase, at: At) -> None:
    """Bounds for what the panels are set by, and a map to even out."""
    zones, panels = case.zones, [panel for _, _, panel in _panels(case)]
    assert zones is not None
    if not panels or not known(*(panel.temperature for panel in panels), *(panel.power for panel in panels)):
        return
    by = {panel.set_by for panel in panels}
    for word in ("lowest", "highest"):
        given = getattr(zones, word) is not None
        if given and "temperature" not in by:
            (at / word).mistake("no panel is set by temperature", f"{word}_power, a share of installed power")
        elif not given and "temperature" in by:
            (at / word).mistake("missing: panels are set by temperature", f"the {word} temperature of a zone")
    if not _mapped(case) or not any(not known(panel.size, panel.gap) or panel.geometric for panel in panels):
        at.mistake(
            "there is no map of the sheet to even out", "size and gap of the panels, length and width of the sheet"
        )


def _check_limits(case: SheetCase, at: At) -> None:
    """A limit on something that the case does not follow."""
    limits, sheet = case.limits, case.sheet
    tools = any(isinstance(station, ToolStation) for station in case.stations) or case.shaping is not None
    index = not known(sheet.sag) or (sheet.sag is not None and sheet.sag.known_good is not None)
    own = case.materials.get(sheet.material) if known(case.materials, sheet.material) else None
    dose = not known(sheet.dose) or sheet.dose is not None or getattr(own, "recipe", None) is not None
    for word, followed, needs in (
        ("map_spread", _mapped(case), "length and width of the sheet, size and gap of a panel"),
        ("sag_index", index, "[sheet.sag] with known_good"),
        ("heat_dose", dose, "[sheet.dose] or a material by recipe"),
        ("release_temperature", tools, 'a station of kind = "tool"'),
        ("release_difference", tools, 'a station of kind = "tool"'),
    ):
        if getattr(limits, word) is not None and not followed:
            (at / word).mistake("the case does not follow what this limits", f"with {needs}")
