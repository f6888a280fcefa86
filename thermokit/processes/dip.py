"""A former dipped in paste: what the solver is given, and what a run is judged by.

Places that are solved side by side: the middle of the dipped length, its top and bottom where immersion and withdrawal take
time, and the windward and the lee side of a former that stands still in uneven air.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.dip_checks import DOSE, FABRIC
from thermokit.conduction.problem import Medium, Reaction
from thermokit.exchange.drag_out import thickness_drained, thickness_drawn
from thermokit.kinetics.held import Held
from thermokit.processes import cautions_kinds, dip_hand, dip_judgement, dip_outcomes, dip_remarks
from thermokit.processes.base import Facts, Hand, Limit, Plain, facts_of_batch, facts_of_run
from thermokit.processes.dip_course import coat_name, dip_course, heights_of, paste_name, sides_of
from thermokit.processes.media import Stuff, typical
from thermokit.processes.start import begun
from thermokit.stations.dip import soaked

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from thermokit.case.dip import DipCase
    from thermokit.conduction.course import Course
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array, Shape
    from thermokit.processes.dip_oven import OvenAir
    from thermokit.results.model import Field, Outcome

MIDDLE = ("middle",)
CAP = ("cap",)
#: share of the dipped length, from its middle downwards, that a place lies off
OFF_MIDDLE = {"top": -0.4, "bottom": 0.4}
SIDE = {"windward": 1.0, "lee": -1.0}
HELD = "held_share"
SHORTEST = 0.05  # s, time in the paste of a place that hardly gets there
USUAL_DWELL = 60.0  # s, for which the mesh is laid out where the dwell is sought
USUAL_COAT = 1.2e-3  # m, for the number of cells of a coat
EMISSIVITY = 0.9  # of a coat where the material gives none; from memory


class DipProcess(Plain):
    """A dip case, translated; ``places`` : which of its places are solved, or the cap of a capped former."""

    def __init__(self, case: DipCase, places: Any = None, stuff: Stuff | None = None):
        self.case = case
        self.at: tuple[str, ...] = tuple(places) if places else MIDDLE
        self.choice = places
        self.stuff = stuff if stuff is not None else Stuff(case.materials, case.kinetics)
        kinds = [station.kind for station in case.stations]
        #: numbers of the stations that are dips
        self.dips = [i for i, kind in enumerate(kinds) if kind == "dip"]
        #: number of the station at whose end the article is stripped, None where it is not
        self.strip = len(kinds) - 2 if kinds[-1] == "strip" else None
        self.paste_medium = self.stuff.medium(case.paste.material)
        self.walls = tuple(self._wall(layer) for layer in case.former.layers)
        #: state -> the set that grows it
        self.states = {self.stuff.reactions((name,))[0].state: name for name in case.paste.kinetics}
        self.edges: Sequence[Array] = ()
        self._cells: dict[str, slice] = {}
        self._air: dict[int, OvenAir] = {}
        #: air of oven stations that is known from elsewhere [K]
        self.given_air: dict[int, Any] = {}

    def _wall(self, layer: Any) -> Any:
        if layer.thickness is not None:
            return layer.thickness
        area: Any = self.case.former.area
        return layer.mass / (self.stuff.medium(layer.material).density * area)

    # -- shape and places ------------------------------------------------------------------------------------------

    @property
    def shape(self) -> Shape:
        """Shape that is solved: the column of a capped former is a cylinder, its cap a sphere."""
        if self.case.former.shape == "capped":
            return "sphere" if self.at == CAP else "cylinder"
        return self.case.former.shape  # type: ignore[return-value]

    @property
    def inner_radius(self) -> Any:
        """Radius inside [m]."""
        return 0.0 if self.shape == "plane" else self.case.former.inner_radius

    @property
    def outer_radius(self) -> Any:
        """Radius of the bare former with its fabric [m]; of a plane its thickness."""
        fabric = self.case.former.fabric
        return self.inner_radius + sum(self.walls) + (fabric.thickness if fabric is not None else 0.0)

    @property
    def diameter(self) -> Any:
        """Diameter of the bare former [m]."""
        return 2.0 * self.outer_radius

    @property
    def area(self) -> Any:
        """Developed area that is dipped, of one former [m2]."""
        former = self.case.former
        if former.area is not None:
            return former.area
        if former.shape == "plane":
            return former.length**2
        if former.shape == "sphere":
            return 4.0 * np.pi * self.outer_radius**2
        return 2.0 * np.pi * self.outer_radius * former.length

    def places(self) -> int:
        """How many places are solved side by side."""
        return len(self.at)

    def everywhere(self) -> DipProcess:
        """The same at all its places."""
        every = (*MIDDLE, *heights_of(self.case), *sides_of(self.case))
        other = DipProcess(self.case, every if len(every) > 1 else None, self.stuff)
        other._cells, other._air = self._cells, self._air
        return other

    def cap(self) -> DipProcess:
        """The ball at the end of a capped former."""
        other = DipProcess(self.case, CAP, self.stuff)
        other._cells, other._air = self._cells, self._air
        return other

    def judging(self, facts: Facts) -> DipProcess:
        """The process whose places these facts are of."""
        return self if facts.travel is None or self.choice is not None else self.everywhere()

    def tiled(self, values: Sequence[float]) -> Any:
        """Values of the places, for every case of the batch: a number for one place."""
        if len(values) == 1:
            return float(values[0])
        return np.tile(np.asarray(values, float), max(1, self._cases() // len(values)))

    def _cases(self) -> int:
        from thermokit.case.walk import leaves

        sizes = [np.size(v) for leaf in leaves(self.case) if isinstance(v := leaf.value, np.ndarray) and v.ndim == 1]
        return max(sizes, default=len(self.at))

    def on_side(self, coefficient: Any, station: Any) -> Any:
        """A coefficient on the side of each place, for a former that stands still in uneven air."""
        signs = [SIDE.get(place, 0.0) for place in self.at]
        if not any(signs) or np.any(np.asarray(station.turning)):
            return coefficient
        factor = 1.0 + self.tiled(signs) * station.uneven
        from thermokit.conduction.problem import Series

        if isinstance(coefficient, Series):
            return Series(coefficient.time, tuple(value * factor for value in coefficient.value))
        return coefficient * factor

    def duration_at_place(self, number: int) -> Any:
        """Time in the paste of each place [s]: what is higher goes in later and comes out sooner."""
        station = self.case.stations[number]
        off = [OFF_MIDDLE.get(place, 0.0) for place in self.at]
        if not any(off):
            return station.duration
        slowness = sum(1.0 / speed for speed in (station.withdrawal, station.immersion) if speed is not None)
        return np.maximum(station.duration + self.tiled(off) * self.case.former.length * slowness, SHORTEST)

    # -- paste -----------------------------------------------------------------------------------------------------

    @property
    def coat_emissivity(self) -> Any:
        """Emissivity of the coat."""
        given = self.case.paste.emissivity
        if given is not None:
            return given
        record = self.stuff.material(self.case.paste.material)
        return float(getattr(record, "emissivity", None) or EMISSIVITY)

    def bath_temperature(self, number: int) -> Any:
        """Temperature of the paste in a station that is a dip [K]."""
        own = self.case.stations[number].temperature
        return own if own is not None else self.case.paste.temperature

    def paste_depth(self, number: int) -> Any:
        """How far from the former the paste is followed in a dip [m]."""
        given = self.case.paste.depth
        if given is not None:
            return given
        medium = self.paste_medium
        diffusivity = typical(medium.conductivity) / (typical(medium.density) * typical(medium.specific_heat))
        dwell = self.case.stations[number].duration
        seconds = self.duration_at_place(number) if isinstance(dwell, (int, float, np.ndarray)) else USUAL_DWELL
        depth = np.clip(4.0 * np.sqrt(diffusivity * seconds), 2e-3, 30e-3)
        # what has gelled lies in the nearer half; what clings comes out on top of it, and must be there
        depth = np.maximum(depth, depth / 2.0 + self.clinging(self.dips.index(number)))
        return float(depth) if np.ndim(depth) == 0 else depth

    def drawn(self, dip: int) -> Any:
        """Liquid paste that clings when a former leaves the paste, dips counted from 0 [m]."""
        paste, station = self.case.paste, self.case.stations[self.dips[dip]]
        if station.withdrawal is None:
            return 0.0
        found = thickness_drawn(
            paste.viscosity, station.withdrawal, paste.surface_tension, self.paste_medium.density, paste.yield_stress,
            paste.index,
        )  # fmt: skip
        return float(found) if np.ndim(found) == 0 else found

    def clinging(self, dip: int) -> Any:
        """What of it is left after the drain stations that follow this dip [m]."""
        paste, drawn = self.case.paste, self.drawn(dip)
        first = self.dips[dip] + 1
        last = self.dips[dip + 1] if dip + 1 < len(self.dips) else len(self.case.stations)
        drains = [s.duration for s in self.case.stations[first:last] if s.kind == "drain"]
        drains = [d for d in drains if isinstance(d, (int, float, np.ndarray))]
        if not drains:
            return drawn
        below = (0.5 + self.tiled([OFF_MIDDLE.get(place, 0.0) for place in self.at])) * self.case.former.length
        found = thickness_drained(
            drawn, paste.viscosity, self.paste_medium.density, below, sum(drains), paste.yield_stress
        )
        return float(found) if np.ndim(found) == 0 else found

    @property
    def fabric_soaks(self) -> bool:
        """Whether paste fills the pores of the fabric."""
        fabric = self.case.former.fabric
        return fabric is not None and bool(np.any(np.asarray(fabric.takes_up) > 0.0))

    @property
    def fabric_dry(self) -> Medium:
        """The fabric as it is drawn on."""
        assert self.case.former.fabric is not None
        return self.stuff.medium(self.case.former.fabric.material)

    @property
    def fabric_wet(self) -> Medium:
        """The fabric with paste in its pores."""
        fabric = self.case.former.fabric
        assert fabric is not None
        return soaked(self.fabric_dry, self.paste_medium, fabric.porosity, fabric.takes_up)

    def reactions(self) -> tuple[Reaction, ...]:
        """What happens in the paste, and the clock of ``limits.held``."""
        found = self.stuff.reactions(self.case.paste.kinetics, self.case.paste.material)
        held = self.case.limits.held
        return found if held is None else (*found, Reaction(HELD, Held(held.temperature, held.time)))

    def oven_air(self, number: int) -> Any:
        """Air of an oven station: as given, or as its oven comes out under its load [K]."""
        if number in self.given_air:
            return self.given_air[number]
        station = self.case.stations[number]
        if station.oven is None:
            return station.temperature
        if number not in self._air:
            from thermokit.processes.dip_oven import air_of_oven

            self._air[number] = air_of_oven(self, number)
        return self._air[number].series

    def ovens_solved(self) -> dict[int, OvenAir]:
        """Air of the ovens that were solved under their load, by number of the station."""
        return self._air

    # -- for the solver --------------------------------------------------------------------------------------------

    def shown(self) -> tuple[str, ...]:
        """Names of the layers of the body: former, fabric, a coat for each dip."""
        fabric = (FABRIC,) if self.case.former.fabric is not None else ()
        return (*(layer.name for layer in self.case.former.layers), *fabric, *self.coats)

    @property
    def coats(self) -> tuple[str, ...]:
        """Names of the coats."""
        return tuple(coat_name(i) for i in range(len(self.dips)))

    @property
    def article(self) -> tuple[str, ...]:
        """Names of the layers that gel and fuse: coats, and fabric where paste fills it."""
        return (*((FABRIC,) if self.fabric_soaks else ()), *self.coats)

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, None) of former, fabric, coats (about) and the paste of each dip."""
        found: list[tuple[str, Any, Any, int | None]] = [
            (layer.name, wall, self.stuff.medium(layer.material), None)
            for layer, wall in zip(self.case.former.layers, self.walls, strict=True)
        ]
        if self.case.former.fabric is not None:
            found.append((FABRIC, self.case.former.fabric.thickness, self.fabric_dry, None))
        found += [(name, USUAL_COAT, self.paste_medium, None) for name in self.coats]
        found += [
            (paste_name(i), self.paste_depth(number), self.paste_medium, None) for i, number in enumerate(self.dips)
        ]
        return found

    def named(self, edges: Sequence[Array]) -> Mapping[str, Array]:
        """Edges by the name of their layer."""
        return {layer[0]: cut for layer, cut in zip(self.layers(), edges, strict=True)}

    def course(self, edges: Sequence[Array]) -> Course:
        """What the former passes through."""
        named = self.named(edges)
        self.edges = edges
        first = 0
        for name in self.shown():
            self._cells[name] = slice(first, first + len(named[name]) - 1)
            first = self._cells[name].stop
        return begun(dip_course(self, named), self.case)

    def cells(self, *names: str) -> Array:
        """Numbers of the cells of some layers in the body."""
        return np.concatenate([np.arange(self._cells[name].start, self._cells[name].stop) for name in names])

    def edge(self, name: str) -> tuple[int, int]:
        """Numbers of the edges between which a layer lies."""
        return self._cells[name].start, self._cells[name].stop

    # -- for the judgement -----------------------------------------------------------------------------------------

    def limits(self) -> tuple[Limit, ...]:
        """Limits of the case, or else of the material and the trade."""
        return dip_judgement.limits(self)

    def facts(self, travel: Travel, edges: Sequence[Array], tolerance: float) -> Facts:
        """Facts of all places; of the run itself where there is one."""
        other = self.everywhere()
        if other.places() == 1:
            return replace(facts_of_run(travel.history), travel=travel)
        from thermokit.conduction.follow_batch import follow_batch

        return replace(facts_of_batch(follow_batch(other.course(edges), other.places(), tolerance)), travel=travel)

    def chosen(self, edges: Sequence[Array], tolerance: float, settings: Sequence[float], path: str) -> Any:
        """All places: there are few of them."""
        other = self.everywhere()
        return None if other.places() == 1 else other.at

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, the worst of the places, (cases,) in SI."""
        return dip_judgement.quantities(self, facts)

    def found_at(self, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
        """Place in words and time of what a limit looks at."""
        return dip_judgement.found_at(self, limit, history, facts)

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""
        return dip_outcomes.outcomes(self, history, facts)

    def fields(self, travel: Travel, facts: Facts, edges: Sequence[Array], tolerance: float) -> tuple[Field, ...]:
        """Wall against dwell, places, air of the ovens."""
        return dip_outcomes.fields(self, travel, facts, edges, tolerance)

    def place(self, depth: float) -> str:
        """A depth in words."""
        return dip_outcomes.place(self, depth)

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""
        return cautions_kinds.told(self)

    def warnings(self, history: History) -> list[str]:
        """What in the run lies outside what is known."""
        return dip_outcomes.warnings(self, history)

    def remarks(self, history: History, facts: Facts) -> list[str]:
        """Why the wall and the fusing are as they are."""
        return dip_remarks.remarks(self, history, facts)

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """The shop's formula for the duration that is sought."""
        return dip_hand.hand(self, edges)

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """What could open a closed window."""
        return dip_hand.openers(self)

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """What most often changes at the bath and the oven."""
        return dip_hand.shifts(self)


__all__ = ["DOSE", "DipProcess"]
