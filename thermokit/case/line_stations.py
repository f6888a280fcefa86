"""What runs through the line passes: rolls, nips, air, ovens, lamps, sizing die, baths, coats, haul-off, wind-up.

A station has a length (a roll a wrap angle); the time in it is length over speed. What has no length (a coat, the haul-off) is
a place where something is put on or judged.
"""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import Section, key
from thermokit.case.line_body import COEFFICIENT, CONTACT, LineLayer, OpeningEntry
from thermokit.case.line_lamps import LampsStation
from thermokit.case.line_rolls import (
    ROLLS,
    ChillStation,
    DrumStation,
    LineStation,
    NipStation,
    RollStation,
    air_key,
    draw_key,
    kind_key,
    length_key,
)
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, Flag, Quantity

if TYPE_CHECKING:
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number as Numeric


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SpanStation(LineStation):
    """A free span in the air."""

    meaning = "a free span in the air"

    kind: str = kind_key("span")
    length: Numeric | Find = length_key()
    temperature: Numeric | None = key(TEMPERATURE, "The air's temperature.", default=None,
                                      default_words="that of the line's air")  # fmt: skip
    coefficient: Numeric | None = air_key()
    draw: Numeric = draw_key()


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class KnifeStation(LineStation):
    """Air blown onto what runs, from an air knife or jets."""

    meaning = "air blown on by an air knife or jets"

    kind: str = kind_key("air_knife")
    length: Numeric | Find = length_key()
    temperature: Numeric = key(TEMPERATURE, "The air's temperature.", default=296.15)
    coefficient: Numeric = key(COEFFICIENT, "Heat transfer coefficient: 80 to 250 W/m2/K.", default=150.0)
    side: str = key(Choice(("face", "back", "both")), "Which side it meets.", default="both")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OvenStation(LineStation):
    """A tunnel of hot air."""

    meaning = "a tunnel of hot air"

    kind: str = kind_key("oven")
    length: Numeric | Find = length_key()
    temperature: Numeric = key(TEMPERATURE, "Temperature of its air and walls.")
    coefficient: Numeric = key(COEFFICIENT, "Heat transfer coefficient: fan 12 to 50, nozzles 40 to 150 W/m2/K.")
    draw: Numeric = draw_key()


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DieStation(LineStation):
    """A sizing die: what comes out hot slides along a cooled sleeve."""

    meaning = "a sizing die: contact with a cooled sleeve"

    kind: str = kind_key("die")
    length: Numeric | Find = length_key()
    temperature: Numeric = key(TEMPERATURE, "Temperature of its sleeve or water.", default=288.15)
    wet: bool = key(Flag(), "Whether a film of water lies between.", default=True)
    contact: Numeric | None = key(
        CONTACT, "Conductance of the contact.", default=None,
        default_words="wet 1200 (500 to 3000), dry 500 (200 to 1000) W/m2/K: from memory",
    )  # fmt: skip
    pressed: str = key(
        Choice(("vacuum", "pressure")),
        "What holds it to the sleeve: vacuum outside, or pressure inside.",
        default="vacuum",
    )
    draw: Numeric = draw_key()

    @property
    def joint(self) -> Any:
        """Conductance of the contact [W/m2/K]."""
        return self.contact if self.contact is not None else 1200.0 if self.wet else 500.0


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BathStation(LineStation):
    """A bath, a spray box or a section of trough."""

    meaning = "a bath, a spray box or a section of trough"

    kind: str = kind_key("bath")
    length: Numeric | Find = length_key()
    temperature: Numeric = key(TEMPERATURE, "Temperature of its water.", default=288.15)
    state: str = key(
        Choice(("still", "stirred", "spray", "trough")),
        "still; stirred or circulated; spray; trough: drawn through it fast, lengthwise.", default="stirred",
    )  # fmt: skip
    coefficient: Numeric | None = key(
        COEFFICIENT, "Heat transfer coefficient.", default=None,
        default_words="still 1000, stirred 2000, spray 1500 W/m2/K; trough by correlation from length and speed",
    )  # fmt: skip
    water: Numeric | None = key(
        Quantity("flow", above=0.0, high=1e3, example="40 L/min"), "Water that is let through it, for its rise.", default=None,
        default_words="its rise is not told", physical=False,
    )  # fmt: skip

    @property
    def exchange(self) -> Any:
        """Its coefficient [W/m2/K], None of a trough where it goes by speed."""
        if self.coefficient is not None:
            return self.coefficient
        return {"still": 1000.0, "stirred": 2000.0, "spray": 1500.0}.get(self.state)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PreheatStation(LineStation):
    """Contact wheel, flame or coil that brings the conductor to a temperature before anything is on it."""

    meaning = "brings what runs to a temperature, evenly, before a coat is on it"

    kind: str = kind_key("preheat")
    temperature: Numeric = key(TEMPERATURE, "Temperature that it brings it to: of a conductor 80 to 130 degC.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CoatStation(LineStation):
    """Where a layer comes on: paste by the knife, melt at the crosshead, a second web in a nip."""

    meaning = "a layer comes on: paste by the knife, melt at the crosshead, a second web"

    kind: str = kind_key("coat")
    layers: tuple[LineLayer, ...] = key(
        ListOf(Sub(LineLayer), least=1, most=10, naming="coat"), "The layers, the one that touches first."
    )
    side: str = key(Choice(("face", "back")), "Which side they come on.", default="face")
    opening: OpeningEntry | None = key(
        Sub(OpeningEntry, inline=True), "What they leave: a knife's gap, a crosshead's bore and pin; for add-on or draw-down.",
        default=None, default_words="the opening that is wanted is told",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class HaulOffStation(LineStation):
    """Haul-off, capstan or saw: a place that has limits."""

    meaning = "haul-off, capstan or saw: a place that has limits"

    kind: str = kind_key("haul_off")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class WindUpStation(LineStation):
    """Wind-up: the last place."""

    meaning = "wind-up: the last place"

    kind: str = kind_key("wind_up")


Station = (
    RollStation | DrumStation | ChillStation | NipStation | SpanStation | KnifeStation | OvenStation | LampsStation | DieStation
    | BathStation | PreheatStation | CoatStation | HaulOffStation | WindUpStation
)  # fmt: skip
KINDS: tuple[tuple[str, type[Section]], ...] = (
    ("roll", RollStation),
    ("drum", DrumStation),
    ("chill_roll", ChillStation),
    ("nip", NipStation),
    ("span", SpanStation),
    ("air_knife", KnifeStation),
    ("oven", OvenStation),
    ("lamps", LampsStation),
    ("die", DieStation),
    ("bath", BathStation),
    ("preheat", PreheatStation),
    ("coat", CoatStation),
    ("haul_off", HaulOffStation),
    ("wind_up", WindUpStation),
)
#: kinds without a length: where something is put on or judged
PLACES = ("preheat", "coat", "haul_off", "wind_up")

__all__ = ["KINDS", "PLACES", "ROLLS", "Station"]
