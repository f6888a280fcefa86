"""What the layered solver gives back: rows of temperature and states, the heat balance, extremes, crossings, outcome."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

AT_REST = 2e-6  # of the heat held in a body: less turned over (some 0.5 mK of warming) is next to its round-off
Status = Literal["finished", "step_too_small", "not_finite", "out_of_range", "interrupted"]


@dataclass(frozen=True)
class Ending:
    """How a run ended: status, the time [s] and depth [m] of the trouble (None when there was none), and advice."""

    status: Status
    time: float
    depth: float | None = None
    advice: str = ""


@dataclass(frozen=True)
class HeatBalance:
    """Heat of a run, integrated inside the time scheme; ``unit`` is J/m2 (plane), J/m (cylinder) or J (sphere).

    entered and left : through the faces and from sources, >= 0; stored : rise of the sensible and latent heat;
    released : by reactions. mismatch = |entered - left + released - stored| / (entered + |released| + |stored|), as
    :func:`mismatch_of` has it.
    """

    entered: float
    left: float
    stored: float
    released: float
    mismatch: float
    unit: str


def mismatch_of(entered: Any, left: Any, stored: Any, released: Any, held: Any) -> Any:
    """Share of the heat turned over that went astray; held : energy states that the body begins with, as heat.

    What is stored is a difference of energy states, and no better known than their round-off: of a body at rest, which turns
    over next to nothing, the share is that of ``AT_REST * held``. After ten thousand steps round-off is 1e-12 of what is
    held, and 1e-6 of that.
    """
    whole = np.maximum(entered + np.abs(released) + np.abs(stored), AT_REST * np.abs(held))
    return np.abs(entered - left + released - stored) / np.where(whole > 0.0, whole, 1.0)


@dataclass(frozen=True)
class Extreme:
    """The highest or lowest temperature of a run or span: value [K], time [s] and depth [m] (a face counts as a place)."""

    value: float
    time: float
    depth: float


@dataclass(frozen=True)
class SpanEnd:
    """State of the body at the end of a span, with the faces of the span that ends.

    temperature : (cells,) [K]; inner_face, outer_face [K]; states : name -> (cells,), NaN where nothing reacts.
    """

    time: float
    temperature: Array
    inner_face: float
    outer_face: float
    states: dict[str, Array]
    hottest: Extreme
    coldest: Extreme


@dataclass(frozen=True)
class History:
    """A run of one case.

    time : (rows,) [s]; span : (rows,) index of the span a row belongs to (a span's end belongs to the span that ends);
    edges : (cells + 1,) and centres : (cells,) [m], depth from the inner face; temperature : (rows, cells) [K];
    inner_face, outer_face : (rows,) [K]; states : name -> (rows, cells); ends : one SpanEnd a span that was finished.
    hottest / coldest : over the whole run, found on every accepted step and inside it, not only at the rows.
    """

    time: Array
    span: NDArray[np.int64]
    edges: Array
    centres: Array
    temperature: Array
    inner_face: Array
    outer_face: Array
    states: dict[str, Array]
    heat: HeatBalance
    hottest: Extreme
    coldest: Extreme
    ends: tuple[SpanEnd, ...]
    ending: Ending
    crossings: dict[str, float | None] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    accepted: int = 0
    rejected: int = 0
