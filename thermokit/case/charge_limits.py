"""What a cured charge must keep to, when the press is shut, when it opens, at any time and at the end."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Number, Quantity, share

if TYPE_CHECKING:
    from thermokit.conduction.problem import Number as Numeric

_DIFFERENCE = Quantity("temperature_difference", above=0.0, high=10_000.0, example="20 K")
_OPENING = "when the press opens"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ChargeLimits(Section):
    """What the charge must keep to."""

    meaning = "what the charge must keep to"

    cure_degree: Numeric | None = key(
        share(), f"Lowest degree of cure anywhere {_OPENING}: at least this.", default=None,
        default_words="the material's least degree for release; where it has none, 0.85",
    )  # fmt: skip
    blister_temperature: Numeric = key(
        TEMPERATURE, "What is hotter than this when the press opens must be firm: 100 degC, where water boils.",
        default=373.15,
    )  # fmt: skip
    firm_degree: Numeric = key(
        share(), "Lowest degree of cure of what is hotter than blister_temperature when the press opens: at least this.",
        default=0.8,
    )  # fmt: skip
    core_rate: Numeric | None = key(
        Quantity("rate", above=0.0, high=1e6, example="0.01 1/s"),
        "Rate of cure in the core when the press opens: at most this (0.01 1/s: common practice).", default=None,
        default_words="none",
    )  # fmt: skip
    precure: Numeric | None = key(
        share(above=0.0), "Degree of cure of either face when the press is shut: at most this.", default=None,
        default_words="half the gel degree, where that is known",
    )  # fmt: skip
    hottest: Numeric | None = key(
        TEMPERATURE,
        "Hottest place at any time: at most this. A charge that passes it, also with its rate 30 % up, is refused.",
        default=None,
        default_words="the material's scorch temperature; where it has none, the higher of 200 degC and 40 K above the mould",
    )
    over_cure: Numeric | None = key(
        Number(above=0.0, high=1e12), "Heat dose of the hottest place at the end: at most this; needs [charge.dose].",
        default=None, default_words="none",
    )  # fmt: skip
    temperature_spread: Numeric | None = key(
        _DIFFERENCE, f"Hottest less coldest place {_OPENING}: at most this (20 K: common practice).", default=None,
        default_words="none",
    )  # fmt: skip
    degree_spread: Numeric | None = key(
        share(above=0.0), f"Highest less lowest degree of cure {_OPENING}: at most this (0.1: common practice).",
        default=None, default_words="none",
    )  # fmt: skip
    final_cure_degree: Numeric | None = key(
        share(), "Lowest degree of cure anywhere at the end of the last station: at least this.", default=None,
        default_words="none",
    )  # fmt: skip
