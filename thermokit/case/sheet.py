"""Heating a sheet between panels, ``process = "sheet"``. Depth counts from the upper face."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.common import DURATION, Case, total
from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, OneOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Sought, Varying
from thermokit.case.values import Choice, LibraryName, Quantity, Text, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

_SIZE = Quantity("length", above=0.0, high=100.0, example="600 mm")
_DIFFERENCE = Quantity("temperature_difference", above=0.0, high=10_000.0, example="30 K")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SheetSection(Section):
    """The sheet."""

    meaning = "the sheet"

    material: str = key(LibraryName("materials"), "What it is made of.")
    thickness: Number = key(Quantity("length", above=0.0, high=1.0, example="4 mm"), "Its thickness.")
    start: Number = key(TEMPERATURE, "Temperature of the stock.")
    length: Number | None = key(
        _SIZE, "Length of the blank, for heat and mass of a part.", default=None, default_words="heat per m2 only"
    )
    width: Number | None = key(_SIZE, "Width of the blank.", default=None, default_words="heat per m2 only")
    emissivity: Number | None = key(
        share(above=0.0), "Emissivity of the sheet's faces.", default=None, default_words="the material's"
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """Length and width go together."""
        if ("length" in given) != ("width" in given):
            missing = "width" if "length" in given else "length"
            (at / missing).mistake("missing: only one side of the blank is given", "both length and width, or neither")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PanelEntry(Section):
    """A heater panel on one side; the exchange factor is given, or follows from the panel's size and gap."""

    meaning = "a heater panel on one side of the sheet"

    temperature: Changing = key(Varying(TEMPERATURE), "Temperature of the panel's face.")
    emissivity: Number = key(share(above=0.0), "Emissivity of the panel's face.", default=0.9)
    exchange: Number | None = key(
        share(), "Exchange factor between panel and sheet: share of sigma (panel^4 - sheet^4) that reaches the sheet.",
        default=None, default_words="from size and gap (view factor at the middle of the sheet) and both emissivities",
    )  # fmt: skip
    size: tuple[Number, ...] | None = key(
        ListOf(_SIZE, least=2, most=2),
        "Length and width of the panel.",
        default=None,
        default_words="exchange is given",
    )
    gap: Number | None = key(
        Quantity("length", above=0.0, high=100.0, example="150 mm"), "Distance between panel and sheet.", default=None,
        default_words="exchange is given",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """The exchange factor comes from one place."""
        if "exchange" in given and {"size", "gap"} & given:
            (at / "exchange").mistake("stands together with size or gap", "exchange, or size and gap")
        elif "exchange" not in given and not {"size", "gap"} <= given:
            missing = " and ".join(name for name in ("size", "gap") if name not in given)
            if len(missing) > len("size"):
                (at / "exchange").mistake(
                    "missing: neither exchange nor size and gap are given", "exchange, or size and gap"
                )
            else:
                (at / missing).mistake("missing", "size and gap together, or exchange")


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
class PanelsStation(Section):
    """Heating between panels; a side without a panel sees the air only."""

    meaning = "heating between panels"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    kind: str = key(Choice(("panels",)), "Kind of station.", default="panels", stated=True)
    duration: Number | Find = key(Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.')
    upper: PanelEntry | None = key(
        Sub(PanelEntry), "Panel above the sheet.", default=None, default_words="none: that side sees the air only"
    )
    lower: PanelEntry | None = key(
        Sub(PanelEntry), "Panel below the sheet.", default=None, default_words="none: that side sees the air only"
    )
    air: AirEntry = key(Sub(AirEntry), "Air of the oven.")

    def check(self, at: At, given: frozenset[str]) -> None:
        """Without a panel it is another kind of station."""
        if not {"upper", "lower"} & given:
            at.mistake("neither an upper nor a lower panel is given", "one or both", 'without panels: kind = "air"')


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class AirStation(Section):
    """Air on both faces: transfer to the mould, waiting, a hot-air oven."""

    meaning = "air on both faces: transfer, waiting, a hot-air oven"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    kind: str = key(Choice(("air",)), "Kind of station.", default="air", stated=True)
    duration: Number | Find = key(Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.')
    air: AirEntry = key(Sub(AirEntry), "The air.")
    emissivity: Number | None = key(
        share(), "Emissivity of the sheet's faces towards the surroundings; 0 for none.", default=None,
        default_words="the sheet's",
    )  # fmt: skip
    surround: Changing | None = key(
        Varying(TEMPERATURE), "Temperature of the surroundings that the faces see.", default=None,
        default_words="the air's",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SheetLimits(Section):
    """What the heated sheet must keep to."""

    meaning = "what the heated sheet must keep to"

    coldest_point: Number | None = key(
        TEMPERATURE, "Coldest point at the end of the last station: at least this.", default=None,
        default_words="the material's lower forming limit",
    )  # fmt: skip
    hottest_face: Number | None = key(
        TEMPERATURE, "Hottest face at any time: at most this.", default=None,
        default_words="the material's upper forming limit",
    )  # fmt: skip
    face_core_difference: Number | None = key(
        _DIFFERENCE, "Hottest less coldest point at the end of the last station: at most this.", default=None,
        default_words="none",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """The window must be open."""
        coldest, hottest = self.coldest_point, self.hottest_face
        if known(coldest, hottest) and coldest is not None and hottest is not None and coldest >= hottest:
            (at / "coldest_point").mistake("does not lie below hottest_face", "coldest_point below hottest_face")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SheetCase(Case):
    """A sheet through panels and air."""

    meaning = "heating a sheet between panels before it is formed"

    process: str = key(Choice(("sheet",)), "Kind of case.", default="sheet", stated=True)
    sheet: SheetSection = key(Sub(SheetSection), "The sheet.")
    stations: tuple[PanelsStation | AirStation, ...] = key(
        ListOf(OneOf("kind", (("panels", PanelsStation), ("air", AirStation))), least=1, most=1000, naming="station"),
        "What the sheet passes through, in order.",
    )
    limits: SheetLimits = key(Sub(SheetLimits), "What the heated sheet must keep to.", default=SheetLimits())

    def depth(self) -> Any:
        """Thickness of the sheet [m]."""
        return total([self.sheet.thickness]) if known(self.sheet) else None

    def duration(self) -> Any:
        """Time of all stations [s]."""
        if not known(self.stations) or not known(*self.stations):
            return None
        return total([station.duration for station in self.stations])


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

[[stations]]                    # in order; each starts where the one before ends
name = "heat"
kind = "panels"
duration = "find"               # or a time, such as "60 s"; { find = ["10 s", "300 s"] } bounds the search
[stations.upper]                # leave a panel out where there is none: that side then sees the air only
temperature = "400 degC"        # of the panel's face
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
