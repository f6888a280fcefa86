"""Thermokit and three other solvers on one section: each on two meshes, so that each tells its own error."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from validation.solvers.sections_answer import (
    Answer,
    Pair,
    look_at,
    look_at_steady,
    read_history,
    read_nodes,
    with_track,
)
from validation.solvers.sections_grid import march_grid
from validation.solvers.sections_linear import COARSE, FINE, march_cvode
from validation.solvers.sections_quadratic import march_quadratic, steady_quadratic
from validation.solvers.sections_shape import Shape

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.section_problem import SectionMesh, SectionProblem
    from validation.solvers.sections_shape import Look

    Array = NDArray[np.float64]

CASES = Path(__file__).parent / "cases"
EXAMPLES = Path(__file__).parents[2] / "cases"

CVODE = "scikit-sundae: CVODE on linear triangles"
ELEMENTS = "scikit-fem: quadratic triangles, SDIRK"
GRID = "FiPy on its own grid"
VOLUMES = "FiPy on volumes about the nodes"


@dataclass(frozen=True)
class Effort:
    """Finer of the two runs of each solver; the coarser has half of it. Fineness of meshes as ``mesh_section`` counts it.

    elements, steps : of scikit-fem; linear : of CVODE's triangles; volumes, volume_steps : of FiPy about the nodes (steps a
    span); cells, cell_steps : of FiPy's grid, cells a tile.
    """

    elements: float = 0.5
    steps: int = 8
    linear: float = 1.0
    volumes: float = 0.5
    volume_steps: int = 16
    cells: int = 16
    cell_steps: int = 4


def mesh_of(problem: SectionProblem, fineness: float) -> SectionMesh:
    """Triangles of a fineness."""
    from thermokit.conduction.section_mesh import mesh_section

    return mesh_section(problem, fineness)


def both(solve: Callable[[float], Answer]) -> Pair:
    """With all effort and with half of it."""
    return Pair(solve(1.0), solve(0.5))


def by_elements(problem: SectionProblem, look: Look, effort: Effort, shots: int = 1, still: float = 0.0) -> Pair:
    """scikit-fem; still : see ``march_quadratic``."""
    return both(
        lambda share: march_quadratic(
            problem,
            mesh_of(problem, effort.elements * share),
            look,
            round(effort.steps * share),
            shots=shots,
            still=still,
        )
    )


def by_elements_steady(problem: SectionProblem, look: Look, effort: Effort) -> Pair:
    """scikit-fem, the steady state."""
    return both(lambda share: steady_quadratic(problem, mesh_of(problem, effort.elements * share), look))


def by_cvode(problem: SectionProblem, look: Look, effort: Effort, shots: int = 1) -> Pair:
    """CVODE."""
    return both(
        lambda share: march_cvode(
            problem, mesh_of(problem, effort.linear * share), look, FINE if share == 1.0 else COARSE, shots=shots
        )
    )


def by_grid(problem: SectionProblem, look: Look, effort: Effort) -> Pair:
    """FiPy on a grid of its own, read at the same places."""
    return both(lambda share: march_grid(problem, look, round(effort.cells * share), round(effort.cell_steps * share)))


def by_volumes(problem: SectionProblem, look: Look, effort: Effort, steady: bool = False) -> Pair:
    """FiPy on control volumes about the nodes of a triangle mesh: the engine that ``verify`` has. It tells no heat of faces."""
    from thermokit.conduction.section_fipy import solve_section_fipy

    def solve(share: float) -> Answer:
        mesh = mesh_of(problem, effort.volumes * share)
        rows = None if steady else with_few(problem, look.times)
        found = solve_section_fipy(problem, mesh, rows, round(effort.volume_steps * share))
        shape = Shape(problem, mesh)
        values = read_nodes(shape, found, look)
        peak = found[:, np.unique(shape.triangles[shape.region == 0])].max(axis=1)
        chosen = np.array([0]) if rows is None else np.searchsorted(rows, look.times - 1e-9)
        there = np.flatnonzero(np.isfinite(peak))
        track = (np.zeros(0), np.zeros(0)) if rows is None else (rows[there], peak[there])
        hottest, coldest = np.nanmax(found, axis=1), np.nanmin(found, axis=1)
        return Answer(values[chosen], hottest[chosen], coldest[chosen], peak[chosen], {}, track)

    return both(solve)


def with_few(problem: SectionProblem, times: Array) -> Array:
    """The times that are compared and some more, by which the hottest place is followed."""
    every = with_track(problem, times)
    kept = np.isin(every, times)
    kept[::4] = True
    kept[0] = every[0] > 0.0
    return np.asarray(every[kept])


# -- thermokit ----------------------------------------------------------------------------------------------------------


@cache
def process_of_case(path: str, changes: tuple[tuple[str, float], ...] = ()) -> Any:
    """The process of a case file, ready to solve; changes : path in the case -> SI value."""
    from thermokit.case import load_case
    from thermokit.processes import direct_of

    folder = CASES if (CASES / f"{path}.toml").exists() else EXAMPLES
    case = load_case(folder / f"{path}.toml")
    process = direct_of(case.with_values(dict(changes)) if changes else case)
    if process is None:
        raise ValueError(f"{path} is no section")
    return process


def ours_of_section(process: Any) -> tuple[Pair, Look]:
    """(thermokit on the mesh it found and on one twice as fine with half the error, where and when it is compared)."""
    from thermokit.conduction.section_march import march
    from thermokit.conduction.section_steady import steady

    problem = process.problem()
    process.settled()
    meshes = [(finer, mesh_of(problem, process.fineness * finer)) for finer in (1.0, 2.0)]
    if process.steady:
        look = look_at_steady(problem, meshes[0][1])
        own, finer = (read_history(steady(problem, mesh), problem, look) for _, mesh in meshes)
        return Pair(finer, own), look
    look = look_at(problem, meshes[0][1])
    rows = with_track(problem, look.times)
    own, finer = (read_history(march(problem, m, rows, process.tolerance / f), problem, look) for f, m in meshes)
    return Pair(finer, own), look
