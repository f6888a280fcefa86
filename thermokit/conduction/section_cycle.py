"""A section that goes through the same spans again and again: the state in which it settles, in two or three fine cycles.

F maps the temperatures u of what stays (the mould) at the beginning of a cycle to those at its end; the settled state is
u = F(u). M is the slope of the same cycle taken in very few steps on the same mesh: slow modes, the ones that need hundreds of
shots to die away, go through large steps of an L-stable scheme almost unharmed, so that

    u+ = u + d,      (I - M) d = F(u) - u     (GMRES)

takes nearly all of the error away at once. It begins at the fixed point of the coarse cycle. Latent heat in the part changes F
a little and M not at all. ``shot_after_shot`` goes the long way and comes to the same state.

Sources: two-level iteration in time: Gander & Vandewalle, SIAM J. Sci. Comput. 29 (2007) 556, here with a periodic coarse solve
(Gander, Jiang, Song & Zhang, SIAM J. Sci. Comput. 35 (2013) A2393); GMRES: Saad & Schultz (1986).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.history import Ending
from thermokit.conduction.section_march import TOLERANCE, SectionRun, Stopped
from thermokit.conduction.section_record import SectionRecorder
from thermokit.conduction.section_shots import shots_until
from thermokit.conduction.section_step import GAMMA
from thermokit.errors import SolveError

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence
    from typing import Any

    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_march import Levels
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem
    from thermokit.conduction.section_step import SectionState
    from thermokit.conduction.section_watch import SectionWatch

    Flags = NDArray[np.bool_]

LONG = 0.3  # share of the cycle from which a piece is taken in two coarse steps
EXACT, ROUGH, RESTART = 1e-3, 1e-2, 60  # to which the coarse equations are solved, relative, by GMRES
EARLY = 10.0  # tolerances that a step early in a span may be off: what counts is what is left of that later
KEPT = 1e-9  # share of a deviation that a cycle takes away, below which it never does


@dataclass(frozen=True)
class Cycle:
    """The settled cycle: its history, and the temperatures (nodes,) [K] with which it begins.

    evaluations : fine cycles that it took, the recorded one included; error : estimated largest error of ``start`` [K];
    reached : whether that is below the tolerance; slowest : factor by which the slowest deviation shrinks in a cycle;
    shots : cycles from the regions' own starts until no temperature of what stays is further from the settled state than
    ``within`` [K], None where that was not asked for or would take more than a million.
    """

    history: SectionHistory
    start: Array
    evaluations: int
    error: float
    reached: bool
    slowest: float | None = None
    shots: int | None = None


@dataclass(frozen=True)
class Shots:
    """A sequence of cycles from the start: history of the last, and per cycle

    crossings : watch -> (shots,) time in the cycle [s], not-a-number where not reached; heat : face -> (shots,) [J/m];
    start : (nodes,) temperatures at the end of the last [K]; moved : (shots,) largest change of what stays, beginning to end [K].
    """

    history: SectionHistory
    start: Array
    crossings: Mapping[str, Array]
    heat: Mapping[str, Array]
    moved: Array


def settled(
    problem: SectionProblem,
    mesh: SectionMesh,
    tolerance: float = 0.01,
    rows: Array | None = None,
    watches: Sequence[SectionWatch] = (),
    step_tolerance: float = TOLERANCE,
    restarted: Collection[str] = (),
    within: float | None = None,
    most: int = 8,
    guess: Array | None = None,
) -> Cycle:
    """The cycle in which a section settles whose spans are repeated for ever.

    tolerance : [K] of the temperatures at the beginning of the cycle; restarted : regions that begin every cycle with their
    start, besides those that are absent when it ends; within : [K], count the shots until settled; most : fine cycles after
    which it gives up (``reached`` is False then); guess : (nodes,) temperatures that are nearly those it begins with. Raises
    SolveError where what stays is insulated from everything, or a cycle cannot be computed.
    """
    return Settling(problem, mesh, step_tolerance, restarted).find(tolerance, rows, watches, within, most, guess)


def shot_after_shot(
    problem: SectionProblem,
    mesh: SectionMesh,
    shots: int,
    rows: Array | None = None,
    watches: Sequence[SectionWatch] = (),
    step_tolerance: float = TOLERANCE,
    restarted: Collection[str] = (),
    start: Array | None = None,
) -> Shots:
    """The true sequence of so many cycles, from the regions' own starts or from temperatures (nodes,) [K]."""
    cycle = Settling(problem, mesh, step_tolerance, restarted)
    u = cycle.run.starts if start is None else np.asarray(start, float)
    crossings: dict[str, list[float]] = {watch.name: [] for watch in watches}
    heat: dict[str, list[float]] = {name: [] for name in problem.face_names}
    moved = []
    for number in range(shots):
        history, after, _ = cycle.recorded(u, rows if number == shots - 1 else np.zeros(0), watches, None)
        if history.ending.status != "finished":
            raise SolveError(f"shot {number + 1} ended at {history.ending.time:.4g} s", history.ending.advice)
        for name, values in crossings.items():
            found = history.crossings[name]
            values.append(np.nan if found is None else found)
        for name, amounts in heat.items():
            amounts.append(sum(end.heat[name] for end in history.ends))
        moved.append(float(np.abs((after - u)[cycle.kept]).max(initial=0.0)))
        u = after
    return Shots(
        history,
        u,
        {name: np.array(values) for name, values in crossings.items()},
        {name: np.array(amounts) for name, amounts in heat.items()},
        np.array(moved),
    )


class Settling:
    """One problem made ready for many cycles, fine ones and coarse ones."""

    def __init__(self, problem: SectionProblem, mesh: SectionMesh, step_tolerance: float, restarted: Collection[str]):
        self.run = run = SectionRun(problem, mesh, step_tolerance, EARLY)
        names = [region.name for region in problem.regions]
        again = {*restarted, *problem.spans[-1].absent}
        if unknown := again - set(names):
            raise ValueError(f"no region is named {', '.join(sorted(unknown))}; there are {', '.join(names)}")
        self.anew = np.isin(run.body.owner, [names.index(name) for name in again])
        self.kept = np.flatnonzero(~self.anew)
        self.steps = [2 if piece.duration > LONG * run.total else 1 for piece in run.pieces]
        self.coarse_levels: list[Levels] = [[1, 1] if count == 2 else [0] for count in self.steps]
        self._coarse: list[tuple[Any, Any, Array, int, Flags]] = []

    def first(self, u: Array) -> SectionState:
        """The state with which a cycle begins."""
        return self.run.begin(np.where(self.anew, self.run.starts, u))

    def fine(self, u: Array, levels: list[Levels] | None) -> tuple[Array, list[Levels]]:
        """(temperatures after a cycle (nodes,), levels of its steps)."""
        state, taken = self.run.shot(self.first(u), levels)
        return self.run.temperature(state), taken

    def recorded(
        self, u: Array, rows: Array | None, watches: Sequence[SectionWatch], levels: list[Levels] | None
    ) -> tuple[SectionHistory, Array, list[Levels] | None]:
        """(history of a cycle, temperatures after it, levels of its steps)."""
        run = self.run
        recorder = SectionRecorder(run.body, run.energy, rows, watches, run.tolerance)
        try:
            state, taken = run.shot(self.first(u), levels, recorder)
        except Stopped as stop:
            if levels is not None:  # steps that served before do not any more
                return self.recorded(u, rows, watches, None)
            return recorder.history(run.ending_of(stop, recorder.time)), u, None
        return recorder.history(Ending("finished", run.total)), run.temperature(state), taken

    # -- the coarse cycle -------------------------------------------------------------------------------------------

    def linearise(self, u: Array) -> None:
        """Matrices of the coarse cycle, about a state."""
        run = self.run
        state = self.first(u)
        temperature, b = run.energy.temperature(state.w, state.shift)
        _, c = run.energy.energy(state.w, state.shift)
        self._coarse = []
        absent = run.problem.spans[-1].absent
        names = [region.name for region in run.problem.regions]
        for number, (piece, count) in enumerate(zip(run.pieces, self.steps, strict=True)):
            if piece.duration <= 0.0:
                continue
            system = run.stepper(number).system
            h = piece.duration / count
            capacity = (c / b)[system.free]
            if system.linear:
                factor = system.linear_factor(GAMMA * h)
            else:
                base, linear = system.coefficients(piece, piece.duration / 2)
                factor = run.factor_of(system, temperature, c / b, GAMMA * h, base, linear)
            gone = run.problem.spans[piece.span].absent
            back = np.isin(run.body.owner, [names.index(name) for name in absent - gone])
            absent = gone
            self._coarse.append((factor, system, capacity, count, back | system.held))

    def slope(self, deviation: Array) -> Array:
        """M times a deviation (nodes,) [K], of which only what stays counts."""
        d = np.where(self.anew, 0.0, deviation)
        for factor, system, capacity, count, none in self._coarse:
            d[none] = 0.0
            free = system.free
            for _ in range(count):
                begun = capacity * d[free]
                first = factor.solve(begun)
                known = begun + (1.0 - GAMMA) / GAMMA * (capacity * first - begun)
                d[free] = factor.solve(known)
        return d

    def _slope_of_kept(self, deviation: Array) -> Array:
        full = np.zeros(self.run.body.nodes)
        full[self.kept] = deviation
        return self.slope(full)[self.kept]

    def correction(self, residual: Array, exact: float = EXACT) -> Array:
        """d of (I - M) d = residual, on what stays; zero elsewhere."""
        from scipy.sparse.linalg import LinearOperator, gmres

        kept, n = self.kept, len(residual)

        def image(part: Array) -> Array:
            return np.ravel(part) - self._slope_of_kept(np.ravel(part))

        operator = LinearOperator((len(kept), len(kept)), matvec=image, dtype=float)
        found, _ = gmres(operator, residual[kept], rtol=exact, atol=1e-9, restart=RESTART, maxiter=3)
        out = np.zeros(n)
        out[kept] = found
        return out

    # -- the settled state ------------------------------------------------------------------------------------------

    def find(
        self,
        tolerance: float,
        rows: Array | None,
        watches: Sequence[SectionWatch],
        within: float | None,
        most: int,
        guess: Array | None,
    ) -> Cycle:
        """See :func:`settled`."""
        u = self.run.starts if guess is None else guess
        self.linearise(u)
        self._refuse_insulated()
        evaluations, levels = 0, None
        if guess is None:
            u = self._coarse_guess(u)
            after, levels = self._first_cycle(u)
            evaluations = 1
            if not all(self.run.stepper(i).system.linear for i in range(len(self.run.pieces))):
                self.linearise(after)
            u = u + self.correction(after - u)
        while True:
            history, after, levels = self.recorded(u, rows, watches, levels)
            evaluations += 1
            if history.ending.status != "finished":
                raise SolveError("a cycle of the section cannot be computed", history.ending.advice)
            step = self.correction(after - u)
            error = float(np.abs(step).max(initial=0.0))
            if error <= tolerance or evaluations >= most:
                break
            u = u + step
        start = np.where(self.anew, self.run.starts, u)
        slowest = shots = None
        if within is not None:
            slowest, shots = shots_until(self._slope_of_kept, (self.run.starts - start)[self.kept], within)
        return Cycle(history, start, evaluations, error, error <= tolerance, slowest, shots)

    def _refuse_insulated(self) -> None:
        """Raise where what stays would keep a warmth that is the same everywhere for ever."""
        if np.abs(self._slope_of_kept(np.ones(len(self.kept))) - 1.0).max(initial=0.0) < KEPT:
            raise SolveError(
                "the cycle never settles: what stays exchanges heat with nothing whose temperature is given",
                "give an edge or channel convection, contact or a temperature",
            )

    def _first_cycle(self, u: Array) -> tuple[Array, list[Levels]]:
        try:
            return self.fine(u, None)
        except Stopped as stop:
            ending = self.run.ending_of(stop, 0.0)
            raise SolveError("a cycle of the section cannot be computed", ending.advice) from None

    def _coarse_guess(self, u: Array) -> Array:
        """The fixed point of the cycle in very few steps; the guess that is there where these cannot be made."""
        try:
            return u + self.correction(self.fine(u, self.coarse_levels)[0] - u, ROUGH)
        except Stopped:
            return u
