"""What cure does to the network, and what a calorimeter tells of it: G12 (glass transition, gel point), G04 from runs.

And a fact of the trade, T01: a thin urea moulding.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Bound, Check, Quantity, Tolerance
from validation.references import cure_laws

FRESH, CURED, RATIO = -20.0, 220.0, 0.5  # degC, degC, lambda of DiBenedetto's equation
FACTOR, ENERGY = 2e8, 8e4  # 1/s, J/mol: the first-order reaction of G04
RATES = (2, 5, 10, 20)  # K/min
EXACT = Tolerance(absolute=1e-4)


def _glass() -> Any:
    from thermokit.kinetics.network import GlassTransition

    return GlassTransition(FRESH + see.ZERO_CELSIUS, CURED + see.ZERO_CELSIUS, RATIO)


GLASS = Check(
    "G12",
    "glass transition against degree of cure",
    "DiBenedetto's equation in the form of Pascault & Williams (from memory)",
    "exact",
    _glass,
    (
        *(
            Quantity(
                f"Tg at degree {a:g}",
                "degC",
                lambda a=a: cure_laws.glass_transition(a, FRESH, CURED, RATIO),
                Tolerance(absolute=0.1),
                lambda glass, a=a: see.celsius(float(glass.at(np.array(a)))),
                value,
            )
            for a, value in ((0.25, 14.28571), (0.5, 60.0), (0.75, 124.0), (0.9, 176.3636))
        ),
        Quantity(
            "degree at which Tg is 120 degC",
            "",
            lambda: cure_laws.degree_of_glass_transition(120.0, FRESH, CURED, RATIO),
            EXACT,
            lambda glass: float(glass.degree(np.array(120.0 + see.ZERO_CELSIUS))),
            0.7368421,
        ),
    ),
)


def _gel() -> Any:
    from thermokit.kinetics.network import gel_degree_flory_stockmayer

    return gel_degree_flory_stockmayer


GEL = Check(
    "G12",
    "degree at which a network gels",
    "Flory, Stockmayer (from memory)",
    "exact",
    _gel,
    tuple(
        Quantity(
            f"gel degree of {name}",
            "",
            lambda f=f, g=g: cure_laws.gel_degree(f, g),
            EXACT,
            lambda gel, f=f, g=g: gel(f, g),
            value,
        )
        for name, f, g, value in (("A2 + B4", 2, 4, 0.5773503), ("A3 + B2", 3, 2, 0.7071068))
    ),
)


def _runs() -> dict[str, Any]:
    """Heat flow of four ramps, as a calorimeter would write it, through everything that reads such runs."""
    from thermokit.kinetics.conversion import cured, peak_of
    from thermokit.kinetics.dsc import Run
    from thermokit.kinetics.isoconversional import kissinger, ozawa, vyazovkin

    cures = []
    for per_minute in RATES:
        temperature = np.linspace(20.0, 240.0, 881) + see.ZERO_CELSIUS
        time = (temperature - temperature[0]) / (per_minute / 60)
        degree = np.array(
            cure_laws.first_order_ramp(FACTOR, ENERGY, per_minute / 60, temperature[0], temperature.tolist())
        )
        rate = np.array([cure_laws.arrhenius(FACTOR, ENERGY, t) for t in temperature]) * (1 - degree)
        signal = 3e5 * rate + 40.0 + 0.02 * time  # W/kg, on a baseline that drifts
        counts = np.ones(len(time), dtype=bool)
        cures.append(
            cured(Run(f"{per_minute}", "ramp", time, temperature, signal, "heat_flow", counts, per_minute / 60))
        )
    peaks = [peak_of(cure)[0] for cure in cures]
    rates = [per_minute / 60 for per_minute in RATES]
    return {
        "heat": float(np.mean([cure.heat for cure in cures])) / 1000,
        "peaks": dict(zip(RATES, peaks, strict=True)),
        "kissinger": kissinger(rates, peaks),
        "ozawa": ozawa(rates, peaks, refined=False),
        "refined": ozawa(rates, peaks),
        "against degree": vyazovkin(cures),
    }


def _unrefined() -> float:
    peaks = [cure_laws.peak_temperature(FACTOR, ENERGY, b / 60) for b in RATES]
    slope = np.polyfit([1 / t for t in peaks], np.log10(RATES), 1)[0]
    return float(-2.19 * cure_laws.R * slope) / 1000


HALF_PER_CENT = Tolerance(share=0.005)

CALORIMETER = Check(
    "G04",
    "energies from the heat flow of four ramps, first order",
    "Kissinger (1957); slopes after ASTM E2890 and E698 (from memory)",
    "computed",
    _runs,
    (
        *(
            Quantity(
                f"peak of the heat flow at {b} K/min",
                "degC",
                lambda b=b: cure_laws.peak_temperature(FACTOR, ENERGY, b / 60) - see.ZERO_CELSIUS,
                Tolerance(absolute=0.1),
                lambda found, b=b: see.celsius(found["peaks"][b]),
                value,
            )
            for b, value in ((2, 108.2026), (5, 121.4643), (10, 132.1006), (20, 143.302))
        ),
        Quantity("total heat above the baseline", "kJ/kg", lambda: 300.0, HALF_PER_CENT, lambda f: f["heat"]),
        Quantity(
            "E by Kissinger", "kJ/mol", lambda: 80.0, HALF_PER_CENT, lambda f: f["kissinger"].energy / 1000, 80.0, 80.0
        ),
        Quantity(
            "E by E698, unrefined", "kJ/mol", _unrefined, HALF_PER_CENT, lambda f: f["ozawa"].energy / 1000, 82.38557
        ),
        Quantity("E by E698, refined", "kJ/mol", lambda: 80.0, HALF_PER_CENT, lambda f: f["refined"].energy / 1000),
        *(
            Quantity(
                f"E at degree {a:g} by Vyazovkin",
                "kJ/mol",
                lambda: 80.0,
                Tolerance(share=0.01),
                lambda f, a=a: float(np.interp(a, f["against degree"].degree, f["against degree"].energy)) / 1000,
            )
            for a in (0.1, 0.5, 0.9)
        ),
    ),
)


def _thin() -> Any:
    """(time at which the coldest place of a thin urea piece is firm, time at which it is within 10 K of the mould) [s]."""
    result = see.run("thin_urea_piece")
    time, core = result.history.time, see.celsius(result.history.temperature).min(axis=1)
    lowest = result.history.states["cure_degree"].min(axis=1)
    return see.crossing(time, lowest, 0.85), see.crossing(time, core, 125.0)


UREA = Check(
    "T01",
    "a thin urea moulding at 135 degC is firm in about half a minute",
    "fact of the trade, common practice; firm is a degree of 0.85 in the coldest place",
    "common practice, no source",
    _thin,
    (
        Bound("1.5 mm urea at 135 degC: firm", "s", 25.0, 35.0, lambda times: times[0]),
        Bound("heated through, over the time to firm", "", 0.0, 1 / 3, lambda times: times[1] / times[0]),
    ),
)

CHECKS = (GLASS, GEL, CALORIMETER, UREA)
