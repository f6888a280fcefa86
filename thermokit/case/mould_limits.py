"""What a moulding, its mould and the water must keep to. Defaults are common practice of the trade, without a source."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Number, Quantity, share

if TYPE_CHECKING:
    from thermokit.conduction.problem import Number as Numeric

_DIFFERENCE = Quantity("temperature_difference", above=0.0, high=1000.0, example="5 K")
_MARGIN = Quantity("temperature_difference", low=-50.0, high=100.0, example="2 K")
_COMMON = "common practice, no source"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MouldLimits(Section):
    """What the moulding, the mould and the water must keep to."""

    meaning = (
        "what must be kept to: ejection_centre, ejection_mean, and face_difference and bow where they are given, bound the "
        "cooling time; the others are judged at it, since waiting does not mend them"
    )

    ejection_centre: Numeric | None = key(
        TEMPERATURE, "Hottest place of the part when the mould opens: at most this.", default=None,
        default_words="the upper release temperature of the material's record",
    )  # fmt: skip
    ejection_mean: Numeric | None = key(
        TEMPERATURE, "Mean temperature of the part when the mould opens: at most this.", default=None,
        default_words="the lower release temperature of the material's record",
    )  # fmt: skip
    face_difference: Numeric | None = key(
        _DIFFERENCE, "Between the part's two faces, each in the mean, when the mould opens: at most this; precise parts 5 K.",
        default=None, default_words=f"10 K, judged but not waited for; {_COMMON}",
    )  # fmt: skip
    bow: Numeric | None = key(
        share(above=0.0), "Bow of the part from the difference of its faces, as a share of its length: at most this.",
        default=None, default_words=f"0.003, judged but not waited for; {_COMMON}",
    )  # fmt: skip
    hot_spot: Numeric = key(
        _DIFFERENCE, f"Hottest place of a mould face above that face's mean when the mould opens: at most this; {_COMMON}.",
        default=8.0,
    )  # fmt: skip
    reynolds: Numeric = key(
        Number(low=0.0, high=1e7),
        f"Reynolds number in every channel: at least this; aim at 10 000; {_COMMON}.",
        default=4000.0,
    )
    rise: Numeric = key(
        _DIFFERENCE, f"Rise of the coolant through a circuit: at most this; 2 K precise, {_COMMON}.", default=5.0
    )
    condensation: Numeric = key(
        _MARGIN, f"Coldest place of the mould's faces above the dew point of the shop air: at least this; {_COMMON}.",
        default=2.0,
    )  # fmt: skip
    hold_beyond_gate: Numeric = key(
        Quantity("time", low=0.0, high=1e4, example="0.5 s"), f"Hold beyond the freezing of the gate: at least this; {_COMMON}.",
        default=0.5,
    )  # fmt: skip
