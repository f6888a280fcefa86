"""Shares of variance and shares of parts against closed forms: N01 to N03."""

from __future__ import annotations

from typing import Any

import numpy as np

from validation.checks import Check, Quantity, Tolerance
from validation.references import variance

ROWS, SEED = 2**13, 1
NEAR = Tolerance(absolute=0.02)
PARTS = Tolerance(absolute=0.01)

LUMP = """
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "block"
material = "block"
thickness = "10 mm"
cells = 2
[materials.block]
conductivity = "5000 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
[[stations]]
name = "heat"
duration = "find"
[stations.outer]
convection = { coefficient = "100 W/m2/K", air = "120 degC" }
[limits.mean_temperature]
at_least = "60 degC"
[limits.hottest_temperature]
at_most = "80 degC"
[tolerances]
"body.layers.block.thickness" = "± 30 %"
"""


def _indices(function: Any, inputs: int) -> Any:
    """Both indices through the code of `thermokit sensitivity`."""
    from thermokit.studies.sensitivity_indices import indices_of

    found = indices_of(lambda u: function(u)[None], inputs, ROWS, SEED, resamples=20)
    return np.stack([found.first[0], found.total[0]])


def _quantities(exact: Any, inputs: int, published: Any) -> tuple[Quantity, ...]:
    return tuple(
        Quantity(
            f"{('first', 'total')[k]} of input {i + 1}", "", lambda k=k, i=i: exact()[k][i], NEAR,
            lambda found, k=k, i=i: float(found[k, i]), None, published[k][i],
        )
        for k in (0, 1)
        for i in range(inputs)
    )  # fmt: skip


_ISHIGAMI = Check(
    "N01",
    "Sobol indices of a function with inputs that act together",
    "Ishigami & Homma (1990), a = 7, b = 0.1; values to four digits from memory",
    "from memory",
    lambda: _indices(variance.ishigami, 3),
    _quantities(variance.ishigami_indices, 3, ((0.3139, 0.4424, 0.0), (0.5576, 0.4424, 0.2437))),
)

_G = Check(
    "N02",
    "Sobol indices of a product of eight inputs",
    "Sobol' g-function, a = 0, 1, 4.5, 9, 99 ...; Saltelli & Sobol' (1995); first orders from memory",
    "from memory",
    lambda: _indices(variance.g_function, 8),
    _quantities(variance.g_indices, 8, ((0.716, 0.179, 0.0237, 0.0072, *4 * (0.0001,)), 8 * (None,))),
)


def _shares() -> Any:
    """The lumped plate through the code of `thermokit tolerance`, at three settings."""
    from thermokit.case import parse_case
    from thermokit.studies.tolerance_study import scatter

    case = parse_case(LUMP, "lump.toml")
    return {t: scatter(case, setting=t) for t in (55.0, 65.0, 85.0)}


_PARTS = Check(
    "N03",
    "share of good plates, thickness normal",
    "lumped body in a medium and the normal distribution, closed form",
    "computed",
    _shares,
    tuple(
        Quantity(
            f"share inside at {t:g} s", "", lambda t=t: variance.lumped_share(t, 60.0, 80.0, 0.15), PARTS,
            lambda found, t=t: found[t].inside,
        )
        for t in (55.0, 65.0, 85.0)
    ),
)  # fmt: skip

CHECKS = (_ISHIGAMI, _G, _PARTS)
