"""The mould from its first shot on: how its faces creep up to the settled state."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_cycle import Settling
from thermokit.processes.mould_facts import mean_along
from thermokit.results.model import Axis, Field
from thermokit.stations.mould import FACES

if TYPE_CHECKING:
    from thermokit.processes.mould_solve import Shot

ZERO = 273.15
LEAST, MOST = 10, 80  # shots that are shown
NEAR = 1.0  # K of the settled face, within which parts are alike; common practice, no source


def start_up(shot: Shot) -> tuple[Field, ...]:
    """Mean of each mould face when the melt comes, shot by shot, from the mould's first temperature.

    The deviation from the settled state is carried from shot to shot by the slope of the cycle.
    """
    if shot.cycle.shots is None:
        return ()
    count = int(np.clip(shot.cycle.shots + 5, LEAST, MOST))
    way = Settling(shot.problem, shot.history.mesh, 1.0, ())
    way.linearise(shot.cycle.start)
    deviation = way.run.starts - shot.cycle.start
    faces = {name: shot.facts.faces[name] for name in FACES}
    rows: dict[str, list[float]] = {name: [] for name in FACES}
    for _ in range(count):
        for name, own in faces.items():
            rows[name].append(float(mean_along(own.metal_way, (shot.cycle.start + deviation)[own.metal])))
        deviation = way.slope(deviation)
    axis = Axis("shot", "1", np.arange(1, count + 1), "shot, from the first")
    return tuple(
        Field(
            f"mould_shots/{name}",
            (axis,),
            "degC",
            np.array(values) - ZERO,
            f"mean of the {name.replace('_', ' ')} when the melt comes",
        )
        for name, values in rows.items()
    )


def rejects(fields: tuple[Field, ...]) -> int | None:
    """Shots until both faces are within 1 K of where they settle, None where that is not seen."""
    found = []
    for field in fields:
        if field.name.startswith("mould_shots/"):
            off = np.abs(np.asarray(field.values) - field.values[-1])
            found.append(int(np.flatnonzero(off > NEAR)[-1]) + 1 if np.any(off > NEAR) else 0)
    return max(found) if found else None
