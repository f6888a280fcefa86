"""A section solved on a mesh that is fine enough, in steps that are short enough, to be right to so many kelvin.

Meshes at fineness 1/2, 1, 2, 4 are cut from one another and errors fall with the square of the spacing, so that the finer of two
answers is off by about a third of their difference (Richardson); where three are at hand and fall more slowly (corners into a
material, jumps along a side) the rate that was seen counts. Steps half as long are an eighth of the tolerance: what the
coarse answer moves by then, times 4/3, is the error of the steps.

Looked at are the temperatures at the end of every span, but for the worst fiftieth of each region, and the hottest place of each
region in the rows after the first quarter of a span: no mesh is fine enough for a corner where a face ends, nor for the moment
of a jump. How far off the worst place is, is told where that is much more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from thermokit.conduction.section_cycle import Cycle, settled
from thermokit.conduction.section_march import march
from thermokit.conduction.section_matrices import summed
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_mesh_places import regions_of_nodes
from thermokit.conduction.section_steady import steady

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem
    from thermokit.conduction.section_watch import SectionWatch

    Kind = Literal["transient", "steady", "settled"]

FIRST_FINENESS = 0.5
MOST_NODES = 60_000  # beyond which no finer mesh is tried
STEPS = 1 / 3  # tolerance of a step as a share of the accuracy that is asked for
TIME_SHARE = 0.5  # of the accuracy that steps may use up
SETTLED_SHARE = 0.1  # of the accuracy, how far from settled a cycle may be
LEFT_OUT = 0.02  # share of a region whose temperatures may be further off
MUCH = 3.0  # times the accuracy, from which the worst place is told
SLOWEST = 1.5  # by which errors are taken to fall from one mesh to the next, at least
EARLY = 0.25  # share of a span whose rows are not looked at
NOWHERE = (float("nan"), float("nan"))
SHORTENED = 3  # times that steps are shortened


@dataclass(frozen=True)
class SectionSolution:
    """An answer and how right it is: space_error, time_error : estimated [K]; reached : whether their sum is below what was asked.

    worst_error : the same at the worst place [K], which is ``worst_place`` (x, y) [m]. cycle : of a settled one, else None;
    fineness, tolerance [K] : what it was solved with.
    """

    history: SectionHistory
    cycle: Cycle | None
    fineness: float
    tolerance: float
    space_error: float
    time_error: float
    worst_error: float
    worst_place: tuple[float, float]
    reached: bool


def solve_section(
    problem: SectionProblem,
    accuracy: float = 0.1,
    rows: Array | None = None,
    watches: Sequence[SectionWatch] = (),
    kind: Kind = "transient",
    restarted: Collection[str] = (),
    within: float | None = None,
    most_nodes: int = MOST_NODES,
    progress: Callable[[float], None] | None = None,
) -> SectionSolution:
    """Temperatures of a section, right to ``accuracy`` [K]: once through its spans, in the steady state, or settled in its cycle.

    rows, watches, progress : as in ``march``; restarted, within : as in ``settled``. Where the accuracy is not met with
    ``most_nodes`` the best answer comes with a warning that says how far off it is. Raises DataError or SolveError where
    the drawing is wrong or there is no steady or settled state.
    """
    job = _Job(problem, rows, tuple(watches), kind, restarted, within, accuracy)
    tolerance, fineness = STEPS * accuracy, FIRST_FINENESS
    coarse = job.run(mesh_section(problem, fineness), tolerance, last=False)
    if coarse.history.ending.status != "finished":
        return SectionSolution(
            coarse.history, coarse.cycle, fineness, tolerance, np.nan, np.nan, np.nan, NOWHERE, False
        )
    time_error = 0.0
    if kind != "steady":
        for _ in range(SHORTENED):
            finer = job.again(coarse, tolerance / 8)
            time_error = 4 / 3 * _difference(coarse.history, finer.history).most
            if time_error <= TIME_SHARE * accuracy:
                break
            coarse, tolerance, time_error = finer, tolerance / 8, time_error / 4
    space_error, before = np.inf, None
    worst, place, worst_before = np.inf, NOWHERE, 0.0
    while True:
        mesh = mesh_section(problem, 2.0 * fineness)
        if len(mesh.x) > most_nodes and np.isfinite(space_error):
            break
        fineness *= 2.0
        fine = job.run(mesh, tolerance, guess=coarse, progress=progress)
        if fine.history.ending.status != "finished":
            return SectionSolution(
                fine.history, fine.cycle, fineness, tolerance, np.nan, time_error, np.nan, NOWHERE, False
            )
        apart = _difference(coarse.history, fine.history)
        # three meshes tell how fast errors fall; never taken for faster than the square
        fall = min(max(before / max(apart.most, 1e-300), SLOWEST), 4.0) if before is not None else 4.0
        space_error, before, coarse = apart.most / (fall - 1.0), apart.most, fine
        # where a face ends differences may even grow until its film is resolved: there the slowest fall counts, or what was seen
        worst = apart.worst / (min(max(worst_before / max(apart.worst, 1e-300), SLOWEST), 4.0) - 1.0)
        place, worst_before = apart.place, apart.worst
        if space_error + time_error <= accuracy or len(mesh.x) > most_nodes:
            break
    done = SectionSolution(
        coarse.history, coarse.cycle, fineness, tolerance, space_error, time_error, worst + time_error, place, False
    )
    return _told(done, accuracy)


@dataclass(frozen=True)
class _Answer:
    history: SectionHistory
    cycle: Cycle | None


@dataclass(frozen=True)
class _Job:
    """What is asked of every mesh."""

    problem: SectionProblem
    rows: Array | None
    watches: tuple[SectionWatch, ...]
    kind: Kind
    restarted: Collection[str]
    within: float | None
    accuracy: float

    def run(
        self,
        mesh: SectionMesh,
        tolerance: float,
        last: bool = True,
        guess: _Answer | None = None,
        progress: Callable[[float], None] | None = None,
    ) -> _Answer:
        """The answer on a mesh; ``last`` : it may be the one that is given."""
        if self.kind == "steady":
            return _Answer(steady(self.problem, mesh), None)
        if self.kind == "transient":
            return _Answer(march(self.problem, mesh, self.rows, tolerance, None, self.watches, progress), None)
        begin = None
        if guess is not None and guess.cycle is not None:
            begin = _carried(guess.history.mesh, mesh, guess.cycle.start)
        cycle = settled(
            self.problem,
            mesh,
            SETTLED_SHARE * self.accuracy,
            self.rows,
            self.watches,
            tolerance,
            self.restarted,
            self.within if last else None,
            guess=begin,
        )
        return _Answer(cycle.history, cycle)

    def again(self, answer: _Answer, tolerance: float) -> _Answer:
        """The same on the same mesh with other steps; of a settled cycle, one cycle from the same beginning."""
        start = None if answer.cycle is None else answer.cycle.start
        mesh = answer.history.mesh
        return _Answer(march(self.problem, mesh, self.rows, tolerance, start, self.watches), answer.cycle)


def _told(found: SectionSolution, accuracy: float) -> SectionSolution:
    """The answer with warnings where it is not as right as was asked."""
    history, cycle = found.history, found.cycle
    off = found.space_error + found.time_error
    warnings = list(history.warnings)
    if off > accuracy:
        warnings.append(
            f"temperatures are right to about {off:.2g} K, not to the {accuracy:.2g} K asked for, with {len(history.mesh.x)} nodes"
        )
    if found.worst_error > MUCH * max(off, accuracy):
        x, y = found.worst_place
        warnings.append(
            f"near x {x * 1e3:.4g} mm, y {y * 1e3:.4g} mm temperatures may be off by {found.worst_error:.2g} K"
        )
    if cycle is not None and not cycle.reached:
        warnings.append(f"the cycle is settled to about {cycle.error:.2g} K only")
    history = replace(history, warnings=tuple(warnings))
    if cycle is not None:
        cycle = replace(cycle, history=history)
    return replace(found, history=history, cycle=cycle, reached=bool(off <= accuracy))


@dataclass(frozen=True)
class _Apart:
    """How far two answers are apart [K]: most : of all that is looked at; worst : at the worst node, which is at ``place``."""

    most: float
    worst: float
    place: tuple[float, float]


def _difference(coarse: SectionHistory, fine: SectionHistory) -> _Apart:
    """Largest difference of two answers."""
    mesh = coarse.mesh
    nodes = _same(mesh, fine.mesh)
    both = np.flatnonzero(nodes >= 0)
    share = _shares(mesh)[both]
    region = regions_of_nodes(mesh)[both]
    most, worst, place = 0.0, 0.0, NOWHERE
    for a, b in zip(coarse.ends, fine.ends, strict=False):
        apart = np.abs(a.temperature[both] - b.temperature[nodes[both]])
        for i in np.unique(region[np.isfinite(apart)]):
            mine = region == i
            order = np.argsort(apart[mine])
            below = np.cumsum(share[mine][order])
            most = max(most, float(apart[mine][order][np.searchsorted(below, (1.0 - LEFT_OUT) * below[-1])]))
        if np.nanmax(apart, initial=0.0) > worst:
            at = both[int(np.nanargmax(apart))]
            worst, place = float(np.nanmax(apart)), (float(mesh.x[at]), float(mesh.y[at]))
    if not coarse.steady and coarse.time.shape == fine.time.shape:
        most = max(most, _peaks_apart(coarse, fine))
    return _Apart(most, max(worst, most), place)


def _peaks_apart(coarse: SectionHistory, fine: SectionHistory) -> float:
    """Largest difference of the hottest place of a region in the rows that are not early in their span [K]."""
    ends = np.array([end.time for end in coarse.ends])
    begun = np.concatenate([[0.0], ends])[coarse.span]
    late = coarse.time - begun > EARLY * (ends[coarse.span] - begun)
    apart = [np.abs(peak - fine.peaks[name])[late] for name, peak in coarse.peaks.items()]
    return float(np.nanmax(np.concatenate(apart), initial=0.0))


def _shares(mesh: SectionMesh) -> Array:
    """(nodes,) area that belongs to each node [m2]."""
    x, y = mesh.x[mesh.triangles], mesh.y[mesh.triangles]
    twice = (x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])
    return summed(mesh.triangles, np.repeat(twice[:, None] / 6.0, 3, axis=1), len(mesh.x))


def _same(coarse: SectionMesh, fine: SectionMesh) -> NDArray[np.intp]:
    """(nodes of the coarse mesh,) the node of the fine one at the same place in the same region, -1 where there is none."""
    from scipy.spatial import cKDTree

    size = float(np.hypot(np.ptp(fine.x), np.ptp(fine.y)))
    points = [np.column_stack([mesh.x, mesh.y, size * regions_of_nodes(mesh)]) for mesh in (fine, coarse)]
    distance, node = cKDTree(points[0]).query(points[1])
    return np.asarray(np.where(distance < 1e-7 * size, node, -1), np.intp)


def _carried(coarse: SectionMesh, fine: SectionMesh, values: Array) -> Array:
    """Values of a coarse mesh at the nodes of one that is cut from it: by the two nearest nodes of the region."""
    from scipy.spatial import cKDTree

    size = float(np.hypot(np.ptp(fine.x), np.ptp(fine.y)))
    points = [np.column_stack([mesh.x, mesh.y, size * regions_of_nodes(mesh)]) for mesh in (coarse, fine)]
    distance, node = cKDTree(points[0]).query(points[1], k=2)
    weight = 1.0 / np.maximum(distance, 1e-9 * size)
    return np.asarray((weight * values[node]).sum(axis=1) / weight.sum(axis=1))
