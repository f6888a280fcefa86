"""What a former passes through: oven, air, dip, drain, quench, strip; several dips in turn."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.common import DURATION
from thermokit.case.declare import Section, key
from thermokit.case.structure import Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Sought, Varying
from thermokit.case.values import Choice, Number, Quantity, Text, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number as Numeric
    from thermokit.conduction.problem import Varying as Changing

COEFFICIENT = Varying(Quantity("heat_transfer_coefficient", low=0.0, high=1e6, example="25 W/m2/K"))
AIR_SPEED = Quantity("speed", low=0.0, high=100.0, example="2 m/s")
SPEED = Quantity("speed", above=0.0, high=10.0, example="6 mm/s")
TURNING = Quantity("frequency", low=0.0, high=100.0, example="10 rev/min")


def _name() -> Any:
    return key(Text(100), "Its name.", default="", default_words="station_1, ...")


def _kind(word: str) -> Any:
    return key(Choice((word,)), "Kind of station.", default=word, stated=True)


def _duration() -> Any:
    return key(Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.')


def _one_of_air(at: At, given: frozenset[str]) -> None:
    if {"coefficient", "speed"} <= given:
        (at / "speed").mistake("stands together with a coefficient", "one of the two")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RoomAir(Section):
    """Air of the room; the face radiates besides."""

    meaning = "the air; the face radiates besides, to surroundings of the same temperature"

    temperature: Changing = key(Varying(TEMPERATURE), "Its temperature.", default=296.15)
    coefficient: Changing | None = key(
        COEFFICIENT, "Heat transfer coefficient, without radiation.", default=None,
        default_words="by correlation from speed, shape and length",
    )  # fmt: skip
    speed: Numeric | None = key(
        AIR_SPEED, "Speed of the air; 0 is still.", default=None, default_words="still, or coefficient is given"
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """One way to say it."""
        _one_of_air(at, given)


STILL_ROOM = RoomAir()


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OvenStation(Section):
    """An oven: preheating the former, gelling and fusing the coat."""

    meaning = "an oven: air as set, as logged, or of one of the case's [ovens.*]"

    name: str = _name()
    kind: str = _kind("oven")
    duration: Numeric | Find = _duration()
    temperature: Changing | None = key(
        Varying(TEMPERATURE), "Temperature of its air: set, or logged as a table.", default=None,
        default_words="that of the oven named",
    )  # fmt: skip
    oven: str | None = key(
        Text(100), "Name of one of the case's [ovens.*], whose air follows from power, losses and load.", default=None,
        default_words="temperature is given",
    )  # fmt: skip
    coefficient: Changing | None = key(
        COEFFICIENT, "Heat transfer coefficient, without radiation: 12 to 50 W/m2/K with a fan.", default=None,
        default_words="by correlation from speed, shape and length",
    )  # fmt: skip
    speed: Numeric | None = key(
        AIR_SPEED, "Speed of the air past the formers: 2 to 10 m/s with a fan.", default=None,
        default_words="coefficient is given",
    )  # fmt: skip
    turbulence: Numeric = key(
        Number(low=1.0, high=5.0),
        "Factor on the correlation for turbulent air: 1.5 to 2.5 in real ovens, common practice, no source.", default=1.5,
    )  # fmt: skip
    walls: Changing | None = key(
        Varying(TEMPERATURE), "Temperature of the walls that the formers see.", default=None, default_words="the air's"
    )
    view: Numeric = key(
        share(), "Share of what a former sees that is oven walls; the rest are formers like itself.", default=1.0
    )
    uneven: Numeric = key(
        share(high=0.9),
        "By how much the coefficient is higher on the windward and lower on the lee side of a former that stands still.",
        default=0.0,
    )  # fmt: skip
    turning: Numeric = key(
        TURNING, "Turns of the former: evens out the sides, and adds the speed of its face to the air's.", default=0.0
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """One source of the air, one of the coefficient."""
        _one_of_air(at, given)
        if not {"coefficient", "speed"} & given:
            (at / "coefficient").mistake("missing", "a coefficient, or the speed of the air")
        if {"temperature", "oven"} <= given:
            (at / "oven").mistake("stands together with a temperature", "one of the two")
        elif not {"temperature", "oven"} & given:
            (at / "temperature").mistake("missing", "a temperature, or the name of one of [ovens.*]")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class AirStation(Section):
    """Air: transfer, waiting, dripping, cooling."""

    meaning = "air: transfer, waiting, cooling"

    name: str = _name()
    kind: str = _kind("air")
    duration: Numeric | Find = _duration()
    air: RoomAir = key(Sub(RoomAir), "The air.", default=STILL_ROOM, default_words="still, 23 degC")
    turning: Numeric = key(TURNING, "Turns of the former.", default=0.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DipStation(Section):
    """In the paste: the layer next to a hot former gels and stays on it, and liquid paste clings to it on the way out."""

    meaning = "in the paste; what has gelled, and what clings, comes out with the former"

    name: str = _name()
    kind: str = _kind("dip")
    duration: Numeric | Find = key(
        Sought(DURATION),
        'Time in the paste of the middle of the dipped length; "find" leaves it to `thermokit dwell`.',
    )
    withdrawal: Numeric | None = key(
        SPEED, "Speed at which it is drawn out: sets how much liquid paste clings to it.", default=None,
        default_words="so slowly that nothing but the gel comes out",
    )  # fmt: skip
    immersion: Numeric | None = key(
        SPEED, "Speed at which it goes in, for the taper of the wall.", default=None, default_words="at once"
    )
    temperature: Numeric | None = key(
        TEMPERATURE, "Temperature of the paste in this dip.", default=None, default_words="that of the bath"
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DrainStation(Section):
    """Hanging over the bath while what has not gelled runs down."""

    meaning = "hanging over the bath while liquid paste runs down"

    name: str = _name()
    kind: str = _kind("drain")
    duration: Numeric | Find = _duration()
    air: RoomAir = key(Sub(RoomAir), "The air.", default=STILL_ROOM, default_words="still, 23 degC")
    turning: Numeric = key(TURNING, "Turns of the former.", default=0.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class QuenchStation(Section):
    """Cooling in water or under a spray."""

    meaning = "cooling in water or under a spray"

    name: str = _name()
    kind: str = _kind("quench")
    duration: Numeric | Find = _duration()
    temperature: Changing = key(Varying(TEMPERATURE), "Temperature of the water.", default=293.15)
    coefficient: Changing = key(
        COEFFICIENT, "Heat transfer coefficient: still bath 500 to 1500, stirred 1000 to 3500 W/m2/K.", default=1000.0
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class StripStation(Section):
    """The article is pulled off; its temperatures are judged when this begins."""

    meaning = "the article is pulled off: temperatures are judged when this begins"

    name: str = _name()
    kind: str = _kind("strip")
    duration: Numeric = key(DURATION, "How long that takes.", default=5.0)
    air: RoomAir = key(Sub(RoomAir), "The air.", default=STILL_ROOM, default_words="still, 23 degC")
    turning: Numeric = key(TURNING, "Turns of the former.", default=0.0)


Station = OvenStation | AirStation | DipStation | DrainStation | QuenchStation | StripStation
KINDS: tuple[tuple[str, type[Section]], ...] = (
    ("oven", OvenStation),
    ("air", AirStation),
    ("dip", DipStation),
    ("drain", DrainStation),
    ("quench", QuenchStation),
    ("strip", StripStation),
)
