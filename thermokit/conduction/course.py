"""A body that changes on its way: legs between which layers are joined, drawn thinner or taken off, their state kept.

A :class:`Course` is a sequence of problems. Layers are followed **by name**: one whose name stood in an earlier leg goes on
from the state that it had when that leg ended (cell by cell, so it needs the same number of cells; its thickness may have
changed, as that of a drawn sheet does), any other begins with its own start. So a tool joins the sheet where the two touch
and stays behind when it is lifted off, and contacts may differ from leg to leg.

What a body becomes may depend on how the leg before it ended: a former takes with it as much paste as has gelled on it.
Such a leg has an entry in ``Course.changes``, a function that is called when the course arrives there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Problem, Series
from thermokit.conduction.rod import assemble

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array, Layer, Number, Shape, Span
    from thermokit.conduction.rod import Rod


@dataclass(frozen=True)
class LayerState:
    """What a layer remembers: temperature (cells,) or (cells, cases) [K], degrees by state, crystalline share or None."""

    temperature: Array
    degrees: Mapping[str, Array]
    crystalline: Array | None


Memory = Mapping[str, LayerState]

#: (memory, the leg that ended, this leg and those after it) -> (memory, this leg and those after it), as they shall be
Change = Callable[[Memory, Problem, tuple[Problem, ...]], tuple[Memory, tuple[Problem, ...]]]


@dataclass(frozen=True)
class Course:
    """Legs in order; ``body`` : names of the layers that the rows of a result show (those of the first leg when empty).

    areas : area of the body in each leg over that in the first, for the heat balance (all 1 when empty). changes : by the
    number of a leg from 1 on, what becomes of it and of those after it once the leg before it has ended; durations and
    cells stay as they are. before : what layers of the first leg remember from before it, profiles (cells,) for one run or all
    cases of a batch, (cells, cases) for each; what a caller remembers of them goes first.
    Raises ValueError where two layers of a leg share a name, or a layer has other cells in a later leg.
    """

    legs: tuple[Problem, ...]
    body: tuple[str, ...] = ()
    areas: tuple[Number, ...] = ()
    changes: Mapping[int, Change] = field(default_factory=dict)
    before: Memory = field(default_factory=dict)

    def __post_init__(self) -> None:
        known: dict[str, int] = {}
        for leg in self.legs:
            if len({layer.name for layer in leg.layers}) < len(leg.layers):
                raise ValueError("layers of a course are followed by name: no two of a leg may share one")
            for layer in leg.layers:
                if known.setdefault(layer.name, layer.cells) != layer.cells:
                    raise ValueError(f"layer {layer.name!r} has {layer.cells} cells in one leg and others in another")

    @property
    def shape(self) -> Shape:
        """Shape of the body."""
        return self.legs[0].shape

    @property
    def inner_radius(self) -> Number:
        """Radius of the inner face [m]."""
        return self.legs[0].inner_radius

    @property
    def spans(self) -> tuple[Span, ...]:
        """The spans of all legs, in order."""
        return tuple(span for leg in self.legs for span in leg.spans)

    @property
    def shown(self) -> tuple[str, ...]:
        """Names of the body's layers."""
        return self.body or tuple(layer.name for layer in self.legs[0].layers)

    def area(self, leg: int) -> Number:
        """Area of the body in a leg over that in the first."""
        return self.areas[leg] if self.areas else 1.0

    def arrived(self, leg: int, memory: Memory) -> tuple[Course, dict[str, LayerState]]:
        """The course and what its layers remember when a leg begins, with the change there made."""
        change = self.changes.get(leg)
        if change is None or leg == 0:
            return self, dict(memory)
        memory, rest = change(memory, self.legs[leg - 1], self.legs[leg:])
        return replace(self, legs=(*self.legs[:leg], *rest)), dict(memory)

    def as_followed(self, legs: tuple[Problem, ...]) -> Course:
        """The course with its legs as they were solved; those that were not reached stay as they were planned."""
        return replace(self, legs=(*legs, *self.legs[len(legs) :])) if self.changes else self

    def each(self, change: Any) -> Course:
        """The same course with every leg replaced by ``change(leg)``."""
        return replace(self, legs=tuple(change(leg) for leg in self.legs))


def as_course(problem: Course | Problem) -> Course:
    """A course, or that of a body that stays as it is (whose layers need no names of their own)."""
    if isinstance(problem, Course):
        return problem
    layers = problem.layers
    if len({layer.name for layer in layers}) < len(layers):
        layers = tuple(replace(layer, name=f"{layer.name} {i + 1}".strip()) for i, layer in enumerate(layers))
        problem = replace(problem, layers=layers)
    return Course((problem,))


def thinned(layer: Layer, ratio: Number) -> Layer:
    """A layer drawn to ``ratio`` times its area: thinner by as much, each cell keeping its mass and its state.

    ratio : areal draw ratio [-], > 0. Raises ValueError for a ratio that is not above zero.
    """
    if np.any(np.asarray(ratio) <= 0.0):
        raise ValueError("an areal draw ratio is above zero")
    return replace(layer, thickness=layer.thickness / ratio)


def cells_of(problem: Problem) -> Iterator[tuple[Layer, slice]]:
    """Each layer with its cells in the body."""
    first = 0
    for layer in problem.layers:
        yield layer, slice(first, first + layer.cells)
        first += layer.cells


def recalled(problem: Problem, memory: Memory) -> Problem:
    """A leg whose layers begin as they are remembered, where they are."""
    layers = []
    for layer in problem.layers:
        state = memory.get(layer.name)
        if state is None:
            layers.append(layer)
            continue
        layers.append(
            replace(
                layer,
                start=state.temperature,
                reactions=tuple(replace(r, start=state.degrees.get(r.state, r.start)) for r in layer.reactions),
                crystalline_start=state.crystalline if layer.medium.crystallising is not None else None,
            )
        )
    return replace(problem, layers=tuple(layers))


def on_clock(problem: Problem, begun: Number) -> Problem:
    """A leg whose layers go on with their sources of heat, which run on the clock of the course; begun [s] there."""
    if not np.any(begun) or not any(isinstance(layer.heat, Series) for layer in problem.layers):
        return problem
    layers = tuple(
        replace(layer, heat=Series(tuple(t - begun for t in layer.heat.time), layer.heat.value))
        if isinstance(layer.heat, Series)
        else layer
        for layer in problem.layers
    )
    return replace(problem, layers=layers)


def remembered(problem: Problem, temperature: Array, states: Mapping[str, Array]) -> dict[str, LayerState]:
    """What the layers of a leg remember of its end; temperature and states (cells,) or (cells, cases) of the whole body."""
    out = {}
    share = states.get("crystalline_share")
    for layer, cells in cells_of(problem):
        degrees = {r.state: states[r.state][cells] for r in layer.reactions}
        two_curves = share is not None and layer.medium.crystallising is not None
        out[layer.name] = LayerState(
            temperature[cells], degrees, share[cells] if share is not None and two_curves else None
        )
    return out


class Shown:
    """Where the layers of the body lie in the body of a leg, and the temperatures of the faces of what is shown.

    place : cells of the leg, (shown cells that are there,); target : their places among all shown cells.
    """

    place: NDArray[np.intp]
    target: NDArray[np.intp]

    def __init__(self, course: Course, leg: int, cases: int | None = None):
        self.problem = problem = course.legs[leg]
        here = {layer.name: cells for layer, cells in cells_of(problem)}
        places, targets, first = [], [], 0
        for name, count in _counts(course).items():
            if name in here:
                places.append(np.arange(here[name].start, here[name].stop))
                targets.append(first + np.arange(count))
            first += count
        self.cells = first
        self.place = np.concatenate(places) if places else np.zeros(0, np.intp)
        self.target = np.concatenate(targets) if targets else np.zeros(0, np.intp)
        self._rod: Rod | None = None
        self._cases = cases

    def depth_in_body(self, depth: float, edges: Array) -> float | None:
        """A depth of the leg on the scale of what is shown, None in another layer; edges (shown cells + 1,) of that."""
        return _moved(depth, self._edges(), edges, self.place, self.target)

    def depth_in_leg(self, depth: float, edges: Array) -> float | None:
        """The inverse: None in a layer that is not there."""
        return _moved(depth, edges, self._edges(), self.target, self.place)

    def before(self, depth: float) -> bool:
        """True where a depth of the leg lies inside of what is shown."""
        return not len(self.place) or depth <= self._edges()[self.place[0]]

    def layer(self, depth: float) -> str:
        """Name of the layer at a depth of the leg."""
        cell = int(np.clip(np.searchsorted(self._edges(), depth) - 1, 0, None))
        return next(layer.name for layer, cells in cells_of(self.problem) if cell < cells.stop)

    def free(self, inner: bool) -> bool:
        """True where no other layer covers the inner (or outer) face of what is shown."""
        if not len(self.place):
            return False
        return bool(self.place[0] == 0 if inner else self.place[-1] == len(self._edges()) - 2)

    def _edges(self) -> Array:
        """Edges of the leg's cells, (cells + 1,) [m]; one case."""
        return edges_of(Course((self.problem,)))[:, 0]

    def faces(self, temperature: Array, inner: Array, outer: Array) -> tuple[Array, Array]:
        """Temperatures of the faces of what is shown; temperature (cells, n), inner and outer (n,) those of the leg.

        Where another layer touches, the face lies between half a cell and the contact, with the flux of the joint.
        """
        if not len(self.place):
            return np.full_like(inner, np.nan), np.full_like(outer, np.nan)
        first, last, n = int(self.place[0]), int(self.place[-1]), len(temperature)
        if first > 0:
            inner = self._joint(temperature, first - 1)[1]
        if last < n - 1:
            outer = self._joint(temperature, last)[0]
        return inner, outer

    def _joint(self, temperature: Array, i: int) -> tuple[Array, Array]:
        """Temperatures on both sides of the joint between cells i and i + 1, (n,) each."""
        if self._rod is None:
            self._rod = assemble(self.problem, self._cases)
        rod = self._rod
        if rod.k is not None:
            k = rod.k
        elif self._cases is None:  # rows of one run stand first there
            k = rod.conductivity_at(temperature.T)[0].T
        else:
            k = rod.conductivity_at(temperature)[0]
        own, other = rod.half_out[i] / k[i], rod.half_in[i + 1] / k[i + 1]
        flux = (temperature[i + 1] - temperature[i]) / (own + other + rod.joint[i])
        return temperature[i] + flux * own, temperature[i + 1] - flux * other


def _moved(depth: float, edges: Array, others: Array, cells: NDArray[np.intp], same: NDArray[np.intp]) -> float | None:
    """A depth on another scale: the same share of the same cell, whose numbers are cells (n,) here and same (n,) there."""
    cell = int(np.clip(np.searchsorted(edges, depth) - 1, 0, len(edges) - 2))
    where = np.flatnonzero(cells == cell)
    if not len(where):
        return None
    other = same[where[0]]
    share = (depth - edges[cell]) / (edges[cell + 1] - edges[cell])
    return float(others[other] + share * (others[other + 1] - others[other]))


def _counts(course: Course) -> dict[str, int]:
    """Cells of every layer that is shown, in the order of the body."""
    cells = {layer.name: layer.cells for leg in reversed(course.legs) for layer in leg.layers}
    return {name: cells[name] for name in course.shown}


def edges_of(course: Course) -> Array:
    """Edges of the cells that are shown, with the thickness that each layer had first, (cells + 1, 1 or cases) [m]."""
    first = {layer.name: layer for leg in reversed(course.legs) for layer in leg.layers}
    rows: list[Any] = [0.0]
    position: Any = 0.0
    for name in course.shown:
        layer = first[name]
        rows += [position + layer.thickness * share for share in layer.edges[1:]]
        position = position + layer.thickness
    width = max(np.size(row) for row in rows)
    return np.stack([np.broadcast_to(np.asarray(row, float), (width,)) for row in rows])
