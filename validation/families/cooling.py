"""Cooling in a mould and heating in an oven: F01 to F03, and the facts of the trade T01."""

from __future__ import annotations

import math
from typing import Any

from validation import measure as see
from validation.checks import Bound, Check, Quantity, Tolerance
from validation.references import convective_series as series
from validation.references import plane_series

HALF_PER_CENT = Tolerance(share=0.005)
FORMULA = "first term of the Fourier series, printed widely in the moulding trade; targets: the full series"


def _exact(half: float, a: float, wanted: float, where: float | str) -> float:
    return series.fourier_to_reach("plane", math.inf, wanted, where) * half**2 / a


def _centre(result: Any, level: float) -> float:
    return see.crossing(result.history.time, see.celsius(result.history.inner_face), level)


def _mean(result: Any, level: float) -> float:
    return see.crossing(result.history.time, see.mean_temperature(result), level)


def _slab(
    part: str, case: str, half: float, a: float, melt: float, wall: float, end: float, centre: float, mean: float
) -> Check:
    """F01: a moulding between walls of constant temperature; the hand formula stands as the printed value."""
    wanted = (end - wall) / (melt - wall)
    formula = [plane_series.cooling_time_one_term(2 * half, a, melt, wall, end, m) for m in (False, True)]
    note = "one-term formula" + (", which fails here" if wanted > 0.8 else "")
    return Check(
        "F01",
        f"moulding between cold walls ({part})",
        FORMULA,
        "computed",
        lambda: see.run(case),
        (
            Quantity(
                f"({part}) centre at {end:g} degC",
                "s",
                lambda: _exact(half, a, wanted, 0.0),
                HALF_PER_CENT,
                lambda r: _centre(r, end),
                centre,
                formula[0],
                note,
            ),
            Quantity(
                f"({part}) mean at {end:g} degC",
                "s",
                lambda: _exact(half, a, wanted, "mean"),
                HALF_PER_CENT,
                lambda r: _mean(r, end),
                mean,
                formula[1],
                note,
            ),
        ),
    )


def _doubled() -> tuple[float, float]:
    """Times of the mean and of the centre, 6 mm over 3 mm."""
    thin = see.run("cooling_slab_a")
    thick = see.run("cooling_slab_a", {"body.layers.0.thickness": 0.003, "stations.0.duration": 80.0})
    return _mean(thick, 90.0) / _mean(thin, 90.0), _centre(thick, 90.0) / _centre(thin, 90.0)


CONTACT = Check(
    "F02",
    "cooling through a contact conductance",
    "Robin series",
    "computed",
    lambda: see.run("cooling_slab_with_contact"),
    (
        Quantity(
            "(a) centre at 90 degC",
            "s",
            lambda: series.fourier_to_reach("plane", 1000 * 0.0015 / 0.2, 40 / 180, 0.0) * 0.0015**2 / 1e-7,
            HALF_PER_CENT,
            lambda r: _centre(r, 90.0),
            20.22601,
        ),
        Quantity(
            "(a) centre at the exact time",
            "degC",
            lambda: 90.0,
            Tolerance(absolute=0.2),
            lambda r: see.value_at(
                r.history.time,
                see.celsius(r.history.inner_face),
                series.fourier_to_reach("plane", 1000 * 0.0015 / 0.2, 40 / 180, 0.0) * 0.0015**2 / 1e-7,
            ),
            90.0,
        ),
    ),
)

TWO_WALLS = Check(
    "F02",
    "cooling between walls of two temperatures",
    "sine series about the steady line",
    "computed",
    lambda: see.run("cooling_slab_with_two_walls"),
    tuple(
        Quantity(
            f"(b) {x} mm after 10 s",
            "degC",
            lambda x=x: plane_series.two_walls(x / 1000, 10, 0.003, 1e-7, 230, 30, 70),
            Tolerance(absolute=0.2),
            lambda r, name=name: see.probe(r, name),
            recorded,
        )
        for x, name, recorded in (
            (0.75, "quarter", 94.2878),
            (1.5, "middle", 126.5426),
            (2.25, "three_quarters", 113.9709),
        )
    ),
)

_OVEN_A = 0.19 / (1180 * 1470)


def _oven(thickness: float, h: float, time: float, surface: float | None) -> Check:
    """F03: time for the core of an acrylic sheet to reach 160 degC; T01.2: minutes a millimetre."""
    half = thickness / 2000
    biot = h * half / 0.19

    def fourier() -> float:
        return series.fourier_to_reach("plane", biot, 20 / 160, 0.0)

    def exact() -> float:
        return fourier() * half**2 / _OVEN_A

    def found_surface(result: Any) -> float:
        when = _centre(result, 160.0)
        return see.value_at(result.history.time, see.celsius(result.history.outer_face), when)

    label = f"{thickness:g} mm, h {h:g}"
    changes = {"body.layers.0.thickness": half, "stations.0.outer.convection.coefficient": h}
    quantities: list[Quantity | Bound] = [
        Quantity(f"{label}: core at 160 degC", "s", exact, HALF_PER_CENT, lambda r: _centre(r, 160.0), time),
        Quantity(
            f"{label}: dwell a millimetre",
            "min/mm",
            lambda: exact() / 60 / thickness,
            HALF_PER_CENT,
            lambda r: _centre(r, 160.0) / 60 / thickness,
            time / 60 / thickness,
        ),
    ]
    if surface is not None:
        quantities.append(
            Quantity(
                f"{label}: surface then",
                "degC",
                lambda: 180 - 160 * series.ratio("plane", biot, fourier(), 1.0),
                Tolerance(absolute=0.2),
                found_surface,
                surface,
            )
        )
    if thickness == 5:
        quantities.append(
            Quantity(
                f"{label}: core at the exact time",
                "degC",
                lambda: 160.0,
                Tolerance(absolute=0.2),
                lambda r: see.value_at(r.history.time, see.celsius(r.history.inner_face), exact()),
                160.0,
            )
        )
    if thickness == 3:
        quantities.append(
            Bound(
                f"T01.2 {label}: dwell a millimetre",
                "min/mm",
                0.5,
                2.5,
                lambda r: _centre(r, 160.0) / 60 / thickness,
                "about one minute or more a millimetre in circulating air",
            )
        )
    return Check(
        "F03",
        f"acrylic sheet in an oven, {label}",
        "Robin series",
        "computed",
        lambda: see.run("acrylic_in_oven", changes),
        tuple(quantities),
    )


PVC = Check(
    "T01",
    "a thin rigid PVC pressing cools within seconds",
    "common practice",
    "common practice, no source",
    lambda: see.run("rigid_pvc_pressing"),
    (
        Bound("T01.5 core of 1.5 mm at 65 degC", "s", 0.0, 10.0, lambda r: _centre(r, 65.0)),
        Quantity(
            "T01.5 core of 1.5 mm at 65 degC, series",
            "s",
            lambda: _exact(0.00075, 1.1e-7, 40 / 155, 0.0),
            HALF_PER_CENT,
            lambda r: _centre(r, 65.0),
        ),
    ),
)

THIN_PVC = Check(
    "T01",
    "a rigid PVC pressing of 1 mm cools within seconds",
    "common practice",
    "common practice, no source",
    lambda: see.run("rigid_pvc_pressing", {"body.layers.0.thickness": 0.0005}),
    (
        Bound("T01.5 core of 1 mm at 65 degC", "s", 0.0, 10.0, lambda r: _centre(r, 65.0)),
        Quantity(
            "T01.5 core of 1 mm at 65 degC, series",
            "s",
            lambda: _exact(0.0005, 1.1e-7, 40 / 155, 0.0),
            HALF_PER_CENT,
            lambda r: _centre(r, 65.0),
        ),
    ),
)

SQUARE = Check(
    "T01",
    "cooling time goes with the square of thickness",
    "common practice; exact by similarity",
    "common practice, no source",
    _doubled,
    (
        Quantity("T01.6 mean time, 6 mm over 3 mm", "", lambda: 4.0, HALF_PER_CENT, lambda ratios: ratios[0]),
        Quantity("T01.6 centre time, 6 mm over 3 mm", "", lambda: 4.0, HALF_PER_CENT, lambda ratios: ratios[1]),
    ),
)

CHECKS = (
    _slab("a", "cooling_slab_a", 0.0015, 1e-7, 230, 50, 90, 15.91834, 11.80044),
    _slab("b", "cooling_slab_b", 0.001, 0.9e-7, 280, 90, 130, 8.104384, 6.070844),
    _slab("c", "cooling_slab_a", 0.0015, 1e-7, 230, 50, 200, 3.751679, 0.4908739),
    CONTACT,
    TWO_WALLS,
    _oven(2, 30, 128.1235, 161.4806),
    _oven(3, 30, 198.1453, 162.153),
    _oven(5, 30, 350.2338, 163.379),
    _oven(10, 30, 801.6358, 165.8803),
    _oven(3, 15, 378.4309, None),
    _oven(3, 60, 108.0859, None),
    PVC,
    THIN_PVC,
    SQUARE,
)
