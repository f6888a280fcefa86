"""What the layered solver is given: a body of layers that passes through spans of time with faces and sources.

Everything is SI and kelvin. **Every numeric leaf may be a number or a one-dimensional array with one value a case**: a
problem whose leaves are all numbers is one run, a problem with arrays is a batch of runs that differ in those inputs.
This room knows nothing of plastics: trades and stations are translated to it elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal, Protocol

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Number = float | Array

Shape = Literal["plane", "cylinder", "sphere"]

STEFAN_BOLTZMANN = 5.670374419e-8  # W/m2/K4, CODATA 2018 (exact in the revised SI)
GAS_CONSTANT = 8.314462618  # J/mol/K, CODATA 2018
ZERO_CELSIUS = 273.15  # K
HOTTEST = 20_000.0  # K, beyond which (and below 0 K) a run has left what any input can mean


@dataclass(frozen=True)
class Series:
    """A value that changes in time: linear between the times, ends held, two equal times make a step.

    time : tuple of Number, ascending, [s]; value : tuple of Number, as many.
    """

    time: tuple[Number, ...]
    value: tuple[Number, ...]


if TYPE_CHECKING:
    Varying = Number | Series


@dataclass(frozen=True)
class Curve:
    """A property against temperature: linear between the nodes, ends held.

    temperature : (nodes,) ascending [K]; value : (nodes,), or (nodes, cases) in a batch.
    """

    temperature: Array
    value: Array


@dataclass(frozen=True)
class Transition:
    """Latent heat spread over a temperature range, uniform or (with a peak) as a triangle.

    heat : [J/kg]; low, high : ends of the range [K]; peak : its peak [K] or None for uniform.
    """

    heat: Number
    low: Number
    high: Number
    peak: Number | None = None


@dataclass(frozen=True)
class Medium:
    """What a layer is made of.

    density [kg/m3] (one number: mass is conserved on a fixed mesh); conductivity [W/m/K]; specific_heat [J/kg/K] without
    latent heat; melting: read on heating; crystallising: read on cooling, on the same latent heat as ``melting``; left out,
    melting is reversible. Where both are given the crystalline share becomes a state of its own.
    """

    density: Number
    conductivity: Number | Curve
    specific_heat: Number | Curve
    melting: Transition | None = None
    crystallising: Transition | None = None


class Rate(Protocol):
    """How fast a degree grows: a pure function of temperature and the degrees of its layer."""

    def evaluate(self, temperature: Array, degrees: tuple[Array, ...]) -> Array:
        """d(degree)/dt [1/s]; the last entry of ``degrees`` is the degree itself, before it stand the earlier states."""

    def linearise(self, temperature: Array, degrees: tuple[Array, ...]) -> tuple[Array, Array, tuple[Array, ...]]:
        """(rate, d rate/dT, (d rate/d degree, one for each entry of ``degrees``)), exact."""


@dataclass(frozen=True)
class Reaction:
    """A state of a layer that grows with time and may release heat.

    state : name in the result (``cure_degree``); rate : its law; heat : released at full degree [J/kg of the layer];
    start : degree at the beginning, a Number or a profile as for ``Layer.start``. A reaction may read the states that
    stand before it in its layer, never a later one.
    """

    state: str
    rate: Rate
    heat: Number = 0.0
    start: Number = 0.0


@dataclass(frozen=True)
class Layer:
    """One layer, from the inner face outwards.

    thickness [m]; edges : cell edges as shares of the thickness, from 0 to 1, (cells + 1,); contact : conductance to the
    next layer [W/m2/K], None for perfect; heat : internal source [W/m3], its time runs from the start of the run;
    start : temperature [K], a Number, or a profile (cells,); in a batch (cells, 1) or (cells, cases).
    crystalline_start : crystalline share at the beginning (likewise) where the medium has two curves; None: as if the
    layer had been heated to its start temperature. counts : False for a tool or a mould, whose temperatures are not meant
    by the hottest and coldest of a run.
    """

    medium: Medium
    thickness: Number
    edges: Array
    start: Number
    contact: Number | None = None
    heat: Varying = 0.0
    reactions: tuple[Reaction, ...] = ()
    name: str = ""
    crystalline_start: Number | None = None
    counts: bool = True

    @property
    def cells(self) -> int:
        """Number of cells."""
        return len(self.edges) - 1


@dataclass(frozen=True)
class Exchange:
    """Linear exchange with something at a temperature (air, a tool): coefficient [W/m2/K], temperature [K]."""

    coefficient: Varying
    temperature: Varying


@dataclass(frozen=True)
class Radiation:
    """Grey exchange: factor [-] (emissivity times view, or the exchange factor) and the temperature seen [K]."""

    factor: Number
    temperature: Varying


@dataclass(frozen=True)
class Face:
    """What happens at a face; all entries add up, except that a prescribed ``temperature`` excludes the rest.

    heating : flux into the body [W/m2]. A Face() is insulated. Times of its Series run from the start of the span.
    """

    temperature: Varying | None = None
    exchange: tuple[Exchange, ...] = ()
    radiation: tuple[Radiation, ...] = ()
    heating: Varying = 0.0


@dataclass(frozen=True)
class DepthSource:
    """Heat put in depth during a span: density(cell) times a factor that may change in time.

    density : (cells of the whole body,) or (cells, cases) [W/m3].
    """

    density: Array
    factor: Varying = 1.0


@dataclass(frozen=True)
class Span:
    """A stretch of time with the same faces; durations are hit exactly and the solver restarts at their ends.

    sources : heat put in depth, added up; emission : (cells of the whole body,) or (cells, cases) [1/m], by which each
    cell gives off ``emission sigma T^4`` [W/m3] through the faces, as a clear sheet does from its depth.
    """

    duration: Number
    inner: Face = field(default_factory=Face)
    outer: Face = field(default_factory=Face)
    sources: tuple[DepthSource, ...] = ()
    name: str = ""
    emission: Array | None = None


@dataclass(frozen=True)
class Problem:
    """A body and the spans it passes through; ``inner_radius`` [m] counts for cylinder and sphere only."""

    layers: tuple[Layer, ...]
    spans: tuple[Span, ...]
    shape: Shape = "plane"
    inner_radius: Number = 0.0

    def with_(self, **changes: Any) -> Problem:
        """The same problem with some fields replaced."""
        return replace(self, **changes)
