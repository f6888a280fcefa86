"""Air on a plate, a cylinder, a ball and an upright screen, and usual coefficients: E02 to E04, E14, T01."""

from __future__ import annotations

from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Bound, Check, Quantity, Tolerance
from validation.references import films, lumped

HEAT = Tolerance(share=0.005)


def _convection() -> Any:
    from thermokit.exchange import convection

    return convection


CYLINDER = Check(
    "E03",
    "cylinder in cross flow: Churchill and Bernstein, Zukauskas",
    "Incropera et al., Example 7.4",
    "verified (Nu 40.6; h about 104 to 105)",
    _convection,
    (
        Quantity(
            "Nu at Re 6071",
            "1",
            lambda: films.cylinder(6071.0, 0.70),
            HEAT,
            lambda o: float(o.nusselt_cylinder_churchill_bernstein(6071.0, 0.70)),
            40.63709,
            40.63709,
            "documented with the library ht; the book prints 40.6",
        ),
        Quantity(
            "h, 12.7 mm in 10 m/s",
            "W/m2/K",
            lambda: films.cylinder(10 * 12.7e-3 / 20.92e-6, 0.70) * 0.0300 / 12.7e-3,
            HEAT,
            lambda o: float(o.nusselt_cylinder_churchill_bernstein(10 * 12.7e-3 / 20.92e-6, 0.70)) * 0.0300 / 12.7e-3,
            95.99095,
            96,
        ),
        Quantity(
            "h by Zukauskas",
            "W/m2/K",
            lambda: films.cylinder_zukauskas(10 * 12.7e-3 / 15.89e-6, 0.707, 0.690) * 0.0263 / 12.7e-3,
            HEAT,
            lambda o: float(o.nusselt_cylinder_zukauskas(10 * 12.7e-3 / 15.89e-6, 0.707, 0.690)) * 0.0263 / 12.7e-3,
            104.6312,
            105,
            "rounded",
        ),
        Quantity(
            "h of a 90 mm former in 2 m/s",
            "W/m2/K",
            lambda: films.cylinder(2 * 0.09 / 22.74e-6, 0.695) * 0.0318 / 0.09,
            HEAT,
            lambda o: float(o.nusselt_cylinder_churchill_bernstein(2 * 0.09 / 22.74e-6, 0.695)) * 0.0318 / 0.09,
            16.52808,
        ),
    ),
)

PLATE = Check(
    "E02",
    "flat plate: laminar, and laminar then turbulent",
    "Incropera et al., Examples 7.1 and 7.2, as transcribed in a public textbook companion",
    "verified (570 W/m)",
    _convection,
    (
        Quantity(
            "laminar: heat",
            "W/m",
            lambda: films.plate_laminar(10 * 0.5 / (30.84e-6 * 101325 / 6000), 0.687) * 0.0364 * (300 - 27),
            HEAT,
            lambda o: (
                float(o.nusselt_plate(10 * 0.5 / (30.84e-6 * 101325 / 6000), 0.687)) * 0.0364 / 0.5 * 0.5 * (300 - 27)
            ),
            570.4656,
            570,
        ),
        Quantity(
            "strip 1 of 6",
            "W",
            lambda: _strip(1),
            HEAT,
            lambda o: _strips(o, 1) - _strips(o, 0),
            1370.245,
            1370,
        ),
        Quantity("strip 5 of 6", "W", lambda: _strip(5), HEAT, lambda o: _strips(o, 5) - _strips(o, 4), 1017.55, 1017),
        Quantity("strip 6 of 6", "W", lambda: _strip(6), HEAT, lambda o: _strips(o, 6) - _strips(o, 5), 1427.575, 1427),
    ),
)


def _strips(o: Any, count: int) -> float:
    """Heat of so many strips of 50 mm in a row [W], 1 m wide, 60 m/s, 205 K above the air."""
    return float(o.nusselt_plate(60 * 0.05 * count / 26.41e-6, 0.690)) * 0.0338 * 205.0


def _strip(number: int) -> float:
    """The same of one strip, by the formulas written out again."""
    first, last = (films.plate(60 * 0.05 * n / 26.41e-6, 0.690) if n else 0.0 for n in (number - 1, number))
    return (last - first) * 0.0338 * 205.0


def _upright(grashof_prandtl: float) -> float:
    return films.upright_plate(grashof_prandtl, 0.690)


SCREEN = 9.8 * 0.0025 * (232 - 23) * 0.71**3 / (26.4e-6 * 38.3e-6)  # Ra, with the book's g

FREE = Check(
    "E04",
    "natural convection on a vertical plate: Churchill and Chu",
    "Incropera et al., Example 9.2, as transcribed in a public textbook companion",
    "verified (Ra 1.81e9, Nu 147, 1060 W)",
    _convection,
    (
        Quantity(
            "Ra",
            "1",
            lambda: SCREEN,
            HEAT,
            lambda o: float(o.rayleigh(0.0025, 232 - 23, 0.71, 26.4e-6, 38.3e-6)),
            1.812528e9,
            1.813e9,
            "g = 9.8",
        ),
        Quantity(
            "Nu",
            "1",
            lambda: _upright(SCREEN),
            HEAT,
            lambda o: float(o.nusselt_vertical_plate_churchill_chu(SCREEN, 0.690)),
            147.1071,
            147,
        ),
        Quantity(
            "Nu at Gr 2.63e9",
            "1",
            lambda: _upright(2.63e9 * 0.690),
            HEAT,
            lambda o: float(o.nusselt_vertical_plate_churchill_chu(2.63e9 * 0.690, 0.690)),
            147.1619,
            147.1619,
            "documented with the library ht",
        ),
        Quantity(
            "h",
            "W/m2/K",
            lambda: _upright(SCREEN) * 0.0338 / 0.71,
            HEAT,
            lambda o: float(o.nusselt_vertical_plate_churchill_chu(SCREEN, 0.690)) * 0.0338 / 0.71,
            7.003127,
            7.0,
        ),
        Quantity(
            "heat of the screen",
            "W",
            lambda: _upright(SCREEN) * 0.0338 / 0.71 * 0.71 * 1.02 * 209,
            HEAT,
            lambda o: float(o.nusselt_vertical_plate_churchill_chu(SCREEN, 0.690)) * 0.0338 / 0.71 * 0.71 * 1.02 * 209,
            1059.978,
            1060,
        ),
    ),
)

COPPER = (8933.0 * 388.0, 0.010 / 6.0)  # J/m3/K, m: heat capacity, volume over area of the ball
BALL_RE, BALL_RATIO = 10 * 0.010 / 15.53e-6, 182.6e-7 / 197.8e-7


def _ball() -> dict[str, float]:
    """Coefficient on a copper ball in air [W/m2/K], and how long it then takes from 75 to 35 degC [s]."""
    from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Span
    from thermokit.conduction.single import solve
    from thermokit.exchange.convection import nusselt_sphere_whitaker

    h = float(nusselt_sphere_whitaker(BALL_RE, 0.708, BALL_RATIO)) * 0.0251 / 0.010
    layer = Layer(Medium(8933.0, 399.0, 388.0), 0.005, np.linspace(0.0, 1.0, 11), 75.0 + see.ZERO_CELSIUS)
    air = Face(exchange=(Exchange(h, 23.0 + see.ZERO_CELSIUS),))
    history = solve(Problem((layer,), (Span(100.0, Face(), air),), "sphere"), np.linspace(0.0, 100.0, 101), 1e-3)
    return {"h": h, "time": see.crossing(history.time, see.celsius(history.inner_face), 35.0)}


def _ball_h() -> float:
    return films.sphere(BALL_RE, 0.708, BALL_RATIO) * 0.0251 / 0.010


BALL = Check(
    "E14",
    "copper ball cooled by air: Whitaker",
    "Incropera et al., Example 7.6, as transcribed in a public textbook companion",
    "verified (71.2 s)",
    _ball,
    (
        Quantity("(b) h on the ball", "W/m2/K", _ball_h, HEAT, lambda o: o["h"], 118.3044),
        Quantity(
            "(b) from 75 to 35 degC",
            "s",
            lambda: lumped.convection_time(*COPPER, _ball_h(), 75, 23, 35),
            HEAT,
            lambda o: o["time"],
            71.5996,
            71.2,
            "what an h of 119 would give: rounded on the way",
        ),
    ),
)


def _usual_air() -> dict[str, float]:
    """Total coefficients [W/m2/K] of usual faces: air by correlation, radiation to black walls as the air, emissivity 0.9."""
    from thermokit.case import parse_case, template
    from thermokit.exchange.air_film import coefficient_of_air

    def total(speed: float, surface: float, air: float) -> float:
        film = float(coefficient_of_air("plane", 0.5, 0.5, speed, surface + see.ZERO_CELSIUS, air + see.ZERO_CELSIUS))
        mean = (surface + air) / 2.0 + see.ZERO_CELSIUS
        return film + 0.9 * 4.0 * 5.670374419e-8 * mean**3

    mould: Any = parse_case(template("mould"), "mould.toml")
    return {
        "still": total(0.0, 50.0, 20.0),
        "slow": total(2.0, 100.0, 180.0),
        "fast": total(8.0, 100.0, 180.0),
        "contact": float(mould.mould.shrunk_contact),
    }


USUAL_AIR = Check(
    "T01",
    "usual heat transfer coefficients",
    "common practice",
    "common practice, no source",
    _usual_air,
    (
        Bound("T01.8 still air and radiation, plate of 50 degC", "W/m2/K", 8.0, 12.0, lambda o: o["still"]),
        Bound(
            "T01.8 circulating air of 2 m/s and radiation, sheet of 100 degC", "W/m2/K", 15.0, 60.0, lambda o: o["slow"]
        ),
        Bound(
            "T01.8 circulating air of 8 m/s and radiation, sheet of 100 degC", "W/m2/K", 15.0, 60.0, lambda o: o["fast"]
        ),
        Bound(
            "T01.8 contact with a cooled metal mould in the starting case",
            "W/m2/K",
            500.0,
            3000.0,
            lambda o: o["contact"],
        ),
    ),
)

CHECKS = (CYLINDER, PLATE, FREE, BALL, USUAL_AIR)
