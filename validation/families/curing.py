"""Kinetics without conduction: G01 to G04, G06."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import cure_laws

DEGREE = Tolerance(absolute=1e-4)
POLYESTER = "Bogetti & Gillespie, J. Composite Materials 25 (1991) 239 (parameters); closed form for m + n = 2"


def degree(result: Any, time: float | None = None) -> float:
    """Degree of the innermost cell, at a row or at the end."""
    values = result.history.states["cure_degree"][:, 0]
    return see.last(values) if time is None else see.at(result, values, time)


def time_to(result: Any, level: float) -> float:
    """Time at which the innermost cell reaches a degree."""
    return see.crossing(result.history.time, result.history.states["cure_degree"][:, 0], level)


def _nth_order(n: float, recorded: tuple[float, float, float]) -> Check:
    return Check(
        "G01",
        f"cure of order {n:g} at one temperature",
        "closed form",
        "exact",
        lambda: see.run("cure_nth_order", {"kinetics.resin.n": n}),
        tuple(
            Quantity(
                f"n = {n:g}, {t} s",
                "",
                lambda t=t: cure_laws.nth_order(0.005, n, t),
                DEGREE,
                lambda r, t=t: degree(r, float(t)),
                value,
            )
            for t, value in zip((100, 300, 1000), recorded, strict=True)
        ),
    )


def _fastest(result: Any, law: Callable[[np.ndarray, np.ndarray], np.ndarray]) -> tuple[float, float]:
    """(time, degree) of the highest rate of the innermost cell: its law at the temperatures and degrees found."""
    time, degrees = result.history.time, result.history.states["cure_degree"][:, 0]
    when = see.peak(time, law(result.history.temperature[:, 0], degrees))[0]
    return when, see.value_at(time, degrees, when)


def _autocatalytic(_temperature: np.ndarray, degrees: np.ndarray) -> np.ndarray:
    return (2e-4 + 6e-3 * degrees) * (1 - degrees)


def _first_order(temperature: np.ndarray, degrees: np.ndarray) -> np.ndarray:
    return 2e8 * np.exp(-8e4 / (cure_laws.R * temperature)) * (1 - degrees)


AUTOCATALYTIC = Check(
    "G02",
    "autocatalytic cure, m = n = 1",
    "closed form",
    "exact",
    lambda: see.run("cure_autocatalytic"),
    (
        *(
            Quantity(
                f"degree after {t} s",
                "",
                lambda t=t: cure_laws.autocatalytic(2e-4, 6e-3, t),
                DEGREE,
                lambda r, t=t: degree(r, float(t)),
                value,
            )
            for t, value in ((200, 0.07339915), (400, 0.2608711), (600, 0.5650002), (1000, 0.9406981))
        ),
        Quantity(
            "degree at the highest rate",
            "",
            lambda: cure_laws.autocatalytic_peak(2e-4, 6e-3)[1],
            DEGREE,
            lambda r: _fastest(r, _autocatalytic)[1],
            0.4833333,
        ),
        Quantity(
            "time of the highest rate",
            "s",
            lambda: cure_laws.autocatalytic_peak(2e-4, 6e-3)[0],
            # 1e-4 of the degree, over the rate there
            Tolerance(absolute=1e-4 / 1.6e-3),
            lambda r: _fastest(r, _autocatalytic)[0],
            548.5802,
        ),
    ),
)


def _polyester(celsius: int, recorded: tuple[float, float, float]) -> Check:
    k = cure_laws.arrhenius(3.7e22 / 60, 1.674e5, celsius + 273.15, 8.314)
    return Check(
        "G03",
        f"polyester cure at {celsius} degC",
        POLYESTER,
        "verified (parameters), computed",
        lambda: see.run(f"cure_polyester_{celsius}"),
        tuple(
            Quantity(
                f"{celsius} degC: degree {level:g}",
                "s",
                lambda level=level: cure_laws.power_law_time(k, 0.524, 1e-4, level),
                Tolerance(share=0.01),
                lambda r, level=level: time_to(r, level),
                value,
            )
            for level, value in zip((0.1, 0.5, 0.9), recorded, strict=True)
        ),
    )


RATES = (2, 5, 10, 20)  # K/min


def _peaks() -> dict[int, tuple[float, float]]:
    """Heating rate -> (temperature [K], degree) at the highest rate of cure."""
    peaks = {}
    for rate in RATES:
        result = see.run(f"cure_on_ramp_{rate}")
        when, reached = _fastest(result, _first_order)
        peaks[rate] = (see.value_at(result.history.time, result.history.temperature[:, 0], when), reached)
    return peaks


def _slope(x: list[float], y: list[float]) -> float:
    return float(np.polyfit(x, y, 1)[0])


def _kissinger(peaks: dict[int, tuple[float, float]]) -> float:
    inverse = [1 / peaks[b][0] for b in RATES]
    return -cure_laws.R * _slope(inverse, [math.log(b / peaks[b][0] ** 2) for b in RATES]) / 1000


def _ozawa(peaks: dict[int, tuple[float, float]]) -> float:
    inverse = [1 / peaks[b][0] for b in RATES]
    return -2.19 * cure_laws.R * _slope(inverse, [math.log10(b) for b in RATES]) / 1000


def _exact_peaks() -> dict[int, tuple[float, float]]:
    return {b: (cure_laws.peak_temperature(2e8, 8e4, b / 60), 0.0) for b in RATES}


KISSINGER = Check(
    "G04",
    "highest rate of a first-order cure on heating ramps",
    "Kissinger (1957); slopes after ASTM E2890 and E698 (from memory)",
    "computed",
    _peaks,
    (
        *(
            Quantity(
                f"peak at {b} K/min",
                "degC",
                lambda b=b: cure_laws.peak_temperature(2e8, 8e4, b / 60) - see.ZERO_CELSIUS,
                Tolerance(absolute=0.1),
                lambda peaks, b=b: peaks[b][0] - see.ZERO_CELSIUS,
                value,
            )
            for b, value in ((2, 108.2026), (5, 121.4643), (10, 132.1006), (20, 143.302))
        ),
        Quantity(
            "degree at the peak, 10 K/min",
            "",
            lambda: cure_laws.degree_at_peak(2e8, 8e4, 10 / 60),
            DEGREE,
            lambda peaks: peaks[10][1],
            0.6034316,
        ),
        Quantity("E from Kissinger's slope", "kJ/mol", lambda: 80.0, Tolerance(share=0.005), _kissinger, 80.0, 80.0),
        Quantity(
            "E from the uncorrected slope of E698",
            "kJ/mol",
            lambda: _ozawa(_exact_peaks()),
            Tolerance(share=0.005),
            _ozawa,
            82.38557,
        ),
    ),
)


def _rise(result: Any) -> float:
    return float(result.history.temperature[-1, 0] - result.history.temperature[0, 0])


ADIABATIC = (
    Check(
        "G06",
        "insulated laminate reacts out; its heat is per kg of laminate",
        POLYESTER,
        "exact",
        lambda: see.run("cure_adiabatic_laminate"),
        (Quantity("(a) rise", "K", lambda: 77.5e3 / 1260, Tolerance(absolute=0.2), _rise, 61.50794),),
    ),
    Check(
        "G06",
        "insulated resin reacts out",
        "energy balance",
        "exact",
        lambda: see.run("cure_adiabatic_resin"),
        (Quantity("(b) rise", "K", lambda: 400e3 / 1900, Tolerance(absolute=0.2), _rise, 210.5263),),
    ),
)


def _rate(temperature: float, a: float) -> float:
    return cure_laws.arrhenius(2e8, 8e4, temperature) * (1 - a)


def _adiabatic(level: float) -> float:
    return cure_laws.adiabatic_time(_rate, 353.15, 150.0, level)


def _temperature_at_the_top(result: Any) -> float:
    when = _fastest(result, _first_order)[0]
    return see.value_at(result.history.time, see.celsius(result.history.temperature[:, 0]), when)


def _top() -> float:
    return cure_laws.adiabatic_fastest_degree(2e8, 8e4, 353.15, 150.0)


A_FIFTH = Tolerance(absolute=0.2 / 150)  # 0.2 K, of the 150 K that the whole reaction gives

FIRST_ORDER = Check(
    "G06",
    "first-order reaction that keeps its heat",
    "quadrature of dT = (H/c) da",
    "exact",
    lambda: see.run("cure_adiabatic_first_order"),
    (
        *(
            Quantity(
                f"(c) degree {level:g}",
                "s",
                lambda level=level: _adiabatic(level),
                Tolerance(share=0.005),
                lambda r, level=level: time_to(r, level),
                value,
            )
            for level, value in ((0.1, 212.7377), (0.5, 351.9846), (0.99, 365.6427))
        ),
        Quantity(
            "(c) degree at the exact time of 0.5",
            "",
            lambda: 0.5,
            A_FIFTH,
            lambda r: see.value_at(r.history.time, r.history.states["cure_degree"][:, 0], _adiabatic(0.5)),
            0.5,
        ),
        Quantity(
            "(c) degree at the highest rate",
            "",
            _top,
            A_FIFTH,
            lambda r: _fastest(r, _first_order)[1],
            0.8408432,
        ),
        Quantity(
            "(c) time of the highest rate",
            "s",
            lambda: _adiabatic(_top()),
            Tolerance(share=0.005),
            lambda r: _fastest(r, _first_order)[0],
            361.6917,
        ),
        Quantity(
            "(c) temperature at the highest rate",
            "degC",
            lambda: 80 + 150 * _top(),
            Tolerance(absolute=0.2),
            _temperature_at_the_top,
            206.1265,
        ),
        Quantity(
            "(c) temperature less its own degree's rise",
            "degC",
            lambda: 80.0,
            Tolerance(absolute=0.2),
            lambda r: see.celsius(r.history.temperature[-1, 0]) - 150 * degree(r),
        ),
    ),
)

CHECKS = (
    _nth_order(0.5, (0.4375, 0.9375, 1.0)),
    _nth_order(1.0, (0.3934693, 0.7768698, 0.9932621)),
    _nth_order(1.5, (0.36, 0.6734694, 0.9183673)),
    _nth_order(2.0, (1 / 3, 0.6, 5 / 6)),
    AUTOCATALYTIC,
    _polyester(90, (1385.849, 4038.146, 11586.31)),
    _polyester(110, (76.70153, 223.4961, 641.2587)),
    _polyester(130, (5.657195, 16.48417, 47.29665)),
    KISSINGER,
    *ADIABATIC,
    FIRST_ORDER,
)
