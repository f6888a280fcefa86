"""What the sheet must keep to, and what `thermokit zones` may set and aims at."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key, known
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, Number, Quantity, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

_DIFFERENCE = Quantity("temperature_difference", above=0.0, high=10_000.0, example="30 K")
_AT_TOOL = "when the sheet reaches the tool (without one: at the end of the last station)"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SheetLimits(Section):
    """What the sheet must keep to."""

    meaning = "what the sheet must keep to"

    coldest_point: Numeric | None = key(
        TEMPERATURE, f"Coldest point {_AT_TOOL}: at least this.", default=None,
        default_words="the material's lower forming limit",
    )  # fmt: skip
    hottest_face: Numeric | None = key(
        TEMPERATURE, "Hottest face at any time: at most this.", default=None,
        default_words="the material's upper forming limit",
    )  # fmt: skip
    face_core_difference: Numeric | None = key(
        _DIFFERENCE, f"Hottest less coldest point {_AT_TOOL}: at most this.", default=None, default_words="none"
    )
    map_spread: Numeric | None = key(
        _DIFFERENCE, f"Hottest less coldest mean temperature over the map {_AT_TOOL}: at most this.", default=None,
        default_words="none",
    )  # fmt: skip
    sag_index: Numeric | None = key(
        Number(above=0.0, high=1e12), "Sag number over that of the run known to be good: at most this.", default=None,
        default_words="none",
    )  # fmt: skip
    heat_dose: Numeric | None = key(
        Number(above=0.0, high=1e12),
        "Heat dose of the hottest place: at most this.",
        default=None,
        default_words="none",
    )
    release_temperature: Numeric | None = key(
        TEMPERATURE, "Hottest plane at the end of the last tool station: at most this.", default=None,
        default_words="the material's highest release temperature, where there is a tool station",
    )  # fmt: skip
    release_difference: Numeric | None = key(
        _DIFFERENCE, "Difference between the faces at the end of the last tool station: at most this.", default=None,
        default_words="none",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """The window must be open."""
        coldest, hottest = self.coldest_point, self.hottest_face
        if known(coldest, hottest) and coldest is not None and hottest is not None and coldest >= hottest:
            (at / "coldest_point").mistake("does not lie below hottest_face", "coldest_point below hottest_face")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ZonesSection(Section):
    """What `thermokit zones` may set, and what it aims at."""

    meaning = "what `thermokit zones` may set, and what it aims at"

    lowest: Numeric | None = key(
        TEMPERATURE, "Lowest temperature of a zone's face.", default=None,
        default_words="no panel is set by temperature", physical=False,
    )  # fmt: skip
    highest: Numeric | None = key(
        TEMPERATURE, "Highest temperature of a zone's face.", default=None,
        default_words="no panel is set by temperature", physical=False,
    )  # fmt: skip
    lowest_power: Numeric = key(share(), "Lowest share of installed power of a zone.", default=0.0, physical=False)
    highest_power: Numeric = key(share(), "Highest share of installed power of a zone.", default=1.0, physical=False)
    symmetry: str = key(
        Choice(("none", "length", "width", "both")),
        "Zones that get the same setting: those mirrored along the length, along the width, or both.", default="none",
        physical=False,
    )  # fmt: skip
    target: Numeric | None = key(
        TEMPERATURE, f"Mean temperature wanted {_AT_TOOL}.", default=None,
        default_words="middle of the forming window", physical=False,
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """Bounds in order."""
        for low, high in (("lowest", "highest"), ("lowest_power", "highest_power")):
            bounds = getattr(self, low), getattr(self, high)
            if known(*bounds) and None not in bounds and bounds[0] >= bounds[1]:
                (at / low).mistake(f"does not lie below {high}", f"{low} below {high}")
