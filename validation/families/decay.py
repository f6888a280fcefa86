"""First eigenvalue and coefficient of slab, cylinder and sphere, read off the solver's decay (A01)."""

from __future__ import annotations

import math
from typing import Any

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import convective_series as series

BOOK = "Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer"

# first eigenvalue and coefficient: shape, Biot number, printed (Incropera Table 5.1, from memory), recomputed
TABLE_5_1 = [
    ("plane", 0.01, 0.0998, 1.0017, 0.09983364, 1.001661),
    ("plane", 0.1, 0.3111, 1.0161, 0.3110528, 1.016094),
    ("plane", 0.5, 0.6533, 1.0701, 0.6532712, 1.070128),
    ("plane", 1.0, 0.8603, 1.1191, 0.8603336, 1.119132),
    ("plane", 2.0, 1.0769, 1.1785, 1.076874, 1.178456),
    ("plane", 5.0, 1.3138, 1.2402, 1.313838, 1.240249),
    ("plane", 10.0, 1.4289, 1.2620, 1.42887, 1.261963),
    ("plane", 100.0, 1.5552, 1.2731, 1.555245, 1.273088),
    ("plane", math.inf, None, None, 1.570796, 1.27324),
    ("cylinder", 0.01, 0.1412, 1.0025, 0.1412448, 1.002496),
    ("cylinder", 0.1, 0.4417, 1.0246, 0.4416818, 1.024579),
    ("cylinder", 0.5, 0.9408, 1.1143, 0.9407706, 1.114255),
    ("cylinder", 1.0, 1.2558, 1.2071, 1.255784, 1.207092),
    ("cylinder", 2.0, 1.5994, 1.3384, 1.599449, 1.338377),
    ("cylinder", 5.0, 1.9898, 1.5029, 1.989815, 1.502869),
    ("cylinder", 10.0, 2.1795, 1.5677, 2.179497, 1.567692),
    ("cylinder", 100.0, 2.3809, 1.6015, 2.380902, 1.601524),
    ("cylinder", math.inf, None, None, 2.404826, 1.601975),
    ("sphere", 0.01, 0.1730, 1.0030, 0.173032, 1.002998),
    ("sphere", 0.1, 0.5423, 1.0298, 0.5422809, 1.029798),
    ("sphere", 0.5, 1.1656, 1.1441, 1.165561, 1.144106),
    ("sphere", 1.0, 1.5708, 1.2732, 1.570796, 1.27324),
    ("sphere", 2.0, 2.0288, 1.4793, 2.028758, 1.479319),
    ("sphere", 5.0, 2.5704, 1.7870, 2.570432, 1.787001),
    ("sphere", 10.0, 2.8363, 1.9249, 2.8363, 1.924909),
    ("sphere", 100.0, 3.1102, 1.9990, 3.110187, 1.999033),
    ("sphere", math.inf, None, None, 3.141593, 2.0),
    ("plane", 0.31299, 0.531, 1.047, 0.5318852, 1.046788),  # Incropera, Example 5.4
    ("sphere", 47.847, 3.0754, 1.9959, 3.076026, 1.995882),  # Cengel, Example 4-3
    ("cylinder", 0.05, 0.3126, 1.0124, 0.3142616, 1.012395),  # Cengel, Example 4-10
    ("sphere", 1.5, 1.8, 1.376, 1.836597, 1.384963),  # Incropera, Example 5.5
]


def _decay(shape: str, biot: float) -> tuple[float, float]:
    """(zeta1, C1) from the centre's decay between two times (R2/a = 100 s, start 1000 K above the medium).

    The early time is so late that the second mode is below 1e-6 of the first; the later one gives zeta1 best. C1 is the
    early value over the exact exp(-zeta1^2 Fo).
    """
    if math.isinf(biot):
        result = see.run(f"decay_{shape}_held")
    else:
        result = see.run(f"decay_{shape}", {"stations.0.outer.convection.coefficient": 100.0 * biot})
    first, second = series.eigenvalues(shape, biot)[:2] ** 2
    early = 5.0 * math.ceil(20.0 * 14.0 / (second - first))
    late = early + 5.0 * min(max(round(20.0 / first), 1), 60)
    high, low = see.inner(result, early) / 1000, see.inner(result, late) / 1000
    return math.sqrt(math.log(high / low) / ((late - early) / 100)), high * math.exp(first * early / 100)


def _eigen_check(row: tuple[Any, ...]) -> Check:
    shape, biot, zeta, c, zeta_recorded, c_recorded = row
    label = "infinite" if math.isinf(biot) else f"{biot:g}"
    note = ""
    if zeta is not None and abs(zeta - zeta_recorded) > 2e-4:
        note = "printed value interpolated between rows of the table"
    tolerance = Tolerance(absolute=1e-4)
    return Check(
        "A01",
        f"first eigenvalue and coefficient of a {shape}, Biot number {label}",
        f"{BOOK}, Table 5.1",
        "from memory; pairs of worked examples verified",
        lambda: _decay(shape, biot),
        (
            Quantity(
                f"{shape}, Bi {label}: zeta1",
                "",
                lambda: series.first_pair(shape, biot)[0],
                tolerance,
                lambda pair: pair[0],
                zeta_recorded,
                zeta,
                note,
            ),
            Quantity(
                f"{shape}, Bi {label}: C1",
                "",
                lambda: series.first_pair(shape, biot)[1],
                tolerance,
                lambda pair: pair[1],
                c_recorded,
                c,
                note,
            ),
        ),
    )


CHECKS = tuple(_eigen_check(row) for row in TABLE_5_1)
