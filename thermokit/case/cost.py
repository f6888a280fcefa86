"""What energy, machine and hands cost: ``[cost]``, for `thermokit cost` and `thermokit bottleneck`."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key
from thermokit.case.values import Choice, Number, Quantity, Text, Whole, share

if TYPE_CHECKING:
    from thermokit.conduction.problem import Number as Numeric

IN_TURN, SIDE_BY_SIDE = "in_turn", "side_by_side"
EFFICIENCY = 0.5  # of heaters, where neither model nor user knows: common practice, no source
COOLING = 3.0  # heat taken out for each unit that a chiller draws: common practice, no source
PUMP = 0.5  # of a pump with its motor: common practice, no source
_MONEY = Number(low=0.0, high=1e9)
_POWER = Quantity("power", low=0.0, high=1e9, example="3 kW")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Cost(Section):
    """Tariffs and rates, in a currency of the user's own."""

    meaning = "tariffs, rates and the cycle, for `thermokit cost` and `thermokit bottleneck`"

    currency: str = key(Text(20), "The currency, as you write it.", default="", default_words="none is named")
    energy: Numeric | None = key(_MONEY, "Price of a kWh.", default=None, default_words="energy has no price")
    machine: Numeric | None = key(_MONEY, "Rate of a machine hour.", default=None, default_words="no rate")
    labour: Numeric | None = key(_MONEY, "Rate of the hands at it, an hour.", default=None, default_words="no rate")
    material: Numeric | None = key(_MONEY, "Price of a kg of material.", default=None, default_words="no price")
    parts: int = key(Whole(1, 100_000), "Parts that one cycle gives.", default=1)
    stations: str = key(
        Choice((IN_TURN, SIDE_BY_SIDE)),
        "Whether one part passes the stations while the machine waits for it (in_turn), or each station works on a part of its own "
        "(side_by_side: the slowest rules).",
        default=IN_TURN,
    )  # fmt: skip
    between: Numeric = key(
        Quantity("time", low=0.0, high=1e7, example="12 s"), "Time from one part to the next: loading, taking out.",
        default=0.0,
    )  # fmt: skip
    area: Numeric | None = key(
        Quantity("area", above=0.0, high=1e6, example="0.24 m2"), "Area of the parts of one cycle that heat goes through.",
        default=None, default_words="from the case, where it says so",
    )  # fmt: skip
    length: Numeric | None = key(
        Quantity("length", above=0.0, high=1e6, example="2 m"), "Length of a part that is a rod, a pipe or a piece of a line.",
        default=None, default_words="none",
    )  # fmt: skip
    efficiency: Numeric | None = key(
        share(above=0.0), "Share of what heaters draw that comes into the part.", default=None,
        default_words=f"from the model of the panels, else {EFFICIENCY:g}: assumed, common practice, no source",
    )  # fmt: skip
    cooling: Numeric = key(
        Number(above=0.0, high=100.0), "Heat that the chiller takes out for each kWh that it draws.", default=COOLING,
        default_words=f"{COOLING:g}: assumed, common practice, no source",
    )  # fmt: skip
    idle: Numeric = key(_POWER, "Power drawn all the time: fans, drives, controls.", default=0.0)
    pump: Numeric | None = key(
        _POWER, "Power of the pumps.", default=None,
        default_words=f"hydraulic power of the circuits over {PUMP:g}: assumed, common practice, no source; else none",
    )  # fmt: skip
    scrap: Numeric = key(share(high=0.99), "Share of parts that is thrown away.", default=0.0)
