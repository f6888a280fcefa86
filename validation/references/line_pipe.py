"""A pipe's wall: settled in layers by resistances, and cooling with crystallisation by a method of lines of its own."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any


def two_layer_tube(
    layers: Sequence[tuple[float, float, float]], contact: float, inside: float, outside: float, hot: float, cold: float
) -> tuple[float, float]:
    """(bore, skin) [degC] of a settled tube: layers (inner radius, outer radius [m], k), one contact at their joint [W/m2/K]."""
    (a, b, k1), (_, c, k2) = layers
    parts = (
        1 / (2 * math.pi * a * inside),
        math.log(b / a) / (2 * math.pi * k1),
        1 / (2 * math.pi * b * contact),
        math.log(c / b) / (2 * math.pi * k2),
        1 / (2 * math.pi * c * outside),
    )
    heat = (hot - cold) / sum(parts)
    return hot - heat * parts[0], cold + heat * parts[-1]


def by_lines(
    radii: Any,
    conductivity: Callable[[Any], Any],
    heat_content: Callable[[Any], Any],
    start: Any,
    times: Any,
    outside: Sequence[tuple[float, float, float]],
) -> Any:
    """Temperatures (times, cells) [K] of a round wall, insulated inside, in spans outside: (until [s], h, T).

    The unknowns are temperatures; heat content [J/m3] against temperature is differentiated numerically, conductance between
    cells by the half cells in series; CVODE at 1e-7. radii : of the cell edges (cells + 1,).
    """
    import numpy as np
    from sksundae.cvode import CVODE

    r = np.asarray(radii)
    middle = np.sqrt((r[1:] ** 2 + r[:-1] ** 2) / 2)
    volume = (r[1:] ** 2 - r[:-1] ** 2) / 2

    def slopes(h: float, fluid: float) -> Any:
        def slope(_: float, y: Any, dy: Any) -> None:
            k = conductivity(y)
            inner, outer = np.log(r[1:-1] / middle[:-1]) / k[:-1], np.log(middle[1:] / r[1:-1]) / k[1:]
            flow = np.diff(y) / (inner + outer)
            skin = (fluid - y[-1]) / (np.log(r[-1] / middle[-1]) / k[-1] + 1 / (h * r[-1]))
            capacity = (heat_content(y + 0.01) - heat_content(y - 0.01)) / 0.02
            dy[:-1] = flow
            dy[-1] = skin
            dy[1:] -= flow
            dy /= capacity * volume

        return slope

    t, found, begin = np.array(start, float), [], 0.0
    for until, h, fluid in outside:
        wanted = [x for x in times if begin < x <= until + 1e-9]
        grid = np.array([begin, *wanted] if wanted and abs(wanted[-1] - until) < 1e-9 else [begin, *wanted, until])
        solver = CVODE(
            slopes(h, fluid), rtol=1e-7, atol=1e-6, linsolver="band", lband=1, uband=1, max_num_steps=200_000
        )
        gone = solver.solve(grid, t)
        found += [gone.y[i] for i, x in enumerate(gone.t) if any(abs(x - w) < 1e-9 for w in wanted)]
        t, begin = gone.y[-1], until
    return np.array(found)
