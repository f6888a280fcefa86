"""Ovens whose air follows from heater power, losses, air change, doors and the rack of formers in them."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import Section, key, known
from thermokit.case.dip_former import FormerLayer
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, Quantity, Text, Whole

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

AIR_HEAT = 1.19 * 1006.0  # J/m3/K, of a cubic metre of air at 23 degC that the oven draws in
_TIME = Quantity("time", low=0.0, high=1e10, example="60 s")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DoorEntry(Section):
    """A door that stands open for a while: room air goes through the oven."""

    meaning = "a door that stands open for a while"

    at: Numeric = key(_TIME, "When it opens, from the beginning of the station.")
    lasts: Numeric = key(Quantity("time", above=0.0, high=1e10, example="20 s"), "How long it stands open.")
    exchange: Numeric = key(
        Quantity("flow", low=0.0, high=1e4, example="0.2 m3/s"), "Room air that goes through it, as drawn in."
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RackEntry(Section):
    """Other formers in the same oven: what differs from the case's own former."""

    meaning = "other formers in the oven: what differs from the case's own"

    name: str = key(Text(100), "Its name.", default="", default_words="former_1, ...")
    count: int = key(Whole(1, 100_000), "How many there are of it.")
    shape: str | None = key(
        Choice(("plane", "cylinder", "sphere")), "Its shape.", default=None, default_words="as the case's former"
    )
    inner_radius: Numeric | None = key(
        Quantity("length", low=0.0, high=10.0, example="12 mm"), "Radius inside.", default=None,
        default_words="as the case's former",
    )  # fmt: skip
    layers: tuple[FormerLayer, ...] = key(
        ListOf(Sub(FormerLayer), most=20, naming="layer"), "Its layers, from the inside outwards.", default=(),
        default_words="as the case's former",
    )  # fmt: skip
    area: Numeric | None = key(
        Quantity("area", above=0.0, high=1e4, example="240 cm2"), "Outer area of one of them.", default=None,
        default_words="as the case's former",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OvenEntry(Section):
    """An oven as one body of air and sheet metal, heated up to its power."""

    meaning = "an oven: its air follows from power, losses, air change, doors and load"

    temperature: Numeric = key(TEMPERATURE, "Temperature that its controller holds.")
    power: Numeric = key(Quantity("power", above=0.0, high=1e9, example="12 kW"), "Most that its heaters give.")
    start: Numeric | None = key(
        TEMPERATURE, "Temperature of its air when the station begins.", default=None, default_words="as set"
    )
    losses: Numeric = key(
        Quantity("thermal_conductance", low=0.0, high=1e6, example="30 W/K"),
        "Heat lost through its walls for each kelvin above the room.", default=0.0,
    )  # fmt: skip
    capacity: Numeric = key(
        Quantity("heat_capacity", above=0.0, high=1e9, example="40 kJ/K"),
        "Heat capacity of its air, racks and inner sheet metal.", default=20_000.0, default_words="20 kJ/K: assumed",
    )  # fmt: skip
    air_change: Numeric = key(
        Quantity("flow", low=0.0, high=1e4, example="0.02 m3/s"), "Room air that is drawn through it, as drawn in.",
        default=0.0,
    )  # fmt: skip
    room: Numeric = key(TEMPERATURE, "Temperature of the room.", default=296.15)
    band: Numeric = key(
        Quantity("temperature_difference", above=0.0, high=200.0, example="2 K"),
        "Below the set temperature by so much the heaters give all their power; nearer to it less, in proportion.", default=2.0,
    )  # fmt: skip
    count: int = key(Whole(0, 100_000), "How many of the case's own former are in it.", default=1)
    doors: tuple[DoorEntry, ...] = key(
        ListOf(Sub(DoorEntry, inline=True), most=200), "Openings of its door.", default=()
    )
    rack: tuple[RackEntry, ...] = key(
        ListOf(Sub(RackEntry), most=50, naming="former"), "Other formers in it.", default=()
    )
    #: air that was found for this oven, with what it was found for: a study asks for it many times
    solved: list[Any] = field(default_factory=list, compare=False, repr=False)

    def idle_power(self) -> Numeric:
        """Power that it takes to hold the set temperature without a load [W]."""
        return (self.losses + AIR_HEAT * self.air_change) * (self.temperature - self.room)

    def check(self, at: At, given: frozenset[str]) -> None:
        """The heaters must hold the set temperature at least without a load."""
        if known(self.losses, self.air_change, self.temperature, self.room, self.power):
            idle = float(self.idle_power())
            if idle >= float(self.power):
                reached = self.room + self.power / (self.losses + AIR_HEAT * self.air_change)
                (at / "power").mistake(
                    f"never holds the set temperature: walls and air change alone take {idle / 1e3:.3g} kW there",
                    f"above {idle / 1e3:.3g} kW",
                    f"with this power the empty oven stands at {float(reached) - 273.15:.0f} degC at most",
                )
