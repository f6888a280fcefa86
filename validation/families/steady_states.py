"""Steady states, reached by running long: A14, A15, A17, A19."""

from __future__ import annotations

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import steady

COMPANION = "as transcribed with its printed result in a public textbook companion"
SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018


def _tube_heat() -> float:
    """Heat a second per metre [W/m] through the tube: the heat that entered between 10000 s and 20000 s."""
    long = see.run("rubber_tube").history.heat.entered
    short = see.run("rubber_tube", {"stations.0.duration": 10000.0}).history.heat.entered
    return (long - short) / 10000.0


RESISTANCES = (
    Check(
        "A14",
        "chip with an epoxy joint",
        "Incropera et al., Example 3.2, " + COMPANION,
        "verified",
        lambda: see.run("chip_with_epoxy_joint"),
        (
            Quantity(
                "(a) chip",
                "degC",
                lambda: steady.chip_temperature(1e4, 100, 0.9e-4, 0.008, 239, 100, 25),
                Tolerance(absolute=0.05),
                see.inner,
                75.30679,
                75.3,
            ),
        ),
    ),
    Check(
        "A14",
        "rubber tube",
        "Geankoplis, Example 4.2-1, " + COMPANION,
        "verified",
        _tube_heat,
        (
            Quantity(
                "(b) length for 14.65 W",
                "m",
                lambda: 14.65 / steady.tube_heat_per_metre(0.151, 0.005, 0.020, 297.1 - 274.9),
                Tolerance(share=0.001),
                lambda heat: 14.65 / heat,
                0.9642359,
                0.964,
            ),
        ),
    ),
)


def _heated(shape: str, surface: float, centre: float) -> Check:
    return Check(
        "A15",
        f"{shape} with uniform heat and convection",
        "closed form",
        "exact",
        lambda: see.run(f"heated_{shape}"),
        tuple(
            Quantity(
                f"{shape} {where}",
                "degC",
                lambda r=r: steady.heated_round(shape, r, 0.006, 2e6, 0.25, 60, 30),
                Tolerance(absolute=0.05),
                find,
                value,
            )
            for where, r, find, value in (
                ("surface", 0.006, see.outer, surface),
                ("centre", 0.0, see.inner, centre),
            )
        ),
    )


VARIABLE_K = Check(
    "A17",
    "slab with heat and k = kr (1 + beta T)",
    "Arpaci, Conduction Heat Transfer (1966), Example 3-8, quoted in a public solver's examples",
    "verified",
    lambda: see.run("slab_with_heat_and_variable_conductivity"),
    (
        Quantity(
            "T(0)",
            "degC",
            lambda: steady.heated_slab_variable_k(0, 10, 5, 2, 0.01),
            Tolerance(share=0.0005),
            see.inner,
            87.08287,
            87.08286933869707,
        ),
        Quantity(
            "T(5)",
            "degC",
            lambda: steady.heated_slab_variable_k(5, 10, 5, 2, 0.01),
            Tolerance(share=0.0005),
            lambda r: see.probe(r, "middle"),
            69.55825,
        ),
    ),
)

T2 = Check(
    "A19",
    "NAFEMS T2: bar that radiates at its end",
    "The Standard NAFEMS Benchmarks, Rev. 3 (1990), test T2",
    "verified",
    lambda: see.run("bar_with_radiating_end"),
    (
        Quantity(
            "radiating end",
            "K",
            lambda: steady.radiating_end(0.1, 55.563, 1000, 300, 0.98, SIGMA),
            Tolerance(absolute=0.1),
            lambda r: see.outer(r) + see.ZERO_CELSIUS,
            926.9671,
            927.0,
            "printed with sigma = 5.67e-8",
        ),
    ),
)

T2_PRINTED = Check(
    "A19",
    "NAFEMS T2: bar that radiates at its end, sigma as printed",
    "The Standard NAFEMS Benchmarks, Rev. 3 (1990), test T2",
    "verified",
    lambda: see.run("bar_with_radiating_end", {"stations.0.outer.radiation.emissivity": 0.98 * 5.67e-8 / SIGMA}),
    (
        Quantity(
            "radiating end, sigma 5.67e-8",
            "K",
            lambda: steady.radiating_end(0.1, 55.563, 1000, 300, 0.98, 5.67e-8),
            Tolerance(absolute=0.1),
            lambda r: see.outer(r) + see.ZERO_CELSIUS,
            926.9707,
            927.0,
        ),
    ),
    "sigma = 5.67e-8 W/m2/K4 is put in by the emissivity",
)

CHECKS = (
    *RESISTANCES,
    _heated("cylinder", 130.0, 202.0),
    _heated("sphere", 30 + 200 / 3, 30 + 200 / 3 + 48),
    VARIABLE_K,
    T2,
    T2_PRINTED,
)
