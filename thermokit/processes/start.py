"""A body that begins as an earlier run left it: temperature and states of its layers, moved to the mesh of this run.

``start_from`` of a case is read with the case (``case/earlier.py``). Here its numbers become what the course of the body
remembers from before (``Course.before``), so that whatever follows the course (run, window, tolerances, verify, shots)
begins alike. By share of the thickness of each layer; sums over the layer are conserved (``conduction/remap.py``).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.earlier import CRYSTALLINE
from thermokit.conduction.course import LayerState
from thermokit.conduction.remap import remapped

if TYPE_CHECKING:
    from thermokit.case.earlier import Earlier, EarlierLayer
    from thermokit.conduction.course import Course
    from thermokit.conduction.problem import Layer

DOSES = ("heat_dose",)
SHARES = ("cure_degree", "gel_degree", "fusion_degree", CRYSTALLINE)  # states that end at 1; doses do not
NOTABLE = 0.01  # share by which a thickness must differ to be told


def filled(case: Any) -> Any:
    """The case with the mean temperature of the earlier run as start of each layer that goes on from it.

    It stands for the start in hand formulas and words. The body itself begins with the profile; where a study has put another
    start there ("stock 15 K colder"), the profile is moved by as much.
    """
    earlier = case.earlier
    if earlier is None:
        return case
    means = {
        ".".join(k.path): earlier.mean(k.layer) for k in case.starts() if k.own is None and k.layer in earlier.taken
    }
    return case.with_values(means)


def begun(course: Course, case: Any) -> Course:
    """The course of a body that goes on from the earlier run of its case; as it is where there is none."""
    earlier = case.earlier
    if earlier is None:
        return course
    moved = {
        s.layer: s.own - earlier.mean(s.layer) for s in case.starts() if s.own is not None and s.layer in earlier.taken
    }
    before = {
        layer.name: _state(layer, earlier.taken[layer.name], earlier, moved.get(layer.name, 0.0))
        for layer in course.legs[0].layers
        if layer.name in earlier.taken
    }
    return replace(course, before=before)


def _state(layer: Layer, held: EarlierLayer, earlier: Earlier, moved: Any) -> LayerState:
    """What a layer remembers, on its own cells; moved : added to its temperature [K], a number or one a case."""
    power = {"plane": 1, "cylinder": 2, "sphere": 3}[earlier.shape]
    old = held.edges + (earlier.inner_radius if power > 1 else 0.0)
    new = old[0] + np.asarray(layer.edges, float) * (old[-1] - old[0])
    if len(new) == len(old) and np.allclose(new, old, rtol=0.0, atol=1e-12 * float(old[-1] - old[0])):
        new = old  # the same cells but for round-off
    states = {
        name: remapped(value, old, new, power, bounds=(0.0, 1.0 if name in SHARES else np.inf))
        for name, value in held.states.items()
    }
    temperature = remapped(held.temperature, old, new, power, (held.inner, held.outer))
    return LayerState(
        temperature=temperature[:, None] + moved if np.ndim(moved) else temperature + moved,
        degrees={name: value for name, value in states.items() if name != CRYSTALLINE},
        crystalline=states.get(CRYSTALLINE),
    )


def study(case: Any) -> dict[str, Any]:
    """Block of a result that says which earlier run it goes on from."""
    earlier = case.earlier
    if earlier is None:
        return {}
    return {
        "start_from": {
            "file": earlier.file,
            "title": earlier.title,
            "process": earlier.process,
            "sha256": earlier.sha256,
            "case_sha256": earlier.case_sha256,
            "layers": {name: held.name for name, held in earlier.taken.items()},
        }
    }


def warnings(case: Any, course: Course) -> list[str]:
    """What of the earlier run does not fit this one quite, or is lost."""
    earlier, found = case.earlier, []
    if earlier.shape != course.shape:
        found.append(
            f"start_from: the earlier body was a {earlier.shape}, this one is a {course.shape}: profiles are taken by share of "
            "thickness, the heat in the layer is not conserved"
        )
    for layer in course.legs[0].layers:
        held = earlier.taken.get(layer.name)
        if held is None:
            continue
        thickness = float(np.ravel(layer.thickness)[0])
        if abs(thickness / held.thickness - 1.0) > NOTABLE:
            found.append(
                f"start_from: layer {layer.name} was {1e3 * held.thickness:.4g} mm and is {1e3 * thickness:.4g} mm: taken by "
                "share of thickness"
            )
        followed = {reaction.state for reaction in layer.reactions} | {CRYSTALLINE}
        lost = sorted(set(held.states) & {*SHARES, *DOSES} - followed)
        if lost:
            found.append(
                f"start_from: layer {layer.name}: {', '.join(lost)} of the earlier run is not followed on here"
            )
    return found
