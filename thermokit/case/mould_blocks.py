"""The mould of a mould case: its two halves, inserts, contacts, and the circuits of channels in it."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key, known
from thermokit.case.mould_parts import COORDINATE, LENGTH, OUTLINE, POINT, SIDES, THIN
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, LibraryName, Quantity, Text, Whole, share
from thermokit.exchange.coolants import COOLANTS

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.mould_parts import Point
    from thermokit.conduction.problem import Number

_CONTACT = Quantity("heat_transfer_coefficient", above=0.0, high=1e6, example="5000 W/m2/K")
_FILM = Quantity("heat_transfer_coefficient", low=0.0, high=1e4, example="10 W/m2/K")
_FLOW = Quantity("flow", above=0.0, high=1.0, example="8 L/min")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BlockEntry(Section):
    """A half of the mould."""

    meaning = "a half of the mould: a block with channels"

    material: str = key(LibraryName("materials"), "What it is made of.", default="steel_p20")
    height: Number | None = key(
        LENGTH, "From the parting line to its back.", default=None,
        default_words="60 mm beyond the part's deepest place: assumed",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class InsertEntry(Section):
    """An insert in a half: of its own metal."""

    meaning = "an insert of another metal in a half of the mould"

    name: str = key(Text(100), "Its name.", default="", default_words="insert_1, ...")
    material: str = key(LibraryName("materials"), "What it is made of.")
    outline: tuple[Point, ...] = key(
        OUTLINE, "Corners [x, y] all round, in the part's coordinates.", default=(), default_words="corner and size"
    )
    corner: Point | None = key(
        POINT, "Its lower left corner [x, y], for a rectangle.", default=None, default_words="an outline is given"
    )
    size: Point | None = key(
        ListOf(LENGTH, least=2, most=2), "Its width and height, for a rectangle.", default=None,
        default_words="an outline is given",
    )  # fmt: skip
    contact: Number | None = key(
        _CONTACT, "Conductance of the contact with its block.", default=None, default_words="perfect contact"
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MouldBlocks(Section):
    """The mould."""

    meaning = "the mould: its halves, inserts and contacts"

    width: Number | None = key(
        LENGTH, "Length of both halves along the section, the part in the middle.", default=None,
        default_words="the part's length and 60 mm: assumed",
    )  # fmt: skip
    cavity: BlockEntry = key(
        Sub(BlockEntry), "The half below the part.", default=BlockEntry(), default_words="steel_p20"
    )
    core: BlockEntry = key(Sub(BlockEntry), "The half above the part.", default=BlockEntry(), default_words="steel_p20")
    inserts: tuple[InsertEntry, ...] = key(
        ListOf(Sub(InsertEntry), most=50, naming="insert"), "Inserts.", default=(), default_words="none"
    )
    packed_contact: Number = key(
        _CONTACT, "Conductance between part and mould while the hold presses: 2000 to 20 000 W/m2/K, from memory.",
        default=5000.0,
    )  # fmt: skip
    shrunk_contact: Number = key(
        _CONTACT, "The same after the hold, the part partly free: 400 to 2000 W/m2/K, from memory.", default=1000.0
    )
    parting_contact: Number = key(
        _CONTACT, "Conductance between the halves where they meet: common practice, no source.", default=2000.0
    )
    start: Number | None = key(
        TEMPERATURE, "Temperature of the mould at the first shot.", default=None,
        default_words="that of the coolant as it comes in",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CircuitEntry(Section):
    """A circuit: channels across the section through which one stream runs."""

    meaning = "a circuit of channels across the section"

    name: str = key(Text(100), "Its name.", default="", default_words="circuit_1, ...")
    side: str = key(Choice(SIDES), "The half of the mould that it is drilled in.")
    coolant: str = key(Choice(COOLANTS), "What runs through it.", default="water")
    glycol: Number = key(share(high=0.6), "Share of glycol by mass, where the coolant is water_glycol.", default=0.3)
    temperature: Number = key(TEMPERATURE, "Temperature of the coolant as it comes in.")
    flow: Number = key(_FLOW, "Flow through the circuit (rotameter, or bucket and watch).")
    connected: str = key(
        Choice(("series", "parallel")),
        "series: one channel after the other, in the order in which they are given; parallel: the flow is shared out evenly.",
        default="series",
    )
    diameter: Number | None = key(
        THIN, "Diameter of the channels: 8 to 14 mm, common practice.", default=None,
        default_words="must be given, unless a drawing shows the channels",
    )  # fmt: skip
    depth: Number | None = key(
        THIN, "From the part's face to the channels' axis: 1 to 2.5 diameters, common practice.", default=None,
        default_words="must be given, unless centres or a drawing show where they are",
    )  # fmt: skip
    pitch: Number | None = key(
        LENGTH, "From axis to axis: 2.5 to 5 diameters, common practice; the row is in the middle of the part.", default=None,
        default_words="positions, centres or a drawing are given, or there is one channel",
    )  # fmt: skip
    count: int | None = key(
        Whole(1, 100),
        "How many channels.",
        default=None,
        default_words="positions, centres or a drawing are given",
        physical=False,
    )
    positions: tuple[Number, ...] = key(
        ListOf(COORDINATE, most=100), "x of every axis, in the order in which the coolant meets them.", default=(),
        default_words="pitch and count, centres, or a drawing",
    )  # fmt: skip
    centres: tuple[Point, ...] = key(
        ListOf(POINT, most=100), "[x, y] of every axis, in the order in which the coolant meets them.", default=(),
        default_words="depth with pitch and count or positions, or a drawing",
    )  # fmt: skip
    length: Number = key(LENGTH, "Length of each channel across the section.")
    link: Number = key(
        Quantity("length", low=0.0, high=100.0, example="300 mm"),
        "Length of hose or drilling from one channel to the next, for the pressure drop.", default=0.2,
    )  # fmt: skip
    bore: str = key(
        Choice(("plain", "baffle", "bubbler")),
        "plain: straight through; baffle: a plate sends the coolant up one side of the bore and down the other; bubbler: a tube "
        "brings it to the end and it comes back round it.",
        default="plain",
    )
    insert: Number = key(
        Quantity("length", low=0.0, high=0.2, example="2 mm"),
        "Thickness of a baffle's plate, or outer diameter of a bubbler's tube.", default=0.002,
    )  # fmt: skip
    scale: Number = key(
        Quantity("length", low=0.0, high=0.005, example="0.5 mm"),
        "Thickness of scale on the channels' walls.",
        default=0.0,
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """The channels are placed in one way."""
        if "centres" in given:
            for word in ("depth", "pitch", "count", "positions"):
                if word in given:
                    (at / word).mistake("stands together with centres", "centres alone say where the channels are")
        elif "positions" in given:
            for word in ("pitch", "count"):
                if word in given:
                    (at / word).mistake("stands together with positions", "positions, or pitch and count")
        elif (
            "count" in given
            and "pitch" not in given
            and known(self.count)
            and self.count is not None
            and self.count > 1
        ):
            (at / "pitch").mistake("missing", "with count, the distance from axis to axis")
        elif "pitch" in given and "count" not in given:
            (at / "count").mistake("missing", "with pitch, how many channels")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ShopAir(Section):
    """The air of the shop."""

    meaning = "the air round the mould"

    temperature: Number = key(TEMPERATURE, "Its temperature.", default=296.15)
    humidity: Number = key(
        share(), "Its relative humidity, for the dew point.", default=0.5, default_words="50 %: assumed"
    )
    coefficient: Number = key(
        _FILM,
        "Heat transfer coefficient on the mould's outside and on its open faces, radiation counted in.",
        default=10.0,
    )
