"""Work and precision of the mould section MS: one cycle by its steps, and the settled state by steps and mesh together.

One cycle from a cold mould: error of the cooling time (the hottest place of the part at 90 degC) against the limit of the same
contender on the same mesh. For thermokit and FiPy (the same control volumes) that is thermokit's at 0.001 K a step; FiPy's own
steps are measured to point to the same limit. For scikit-fem it is its own at short SDIRK2 steps.

Settled: whole error, by steps, mesh and what has not settled, against the value computed elsewhere
(``mould_section_problem.TIME``, known to 0.0001 s, so that nothing is drawn below that). Meshes of half, once, twice, four times as
fine. FiPy's cycles from a cold mould are so many times one cycle (measured); its answer is that of three cycles from
scikit-fem's settled state.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import numpy as np

from thermokit.conduction.section_cycle import settled
from thermokit.conduction.section_march import march
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_problem import SectionMesh, SectionProblem
from validation.speed import clock
from validation.speed.curves import Point, front, point
from validation.speed.mould_section import WITHIN, shots_needed
from validation.speed.mould_section_peers import Elements, Fipy, anderson
from validation.speed.mould_section_problem import TIME, WARM, WATCH, problem

OWN = "thermokit"
TOLERANCES = (1.0, 0.3, 0.1, 0.03, 0.01, 0.003)  # thermokit's, K a step
ELEMENTS = {
    "scikit-fem, linear, SDIRK2": (1, "SDIRK2", (5.0, 2.5, 1.0, 0.5, 0.25)),
    "scikit-fem, linear, Euler": (1, "Euler", (1.0, 0.5, 0.1, 0.05, 0.0125)),
    "scikit-fem, quadratic, SDIRK2": (2, "SDIRK2", (5.0, 2.5, 1.25, 0.5, 0.25)),
}
#: fineness of the mesh and thermokit's tolerance [K]; scikit-fem: name, order, fineness and step [s]
OWN_SETTLED = ((0.5, 0.1), (0.5, 0.03), (1.0, 0.1), (1.0, 0.03), (1.0, 0.01), (2.0, 0.03), (2.0, 0.01))
ANDERSON = (
    (
        "scikit-fem, linear, SDIRK2, Anderson",
        1,
        ((0.5, 1.0), (1.0, 1.0), (1.0, 0.5), (2.0, 1.0), (2.0, 0.5), (4.0, 1.0)),
    ),
    ("scikit-fem, quadratic, SDIRK2, Anderson", 2, ((0.5, 1.25), (0.5, 0.5), (1.0, 1.25), (1.0, 0.5), (2.0, 1.25))),
)
LONG = 5.0  # s of CPU: what takes longer runs once
LIMIT = {1: 0.05, 2: 0.1}  # s: steps at which an order's own limit is taken
Curves = dict[str, list[Point]]


def one_cycle(
    fineness: float, repeats: int, fipy_steps: Sequence[float], fine: bool
) -> tuple[Curves, dict[str, float]]:
    """Curves by steps, and (thermokit's limit, what FiPy's two shortest steps point to) of the cooling time [s]."""
    of = problem()
    mesh = mesh_section(of, fineness)
    nothing, cold = np.zeros(0), np.full(len(mesh.x), WARM)
    limit = float(march(of, mesh, nothing, 1e-3, None, (WATCH,)).crossings["cool"])  # type: ignore[arg-type]
    works: dict[str, Callable[[], Any]] = {}
    places: list[tuple[str, str, float]] = []  # curve, setting, error

    for tolerance in TOLERANCES if fine else TOLERANCES[1:4:2]:
        found = float(march(of, mesh, nothing, tolerance, None, (WATCH,)).crossings["cool"])  # type: ignore[arg-type]
        places.append((OWN, f"{tolerance:g} K", abs(found - limit)))
        works[f"{OWN} {tolerance:g}"] = lambda d=tolerance: march(of, mesh, nothing, d, None, (WATCH,))  # type: ignore[misc]
    for name, (order, scheme, steps) in ELEMENTS.items():
        made = Elements(of, mesh, order)
        own = made.cycle(np.full(made.size, WARM), LIMIT[order], "SDIRK2").time
        for h in steps if fine else steps[:2]:
            places.append((name, f"{h:g} s", abs(made.cycle(np.full(made.size, WARM), h, scheme).time - own)))

            def whole(order: int = order, h: float = h, scheme: str = scheme) -> None:
                fresh = Elements(of, mesh, order)
                fresh.cycle(np.full(fresh.size, WARM), h, scheme)

            works[f"{name} {h:g}"] = whole
    taken = clock.turns(works, repeats, warm=False)
    curves: Curves = {}
    for (name, setting, error), values in zip(places, taken.values(), strict=True):
        curves.setdefault(name, []).append(point(setting, error, values))
    signed: list[float] = []
    for solver in ("LU", "PCG"):
        peer = Fipy(of, mesh, solver)
        signed = []
        for dt in fipy_steps:
            spent, shot = clock.once(lambda p=peer, dt=dt: p.cycle(cold, dt))  # type: ignore[misc]
            signed.append(shot.time)
            if np.isfinite(shot.time):  # steps may be too long to cool at all
                points = curves.setdefault(f"FiPy, {solver}, Euler", [])
                points.append(point(f"{dt:g} s", abs(shot.time - limit), [spent]))
    coarse, short = signed[-2:]
    pointed = short + (short - coarse) * fipy_steps[-1] / (fipy_steps[-2] - fipy_steps[-1])
    return curves, {"thermokit": limit, "FiPy": float(pointed)}


def settled_curves(fine: bool, repeats: int, fipy: Sequence[Point]) -> Curves:
    """Whole error of the settled cooling time; ``fipy`` : its cycles with LU, for what they cost."""
    of = problem()
    meshes = {fineness: mesh_section(of, fineness) for fineness in ((0.5, 1.0, 2.0, 4.0) if fine else (0.5,))}
    works: dict[str, Callable[[], Any]] = {}
    places: list[tuple[str, str, float]] = []
    curves: Curves = {}

    def add(name: str, setting: str, work: Callable[[], Any], time_of: Callable[[Any], float]) -> None:
        spent, found = clock.once(work)
        places.append((name, setting, abs(time_of(found) - TIME)))
        if spent < LONG:
            works[str(len(places) - 1)] = work
        else:
            curves.setdefault(name, []).append(point(setting, places[-1][2], [spent]))

    for fineness, tolerance in OWN_SETTLED:
        if fineness in meshes:
            mesh = meshes[fineness]
            words = f"{len(mesh.x)} nodes, {tolerance:g} K"

            def own(mesh: Any = mesh, tolerance: float = tolerance) -> Any:
                return settled(of, mesh, WITHIN, np.zeros(0), (WATCH,), tolerance)

            add(OWN, words, own, lambda found: float(found.history.crossings["cool"]))
    for name, order, tried in ANDERSON:
        for fineness, h in tried:
            if fineness in meshes:
                mesh = meshes[fineness]
                words = f"{len(mesh.x)} nodes, {h:g} s"
                add(name, words, partial(mixed, of, mesh, order, h), lambda shot: float(shot.time))
    taken = clock.turns(works, repeats, warm=False)
    for number, values in taken.items():
        name, setting, error = places[int(number)]
        curves.setdefault(name, []).append(point(setting, error, values))
    curves = {name: front(points) for name, points in curves.items()}
    return curves | fipy_settled(of, meshes[1.0 if fine else 0.5], fipy)


def fipy_settled(of: SectionProblem, mesh: SectionMesh, cycles: Sequence[Point]) -> Curves:
    """FiPy from a cold mould until it is settled: so many times what a cycle costs; its answer from a settled start."""
    made = Elements(of, mesh, 1)
    kept = np.flatnonzero(~made.part)
    start, _ = anderson(lambda u: made.cycle(u, 0.25, "SDIRK2"), np.full(made.size, WARM), kept, 1e-4)
    peer, shots = Fipy(of, mesh, "LU"), shots_needed(of, mesh, WITHIN)
    points = []
    for one in cycles:
        u = start
        for _ in range(3):
            shot = peer.cycle(u, float(one["setting"].split()[0]))
            u = shot.after
        spent = [shots * float(one[key]) for key in ("least", "s", "most")]
        if np.isfinite(shot.time):
            points.append(point(one["setting"], abs(shot.time - TIME), spent))
    return {f"FiPy, LU, Euler, {shots} cycles, scaled": points}


def mixed(of: Any, mesh: Any, order: int, h: float) -> Any:
    """scikit-fem's settled cycle by Anderson's mixing, all included."""
    made = Elements(of, mesh, order)
    kept = np.flatnonzero(~made.part)
    u, _ = anderson(lambda u: made.cycle(u, h, "SDIRK2"), np.full(made.size, WARM), kept, WITHIN)
    return made.cycle(u, h, "SDIRK2")


def measure(quick: bool) -> dict[str, Any]:
    """The part `mould_curves`."""
    steps = (2.0, 1.0) if quick else (2.0, 1.0, 0.5, 0.2, 0.1)
    cycle, limits = one_cycle(0.5 if quick else 1.0, 1 if quick else 2, steps, not quick)
    fipy = cycle["FiPy, LU, Euler"][: 1 if quick else 4]
    return {"cycle": cycle, "settled": settled_curves(not quick, 1 if quick else 2, fipy), "limits": limits}
