"""What a charge goes through in the press and after it: load, close, breathe, cure, open, cool, post-bake.

Each kind of station brings contacts of its own, common practice without a source: a charge that lies loose on hot metal
takes up heat at some 200 to 500 W/m2/K, under pressure at 2000 to 10 000.
"""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.common import DURATION
from thermokit.case.declare import Section, key
from thermokit.case.structure import OneOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Sought, Varying
from thermokit.case.values import Choice, Quantity, Text, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

_CONTACT = Varying(Quantity("heat_transfer_coefficient", above=0.0, high=1e12, example="3000 W/m2/K"))
_AIR = Varying(Quantity("heat_transfer_coefficient", low=0.0, high=1e6, example="10 W/m2/K"))
_TOUCH = "Conductance of the contact with the mould; a table only where that half has no body of its own."
_OWN = "Temperature of that half (of its platen where it has a body) in this station: step-cures, ramps."
_OF_MOULD = "that of [mould]"
SIDES = ("upper", "lower")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ShutSide(Section):
    """One side of a charge under pressure."""

    meaning = "one side of the charge, pressed against its half of the mould"

    contact: Changing = key(_CONTACT, _TOUCH, default=3000.0)
    temperature: Changing | None = key(Varying(TEMPERATURE), _OWN, default=None, default_words=_OF_MOULD)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ClosingSide(Section):
    """One side of a charge that begins to flow."""

    meaning = "one side of the charge while the press closes"

    contact: Changing = key(_CONTACT, _TOUCH, default=1000.0)
    temperature: Changing | None = key(Varying(TEMPERATURE), _OWN, default=None, default_words=_OF_MOULD)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LooseSide(Section):
    """One side of a charge or part that lies without pressure."""

    meaning = "one side that lies on its half of the mould without pressure"

    contact: Changing = key(_CONTACT, _TOUCH, default=300.0)
    temperature: Changing | None = key(Varying(TEMPERATURE), _OWN, default=None, default_words=_OF_MOULD)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FixtureSide(Section):
    """One side of a part on a cooling fixture."""

    meaning = "one side of the part on a cooling fixture"

    temperature: Changing = key(Varying(TEMPERATURE), "Temperature of the fixture.")
    contact: Changing = key(_CONTACT, "Conductance of the contact with the fixture.", default=300.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class GapAir(Section):
    """Air between the open halves of a hot mould, radiation of the other half counted in."""

    meaning = "the air between the open halves, radiation counted in"

    temperature: Changing = key(Varying(TEMPERATURE), "Its temperature.", default=333.15)
    coefficient: Changing = key(_AIR, "Heat transfer coefficient.", default=10.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RoomAir(Section):
    """Air round a part that has left the mould; the faces radiate besides."""

    meaning = "the air round the part; its faces radiate besides, to surroundings of the same temperature"

    temperature: Changing = key(Varying(TEMPERATURE), "Its temperature.", default=296.15)
    coefficient: Changing = key(_AIR, "Heat transfer coefficient: 5 to 10 W/m2/K still.", default=6.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OvenAir(Section):
    """Air of an oven; the faces radiate besides."""

    meaning = "the air of the oven; faces radiate besides, to walls of the same temperature"

    temperature: Changing = key(Varying(TEMPERATURE), "Its temperature.")
    coefficient: Changing = key(_AIR, "Heat transfer coefficient: 12 to 50 W/m2/K with a fan.", default=20.0)


def _name() -> Any:
    return key(Text(100), "Its name.", default="", default_words="station_1, ...")


def _kind(word: str) -> Any:
    return key(Choice((word,)), "Kind of station.", default=word, stated=True)


def _duration() -> Any:
    return key(Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.')


def _side(section: type[Section], which: str, made: Section) -> Any:
    return key(Sub(section), f"The {which} side of the charge.", default=made, default_words="as its kind has it")


def _emissivity() -> Any:
    return key(share(), "Emissivity of its faces; 0 for none.", default=None, default_words="the material's")


class _InPress:
    """What the stations have in common, for those that use them: which sides touch, and what is there."""

    upper: Any = None
    lower: Any = None
    air: Any = None
    emissivity: Any = 0.0

    @property
    def touches(self) -> tuple[str, ...]:
        """Sides that touch the mould or a fixture."""
        return SIDES


class _OnAHalf(_InPress):
    """Stations in which the charge stays on one half, or on both or neither."""

    on: str

    def check(self, at: At, given: frozenset[str]) -> None:
        """No side stands in the file that touches nothing."""
        untouched(at, given, self.touches)

    def unwritten(self) -> frozenset[str]:
        """The side that touches nothing."""
        return frozenset(SIDES) - frozenset(self.touches)

    @property
    def touches(self) -> tuple[str, ...]:
        """The sides that lie on a half."""
        return sides_on(self.on)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LoadStation(_InPress, Section):
    """The charge lies on the lower half and the press is open."""

    meaning = "the charge lies on the lower half, the press is open"

    name: str = _name()
    kind: str = _kind("load")
    duration: Number | Find = _duration()
    lower: LooseSide = _side(LooseSide, "lower", LooseSide())
    air: GapAir = key(Sub(GapAir), "Above the charge.", default=GapAir(), default_words="60 degC, 10 W/m2/K")

    @property
    def touches(self) -> tuple[str, ...]:
        """The lower side."""
        return ("lower",)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CloseStation(_InPress, Section):
    """The press closes: both halves touch, the pressure is still coming."""

    meaning = "the press closes: both halves touch, the pressure is still coming"

    name: str = _name()
    kind: str = _kind("close")
    duration: Number | Find = _duration()
    upper: ClosingSide = _side(ClosingSide, "upper", ClosingSide())
    lower: ClosingSide = _side(ClosingSide, "lower", ClosingSide())


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BreatheStation(_OnAHalf, Section):
    """The press is opened a little to let gas out; the charge stays on one half."""

    meaning = "the press is opened a little to let gas out"

    name: str = _name()
    kind: str = _kind("breathe")
    duration: Number | Find = _duration()
    on: str = key(Choice(("lower", "upper", "both")), "Which half the charge stays on.", default="lower")
    upper: LooseSide = _side(LooseSide, "upper", LooseSide())
    lower: LooseSide = _side(LooseSide, "lower", LooseSide())
    air: GapAir = key(Sub(GapAir), "In the gap.", default=GapAir(), default_words="60 degC, 10 W/m2/K")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CureStation(_InPress, Section):
    """The press is shut under pressure. The last one ends when the press opens."""

    meaning = "the press is shut under pressure; the end of the last one is the opening"

    name: str = _name()
    kind: str = _kind("cure")
    duration: Number | Find = _duration()
    upper: ShutSide = _side(ShutSide, "upper", ShutSide())
    lower: ShutSide = _side(ShutSide, "lower", ShutSide())


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OpenStation(_OnAHalf, Section):
    """The press is open and the part lies on one half, or has been taken out."""

    meaning = "the press is open, the part still lies on one half or on neither"

    name: str = _name()
    kind: str = _kind("open")
    duration: Number | Find = _duration()
    on: str = key(Choice(("lower", "upper", "neither")), "Which half the part lies on.", default="lower")
    upper: LooseSide = _side(LooseSide, "upper", LooseSide())
    lower: LooseSide = _side(LooseSide, "lower", LooseSide())
    air: RoomAir = key(Sub(RoomAir), "The air.", default=RoomAir(), default_words="23 degC, 6 W/m2/K")
    emissivity: Number | None = _emissivity()


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CoolStation(_InPress, Section):
    """The part cools, in air or on a fixture that keeps its shape."""

    meaning = "the part cools in air, or on a fixture on one side or both"

    name: str = _name()
    kind: str = _kind("cool")
    duration: Number | Find = _duration()
    upper: FixtureSide | None = key(Sub(FixtureSide), "Fixture above.", default=None, default_words="air")
    lower: FixtureSide | None = key(Sub(FixtureSide), "Fixture below.", default=None, default_words="air")
    air: RoomAir = key(Sub(RoomAir), "The air.", default=RoomAir(), default_words="23 degC, 6 W/m2/K")
    emissivity: Number | None = _emissivity()

    @property
    def touches(self) -> tuple[str, ...]:
        """Sides with a fixture."""
        return tuple(side for side in SIDES if getattr(self, side) is not None)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PostBakeStation(_InPress, Section):
    """The part is baked on in an oven."""

    meaning = "the part is baked on in an oven, both faces in its air"

    name: str = _name()
    kind: str = _kind("post_bake")
    duration: Number | Find = _duration()
    air: OvenAir = key(Sub(OvenAir), "The air of the oven.")
    emissivity: Number | None = _emissivity()

    @property
    def touches(self) -> tuple[str, ...]:
        """None."""
        return ()


KINDS: tuple[tuple[str, type[Section]], ...] = (
    ("load", LoadStation),
    ("close", CloseStation),
    ("breathe", BreatheStation),
    ("cure", CureStation),
    ("open", OpenStation),
    ("cool", CoolStation),
    ("post_bake", PostBakeStation),
)
STATION = OneOf("kind", KINDS)


def sides_on(on: str) -> tuple[str, ...]:
    """Sides that touch, from the word for it."""
    return tuple(side for side in SIDES if on in (side, "both"))


def untouched(at: At, given: frozenset[str], touches: tuple[str, ...]) -> None:
    """Tell of a side that stands in the file though nothing touches it."""
    for side in SIDES:
        if side in given and side not in touches:
            (at / side).mistake("is given, but there the charge touches nothing", "only the side named by on")
