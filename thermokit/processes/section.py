"""The open kind in two dimensions: a section of any regions through any stations, or its steady state."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_across import not_early
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_solve import FIRST_FINENESS, MOST_NODES, STEPS
from thermokit.errors import CaseError, Mistake
from thermokit.processes import cautions_kinds
from thermokit.processes.base import Limit, PlainDirect
from thermokit.processes.body import face_of
from thermokit.processes.media import Stuff
from thermokit.processes.section_facts import facts_at
from thermokit.processes.section_places import series

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from thermokit.case.section import SectionCase
    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionMesh
    from thermokit.processes.section_facts import SectionFacts
    from thermokit.results.model import Result

STEADY_SHARE = 0.25  # of the accuracy, what a steady state is solved to: it costs little
SEARCH_NODES = 12_000  # of the finest mesh of a search
SEEN = 60  # rows of a search run in which the hottest places are looked for
QUICK_POINTS, SLOW_POINTS = 33, 13  # settings of the first look: all in one run, or each in a run of its own


class SectionProcess(PlainDirect):
    """A section case, translated, solved and judged."""

    def __init__(self, case: SectionCase):
        self.case = case
        self.stuff = Stuff(case.materials, {})
        self.fineness = FIRST_FINENESS
        self.tolerance = STEPS * float(case.accuracy.temperature)  # of a step [K]
        self._held: tuple[SectionProblem, SectionMesh] | None = None  # the mesh of an earlier solve, and its problem

    @property
    def steady(self) -> bool:
        """Whether the steady state is asked for."""
        return bool(self.case.section.steady)

    def problem(self) -> SectionProblem:
        """What the solver is given."""
        section = self.case.section
        usual = section.start if section.start is not None else 293.15  # in the steady state only a first guess
        return SectionProblem(
            regions=tuple(
                Region(
                    name=entry.name,
                    outline=np.array(entry.outline, dtype=float),
                    medium=self.stuff.medium(entry.material),
                    start=float(entry.start if entry.start is not None else usual),
                    heat=entry.heat,
                )
                for entry in section.regions
            ),
            spans=tuple(
                SectionSpan(
                    duration=float(station.duration) if isinstance(station.duration, (int, float)) else np.inf,
                    faces={name: face_of(face) for name, face in station.faces.items()},
                    absent=frozenset(station.absent),
                    name=station.name,
                )
                for station in self.case.stations
            ),
            channels=tuple(Channel(c.name, _xy(c.centre), float(c.diameter)) for c in section.channels),
            edges=tuple(Edge(e.name, _xy(e.start), _xy(e.end)) for e in section.edges),
            touches=tuple(Touch((c.between[0], c.between[1]), c.coefficient) for c in section.contacts),
            axisymmetric=section.symmetry == "axis",
        )

    def rows(self) -> Array | None:
        """Times of the rows, None in the steady state."""
        from thermokit.processes.run import rows_of

        if self.steady:
            return None
        for station in self.case.stations:
            if not isinstance(station.duration, (int, float)):
                raise CaseError(
                    self.case.source.file,
                    [Mistake(f"stations.{station.name}.duration", 'is "find"', "a time", "`thermokit dwell` finds it")],
                )
        found: Array = rows_of(self.case, [float(station.duration) for station in self.case.stations])  # type: ignore[arg-type]
        return found

    @cached_property
    def limits_found(self) -> tuple[Limit, ...]:
        """The limits of the case, an entry with both ends as two."""
        found = []
        for name, bound in self.case.limits.items():
            for least, value in ((True, bound.at_least), (False, bound.at_most)):
                if value is not None:
                    found.append(Limit(name, name, least, value, bound.dimension))
        return tuple(found)

    def limits(self) -> tuple[Limit, ...]:
        """The limits of the case."""
        return self.limits_found

    def result(self, progress: Callable[[float], None] | None, study: dict[str, Any]) -> Result:
        """The section solved on a mesh that meets its accuracy, and judged."""
        from thermokit.processes.section_judgement import judged

        history = self.settled(progress)
        return judged(self, history, self.probes(history), study)

    def settled(self, progress: Callable[[float], None] | None = None) -> SectionHistory:
        """The section on a mesh and in steps that meet the accuracy, at the probes too; the history warns where they do not.

        The solver leaves the worst fiftieth of a region out of account; a probe may lie just there. So its values are held
        against those on a mesh half as fine, and the mesh is halved further until they agree.
        """
        from thermokit.conduction.section_solve import solve_section

        problem, accuracy, rows = self.problem(), float(self.case.accuracy.temperature), self.rows()
        most = MOST_NODES if rows is None else self._most_nodes(problem, len(rows))
        wanted = STEADY_SHARE * accuracy if rows is None else accuracy
        kind = "steady" if rows is None else "transient"
        found = solve_section(problem, wanted, rows, kind=kind, most_nodes=most, progress=progress)  # type: ignore[arg-type]
        own = found.history
        self._held, self.fineness, self.tolerance = (problem, own.mesh), found.fineness, found.tolerance
        if own.ending.status != "finished" or not self.case.output.probes:
            return own
        off, name = self._probes_apart(own, self.trial(finer=0.5))
        while off > accuracy and 4 * len(own.mesh.x) <= most:
            finer = self.trial(finer=2.0)
            if finer.ending.status != "finished":
                break
            off, name = self._probes_apart(own, finer)
            own = replace(finer, warnings=tuple(dict.fromkeys((*own.warnings, *finer.warnings))))
            self._held, self.fineness = (problem, own.mesh), 2.0 * self.fineness
        if off > accuracy:
            own = replace(own, warnings=(*own.warnings, f"probe {name} may be off by {off:.2g} K"))
        return own

    def _most_nodes(self, problem: SectionProblem, rows: int) -> int:
        """Nodes of the finest mesh that is tried: what is kept must fit into memory. CaseError where the least mesh is too much."""
        from thermokit.conduction.mesh import MOST_KEPT
        from thermokit.conduction.section_mesh import mesh_section
        from thermokit.processes.run import too_many_kept

        if rows * MOST_NODES <= MOST_KEPT:
            return MOST_NODES
        # the first mesh is always held against one with four times its nodes
        least = 4 * len(mesh_section(problem, FIRST_FINENESS).x)
        if rows * least > MOST_KEPT:
            raise too_many_kept(self.case, rows, least, "nodes")
        return MOST_KEPT // rows

    def _probes_apart(self, own: SectionHistory, other: SectionHistory) -> tuple[float, str]:
        """(estimated largest error of the probes on the finer of two meshes [K], whose): half the change.

        A half rather than a third: errors fall with less than the square beside corners.
        """
        late, other_probes = not_early(own), self.probes(other)
        off = {
            name: float(np.nanmax(np.abs(values - other_probes[name])[late], initial=0.0)) / 2.0
            for name, values in self.probes(own).items()
        }
        worst = max(off, key=lambda name: off[name])
        return off[worst], worst

    def march(self, rows: Array | None, progress: Callable[[float], None] | None = None) -> SectionHistory:
        """The section through its stations on the mesh that was found, or in its steady state."""
        from thermokit.conduction.section_march import march
        from thermokit.conduction.section_steady import steady

        if self._held is None:
            from thermokit.conduction.section_mesh import mesh_section

            problem = self.problem()
            self._held = (problem, mesh_section(problem, self.fineness))
        problem, mesh = self._held
        if rows is None:
            return steady(problem, mesh)
        return march(problem, mesh, rows, self.tolerance, progress=progress)

    def trial(self, finer: float = 1.0, tighter: float = 1.0) -> SectionHistory:
        """The section once more, on a mesh so much finer and with so much smaller an error a step."""
        from thermokit.conduction.section_march import march
        from thermokit.conduction.section_mesh import mesh_section
        from thermokit.conduction.section_steady import steady

        if self._held is None:
            self.settled()
        assert self._held is not None
        problem, mesh = self._held
        if finer != 1.0:
            mesh = mesh_section(problem, self.fineness * finer)
        rows = self.rows()
        return steady(problem, mesh) if rows is None else march(problem, mesh, rows, self.tolerance / tighter)

    def probes(self, history: SectionHistory) -> dict[str, Array]:
        """Series of the probes [K], (rows,)."""
        return {probe.name: series(history, _xy(probe.at)) for probe in self.case.output.probes}

    def margins(self, path: str, settings: Array, values: Mapping[str, Array]) -> tuple[tuple[Limit, ...], Array]:
        """(limits, margins (limits, settings)): one run for the duration of the last station, else one for each setting."""
        limits = self.limits()
        found = np.full((len(limits), len(settings)), np.nan)
        if self._quick(path) and not values:
            facts = self._along(path, settings)
        else:
            changed = [{path: float(s)} | {p: float(v[i]) for p, v in values.items()} for i, s in enumerate(settings)]
            facts = [self._with(one) for one in changed]
        for i, fact in enumerate(facts):
            if fact is not None:
                quantities = fact.quantities()
                found[:, i] = [float(limit.margin(np.array(quantities[limit.quantity]))) for limit in limits]
        return limits, found

    def _along(self, path: str, settings: Array) -> list[SectionFacts | None]:
        """Facts at each duration of the last station, read off one run to the longest."""
        filled = self._filled({path: float(np.max(settings))})
        before = float(sum(span.duration for span in filled.problem().spans[:-1]))
        longest = float(np.max(settings))
        # whatever rows the case asks for: enough to see how hot it has been by each setting
        close = np.geomspace(min(float(np.min(settings)), longest / 10.0) / 20.0, longest, SEEN)
        history = filled.march(
            np.unique(
                np.concatenate([np.linspace(0.0, before, SEEN if before else 1), before + close, before + settings])
            )
        )
        probes = filled.probes(history)
        at = np.searchsorted(history.time, (before + settings) * (1.0 - 1e-12))
        return [facts_at(history, int(row), probes) if row < len(history.time) else None for row in at]

    def _with(self, changed: Mapping[str, float]) -> SectionFacts | None:
        """Facts of a run with other inputs, None where it fails."""
        filled = self._filled(changed)
        history = filled.march(filled.rows())
        if history.ending.status != "finished":
            return None
        return facts_at(history, len(history.time) - 1, filled.probes(history))

    def _filled(self, changed: Mapping[str, float]) -> SectionProcess:
        """The process with other inputs, with the mesh of this one where its geometry is the same."""
        filled = SectionProcess(self.case.with_values(changed))
        problem = filled.problem()
        if self._held is None:  # a first look needs no finer one; see ``meshed``
            from thermokit.conduction.section_mesh import mesh_section

            self._held = (problem, mesh_section(problem, self.fineness))
        held, mesh = self._held
        filled.fineness = self.fineness
        filled._held = (problem, mesh) if same_geometry(held, problem) else None
        return filled

    def meshed(self, path: str, setting: float) -> bool:
        """A first look is made on a coarse mesh; edges are then looked for on the finest that a search can afford."""
        from thermokit.conduction.section_mesh import mesh_section

        if self._held is None:
            return False
        finer = 0
        while len(self._held[1].x) * 4 ** (finer + 1) <= SEARCH_NODES:
            finer += 1
        if not finer:
            return False
        problem = SectionProcess(self.case.with_values({path: setting})).problem()
        self.fineness *= 2.0**finer
        self._held = (problem, mesh_section(problem, self.fineness))
        return True

    def _quick(self, path: str) -> bool:
        """Whether a shorter setting is the beginning of a longer one: the duration of the last station."""
        last = len(self.case.stations) - 1
        return path in (f"stations.{self.case.stations[last].name}.duration", f"stations.{last}.duration")

    def points(self, path: str) -> int:
        """Many where they are rows of one run."""
        return QUICK_POINTS if self._quick(path) else SLOW_POINTS

    def cautions(self) -> list[str]:
        """What to take care of."""
        return cautions_kinds.told(self)


def same_geometry(a: SectionProblem, b: SectionProblem) -> bool:
    """Whether two sections can share a mesh."""
    if (a.channels, a.edges, a.removable, a.axisymmetric) != (b.channels, b.edges, b.removable, b.axisymmetric):
        return False
    if [t.between for t in a.touches] != [t.between for t in b.touches] or len(a.regions) != len(b.regions):
        return False
    pairs = zip(a.regions, b.regions, strict=True)
    return all(x.name == y.name and np.array_equal(x.outline, y.outline) for x, y in pairs)


def _xy(place: Any) -> tuple[float, float]:
    return float(place[0]), float(place[1])
