"""What a sheet passes through: panels, air, tools."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.common import DURATION
from thermokit.case.declare import Section, key, known
from thermokit.case.mistakes import shown
from thermokit.case.panels import MainsEntry, PanelEntry
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Sought, Varying
from thermokit.case.tools import ToolName, names_a_variable
from thermokit.case.values import Choice, Number, Quantity, Text, share
from thermokit.conduction.problem import Series

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number as Numeric
    from thermokit.conduction.problem import Varying as Changing

_HELD = 'How long; "find" leaves it to `thermokit dwell`.'
_DRAW = Number(low=0.2, high=100.0)
_DRAW_MEANING = "Areal draw ratio at the station's beginning: area after over area before, the sheet thins by it."


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class AirEntry(Section):
    """Air on both faces."""

    meaning = "the air on both faces"

    temperature: Changing = key(Varying(TEMPERATURE), "Temperature of the air.")
    coefficient: Changing = key(
        Varying(Quantity("heat_transfer_coefficient", low=0.0, high=1e6, example="8 W/m2/K")),
        "Heat transfer coefficient on either face.",
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OvenEntry(Section):
    """What the sheet and the panels see beside each other."""

    meaning = "what the sheet and the panels see beside each other"

    surround: Changing | None = key(
        Varying(TEMPERATURE), "Temperature of the oven's walls.", default=None, default_words="the air's"
    )
    reflectance: Numeric = key(
        share(), "Reflectance of the walls round the gap; 0: they take all in, near 1: reflecting sides.", default=0.0
    )
    behind: Numeric = key(
        share(), "Reflectance of what lies behind the sheet on a side without a panel (counts for clear sheet).",
        default=0.0,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PanelsStation(Section):
    """Heating between panels; a side without a panel sees the air only."""

    meaning = "heating between panels"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    kind: str = key(Choice(("panels",)), "Kind of station.", default="panels", stated=True)
    duration: Numeric | Find = key(Sought(DURATION), _HELD)
    upper: PanelEntry | None = key(
        Sub(PanelEntry), "Panel above the sheet.", default=None, default_words="none: that side sees the air only"
    )
    lower: PanelEntry | None = key(
        Sub(PanelEntry), "Panel below the sheet.", default=None, default_words="none: that side sees the air only"
    )
    mains: MainsEntry | None = key(
        Sub(MainsEntry), "Voltage of the mains.", default=None, default_words="the rated voltage is there"
    )
    oven: OvenEntry | None = key(
        Sub(OvenEntry), "Walls of the oven.", default=None,
        default_words="walls at the air's temperature that take in all radiation",
    )  # fmt: skip
    air: AirEntry = key(Sub(AirEntry), "Air of the oven.")

    @property
    def panels(self) -> dict[str, PanelEntry]:
        """The panels there are, by their side: ``upper``, ``lower``."""
        sides = {"upper": self.upper, "lower": self.lower}
        return {side: panel for side, panel in sides.items() if panel is not None}

    def check(self, at: At, given: frozenset[str]) -> None:
        """Without a panel it is another kind of station; mains act on installed power only."""
        if not {"upper", "lower"} & given:
            at.mistake("neither an upper nor a lower panel is given", "one or both", 'without panels: kind = "air"')
        elif (
            self.mains is not None
            and known(self.mains, *self.panels.values())
            and all(panel.installed is None for panel in self.panels.values())
        ):
            (at / "mains").mistake("no panel of the station has installed power", "mains with installed on a panel")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class AirStation(Section):
    """Air on both faces: transfer to the mould, waiting, a hot-air oven, pre-stretch by air."""

    meaning = "air on both faces: transfer, waiting, a hot-air oven, pre-stretch"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    kind: str = key(Choice(("air",)), "Kind of station.", default="air", stated=True)
    duration: Numeric | Find = key(Sought(DURATION), _HELD)
    draw_ratio: Numeric = key(_DRAW, _DRAW_MEANING, default=1.0)
    air: AirEntry = key(Sub(AirEntry), "The air.")
    ends_at: Numeric | None = key(
        TEMPERATURE, "Temperature of the air at the station's end, reached evenly from air.temperature: slow cooling, "
        "however long it takes.", default=None, default_words="the air keeps its temperature",
    )  # fmt: skip
    emissivity: Numeric | None = key(
        share(), "Emissivity of the sheet's faces towards the surroundings; 0 for none.", default=None,
        default_words="the sheet's",
    )  # fmt: skip
    surround: Changing | None = key(
        Varying(TEMPERATURE), "Temperature of the surroundings that the faces see.", default=None,
        default_words="the air's",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """Air that cools evenly begins at one temperature."""
        if "ends_at" in given and known(self.air) and isinstance(self.air.temperature, Series):
            (at / "ends_at").mistake("stands together with a table of the air's temperature", "one of the two")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Touch(Section):
    """A side of the sheet that touches a tool."""

    meaning = "a side of the sheet that touches a tool"

    tool: str = key(ToolName(), "The tool.")
    contact: Changing = key(
        Varying(Quantity("heat_transfer_coefficient", above=0.0, high=1e12, example="250 W/m2/K")),
        "Conductance of the contact between sheet and tool.",
    )
    share: Numeric = key(share(above=0.0), "Share of the area that touches; the rest is in the air.", default=1.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Region(Section):
    """A part of the sheet that is drawn in its own way."""

    meaning = "a part of the sheet that is drawn in its own way"

    name: str = key(
        Text(100), "Its name, part of the names of its outcomes.", default="", default_words="region_1, ..."
    )
    draw_ratio: Numeric = key(_DRAW, _DRAW_MEANING)

    def check(self, at: At, given: frozenset[str]) -> None:
        """The name goes into names of the result file."""
        if known(self.name) and self.name and not names_a_variable(self.name):
            (at / "name").mistake(
                f"{shown(self.name)} cannot be part of an outcome's name", "a word without / or outer dots"
            )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ToolStation(Section):
    """On one tool or between two: forming, pressing, cooling to release."""

    meaning = "on a tool or between two: forming, pressing, cooling to release"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    kind: str = key(Choice(("tool",)), "Kind of station.", default="tool", stated=True)
    duration: Numeric | Find = key(Sought(DURATION), _HELD)
    draw_ratio: Numeric = key(_DRAW, _DRAW_MEANING, default=1.0)
    regions: tuple[Region, ...] = key(
        ListOf(Sub(Region, inline=True), most=100, naming="region"),
        "Parts of the sheet with a draw ratio each, instead of draw_ratio.", default=(),
        default_words="the whole sheet is drawn alike",
    )  # fmt: skip
    draw_takes: Numeric | None = key(
        DURATION, "How long the draw takes; held against the time before the skin sets.", default=None,
        default_words="not known",
    )  # fmt: skip
    upper: Touch | None = key(
        Sub(Touch), "Tool that the upper face touches.", default=None, default_words="none: that face is in the air"
    )
    lower: Touch | None = key(
        Sub(Touch), "Tool that the lower face touches.", default=None, default_words="none: that face is in the air"
    )
    emissivity: Numeric = key(
        share(), "Emissivity of what touches no tool, towards surroundings at the air's temperature.", default=0.0,
        default_words="0: the air's coefficient counts radiation with it",
    )  # fmt: skip
    air: AirEntry | None = key(
        Sub(AirEntry), "Air on what touches no tool.", default=None,
        default_words="none: both faces touch with all their area",
    )  # fmt: skip

    @property
    def touches(self) -> dict[str, Touch]:
        """The sides that touch a tool: ``upper``, ``lower``."""
        sides = {"upper": self.upper, "lower": self.lower}
        return {side: touch for side, touch in sides.items() if touch is not None}

    def unwritten(self) -> frozenset[str]:
        """Regions have a draw ratio each."""
        return frozenset({"draw_ratio"}) if self.regions else frozenset()

    def check(self, at: At, given: frozenset[str]) -> None:
        """A tool somewhere, air where there is none, one way to say how the sheet is drawn."""
        if {"draw_ratio", "regions"} <= given:
            (at / "draw_ratio").mistake("stands together with regions", "draw_ratio, or regions with a draw_ratio each")
        if not {"upper", "lower"} & given:
            at.mistake("neither face touches a tool", "upper, lower or both", 'without a tool: kind = "air"')
            return
        touches = self.touches
        if "air" in given or not known(*touches.values()):
            return
        free = [side for side in ("upper", "lower") if side not in touches]
        partly = [side for side, touch in touches.items() if known(touch.share) and touch.share < 1.0]
        if free:
            (at / "air").mistake(f"missing: the {free[0]} face touches no tool", AIR_WORDS)
        elif partly:
            (at / "air").mistake(f"missing: only a share of the {partly[0]} face touches", AIR_WORDS)


AIR_WORDS = "a table with temperature and coefficient"
