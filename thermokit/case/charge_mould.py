"""The halves of the mould: faces of given temperature, or bodies with heated platens behind them."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key
from thermokit.case.structure import Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Varying
from thermokit.case.values import LibraryName, Quantity

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

_BODY = ("material", "thickness", "start", "platen")
_FROM_START = "times of a table run from the start of the case"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PlatenEntry(Section):
    """The heated platen behind a half."""

    meaning = "the heated platen behind a half of the mould"

    temperature: Changing = key(Varying(TEMPERATURE), f"Temperature of the platen; {_FROM_START}.")
    coefficient: Number = key(
        Quantity("heat_transfer_coefficient", above=0.0, high=1e12, example="2000 W/m2/K"),
        "Conductance between platen and mould: 1000 to 5000 W/m2/K bolted, common practice, no source.", default=2000.0,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class HalfEntry(Section):
    """A half of the mould. While the charge does not touch it, a half with a body keeps its temperature."""

    meaning = "a half of the mould: of a given temperature, or a body with a platen behind it"

    temperature: Changing | None = key(
        Varying(TEMPERATURE), f"Temperature that its face keeps; {_FROM_START}.", default=None,
        default_words="it is a body: material, thickness, start, platen",
    )  # fmt: skip
    material: str | None = key(
        LibraryName("materials"), "What it is made of.", default=None, default_words="temperature is given"
    )
    thickness: Number | None = key(
        Quantity("length", above=0.0, high=10.0, example="40 mm"), "From the charge to the platen.", default=None,
        default_words="temperature is given",
    )  # fmt: skip
    start: Number | None = key(
        TEMPERATURE, "Its temperature when the charge is loaded.", default=None, default_words="temperature is given"
    )
    platen: PlatenEntry | None = key(
        Sub(PlatenEntry, inline=True), "The platen behind it.", default=None, default_words="temperature is given"
    )

    @property
    def has_body(self) -> bool:
        """Whether it warms and cools."""
        return self.temperature is None

    def check(self, at: At, given: frozenset[str]) -> None:
        """Either a temperature or a whole body."""
        body = [word for word in _BODY if word in given]
        if "temperature" in given:
            if body:
                (at / "temperature").mistake(
                    f"stands together with {' and '.join(body)}", f"temperature alone, or {', '.join(_BODY)}"
                )
        elif not body:
            at.mistake("neither a temperature nor a material is given", f"temperature, or {', '.join(_BODY)}")
        else:
            for word in _BODY:
                if word not in given:
                    (at / word).mistake("missing", f"{', '.join(_BODY)} together")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MouldSection(Section):
    """The two halves between which the charge is pressed."""

    meaning = "the two halves of the mould"

    upper: HalfEntry = key(Sub(HalfEntry), "The upper half.")
    lower: HalfEntry = key(Sub(HalfEntry), "The lower half, on which the charge is laid.")
