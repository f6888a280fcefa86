"""A mould section, shot after shot, beside FiPy and scikit-fem.

The problem is MS (``mould_section_problem.py``). All contenders get the triangles that thermokit cut and take turns in one process
on one thread; CPU times are medians, spreads are the smallest and the largest ratio of a turn. Every contender takes the longest
steps with which its cooling time is right to 0.01 s, or its best:

- thermokit: its default tolerance;
- FiPy: implicit Euler, as its manual says. How its error falls with the step is measured on whole cycles of 0.2 and 0.1 s; the cost
  of a step is measured at the step that is needed, and a cycle is that times its number of steps, which was not waited for;
- scikit-fem used directly: linear or quadratic elements, assembled once, factored once for each stage of the cycle; implicit Euler
  or SDIRK2 in equal steps, the same scheme as thermokit's but without looking at errors. Times include assembly and factors.

Settled to 0.01 K: brute force is so many cycles one after another (counted on scikit-fem's linear elements, where they are
cheap) times the cost of one; Anderson's mixing of the last five cycles is run as it is. Linear elements are less exact on the
same mesh, so that they are tried on finer ones too.
"""

from __future__ import annotations

import statistics
import time
from typing import Any

import numpy as np

from thermokit.conduction.section_cycle import settled
from thermokit.conduction.section_march import march
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_problem import SectionMesh, SectionProblem
from validation.speed import clock
from validation.speed.clock import ratio, turns
from validation.speed.mould_section_peers import Elements, Fipy, anderson, brute_force
from validation.speed.mould_section_problem import HOTTEST, KELVIN, OPEN, SHUT, TIME, WARM, WATCH, problem
from validation.speed.tables import Rows, table

GOAL = 0.01  # s of the cooling time
WITHIN = 0.01  # K of the settled state
SCHEMES = {  # of scikit-fem: order of the elements, step [s], scheme
    "scikit-fem, linear, SDIRK2": (1, 1.0, "SDIRK2"),
    "scikit-fem, linear, Euler": (1, 0.0125, "Euler"),
    "scikit-fem, quadratic, SDIRK2": (2, 1.25, "SDIRK2"),
}
FEW = (10, 3)  # steps of each stage for which FiPy is timed
OWN, RATIO = "thermokit", "against thermokit"


def shots_needed(of: SectionProblem, mesh: SectionMesh, within: float) -> int:
    """Cycles of brute force until the mould is within so many kelvin of settled."""
    linear = Elements(of, mesh, 1)
    kept, cold = np.flatnonzero(~linear.part), np.full(linear.size, WARM)

    def cycle(u: np.ndarray) -> Any:
        return linear.cycle(u, 1.0, "SDIRK2")

    end, _ = anderson(cycle, cold, kept, 1e-6)
    return brute_force(cycle, cold, kept, end, within)


class Bench:
    """MS on one mesh."""

    def __init__(self, fineness: float, repeats: int):
        self.problem, self.repeats = problem(), repeats
        self.fineness, self.mesh = fineness, mesh_section(self.problem, fineness)
        self.nodes = len(self.mesh.x)
        self.cold = np.full(self.nodes, WARM)
        tight = march(self.problem, self.mesh, np.zeros(0), 1e-3, None, (WATCH,))
        self.exact = float(tight.crossings["cool"])  # type: ignore[arg-type]
        # FiPy's error is in proportion to its step
        fipy = Fipy(self.problem, self.mesh, "PCG")
        self.errors = {dt: float(fipy.cycle(self.cold, dt).time - self.exact) for dt in (0.2, 0.1)}
        self.dt = 0.1
        while self.errors[0.1] * self.dt / 0.1 > GOAL:
            self.dt /= 2
        self.steps = (SHUT + OPEN) / self.dt

    def own(self) -> Any:
        """thermokit's cycle from a cold mould."""
        return march(self.problem, self.mesh, np.zeros(0), watches=(WATCH,))

    def own_settled(self) -> Any:
        """thermokit's settled cycle."""
        return settled(self.problem, self.mesh, WITHIN, np.zeros(0), (WATCH,))

    def elements(self, name: str) -> Any:
        """scikit-fem's cycle from a cold mould, assembled and factored."""
        order, h, scheme = SCHEMES[name]
        made = Elements(self.problem, self.mesh, order)
        return made.cycle(np.full(made.size, WARM), h, scheme)

    def one_cycle(self) -> dict[str, Any]:
        """The table of one cycle."""
        made = {s: Fipy(self.problem, self.mesh, s) for s in ("LU", "PCG")}
        at_tenth = {f"FiPy, {s}, 0.1 s": (lambda f=f: f.cycle(self.cold, 0.1, FEW)) for s, f in made.items()}
        at_goal = {f"FiPy, {s}, {self.dt:g} s": (lambda f=f: f.cycle(self.cold, self.dt, FEW)) for s, f in made.items()}
        direct = {name: (lambda n=name: self.elements(n)) for name in SCHEMES}
        taken = turns({OWN: self.own, **direct, **at_tenth, **at_goal}, self.repeats)
        ours = taken[OWN]
        history = self.own()
        error = history.crossings["cool"] - self.exact
        rows: Rows = [
            [OWN, {"s": statistics.median(ours), "note": f"{history.accepted} steps"}, {"ds": error}, {"ds": error}, ""]
        ]
        for name, (order, h, scheme) in SCHEMES.items():
            there = Elements(self.problem, self.mesh, order)
            start = np.full(there.size, WARM)
            found, fine = there.cycle(start, h, scheme).time, there.cycle(start, 0.25, "SDIRK2").time
            spent: dict[str, Any] = {"s": statistics.median(taken[name])}
            times = {"x": ratio(taken[name], ours)}
            rows.append([f"{name}, {h:g} s", spent, {"ds": found - fine}, {"ds": found - self.exact}, times])
        self.fipy = {}
        for name in (*at_tenth, *at_goal):
            dt = 0.1 if name in at_tenth else self.dt
            times_ = (SHUT + OPEN) / dt / sum(FEW)
            self.fipy[name] = [times_ * x for x in taken[name]]
            spent = {"s": statistics.median(self.fipy[name]), "scaled": f"{sum(FEW)} steps"}
            by_steps = {"ds": self.errors[0.1] * dt / 0.1}
            rows.append([name, spent, by_steps, by_steps, {"x": ratio(self.fipy[name], ours)}])
        head = [
            "one cycle from a cold mould",
            "CPU",
            "cooling time: error by the steps",
            "from thermokit's limit",
            RATIO,
        ]
        return table(head, rows)

    def forced(self, name: str, shots: int) -> Any:
        """scikit-fem's cycles one after another, and one more."""
        order, h, scheme = SCHEMES[name]
        made = Elements(self.problem, self.mesh, order)
        u = np.full(made.size, WARM)
        for _ in range(shots):
            u = made.cycle(u, h, scheme).after
        return made.cycle(u, h, scheme)

    def mixed(self, name: str) -> Any:
        """(cycle, how many it took) by Anderson's mixing."""
        order, h, scheme = SCHEMES[name]
        made = Elements(self.problem, self.mesh, order)
        kept = np.flatnonzero(~made.part)
        u, count = anderson(lambda u: made.cycle(u, h, scheme), np.full(made.size, WARM), kept, WITHIN)
        return made.cycle(u, h, scheme), count

    def settled_state(self, finer: int) -> dict[str, Any]:
        """The table of the settled state; after ``one_cycle``."""
        shots, to_tenth = (shots_needed(self.problem, self.mesh, within) for within in (WITHIN, 0.1))
        first, euler, second = SCHEMES
        taken = turns(
            {
                OWN: self.own_settled,
                **{f"forced {name}": (lambda n=name: self.forced(n, shots)) for name in (first, second)},  # type: ignore[misc]
                **{f"mixed {name}": (lambda n=name: self.mixed(n)) for name in (first, second)},  # type: ignore[misc]
                "euler": lambda: self.elements(euler),
            },
            max(1, self.repeats - 2),
        )
        ours = taken[OWN]
        found = self.own_settled()
        history = found.history
        hottest = float(np.nanmax(history.ends[0].temperature)) - KELVIN - HOTTEST
        cycles = {"s": statistics.median(ours), "note": f"{found.evaluations} fine cycles"}
        closes = f"heat closes to {history.heat.mismatch:.0e}; hottest at 20 s {hottest:+.3f} K"
        rows: Rows = [[OWN, cycles, {"ds": history.crossings["cool"] - TIME}, {"note": closes}]]
        for name in (first, second):
            for words, key, shot in (
                (f"brute force, {shots} cycles", f"forced {name}", self.forced(name, shots)),
                ("Anderson's mixing of five, {} cycles", f"mixed {name}", self.mixed(name)),
            ):
                one, count = shot if isinstance(shot, tuple) else (shot, shots)
                spent = {"s": statistics.median(taken[key])}
                times = {"x": ratio(taken[key], ours)}
                rows.append([f"{name}, {words.format(count)}", spent, {"ds": one.time - TIME}, times])
        rows += self.finer(first, shots, ours, finer)
        forced_euler: dict[str, Any] = {"s": shots * statistics.median(taken["euler"]), "scaled": "one"}
        euler_times = {"x": ratio(taken["euler"], ours, shots)}
        rows.append([f"{euler}, brute force, {shots} cycles", forced_euler, "–", euler_times])
        middle = statistics.median(ours)
        for name, values in self.fipy.items():
            scaled: dict[str, Any] = {"s": shots * statistics.median(values), "scaled": f"{sum(FEW)} steps"}
            # not in turn with thermokit's settled cycle: each turn against its median
            against = ratio(values, [middle] * len(values), shots)
            fewer = {"x": against, "note": f"to 0.1 K in {to_tenth} cycles"}
            rows.append([f"{name}, brute force, {shots} cycles", scaled, "–", fewer])
        head = [f"settled to {WITHIN:g} K", "CPU", f"cooling time, whole error (less {TIME} s)", RATIO]
        return table(head, rows)

    def finer(self, name: str, shots: int, ours: list[float], times: int) -> Rows:
        """Brute force with linear elements on meshes that are finer, until their answer is as right as thermokit's on this one."""
        order, h, scheme = SCHEMES[name]
        rows: Rows = []
        for doubling in range(1, times + 1):
            mesh = mesh_section(self.problem, self.fineness * 2.0**doubling)
            spent, made = clock.once(lambda m=mesh: Elements(self.problem, m, order))  # type: ignore[misc]
            u = np.full(made.size, WARM)
            begun = time.process_time()
            u = made.cycle(u, h, scheme).after
            spent += time.process_time() - begun
            again, shot = clock.once(lambda m=made, u=u: m.cycle(u, h, scheme))  # type: ignore[misc]
            kept = np.flatnonzero(~made.part)
            u, _ = anderson(lambda u, m=made: m.cycle(u, h, scheme), shot.after, kept, WITHIN)  # type: ignore[misc]
            error = made.cycle(u, h, scheme).time - TIME
            total = [spent + (shots - 1) * again] * len(ours)
            rows.append(
                [
                    f"{name}, brute force, {made.size} unknowns",
                    {"s": total[0], "scaled": "two cycles"},
                    {"ds": error},
                    {"x": ratio(total, ours)},
                ]
            )
        return rows


def measure(quick: bool) -> dict[str, Any]:
    """The part `mould`; the coarse mesh when quick."""
    bench = Bench(0.5 if quick else 1.0, 1 if quick else 5)
    one = bench.one_cycle()
    return {
        "nodes": bench.nodes,
        "fipy_errors": {f"{dt:g} s": error for dt, error in bench.errors.items()},
        "tables": {"cycle": one, "settled": bench.settled_state(0 if quick else 2)},
    }
