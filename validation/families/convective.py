"""Slabs, cylinders and spheres in a medium: the textbooks' examples against the full series (A02 to A07, A24)."""

from __future__ import annotations

import math

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import convective_series as series
from validation.references import lumped

BOOK = "Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer"
COMPANION = "as transcribed with its printed result in a public textbook companion"


def _level(shape: str, biot: float, fourier: float, position: float, start: float, medium: float) -> float:
    return medium + (start - medium) * series.ratio(shape, biot, fourier, position)


# A02: Fourier and Biot numbers of the steel wall
_A02_FO, _A02_BI = 63.9 / (7832 * 434) * 480 / 0.04**2, 500 * 0.04 / 63.9
_A02_PER_METRE = math.pi * 1.0  # m2 of wall per metre of a pipe of 1 m

PIPE = Check(
    "A02",
    "steel pipe wall heated by hot oil",
    f"{BOOK}, Example 5.4, {COMPANION}",
    "verified",
    lambda: see.run("pipe_wall_heated_by_oil"),
    (
        Quantity(
            "insulated face",
            "degC",
            lambda: _level("plane", _A02_BI, _A02_FO, 0.0, -20, 60),
            Tolerance(absolute=0.1),
            see.outer,
            43.01624,
            42.9,
            "book rounds its diffusivity",
        ),
        Quantity(
            "wetted face",
            "degC",
            lambda: _level("plane", _A02_BI, _A02_FO, 1.0, -20, 60),
            Tolerance(absolute=0.1),
            see.inner,
            45.3625,
            45.2,
            "one term, rounded",
        ),
        Quantity(
            "flux into the wall",
            "W/m2",
            lambda: 500 * (60 - _level("plane", _A02_BI, _A02_FO, 1.0, -20, 60)),
            Tolerance(share=0.01),
            lambda r: 500 * (60 - see.inner(r)),
            7318.748,
            7400,
            "book rounds",
        ),
        Quantity(
            "heat per metre of pipe",
            "J/m",
            lambda: 7832 * 434 * 0.04 * 80 * (1 - series.mean_ratio("plane", _A02_BI, _A02_FO)) * _A02_PER_METRE,
            Tolerance(share=0.005),
            lambda r: r.history.heat.entered * _A02_PER_METRE,
            2.725413e7,
            2.73e7,
        ),
    ),
)


_A02_PRINTED = 18.8e-6  # m2/s: the book's diffusivity, rounded
_A02_FO_PRINTED = _A02_PRINTED * 480 / 0.04**2

PIPE_PRINTED = Check(
    "A02",
    "steel pipe wall heated by hot oil, printed diffusivity",
    f"{BOOK}, Example 5.4, {COMPANION}",
    "verified",
    lambda: see.run("pipe_wall_heated_by_oil", {"materials.stuff.density": 63.9 / _A02_PRINTED / 434}),
    (
        Quantity(
            "insulated face, printed diffusivity",
            "degC",
            lambda: _level("plane", _A02_BI, _A02_FO_PRINTED, 0.0, -20, 60),
            Tolerance(absolute=0.1),
            see.outer,
            43.01745,
            42.92,
            "one term, rounded",
        ),
        Quantity(
            "wetted face, printed diffusivity",
            "degC",
            lambda: _level("plane", _A02_BI, _A02_FO_PRINTED, 1.0, -20, 60),
            Tolerance(absolute=0.1),
            see.inner,
            45.36355,
            45.2,
            "one term, rounded",
        ),
        Quantity(
            "heat per metre of pipe, printed diffusivity",
            "J/m",
            lambda: (
                63.9
                / _A02_PRINTED
                * 0.04
                * 80
                * (1 - series.mean_ratio("plane", _A02_BI, _A02_FO_PRINTED))
                * _A02_PER_METRE
            ),
            Tolerance(share=0.005),
            lambda r: r.history.heat.entered * _A02_PER_METRE,
            2.725462e7,
            2.73e7,
        ),
    ),
)


def _egg() -> float:
    fo = series.fourier_to_reach("sphere", 1200 * 0.025 / 0.627, (95 - 70) / (95 - 5), 0.0)
    return fo * 0.025**2 / 0.151e-6


EGG = Check(
    "A04",
    "boiled egg: a sphere in hot water",
    f"Cengel, Heat and Mass Transfer: A Practical Approach, Example 4-3, {COMPANION}",
    "verified",
    lambda: see.run("boiled_egg"),
    (
        Quantity(
            "centre at 70 degC",
            "s",
            _egg,
            Tolerance(share=0.005),
            lambda r: see.crossing(r.history.time, see.celsius(r.history.inner_face), 70.0),
            861.4682,
            863,
            "one term of the series gives 862.65 s",
        ),
        Quantity(
            "centre at that time",
            "degC",
            lambda: 70.0,
            Tolerance(absolute=0.1),
            lambda r: see.value_at(r.history.time, see.celsius(r.history.inner_face), _egg()),
            70.0,
        ),
    ),
)

_BRASS = 110 / (8530 * 380)
_SHAFT = 14.9 / (7900 * 477)
PLATE_AND_SHAFT = (
    Check(
        "A05",
        "brass plate in an oven",
        f"Cengel, Example 4-4, {COMPANION}",
        "verified (chart reading)",
        lambda: see.run("brass_plate"),
        (
            Quantity(
                "surface after 7 min",
                "degC",
                lambda: _level("plane", 120 * 0.02 / 110, _BRASS * 420 / 0.02**2, 1.0, 20, 500),
                Tolerance(absolute=0.3),
                see.outer,
                279.7643,
                282,
                "chart reading",
            ),
        ),
    ),
    Check(
        "A05",
        "stainless shaft cools",
        f"Cengel, Example 4-5, {COMPANION}",
        "verified (chart reading)",
        lambda: see.run("stainless_shaft"),
        (
            Quantity(
                "centre after 45 min",
                "degC",
                lambda: _level("cylinder", 80 * 0.1 / 14.9, _SHAFT * 2700 / 0.1**2, 0.0, 600, 200),
                Tolerance(absolute=0.3),
                see.inner,
                364.129,
                360,
                "chart reading",
            ),
            Quantity(
                "heat per metre",
                "kJ/m",
                lambda: (
                    7.9
                    * 477
                    * math.pi
                    * 0.01
                    * 400
                    * (1 - series.mean_ratio("cylinder", 80 * 0.1 / 14.9, _SHAFT * 2700 / 0.1**2))
                ),
                Tolerance(share=0.005),
                lambda r: r.history.heat.left / 1000,
                30123.57,
                29359,
                "chart reading",
            ),
        ),
    ),
)


def _quenched(shape: str, printed: bool) -> Check:
    """A06; ``printed``: with the printed diffusivity, which does not agree with k/(rho c)."""
    alpha = 8.4e-5 if printed else 215 / (2700 * 900)
    biot, fo, size = 525 * 0.025 / 215, alpha * 60 / 0.025**2, 1.0 if shape == "plane" else math.pi * 0.025**2
    capacity = 2700 * 900 * 130 * (2 * 0.025 if shape == "plane" else size)  # of the whole plate, or of a metre
    name = "quenched_plate" if shape == "plane" else "quenched_cylinder"
    both = 2 if shape == "plane" else 1
    scale = both * (2700 * 900 * alpha / 215)
    changes = {"materials.stuff.density": 215 / alpha / 900} if printed else {}
    t, share, heat = {
        ("plane", False): (148.399, 0.3984331, 6293250),
        ("plane", True): (150.4411, 0.3827637, 6045753),
        ("cylinder", False): (117.1638, 0.6399265, 396926),
        ("cylinder", True): (119.6656, 0.6208263, 385078.8),
    }[shape, printed]
    p_t, p_share, p_heat = (147.7, 0.41, 6475950) if shape == "plane" else (118.4, 0.65, 403174)
    where = "quarter" if shape == "plane" else "half"
    tag = "printed diffusivity" if printed else "k/(rho c)"
    unit = "J/m2" if shape == "plane" else "J/m"
    note = "chart reading; printed diffusivity disagrees with k/(rho c)"
    return Check(
        "A06",
        f"aluminium {shape} quenched, {tag}",
        f"Holman, Heat Transfer, Examples 4-6 and 4-7, {COMPANION}",
        "verified (chart reading)",
        lambda: see.run(name, changes),
        (
            Quantity(
                f"{shape}, {tag}: halfway",
                "degC",
                lambda: _level(shape, biot, fo, 0.5, 200, 70),
                Tolerance(absolute=0.2),
                lambda r: see.probe(r, where),
                t,
                p_t,
                note,
            ),
            Quantity(
                f"{shape}, {tag}: share of the heat",
                "",
                lambda: 1 - series.mean_ratio(shape, biot, fo),
                Tolerance(share=0.005),
                lambda r: r.history.heat.left * scale / capacity,
                share,
                p_share,
                note,
            ),
            Quantity(
                f"{shape}, {tag}: heat given off",
                unit,
                lambda: capacity * (1 - series.mean_ratio(shape, biot, fo)),
                Tolerance(share=0.005),
                lambda r: r.history.heat.left * scale,
                heat,
                p_heat,
                note,
            ),
        ),
    )


def _softened() -> float:
    return series.fourier_to_reach("plane", math.inf, 210 / 280, 0.0) * 0.005**2 / (0.21 / (1990 * 1470))


ACRYLIC = Check(
    "A07",
    "acrylic sheet softened on one face",
    f"{BOOK}, Problem 5.50 with its printed solution",
    "verified",
    lambda: see.run("acrylic_softened_on_one_face"),
    (
        Quantity(
            "far face at 90 degC",
            "s",
            _softened,
            Tolerance(share=0.005),
            lambda r: see.crossing(r.history.time, see.celsius(r.history.inner_face), 90.0),
            73.98638,
            74,
        ),
        Quantity(
            "Fourier number then",
            "",
            lambda: series.fourier_to_reach("plane", math.inf, 210 / 280, 0.0),
            Tolerance(share=0.005),
            lambda r: (
                see.crossing(r.history.time, see.celsius(r.history.inner_face), 90.0) * 0.21 / (1990 * 1470) / 0.005**2
            ),
            0.2124519,
            0.214,
            "one term of the series",
        ),
        Quantity(
            "far face at the exact time",
            "degC",
            lambda: 90.0,
            Tolerance(absolute=0.1),
            lambda r: see.value_at(r.history.time, see.celsius(r.history.inner_face), _softened()),
            90.0,
        ),
    ),
)

_BALL = f"Holman, Example 4-1; Geankoplis, Example 5.2-1; Cengel, Example 4-1, {COMPANION}"
_BALL_FO = 43.3 / (7849 * 460.6) * 3600 / 0.0254**2
_BALL_BI = 11.36 * 0.0254 / 43.3
EVEN = {"materials.stuff.conductivity": 1e5}  # W/m/K: a ball of one temperature
BALLS = (
    Check(
        "A24",
        "steel ball in air",
        _BALL,
        "verified (lumped)",
        lambda: see.run("steel_ball"),
        (
            Quantity(
                "centre at 150 degC",
                "s",
                lambda: (
                    series.fourier_to_reach("sphere", 10 * 0.025 / 35, 50 / 350, 0.0) * 0.025**2 / (35 / (7800 * 460))
                ),
                Tolerance(share=0.005),
                lambda r: see.crossing(r.history.time, see.celsius(r.history.inner_face), 150.0),
                5832.995,
            ),
        ),
    ),
    Check(
        "A24",
        "steel ball in air, lumped",
        _BALL,
        "verified (lumped)",
        lambda: see.run("steel_ball", EVEN),
        (
            Quantity(
                "ball of one temperature at 150 degC",
                "s",
                lambda: lumped.convection_time(7800 * 460, 0.025 / 3, 10, 450, 100, 150),
                Tolerance(share=0.005),
                lambda r: see.crossing(r.history.time, see.celsius(r.history.inner_face), 150.0),
                5818.271,
                5818,
            ),
        ),
    ),
    Check(
        "A24",
        "steel ball for one hour, lumped",
        _BALL,
        "verified (lumped)",
        lambda: see.run("steel_ball_in_hour", EVEN),
        (
            Quantity(
                "ball of one temperature after one hour",
                "K",
                lambda: lumped.convection_temperature(7849 * 460.6, 0.0254 / 3, 11.36, 699.9, 394.3, 3600),
                Tolerance(absolute=0.2),
                lambda r: see.inner(r) + see.ZERO_CELSIUS,
                474.6349,
                474.6,
            ),
        ),
    ),
    Check(
        "A24",
        "steel ball for one hour",
        _BALL,
        "verified (lumped)",
        lambda: see.run("steel_ball_in_hour"),
        (
            Quantity(
                "centre after one hour",
                "K",
                lambda: _level("sphere", _BALL_BI, _BALL_FO, 0.0, 699.9, 394.3),
                Tolerance(absolute=0.2),
                lambda r: see.inner(r) + see.ZERO_CELSIUS,
                474.9388,
            ),
            Quantity(
                "heat given off",
                "J",
                lambda: (
                    7849
                    * 460.6
                    * 4
                    / 3
                    * math.pi
                    * 0.0254**3
                    * (699.9 - lumped.convection_temperature(7849 * 460.6, 0.0254 / 3, 11.36, 699.9, 394.3, 3600))
                ),
                Tolerance(share=0.005),
                lambda r: r.history.heat.left,
                55901.3,
                55901,
                "lumped",
            ),
        ),
    ),
    Check(
        "A24",
        "thermocouple bead",
        _BALL,
        "verified (lumped)",
        lambda: see.run("thermocouple_bead"),
        (
            Quantity(
                "99 % of the step",
                "s",
                lambda: lumped.convection_time(8500 * 320, 0.0005 / 3, 210, 0, 100, 99),
                Tolerance(share=0.005),
                lambda r: see.crossing(r.history.time, see.celsius(r.history.inner_face), 99.0),
                9.94132,
                10,
                "rounded",
            ),
        ),
    ),
)

CHECKS = (
    PIPE,
    PIPE_PRINTED,
    EGG,
    *PLATE_AND_SHAFT,
    *(_quenched(shape, printed) for shape in ("plane", "cylinder") for printed in (False, True)),
    ACRYLIC,
    *BALLS,
)
