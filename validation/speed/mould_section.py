"""``python -m validation.speed.mould_section [--quick]``: a mould section, shot after shot, beside FiPy and scikit-fem.

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

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

import argparse  # noqa: E402
import statistics  # noqa: E402
import subprocess  # noqa: E402
import sys  # noqa: E402
import tempfile  # noqa: E402
import time  # noqa: E402
from collections.abc import Callable, Mapping  # noqa: E402
from pathlib import Path  # noqa: E402
from typing import Any  # noqa: E402

import numpy as np  # noqa: E402

from thermokit.conduction.section_cycle import settled  # noqa: E402
from thermokit.conduction.section_march import march  # noqa: E402
from thermokit.conduction.section_mesh import mesh_section  # noqa: E402
from validation.speed import clock  # noqa: E402
from validation.speed.mould_section_peers import Elements, Fipy, anderson, brute_force  # noqa: E402
from validation.speed.mould_section_problem import HOTTEST, KELVIN, OPEN, SHUT, TIME, WARM, WATCH, problem  # noqa: E402

GOAL = 0.01  # s of the cooling time
WITHIN = 0.01  # K of the settled state
SCHEMES = {  # of scikit-fem: order of the elements, step [s], scheme
    "scikit-fem, linear, SDIRK2": (1, 1.0, "SDIRK2"),
    "scikit-fem, linear, Euler": (1, 0.0125, "Euler"),
    "scikit-fem, quadratic, SDIRK2": (2, 1.25, "SDIRK2"),
}
FEW = (10, 3)  # steps of each stage for which FiPy is timed
CASE = """\
title = "MS with both its halves, as a case"
process = "mould"
[part]
material = "stuff"
melt = "230 degC"
thickness = "3 mm"
length = "100 mm"
width = "100 mm"
[mould]
width = "120 mm"
packed_contact = "2000 W/m2/K"
shrunk_contact = "2000 W/m2/K"
[mould.cavity]
height = "60 mm"
[mould.core]
height = "60 mm"
[[circuits]]
name = "cavity"
side = "cavity"
temperature = "25 degC"
flow = "8 L/min"
diameter = "10 mm"
depth = "15 mm"
pitch = "20 mm"
count = 5
length = "100 mm"
[[circuits]]
name = "core"
side = "core"
temperature = "25 degC"
flow = "8 L/min"
diameter = "10 mm"
depth = "15 mm"
pitch = "20 mm"
count = 5
length = "100 mm"
[cycle]
fill = "1 s"
hold = "4 s"
cooling = "15 s"
open = "5 s"
[limits]
ejection_centre = "90 degC"
[materials.stuff]
conductivity = "0.19 W/m/K"
density = "1050 kg/m3"
specific_heat = "2000 J/kg/K"
"""


def turns(contenders: Mapping[str, Callable[[], Any]], repeats: int) -> dict[str, list[float]]:
    """CPU time [s] of each contender in each turn, after one turn that does not count."""
    taken: dict[str, list[float]] = {name: [] for name in contenders}
    for turn in range(repeats + 1):
        for name, work in contenders.items():
            begun = time.process_time()
            work()
            if turn:
                taken[name].append(time.process_time() - begun)
    return taken


def ratio(theirs: list[float], ours: list[float], times: float = 1.0) -> str:
    """Median ratio with its spread over the turns."""
    found = sorted(times * a / b for a, b in zip(theirs, ours, strict=True))
    return f"×{statistics.median(found):.3g} ({found[0]:.3g} to {found[-1]:.3g})"


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

    def one_cycle(self) -> list[list[str]]:
        """The table of one cycle."""
        made = {s: Fipy(self.problem, self.mesh, s) for s in ("LU", "PCG")}
        at_tenth = {f"FiPy, {s}, 0.1 s": (lambda f=f: f.cycle(self.cold, 0.1, FEW)) for s, f in made.items()}  # type: ignore[misc]
        at_goal = {f"FiPy, {s}, {self.dt:g} s": (lambda f=f: f.cycle(self.cold, self.dt, FEW)) for s, f in made.items()}  # type: ignore[misc]
        direct = {name: (lambda n=name: self.elements(n)) for name in SCHEMES}  # type: ignore[misc]
        taken = turns({"thermokit": self.own, **direct, **at_tenth, **at_goal}, self.repeats)
        ours = taken["thermokit"]
        history = self.own()
        rows = [["one cycle", "CPU", "error of the cooling time by its steps (all)", "against thermokit"]]
        rows.append(
            [
                "thermokit",
                f"{statistics.median(ours):.3f} s",
                f"{history.crossings['cool'] - self.exact:+.4f} s",
                f"{history.accepted} steps",
            ]
        )
        for name, (order, h, scheme) in SCHEMES.items():
            there = Elements(self.problem, self.mesh, order)
            start = np.full(there.size, WARM)
            found, fine = there.cycle(start, h, scheme).time, there.cycle(start, 0.25, "SDIRK2").time
            rows.append(
                [f"{name}, {h:g} s", f"{statistics.median(taken[name]):.3f} s",
                 f"{found - fine:+.4f} s ({found - self.exact:+.4f} s)", ratio(taken[name], ours)]
            )  # fmt: skip
        for name in (*at_tenth, *at_goal):
            dt = 0.1 if name in at_tenth else self.dt
            times = (SHUT + OPEN) / dt / sum(FEW)
            error = self.errors[0.1] * dt / 0.1
            rows.append(
                [
                    name,
                    f"{times * statistics.median(taken[name]):.1f} s, scaled from {sum(FEW)} steps",
                    f"{error:+.4f} s",
                    ratio(taken[name], ours, times),
                ]
            )
        self.fipy = {
            name: [(SHUT + OPEN) / (0.1 if name in at_tenth else self.dt) / sum(FEW) * x for x in taken[name]]
            for name in (*at_tenth, *at_goal)
        }
        return rows

    def settled_state(self) -> list[list[str]]:
        """The table of the settled state."""
        linear = Elements(self.problem, self.mesh, 1)
        kept = np.flatnonzero(~linear.part)

        def cycle(u: np.ndarray) -> Any:
            return linear.cycle(u, 1.0, "SDIRK2")

        end, _ = anderson(cycle, self.cold, kept, 1e-6)
        shots = brute_force(cycle, self.cold, kept, end, WITHIN)
        shots_tenth = brute_force(cycle, self.cold, kept, end, 0.1)

        def forced(name: str) -> Any:
            order, h, scheme = SCHEMES[name]
            made = Elements(self.problem, self.mesh, order)
            u = np.full(made.size, WARM)
            for _ in range(shots):
                u = made.cycle(u, h, scheme).after
            return made.cycle(u, h, scheme)

        def mixed(name: str) -> Any:
            order, h, scheme = SCHEMES[name]
            made = Elements(self.problem, self.mesh, order)
            u, count = anderson(
                lambda u: made.cycle(u, h, scheme), np.full(made.size, WARM), np.flatnonzero(~made.part), WITHIN
            )
            return made.cycle(u, h, scheme), count

        first, euler, second = SCHEMES
        taken = turns(
            {
                "own": self.own_settled,
                "forced 1": lambda: forced(first),
                "mixed 1": lambda: mixed(first),
                "forced 2": lambda: forced(second),
                "mixed 2": lambda: mixed(second),
                "euler": lambda: self.elements(euler),
            },
            max(1, self.repeats - 1),
        )
        ours = taken["own"]
        found = self.own_settled()
        error = found.history.crossings["cool"] - TIME
        hottest = float(np.nanmax(found.history.ends[0].temperature)) - KELVIN - HOTTEST
        rows = [["settled to 0.01 K", "CPU", "cooling time less 17.7446 s", "against thermokit"]]
        rows.append(
            [
                "thermokit",
                f"{statistics.median(ours):.3f} s",
                f"{error:+.4f} s",
                f"{found.evaluations} fine cycles; heat closes to {found.history.heat.mismatch:.0e}; hottest {hottest:+.3f} K",
            ]
        )
        for key, name in (("1", first), ("2", second)):
            shot = forced(name)
            rows.append(
                [
                    f"{name}, brute force, {shots} cycles",
                    f"{statistics.median(taken['forced ' + key]):.2f} s",
                    f"{shot.time - TIME:+.4f} s",
                    ratio(taken["forced " + key], ours),
                ]
            )
            shot, count = mixed(name)
            rows.append(
                [
                    f"{name}, Anderson(5), {count} cycles",
                    f"{statistics.median(taken['mixed ' + key]):.2f} s",
                    f"{shot.time - TIME:+.4f} s",
                    ratio(taken["mixed " + key], ours),
                ]
            )
        rows += self.finer(first, shots, ours)
        rows.append(
            [
                f"{euler}, brute force, {shots} cycles",
                f"{shots * statistics.median(taken['euler']):.1f} s, scaled from one",
                "–",
                ratio(taken["euler"], ours, shots),
            ]
        )
        middle = statistics.median(ours)
        for name, values in self.fipy.items():
            spent = statistics.median(values)
            rows.append(
                [
                    f"{name}, brute force, {shots} cycles",
                    f"{shots * spent:.0f} s, scaled",
                    "–",
                    f"×{shots * spent / middle:.3g}; to 0.1 K, {shots_tenth} cycles: ×{shots_tenth * spent / middle:.3g}",
                ]
            )
        return rows

    def finer(self, name: str, shots: int, ours: list[float]) -> list[list[str]]:
        """Brute force with linear elements on meshes that are finer, until their answer is as right as thermokit's on this one."""
        order, h, scheme = SCHEMES[name]
        rows, fineness = [], self.fineness
        for _ in range(2 if fineness < 2.0 else 0):
            fineness *= 2.0
            mesh = mesh_section(self.problem, fineness)
            spent, made = clock.once(lambda m=mesh: Elements(self.problem, m, order))  # type: ignore[misc]
            u = np.full(made.size, WARM)
            begun = time.process_time()
            u = made.cycle(u, h, scheme).after
            spent += time.process_time() - begun
            again, shot = clock.once(lambda m=made, u=u: m.cycle(u, h, scheme))  # type: ignore[misc]
            kept = np.flatnonzero(~made.part)
            u, _ = anderson(lambda u, m=made: m.cycle(u, h, scheme), shot.after, kept, WITHIN)  # type: ignore[misc]
            error = made.cycle(u, h, scheme).time - TIME
            total = spent + (shots - 1) * again
            rows.append([f"{name}, brute force, {made.size} unknowns", f"{total:.2f} s, scaled from two", f"{error:+.4f} s",
                         f"×{total / statistics.median(ours):.3g}"])  # fmt: skip
        return rows


def command(repeats: int) -> list[list[str]]:
    """The table of a mould case, from the command to the written result."""
    program = "import sys; from thermokit.cli import main; sys.argv[0] = 'thermokit'; main()"
    imports = "import numpy, scipy.sparse.linalg, scipy.spatial, h5py, thermokit.cli, thermokit.processes.mould"
    peak = "import pathlib; print(pathlib.Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    with tempfile.TemporaryDirectory() as folder:
        case = Path(folder) / "ms.toml"
        case.write_text(CASE, encoding="utf-8")
        result = str(Path(folder) / "ms.h5")
        taken = clock.children(
            {
                "bare": [sys.executable, "-c", "pass"],
                "imports": [sys.executable, "-c", imports],
                "run": [sys.executable, "-c", program, "run", str(case), "-o", result],
            },
            repeats,
        )
        code = (
            "import sys\nfrom thermokit.cli import main\nsys.argv[0] = 'thermokit'\n"
            f"try:\n    main()\nexcept SystemExit:\n    pass\n{peak}"
        )
        done = subprocess.run(
            [sys.executable, "-c", code, "run", str(case), "-o", result],
            capture_output=True, text=True, check=True, env=clock.environment(),
        )  # fmt: skip
        memory = int(done.stdout.split()[-1]) / 1024.0
    rows = [["a mould case", "CPU", "wall"]]
    for title, key in (
        ("interpreter", "bare"),
        ("with what a run imports", "imports"),
        ("`thermokit run` to the written result", "run"),
    ):
        rows.append([title, *(f"{x:.2f} s" for x in taken[key])])
    rows.append(["largest memory", f"{memory:.0f} MB", ""])
    return rows


def main() -> int:
    """Measure and print."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--quick", action="store_true", help="the coarse mesh only, fewer turns")
    reader.add_argument("--fine", action="store_true", help="23 000 nodes too (takes long)")
    asked = reader.parse_args()
    repeats = 2 if asked.quick else 5
    for fineness in (0.5,) if asked.quick else (1.0, 2.0) if asked.fine else (1.0,):
        bench = Bench(fineness, repeats if fineness < 2.0 else 2)
        print(f"{bench.nodes} nodes; cooling time of a first cycle {bench.exact:.4f} s; FiPy's error {bench.errors}")
        for table in (bench.one_cycle(), bench.settled_state()):
            lines = ["| " + " | ".join(row) + " |" for row in table]
            print("\n".join([lines[0], "|" + "---|" * len(table[0]), *lines[1:]]), end="\n\n", flush=True)
    table = command(max(3, repeats))
    print("\n".join("| " + " | ".join(row) + " |" for row in table))
    return 0


if __name__ == "__main__":
    sys.exit(main())
