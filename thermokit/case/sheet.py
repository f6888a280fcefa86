"""A sheet from panels to release, ``process = "sheet"``. Depth counts from the upper face."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.blank import SheetSection
from thermokit.case.common import Case, StartKey, total
from thermokit.case.declare import key, known
from thermokit.case.panels import PanelEntry
from thermokit.case.shaping import PartSection, ShapingSection
from thermokit.case.shaping_checks import check_shaping
from thermokit.case.sheet_checks import check_sheet
from thermokit.case.sheet_limits import SheetLimits, ZonesSection
from thermokit.case.sheet_stations import AirEntry, AirStation, PanelsStation, ToolStation
from thermokit.case.structure import ListOf, OneOf, Sub
from thermokit.case.tools import Shots, ToolEntry, Tools
from thermokit.case.values import Choice

if TYPE_CHECKING:
    from thermokit.case.mistakes import At

MAP = (15, 10)  # spots along length and width where the case does not say


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SheetCase(Case):
    """A sheet through panels, air and tools."""

    meaning = "a sheet from panels through forming to release"

    process: str = key(Choice(("sheet",)), "Kind of case.", default="sheet", stated=True)
    sheet: SheetSection = key(Sub(SheetSection), "The sheet.")
    stations: tuple[PanelsStation | AirStation | ToolStation, ...] = key(
        ListOf(
            OneOf("kind", (("panels", PanelsStation), ("air", AirStation), ("tool", ToolStation))),
            least=1, most=1000, naming="station",
        ),
        "What the sheet passes through, in order.",
    )  # fmt: skip
    tools: Mapping[str, ToolEntry] = key(Tools(), "The tools that tool stations name.", default={})
    shots: Shots | None = key(
        Sub(Shots), "Shots made one after another.", default=None, default_words="one shot, tools at their start"
    )
    shaping: ShapingSection | None = key(
        Sub(ShapingSection), "How the hot sheet is shaped.", default=None,
        default_words="as the stations' draw ratios say",
    )  # fmt: skip
    part: PartSection | None = key(Sub(PartSection), "The part.", default=None, default_words="not said")
    limits: SheetLimits = key(Sub(SheetLimits), "What the sheet must keep to.", default=SheetLimits())
    zones: ZonesSection | None = key(
        Sub(ZonesSection), "What `thermokit zones` may set.", default=None, default_words="zones are as they are given"
    )

    @property
    def map_spots(self) -> tuple[int, int] | None:
        """Spots of the map along length and width, None where the sheet is not mapped."""
        sheet = self.sheet
        if sheet.length is None or sheet.width is None or self.shaping is not None:
            return None
        if sheet.spots is not None:
            return sheet.spots
        stations = [station for station in self.stations if isinstance(station, PanelsStation)]
        seen = any(panel.geometric for station in stations for panel in station.panels.values())
        return MAP if seen else None

    def depth(self) -> Any:
        """Thickness of the sheet [m], as it comes."""
        return total([self.sheet.thickness]) if known(self.sheet) else None

    def starts(self) -> list[StartKey]:
        """The sheet."""
        return [StartKey("sheet", ("sheet", "start"), self.sheet.start)]

    def check(self, at: At, given: frozenset[str]) -> None:
        """What sheet, stations, tools, zones and limits say of each other."""
        super().check(at, given)
        check_sheet(self, at)
        check_shaping(self, at)


TEMPLATE = """\
# How long to heat a sheet. `thermokit explain KEY` tells what a key means, `thermokit dwell FILE` answers.
title = "How long to heat a 3 mm ABS sheet"
process = "sheet"

[sheet]
material = "abs"                # `thermokit materials` lists the library; or one of your own in [materials.*]
thickness = "3 mm"              # depth counts from the upper face
start = "20 degC"               # temperature of the stock
length = "600 mm"               # optional: heat and mass of a part
width = "400 mm"
# absorption = "in_depth"       # clear sheet: radiation by wavelength bands, those of the material or [[sheet.bands]]
# [sheet.frame]                 # clamp frame that cools the edge of the map: temperature
# [sheet.sag]                   # sag number against a known-good run: softening, rate, known_good
# [sheet.dose]                  # heat history of the hottest place: energy, reference, time

[[stations]]                    # in order; each starts where the one before ends
name = "heat"
kind = "panels"
duration = "find"               # or a time, such as "60 s"; { find = ["10 s", "300 s"] } bounds the search
[stations.upper]                # leave a panel out where there is none: that side then sees the air only
temperature = "400 degC"        # of the panel's face; by zones: [["400 degC", "390 degC"], ["400 degC", "390 degC"]]
exchange = 0.6                  # exchange factor; or the two keys below
# size = ["700 mm", "500 mm"]
# gap = "150 mm"
[stations.lower]
temperature = "400 degC"
exchange = 0.6
[stations.air]
temperature = "60 degC"
coefficient = "8 W/m2/K"

[[stations]]
name = "transfer"               # from the oven to the mould
kind = "air"
duration = "4 s"
[stations.air]
temperature = "23 degC"
coefficient = "10 W/m2/K"

# [[stations]]                  # forming and cooling to release
# kind = "tool"
# duration = "20 s"
# draw_ratio = 1.6              # area after over area before
# lower = { tool = "mould", contact = "250 W/m2/K" }
# air = { temperature = "25 degC", coefficient = "40 W/m2/K" }
# [tools.mould]                 # a temperature, or a body of its own: material, thickness, start, back = { ... }
# temperature = "65 degC"
# [shots]                       # shots on a tool with a body: count, between
# [shaping]                     # how it is shaped: method = "vacuum_female", ...; draw by region then comes from the part
# [part]                        # shape = "tray" or "dome" and its sizes; `thermokit methods FILE` compares methods for it
# [zones]                       # what `thermokit zones` may set: lowest, highest

[limits]                        # left out: the forming limits of the material
# coldest_point = "127 degC"
# hottest_face = "182 degC"
face_core_difference = "40 K"

[tolerances]                    # how far inputs may be off: two standard deviations
"sheet.thickness" = "± 4 %"
"sheet.start" = "± 5 K"
"stations.heat.upper.temperature" = "± 15 K"
"stations.heat.lower.temperature" = "± 15 K"
"""


__all__ = [
    "MAP",
    "TEMPLATE",
    "AirEntry",
    "AirStation",
    "PanelEntry",
    "PanelsStation",
    "SheetCase",
    "SheetSection",
    "ToolStation",
]
