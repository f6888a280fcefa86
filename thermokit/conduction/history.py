"""What the layered solver gives back: rows of temperature and states, the heat balance, extremes, crossings, outcome."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

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
    released : by reactions. mismatch = |entered - left + released - stored| / (entered + |released| + |stored|).
    """

    entered: float
    left: float
    stored: float
    released: float
    mismatch: float
    unit: str


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
