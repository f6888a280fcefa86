"""Rolls and nips of a line, and the keys that all its stations share."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.declare import Section, key, known
from thermokit.case.line_body import COEFFICIENT, CONTACT
from thermokit.case.line_limits import PLAIN, StationLimits
from thermokit.case.structure import Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Find, Sought
from thermokit.case.values import Choice, Number, Quantity, Text, share
from thermokit.exchange.roll_balance import STEAM_FILM

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

LENGTH = Quantity("length", above=0.0, high=1e5, example="2 m")
DIAMETER = Quantity("length", above=0.0, high=10.0, example="300 mm")
_TURN = 2.0 * math.pi
_DRAW = "Speed after over speed before, at its beginning: what runs gets longer and thinner by it."


def name_key() -> Any:
    """The key of its name."""
    return key(Text(100), "Its name.", default="", default_words="station_1, ...")


def kind_key(word: str) -> Any:
    """The key of its kind."""
    return key(Choice((word,)), "Kind of station.", default=word, stated=True)


def length_key() -> Any:
    """The key of its length."""
    return key(Sought(LENGTH), 'Its length along the line; "find" leaves it to `thermokit dwell`.')


def draw_key() -> Any:
    """The key of the draw at its beginning."""
    return key(Number(low=0.2, high=100.0), _DRAW, default=1.0)


def side_key(words: str) -> Any:
    """The key of the side that lies on it."""
    return key(Choice(("face", "back")), words, default="back")


def limits_key() -> Any:
    """The key of its limits."""
    return key(Sub(StationLimits), "What must be kept to where it ends.", default=PLAIN, default_words="none")


def air_key() -> Any:
    """The key of the coefficient of air on a free face."""
    return key(
        COEFFICIENT, "Heat transfer coefficient to the air on a free face.", default=None,
        default_words="that of the line's air",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LineStation(Section):
    """What all stations have; ``duration`` [s] follows from length and speed, None where one of them is sought."""

    name: str = name_key()
    limits: StationLimits = limits_key()
    duration: Any = field(default=None, compare=False, repr=False)

    @property
    def path(self) -> Any:
        """Its length along the line [m], or what stands for it while it is sought."""
        return getattr(self, "length", 0.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RollInside(Section):
    """What heats or cools a roll from inside: its face then lies where the duty of the web leaves it."""

    meaning = "what heats or cools a roll from inside; its face follows from the duty of the web"

    medium: str = key(Choice(("oil", "water", "steam")), "What is in it.")
    shell: Numeric = key(
        Quantity("length", above=0.0, high=0.5, example="20 mm"), "Thickness of its shell.", default=20e-3,
        default_words="20 mm: assumed",
    )  # fmt: skip
    conductivity: Numeric = key(
        Quantity("conductivity", above=0.0, high=1e3, example="45 W/m/K"), "Conductivity of its shell.", default=45.0,
        default_words="45 W/m/K, steel",
    )  # fmt: skip
    gap: Numeric | None = key(
        Quantity("length", above=0.0, high=0.5, example="15 mm"),
        "Gap of its jacket with a spiral guide, for the film of oil or water by correlation from flow.", default=None,
        default_words="the film as given or as usual",
    )  # fmt: skip
    pitch: Numeric | None = key(
        Quantity("length", above=0.0, high=5.0, example="60 mm"), "Pitch of that spiral.", default=None,
        default_words="given with a gap",
    )  # fmt: skip
    film: Numeric | None = key(
        COEFFICIENT, "Heat transfer coefficient of what is inside, by area of its inner wall.", default=None,
        default_words="by gap and flow, else oil 800, water 2500, steam 2500 W/m2/K: from memory",
    )  # fmt: skip

    @property
    def usual(self) -> float:
        """Film where nothing tells it [W/m2/K]."""
        return {"oil": 800.0, "water": 2500.0, "steam": STEAM_FILM[1]}[self.medium]

    def check(self, at: At, given: frozenset[str]) -> None:
        """A film is said in one way."""
        if {"gap", "film"} <= given:
            (at / "gap").mistake("stands together with film", "one of the two")
        if len({"gap", "pitch"} & given) == 1:
            (at / ("pitch" if "gap" in given else "gap")).mistake("missing: a spiral has both", "gap and pitch")
        if "gap" in given and self.medium == "steam":
            (at / "gap").mistake("steam condenses: its film goes by no gap", "film, or nothing")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RollStation(LineStation):
    """A roll that the web wraps: hot, or cold."""

    meaning = "a roll that the web wraps, hot or cold"

    kind: str = kind_key("roll")
    diameter: Numeric = key(DIAMETER, "Its diameter.")
    wrap: Numeric = key(
        Quantity("angle", above=0.0, high=1e3, example="180 deg"), "Angle over which the web lies on it."
    )
    temperature: Numeric = key(
        TEMPERATURE,
        "Temperature of its face as the web comes on; with inside that of the oil, water or steam as it enters.",
    )
    inside: RollInside | None = key(
        Sub(RollInside, inline=True), "What heats or cools it from inside, for the drop to its face (needs the line's width "
        "where flow or gap is given).", default=None, default_words="its face has its temperature",
    )  # fmt: skip
    side: str = side_key("Which side of the web lies on it.")
    contact: Numeric | None = key(
        CONTACT, "Conductance of the contact: held by tension only 150 to 1000 W/m2/K.", default=None,
        default_words="by the film of air from the line's tension, else 400 W/m2/K: from memory",
    )  # fmt: skip
    roughness: Numeric = key(
        Quantity("length", low=0.0, high=1e-2, example="3 um"),
        "Depth of roughness of roll and web together: takes up the film of air before it lifts the web.", default=5e-6,
        default_words="5 um: assumed",
    )  # fmt: skip
    kept: Numeric = key(
        share(), "Share of the film of air that stays under the web: 1 tight web on a smooth roll, towards 0 open cloth or a "
        "grooved roll; fitted from a run.", default=1.0, default_words="1: all of it",
    )  # fmt: skip
    draw: Numeric = draw_key()
    coefficient: Numeric | None = air_key()
    flow: Numeric | None = key(
        Quantity("flow", above=0.0, high=1e3, example="60 L/min"), "Oil (of a chill roll water) that is let through it, for "
        "its change of temperature.", default=None, default_words="that is not told", physical=False,
    )  # fmt: skip

    @property
    def path(self) -> Any:
        """Length of the wrap [m]."""
        return self.diameter / 2.0 * self.wrap

    def check(self, at: At, given: frozenset[str]) -> None:
        """A web wraps a roll once at most; a shell leaves room inside."""
        inside = self.inside if known(self.inside) else None
        if inside is not None and known(inside.shell, inside.gap, self.diameter):
            thick = np.asarray(inside.shell) + (0.0 if inside.gap is None else np.asarray(inside.gap))
            if np.any(2.0 * thick >= np.asarray(self.diameter)):
                (at / "inside").mistake("shell and gap leave no room in the roll", "less than half its diameter")
        if inside is not None and inside.gap is not None and "flow" not in given:
            (at / "flow").mistake("missing: the film in a gap goes by what flows", "oil or water in L/min")
        if known(self.wrap) and np.any(np.asarray(self.wrap) > _TURN * (1.0 + 1e-9)):
            (at / "wrap").mistake(
                f"{float(np.max(self.wrap)) * 360.0 / _TURN:.0f} deg is more than once round", "up to 360 deg",
                "several turns are several rolls",
            )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DrumStation(RollStation):
    """A large hot drum, as for coated cloth."""

    meaning = "a large hot drum"

    kind: str = kind_key("drum")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ChillStation(RollStation):
    """A chill roll."""

    meaning = "a chill roll"

    kind: str = kind_key("chill_roll")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ShearEntry(Section):
    """How the sheet flows in a nip."""

    meaning = "how the sheet flows in a nip"

    bowls: Numeric = key(DIAMETER, "Diameter of both bowls.")
    viscosity: Numeric = key(
        Quantity("viscosity", above=0.0, high=1e9, example="40000 Pa s"),
        "Viscosity; with an index the consistency, that at a shear rate of 1 1/s.",
    )
    temperature: Numeric | None = key(
        TEMPERATURE, "Temperature at which it has that viscosity; in the nip it has the mean of both bowls.", default=None,
        default_words="that of the nip",
    )  # fmt: skip
    index: Numeric = key(
        Number(low=0.2, high=1.0), "Flow index: 1 Newtonian, plasticised PVC about 0.4 (assumed).", default=1.0
    )
    softening: Numeric = key(
        Quantity("inverse_temperature", low=0.0, high=1.0, example="0.02 1/K"),
        "How fast the viscosity falls as the sheet warms.", default=0.02, default_words="0.02 1/K: assumed",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class NipStation(LineStation):
    """A nip between two rolls or bowls: pressed contact on both sides, of a calender with a smaller gauge behind it."""

    meaning = "a nip between two rolls, pressed; of a calender a gauge and friction heat"

    kind: str = kind_key("nip")
    length: Numeric | Find = key(
        Sought(LENGTH), "Length over which both rolls touch: some mm.", default=5e-3, default_words="5 mm: assumed"
    )
    face: Numeric = key(TEMPERATURE, "Roll on the face.")
    back: Numeric = key(TEMPERATURE, "Roll on the back.")
    contact: Numeric = key(
        CONTACT, "Conductance of the contacts.", default=2500.0,
        default_words="2500 W/m2/K, pressed: from memory 1000 to 6000",
    )  # fmt: skip
    gauge: Numeric | None = key(
        Quantity("length", above=0.0, high=1.0, example="0.3 mm"),
        "Thickness behind the nip, counted cold; the sheet speeds up as it thins.", default=None,
        default_words="as before, or by draw",
    )  # fmt: skip
    draw: Numeric = draw_key()
    friction: Numeric = key(
        Quantity("temperature_difference", low=0.0, high=200.0, example="6 K"),
        "Rise of the mean by friction in the nip: soft sheet at some m/min below 1 K, stiff and fast up to 25 K; common "
        "practice, no source.", default=0.0,
    )  # fmt: skip
    shear: ShearEntry | None = key(
        Sub(ShearEntry, inline=True), "Flow in the nip, for friction heat, pressure and force; with a gauge, instead of "
        "friction.", default=None, default_words="the rise is given by friction",
    )  # fmt: skip
    ratio: Numeric = key(
        Number(low=0.2, high=5.0), "Surface speed of the roll on the face over that of the roll on the back.", default=1.0,
        physical=False,
    )  # fmt: skip

    def unwritten(self) -> frozenset[str]:
        """A gauge says the draw, the flow says the friction."""
        said = (("draw", self.gauge), ("friction", self.shear))
        return frozenset(word for word, other in said if known(other) and other is not None)

    def check(self, at: At, given: frozenset[str]) -> None:
        """Thinner in one way."""
        if {"gauge", "draw"} <= given:
            (at / "draw").mistake("stands together with a gauge", "one of the two")
        if {"shear", "friction"} <= given:
            (at / "friction").mistake("stands together with shear", "one of the two")
        if "shear" in given and "gauge" not in given:
            (at / "gauge").mistake("missing: nothing is rolled out without it", "the thickness behind the nip")


#: kinds of rolls
ROLLS = ("roll", "drum", "chill_roll")
