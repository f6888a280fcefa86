"""The moulding of a mould case: its wall with ribs and bosses, or an outline; what feeds it; the shot."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.common import DURATION
from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Sought
from thermokit.case.values import Choice, LibraryName, Quantity, Text

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number

LENGTH = Quantity("length", above=0.0, high=10.0, example="150 mm")
COORDINATE = Quantity("length", low=-10.0, high=10.0, example="40 mm")
POINT = ListOf(COORDINATE, least=2, most=2)
OUTLINE = ListOf(POINT, least=3, most=2000)
THIN = Quantity("length", above=0.0, high=0.2, example="2.5 mm")
SIDES = ("cavity", "core")

Point = tuple["Number", "Number"]


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RibEntry(Section):
    """A rib or boss on a flat wall; a boss is cut as a rib as thick as the boss, a hollow one as two."""

    meaning = "a rib or boss on the flat wall: a boss counts as a rib as thick as it is, a hollow one as two"

    name: str = key(Text(100), "Its name.", default="", default_words="rib_1, ...")
    position: Number = key(
        Quantity("length", low=0.0, high=10.0, example="50 mm"), "Its middle, from the part's left end."
    )
    thickness: Number = key(
        THIN, "Its thickness at the wall: up to 0.6 of the wall keeps sink marks away, common practice."
    )
    height: Number = key(THIN, "How far it stands out of the wall.")
    tip: Number | None = key(THIN, "Its thickness at the tip.", default=None, default_words="as at the wall: no draft")
    side: str = key(Choice(SIDES), "The half of the mould that it stands in.", default="core")

    def check(self, at: At, given: frozenset[str]) -> None:
        """It does not widen towards the tip."""
        if known(self.tip, self.thickness) and self.tip is not None and self.tip > self.thickness:
            (at / "tip").mistake(
                "is thicker than at the wall: the part would not come out", "up to the rib's thickness"
            )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PartSection(Section):
    """The moulding, cut across its channels."""

    meaning = "the moulding, cut across the channels: x along the wall from its left end, y from the cavity (below) to the core"

    material: str = key(LibraryName("materials"), "What it is moulded of.")
    melt: Number = key(TEMPERATURE, "Temperature of the melt as it fills the mould (needle probe in a purged shot).")
    thickness: Number | None = key(
        THIN, "Thickness of the wall.", default=None,
        default_words="must be given, unless an outline or a drawing gives the part: then twice its area over its girth",
    )  # fmt: skip
    length: Number | None = key(
        LENGTH, "Length of the flat wall along the section.", default=None,
        default_words="must be given, unless an outline or a drawing gives the part",
    )  # fmt: skip
    ribs: tuple[RibEntry, ...] = key(
        ListOf(Sub(RibEntry), most=50, naming="rib"),
        "Ribs and bosses on the flat wall.",
        default=(),
        default_words="none",
    )
    outline: tuple[Point, ...] = key(
        OUTLINE, "Corners [x, y] of the section all round, instead of a flat wall: cavity below, core above.", default=(),
        default_words="a flat wall",
    )  # fmt: skip
    parting: Number | None = key(
        COORDINATE, "Height y at which the halves of the mould meet beside the part.", default=None,
        default_words="the lower end of the part's left and right ends",
    )  # fmt: skip
    width: Number | None = key(
        LENGTH, "Extent of the part across the section, for its mass and heat.", default=None,
        default_words="the length of the channels",
    )  # fmt: skip
    expansion: Number | None = key(
        Quantity("inverse_temperature", low=0.0, high=0.01, example="1.4e-4 1/K"), "Linear thermal expansion, for the bow.",
        default=None, default_words="that of the material's record; where it has none, no bow is given",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """A flat wall or an outline."""
        for word in ("length", "ribs"):
            if "outline" in given and word in given:
                (at / word).mistake("stands together with an outline", "a flat wall with ribs, or an outline")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FeedSection(Section):
    """What feeds the part: gate, runner, sprue."""

    meaning = "gate, runner and sprue, by which the hold and sometimes the cycle are set"

    gate_thickness: Number | None = key(
        THIN, "Thickness of a flat gate.", default=None, default_words="gate_diameter, or no gate is looked at"
    )
    gate_diameter: Number | None = key(
        THIN, "Diameter of a round gate.", default=None, default_words="gate_thickness, or no gate is looked at"
    )
    runner_diameter: Number | None = key(
        THIN, "Diameter of a cold runner (of the round one with the same area for others).", default=None,
        default_words="none, or a hot one",
    )  # fmt: skip
    sprue_diameter: Number | None = key(
        THIN, "Largest diameter of a cold sprue.", default=None, default_words="none, or a hot one"
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """One gate."""
        if {"gate_thickness", "gate_diameter"} <= given:
            (at / "gate_diameter").mistake("stands together with gate_thickness", "a flat gate or a round one")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CycleSection(Section):
    """The times of a shot."""

    meaning = "the times of a shot, in their order; heat counts from the end of the fill"

    fill: Number = key(
        DURATION, "Time to fill; the part is taken to be at its melt temperature when it ends.", default=1.0
    )
    hold: Number | None = key(
        DURATION, "Hold (packing) pressure from the end of the fill.", default=None,
        default_words="until the gate has frozen and 0.75 s more (0.5 to 1 s: common practice, no source)",
    )  # fmt: skip
    cooling: Number | Find = key(
        Sought(DURATION),
        'Cooling from the end of the hold until the mould opens; "find" leaves it to `thermokit dwell`.',
    )
    open: Number = key(DURATION, "From opening until it is shut again for the next shot.", default=5.0)
