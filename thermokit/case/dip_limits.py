"""What a dipped article must keep to."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.common import DURATION
from thermokit.case.declare import Section, key, known
from thermokit.case.structure import Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Number, Quantity, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

_WALL = Quantity("length", above=0.0, high=1.0, example="1.2 mm")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class HeldEntry(Section):
    """Every layer of the coat at a temperature for a time."""

    meaning = "every layer of the coat at least so hot for so long"

    temperature: Numeric = key(TEMPERATURE, "Temperature that every layer must have: 175 degC common practice.")
    time: Numeric = key(DURATION, "For how long: 60 s common practice.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DipLimits(Section):
    """What the article must keep to."""

    meaning = "what the article must keep to"

    wall_least: Numeric | None = key(_WALL, "Wall at the end: at least this.", default=None, default_words="none")
    wall_most: Numeric | None = key(_WALL, "Wall at the end: at most this.", default=None, default_words="none")
    fusion_degree: Numeric | None = key(
        share(), "Lowest degree of fusion anywhere in the coat at the end: at least this; 0.9 is sellable, 0.95 full.",
        default=None, default_words="0.9 where an oven comes after a dip",
    )  # fmt: skip
    held: HeldEntry | None = key(
        Sub(HeldEntry, inline=True), "Every layer of the coat so hot for so long.", default=None, default_words="none"
    )
    heat_dose: Numeric | None = key(
        Number(above=0.0, high=1e6), "Share of the heat life used up in the hottest place: at most this.", default=None,
        default_words="0.3, where the paste has a set for it",
    )  # fmt: skip
    skin: Numeric | None = key(
        TEMPERATURE, "Hottest place of the coat at any time: at most this, for colour.", default=None,
        default_words="the material's caution temperature, where it has one",
    )  # fmt: skip
    former_least: Numeric | None = key(
        TEMPERATURE, "Face of the former when it goes into the first dip: at least this.", default=None,
        default_words="none",
    )  # fmt: skip
    former_most: Numeric | None = key(
        TEMPERATURE, "Face of the former when it goes into the first dip: at most this.", default=None,
        default_words="none",
    )  # fmt: skip
    strip_least: Numeric | None = key(
        TEMPERATURE, "Coat where it lies on the former when it is stripped: at least this.", default=None,
        default_words="the material's, where there is a strip station",
    )  # fmt: skip
    strip_most: Numeric | None = key(
        TEMPERATURE, "Coat where it lies on the former when it is stripped: at most this.", default=None,
        default_words="the material's, where there is a strip station",
    )  # fmt: skip
    bath: Numeric | None = key(
        TEMPERATURE, "Bath at the end of the shift: at most this.", default=None,
        default_words="the temperature below which the paste is to be kept, where [paste.bath] is given",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """Least below most."""
        for word in ("wall", "former", "strip"):
            least, most = getattr(self, f"{word}_least"), getattr(self, f"{word}_most")
            if known(least, most) and least is not None and most is not None and least > most:
                (at / f"{word}_least").mistake(f"lies above {word}_most", f"{word}_least below {word}_most")
