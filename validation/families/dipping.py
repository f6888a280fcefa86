"""Dipping: films that are drawn out and drain, a hot former in paste, convection on formers: H01, H02, H04, E02 to E04."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import dipping
from validation.references.layered_cylinder import CoatedRod

G = 9.80665  # m/s2, standard
FILM = Tolerance(share=0.01)
HEAT = Tolerance(share=0.005)
FRONT = Tolerance(share=0.02)
GELATION = (0.0125, 80e3, 85.0, 0.4)  # the library's set: rate [1/s], energy [J/mol], at [degC]; degree that stays
PASTE = dipping.FormerInPaste(9000.0, 0.17, 1250.0 * 1550.0, 170.0, 25.0)
HELD = dipping.HeldFace(0.17 / (1250.0 * 1550.0), 170.0, 25.0)
TIMES = (10.0, 30.0, 60.0, 120.0)


def _drag_out() -> Any:
    from thermokit.exchange import drag_out

    return drag_out


def _convection() -> Any:
    from thermokit.exchange import convection

    return convection


DRAWN = Check(
    "H01",
    "film drawn out of a bath: Landau and Levich, and with gravity",
    "Landau & Levich (1942); White & Tallmadge (1965) as quoted by Deen",
    "verified (formulas); the numbers are computed",
    _drag_out,
    (
        Quantity(
            "dilute paste, low capillary number",
            "um",
            lambda: 1e6 * dipping.landau_levich(0.5, 1e-3, 0.030, 1000.0, G),
            FILM,
            lambda o: 1e6 * float(o.thickness_plate_landau_levich(0.5, 1e-3, 0.030, 1000.0)),
            107.712,
        ),
        Quantity(
            "the same with gravity",
            "um",
            lambda: 1e6 * dipping.with_gravity(0.5, 1e-3, 0.030, 1000.0, G),
            FILM,
            lambda o: 1e6 * float(o.thickness_plate_white_tallmadge(0.5, 1e-3, 0.030, 1000.0)),
            94.67991,
        ),
        Quantity(
            "PVC paste with gravity",
            "um",
            lambda: 1e6 * dipping.with_gravity(2.0, 5e-3, 0.033, 1200.0, G),
            FILM,
            lambda o: 1e6 * float(o.thickness_plate_white_tallmadge(2.0, 5e-3, 0.033, 1200.0)),
            539.2608,
        ),
    ),
)

DRAINED = Check(
    "H02",
    "draining film and what a yield stress holds",
    "Jeffreys (1930); yield-stress film tau/(rho g)",
    "from memory (formulas); the numbers are computed",
    _drag_out,
    (
        *(
            Quantity(
                f"{x:g} m below the top after {t:g} s",
                "mm",
                lambda x=x, t=t: 1e3 * dipping.jeffreys(2.0, 1200.0, x, t, G),
                FILM,
                lambda o, x=x, t=t: 1e3 * float(o.thickness_draining_jeffreys(2.0, 1200.0, x, t)),
                recorded,
            )
            for x, t, recorded in (
                (0.05, 10.0, 0.9216688),
                (0.05, 60.0, 0.3762697),
                (0.2, 10.0, 1.843338),
                (0.2, 60.0, 0.7525394),
            )
        ),
        *(
            Quantity(
                f"residue of {tau:g} Pa",
                "mm",
                lambda tau=tau: 1e3 * tau / (1200.0 * G),
                FILM,
                lambda o, tau=tau: 1e3 * float(o.thickness_yield_stress(tau, 1200.0)),
                recorded,
            )
            for tau, recorded in ((2.0, 0.1698947), (5.0, 0.4247367), (10.0, 0.8494733))
        ),
    ),
)


@lru_cache(maxsize=2)
def _dipped(capacity: float) -> tuple[Any, Any]:
    """(run, gelled wall against dwell) of a former of so much heat [J/m2/K]."""
    import thermokit
    from thermokit.processes.dip import DipProcess
    from thermokit.processes.dip_wall import wall_curves
    from thermokit.processes.run import settled

    case = thermokit.load_case(see.CASES / "hot_former_in_paste.toml")
    case = case.with_values({"former.layers.former.thickness": 2.5e-3 * capacity / 9000.0})
    process = DipProcess(case)
    solved = settled(case, process)
    return solved.travel, wall_curves(process, solved.travel, 0.02)[0]


def _former(outcome: tuple[Any, Any], time: float) -> float:
    history = outcome[0].history
    i = int(np.argmin(np.abs(history.time - time)))
    return float(see.celsius(history.temperature[i, 0]))


def _isotherm(outcome: tuple[Any, Any], time: float) -> float:
    """Depth of 70 degC in the paste [mm]."""
    paste = outcome[0].companions["paste_1"]
    row = see.celsius(paste.temperature[int(np.argmin(np.abs(paste.time - time)))])
    return 1e3 * float(np.interp(-70.0, -row, paste.depth))


FORMER = Check(
    "H04",
    "hot former dipped in paste: the former cools, the 70 degC isotherm moves out",
    "Carslaw & Jaeger, section 12 (from memory)",
    "computed, two methods",
    lambda: _dipped(9000.0),
    (
        *(
            Quantity(
                f"former after {t:g} s",
                "degC",
                lambda t=t: PASTE.temperature(0.0, t),
                Tolerance(absolute=0.5),
                lambda o, t=t: _former(o, t),
                recorded,
            )
            for t, recorded in zip(TIMES, (142.1153, 126.7843, 114.7272, 101.3428), strict=True)
        ),
        *(
            Quantity(
                f"70 degC after {t:g} s",
                "mm",
                lambda t=t: 1e3 * PASTE.depth(70.0, t),
                FRONT,
                lambda o, t=t: _isotherm(o, t),
                recorded,
            )
            for t, recorded in zip(TIMES, (1.214276, 1.935151, 2.497724, 3.033744), strict=True)
        ),
    ),
    long=True,
)

GELLED = Check(
    "H05",
    "gel front on a former that cools",
    "Carslaw & Jaeger, section 12, and quadrature of the gelation law in time",
    "computed",
    lambda: _dipped(9000.0),
    tuple(
        Quantity(
            f"front after {t:g} s",
            "mm",
            lambda t=t: 1e3 * dipping.gel_front(PASTE.temperature, t, *GELATION),
            FRONT,
            lambda o, t=t: 1e3 * o[1].at(t),
        )
        for t in TIMES
    ),
    long=True,
)

SIMILAR = Check(
    "H06",
    "gel front on a face that keeps its temperature",
    "Carslaw & Jaeger, section 2.4, and quadrature of the gelation law in time",
    "computed",
    lambda: _dipped(9e6),
    tuple(
        Quantity(
            f"front after {t:g} s",
            "mm",
            lambda t=t: 1e3 * dipping.gel_front(HELD.temperature, t, *GELATION),
            FRONT,
            lambda o, t=t: 1e3 * o[1].at(t),
        )
        for t in TIMES
    ),
    long=True,
)

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
            lambda: 40.63709,
            HEAT,
            lambda o: float(o.nusselt_cylinder_churchill_bernstein(6071.0, 0.70)),
            40.63709,
            40.6,
        ),
        Quantity(
            "h, 12.7 mm in 10 m/s",
            "W/m2/K",
            lambda: 95.99095,
            HEAT,
            lambda o: float(o.nusselt_cylinder_churchill_bernstein(10 * 12.7e-3 / 20.92e-6, 0.70)) * 0.0300 / 12.7e-3,
            95.99095,
            96,
        ),
        Quantity(
            "h by Zukauskas",
            "W/m2/K",
            lambda: 104.6312,
            HEAT,
            lambda o: float(o.nusselt_cylinder_zukauskas(10 * 12.7e-3 / 15.89e-6, 0.707, 0.690)) * 0.0263 / 12.7e-3,
            104.6312,
            105,
            "rounded",
        ),
        Quantity(
            "h of a 90 mm former in 2 m/s",
            "W/m2/K",
            lambda: 16.52808,
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
            lambda: 570.4656,
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
            lambda: 1370.245,
            HEAT,
            lambda o: _strips(o, 1) - _strips(o, 0),
            1370.245,
            1370,
        ),
        Quantity("strip 5 of 6", "W", lambda: 1017.55, HEAT, lambda o: _strips(o, 5) - _strips(o, 4), 1017.55, 1017),
        Quantity("strip 6 of 6", "W", lambda: 1427.575, HEAT, lambda o: _strips(o, 6) - _strips(o, 5), 1427.575, 1427),
    ),
)


def _strips(o: Any, count: int) -> float:
    """Heat of so many strips of 50 mm in a row [W], 1 m wide, 60 m/s, 205 K above the air."""
    return float(o.nusselt_plate(60 * 0.05 * count / 26.41e-6, 0.690)) * 0.0338 * 205.0


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
            lambda: 1.812528e9,
            HEAT,
            lambda o: float(o.rayleigh(0.0025, 232 - 23, 0.71, 26.4e-6, 38.3e-6)),
            1.812528e9,
            1.813e9,
            "g = 9.8",
        ),
        Quantity(
            "Nu",
            "1",
            lambda: 147.1071,
            HEAT,
            lambda o: float(o.nusselt_vertical_plate_churchill_chu(1.812528e9, 0.690)),
            147.1071,
            147,
        ),
        Quantity(
            "heat of the screen",
            "W",
            lambda: 1059.978,
            HEAT,
            lambda o: (
                float(o.nusselt_vertical_plate_churchill_chu(1.812528e9, 0.690)) * 0.0338 / 0.71 * 0.71 * 1.02 * 209
            ),
            1059.978,
            1060,
        ),
    ),
)

ROD = CoatedRod(0.010, 0.012, (1.5, 2350.0 * 900.0), (0.15, 1180.0 * 1700.0), 60.0, 45.0, 190.0)

COATED = Check(
    "H07",
    "layered cylinder: a coated rod in an oven",
    "Carslaw & Jaeger, section 13.8; Laplace inversion",
    "computed",
    lambda: see.run("coated_rod_in_oven"),
    tuple(
        Quantity(
            f"{name} after {t:g} s",
            "degC",
            lambda r=r, t=t: ROD.temperature(r, t),
            Tolerance(absolute=0.1),
            lambda o, t=t, find=find: find(o, t),
        )
        for t in (60.0, 300.0, 900.0)
        for name, r, find in (
            ("axis", 1e-9, see.inner),
            ("joint", 0.010, lambda o, t: see.joint(o, 0, (1.5, 0.15), None, see.row_of(o, t))[0]),
            ("skin", 0.012, see.outer),
        )
    ),
    long=True,
)

CHECKS = (COATED, DRAWN, DRAINED, FORMER, GELLED, SIMILAR, CYLINDER, PLATE, FREE)
