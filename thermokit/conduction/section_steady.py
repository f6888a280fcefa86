"""The steady state of a section under the faces of its first span: F(T) = 0 by Newton's method.

The equations are those of :mod:`thermokit.conduction.section_equations`. With constant conductivities and no radiation one step
is the answer; with conductivities that depend on temperature or radiation a step is halved until the largest imbalance falls.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.history import Ending, HeatBalance
from thermokit.conduction.section_equations import SectionSystem, factorised, good_order
from thermokit.conduction.section_faces import section_pieces
from thermokit.conduction.section_history import SectionHistory, SectionSpanEnd
from thermokit.conduction.section_matrices import assemble_section
from thermokit.conduction.section_media import NodeEnergy, starts_of
from thermokit.conduction.section_record import peaks_of, place_of
from thermokit.errors import SolveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem

MOST = 60
HALVINGS = 8
STILL = 1e-6  # K, a step of Newton's method after which the next would be round-off


def steady(problem: SectionProblem, mesh: SectionMesh) -> SectionHistory:
    """The temperatures that a section settles at, as a history of one row with heat in W/m (or W of the ring).

    The faces, touches, sources and absent regions are those of the first span at its beginning. Raises SolveError where some
    part of the section is insulated, so that its temperature is not settled by anything or rises for ever.
    """
    body = assemble_section(problem, mesh)
    energy = NodeEnergy(body)
    piece = section_pieces(problem)[0]
    system = SectionSystem(body, energy, good_order(body), problem.spans[0].absent, piece)
    _refuse_insulated(system)
    drives = system.drives(piece, 0.0)
    sources, made = system.sources(piece, 0.0)
    power = system.area_t @ drives + sources
    start = starts_of(body)
    start[system.held_nodes] = system.held_temperature(piece, 0.0)
    temperature, ending = _found(system, power, start)

    faces = system.face_heat(temperature, drives, piece, 0.0)
    reaction = np.zeros(body.nodes)
    held = system.held_nodes
    reaction[held] = -system.flow(temperature, power, system.base, system.lin)[held]
    faces = faces + system.share @ reaction
    heat = dict.fromkeys(problem.face_names, 0.0)
    heat.update({problem.face_names[f]: float(q) for f, q in zip(system.face_ids, faces, strict=True)})
    flows = np.append(faces, made)
    entered, left = float(flows[flows > 0.0].sum()), float(-flows[flows < 0.0].sum())
    shown = np.where(system.active, temperature, np.nan)
    hottest, coldest = (place_of(body, int(find(shown)), shown, 0.0) for find in (np.nanargmax, np.nanargmin))
    return SectionHistory(
        mesh=mesh,
        time=np.zeros(1),
        span=np.zeros(1, np.int64),
        temperature=shown[None, :],
        heat=HeatBalance(
            entered,
            left,
            0.0,
            0.0,
            abs(entered - left) / entered if entered > 0.0 else 0.0,
            "W" if problem.axisymmetric else "W/m",
        ),
        hottest=hottest,
        coldest=coldest,
        ends=(SectionSpanEnd(0.0, shown, heat, hottest, coldest),),
        ending=ending,
        region_names=tuple(region.name for region in problem.regions),
        face_names=problem.face_names,
        axisymmetric=problem.axisymmetric,
        steady=True,
        peaks=peaks_of(body, shown[None, :]),
    )


def _refuse_insulated(system: SectionSystem) -> None:
    """Raise where a connected part of the section exchanges heat with nothing."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    body, n = system.body, system.body.nodes
    data = np.abs(system.base.data)
    for curved in system.curved:
        data = data + np.abs(curved.stiffness)
    joined = data > 0.0
    graph = csr_matrix((joined[joined], (body.pattern.indices[joined], body.pattern.columns[joined])), shape=(n, n))
    _, part = connected_components(graph, directed=False)
    settled = np.zeros(n, bool)
    settled[system.held_nodes] = True
    settled |= (system.lin > 0.0) | (system.quartic > 0.0)
    fine = np.zeros(part.max() + 1, bool)
    fine[part[settled & system.active]] = True
    loose = system.active & ~fine[part]
    if np.any(loose):
        names = [region.name for region in body.problem.regions]
        those = ", ".join(names[i] for i in np.unique(body.owner[loose]))
        raise SolveError(
            f"the section has no steady state: {those} exchanges heat with nothing whose temperature is given",
            "give an edge or channel there convection, radiation, contact or a temperature, or run it in time",
        )


def _found(system: SectionSystem, power: Array, temperature: Array) -> tuple[Array, Ending]:
    """(temperatures of all nodes, how it ended)."""
    free = system.free
    nothing = np.zeros(len(temperature))
    t = temperature

    def imbalance(at: Array) -> Array:
        return system.flow(at, power, system.base, system.lin)[free]

    flow = imbalance(t)
    for _ in range(MOST):
        factor = factorised(system.jacobian(t, nothing, 1.0, system.base, system.lin))
        step = factor.solve(flow)
        size = float(np.abs(step).max(initial=0.0))
        if not np.isfinite(size):
            return t, Ending("not_finite", 0.0, advice="a value is not finite: look at the inputs for a wrong unit")
        t, flow = _shortened(imbalance, t, step, free, flow)
        if size <= STILL or not (system.curved or system.radiates):
            # one more solve takes away what round-off left
            step = factor.solve(flow)
            t = t.copy()
            t[free] += step
            return t, Ending("finished", 0.0)
    return t, Ending(
        "step_too_small",
        0.0,
        advice="the steady state was not found: look for a source or a radiating face far out of range",
    )


def _shortened(imbalance: Any, t: Array, step: Array, free: NDArray[np.intp], flow: Array) -> tuple[Array, Array]:
    """(temperatures, imbalance) after a step, halved while it makes the imbalance larger or leaves the kelvin scale."""
    before = float(np.linalg.norm(flow))
    share = 1.0
    for _ in range(HALVINGS):
        trial = t.copy()
        trial[free] += share * step
        if trial[free].min(initial=1.0) > 0.0:
            new = imbalance(trial)
            if float(np.linalg.norm(new)) <= before or before == 0.0:
                return trial, new
        share /= 2
    trial = t.copy()
    trial[free] = np.maximum(trial[free] + share * step, 1.0)
    return trial, imbalance(trial)
