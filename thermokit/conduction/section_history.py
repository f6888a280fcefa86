"""What the section solver gives back: rows of temperature at the nodes, heat by face, extremes, outcome."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from thermokit.conduction.history import Ending, HeatBalance
    from thermokit.conduction.section_problem import PlaceOfExtreme, SectionMesh

    Array = NDArray[np.float64]


@dataclass(frozen=True)
class SectionSpanEnd:
    """The section at the end of a span: time [s], temperature (nodes,) [K] (NaN where a region is absent).

    heat : heat that went **into** the section through each named face during the span [J/m, or J of the ring];
    hottest, coldest : in the span, of all regions that are present.
    """

    time: float
    temperature: Array
    heat: Mapping[str, float]
    hottest: PlaceOfExtreme
    coldest: PlaceOfExtreme


@dataclass(frozen=True)
class SectionHistory:
    """A run of one section.

    time : (rows,) [s]; span : (rows,) index of the span a row belongs to (a span's end belongs to the span that ends);
    temperature : (rows, nodes) [K], NaN where a region is absent; ends : one a span that was finished; names of regions and
    faces as in the problem. ``steady`` : one row, heat in W/m (or W of the ring). peaks : region -> (rows,) hottest place of
    each region [K].
    """

    mesh: SectionMesh
    time: Array
    span: NDArray[np.int64]
    temperature: Array
    heat: HeatBalance
    hottest: PlaceOfExtreme
    coldest: PlaceOfExtreme
    ends: tuple[SectionSpanEnd, ...]
    ending: Ending
    region_names: tuple[str, ...]
    face_names: tuple[str, ...]
    axisymmetric: bool = False
    steady: bool = False
    peaks: Mapping[str, Array] = field(default_factory=dict)
    crossings: Mapping[str, float | None] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    accepted: int = 0
    rejected: int = 0
