"""Dipping: films that are drawn out and drain, a hot former in paste, a coated rod: H01, H02, H04 to H07."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import dipping, films
from validation.references.layered_cylinder import CoatedRod

G = 9.80665  # m/s2, standard
FILM = Tolerance(share=0.01)
FRONT = Tolerance(share=0.02)
GELATION = (0.0125, 80e3, 85.0, 0.4)  # the library's set: rate [1/s], energy [J/mol], at [degC]; degree that stays
PASTE = dipping.FormerInPaste(9000.0, 0.17, 1250.0 * 1550.0, 170.0, 25.0)
HELD = dipping.HeldFace(0.17 / (1250.0 * 1550.0), 170.0, 25.0)
TIMES = (10.0, 30.0, 60.0, 120.0)


def _drag_out() -> Any:
    from thermokit.exchange import drag_out

    return drag_out


DRAWN = Check(
    "H01",
    "film drawn out of a bath: Landau and Levich, and with gravity",
    "Landau & Levich (1942); White & Tallmadge (1965) as quoted by Deen",
    "verified (formulas); the numbers are computed",
    _drag_out,
    (
        Quantity(
            "constant of the film of a low capillary number",
            "",
            films.landau_levich_constant,
            FILM,
            lambda o: (
                float(o.thickness_plate_landau_levich(0.5, 1e-3, 0.030, 1000.0))
                / float(o.capillary_length(0.030, 1000.0))
                / float(o.capillary_number(0.5, 1e-3, 0.030)) ** (2 / 3)
            ),
            0.9457449,
            0.944,
        ),
        *(
            quantity
            for name, (mu, speed, tension, density), number, length in (
                ("dilute paste", (0.5, 1e-3, 0.030, 1000.0), 0.01666667, 1.748744),
                ("PVC paste", (2.0, 5e-3, 0.033, 1200.0), 0.3030303, 1.674294),
            )
            for quantity in (
                Quantity(
                    f"{name}: capillary number",
                    "",
                    lambda mu=mu, speed=speed, tension=tension: mu * speed / tension,
                    FILM,
                    lambda o, mu=mu, speed=speed, tension=tension: float(o.capillary_number(mu, speed, tension)),
                    number,
                ),
                Quantity(
                    f"{name}: capillary length",
                    "mm",
                    lambda tension=tension, density=density: 1e3 * (tension / (density * G)) ** 0.5,
                    FILM,
                    lambda o, tension=tension, density=density: 1e3 * float(o.capillary_length(tension, density)),
                    length,
                ),
            )
        ),
        Quantity(
            "PVC paste by Landau and Levich, beyond their range",
            "um",
            lambda: 1e6 * dipping.landau_levich(2.0, 5e-3, 0.033, 1200.0, G),
            FILM,
            lambda o: 1e6 * float(o.thickness_plate_landau_levich(2.0, 5e-3, 0.033, 1200.0)),
            713.063,
        ),
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


def _mean_of_the_top(drag_out: Any) -> float:
    """Mean film over the top 0.2 m after 60 s [mm], by the midpoint rule in sqrt(x), in which it is a straight line."""
    root = (np.arange(200) + 0.5) / 200 * 0.2**0.5
    film = drag_out.thickness_draining_jeffreys(2.0, 1200.0, root**2, 60.0)
    return float(1e3 * np.sum(film * 2.0 * root) * 0.2**0.5 / 200 / 0.2)


def _time_to_residue(drag_out: Any) -> float:
    """Time [s] at which the draining film 0.2 m below the top is as thick as what 5 Pa holds."""
    from scipy.optimize import brentq

    residue = float(drag_out.thickness_yield_stress(5.0, 1200.0))
    return float(
        brentq(
            lambda t: float(drag_out.thickness_draining_jeffreys(2.0, 1200.0, 0.2, t)) - residue, 1.0, 1e4, xtol=1e-9
        )
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
        Quantity(
            "mean of the top 0.2 m after 60 s",
            "mm",
            lambda: 1e3 * 2.0 / 3.0 * dipping.jeffreys(2.0, 1200.0, 0.2, 60.0, G),
            FILM,
            _mean_of_the_top,
            0.5016929,
        ),
        Quantity(
            "time to the residue of 5 Pa, 0.2 m below the top",
            "s",
            lambda: 2.0 * 0.2 * 1200.0 * G / 5.0**2,
            FILM,
            _time_to_residue,
            188.352,
        ),
    ),
)


def _dipped(name: str, capacity: float) -> tuple[Any, Any]:
    """(run, gelled wall against dwell) of a former of so much heat [J/m2/K]."""
    see.load(see.CASES / f"{name}.toml", {"former.layers.former.thickness": 2.5e-3 * capacity / 9000.0})
    return _solved(name, capacity)


@lru_cache(maxsize=3)
def _solved(name: str, capacity: float) -> tuple[Any, Any]:
    import thermokit
    from thermokit.processes.dip import DipProcess
    from thermokit.processes.dip_wall import wall_curves
    from thermokit.processes.run import settled

    case = thermokit.load_case(see.CASES / f"{name}.toml")
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
    falling = np.concatenate([[_former(outcome, time)], row])
    return 1e3 * float(np.interp(-70.0, -falling, np.concatenate([[0.0], paste.depth])))


FORMER = Check(
    "H04",
    "hot former dipped in paste: the former cools, the 70 degC isotherm moves out",
    "Carslaw & Jaeger, section 12 (from memory)",
    "computed, two methods",
    lambda: _dipped("hot_former_in_paste", 9000.0),
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
)

TURNING_BACK = Check(
    "H04",
    "hot former dipped in paste for ten minutes: the 70 degC isotherm turns back",
    "Carslaw & Jaeger, section 12 (from memory)",
    "computed, two methods",
    lambda: _dipped("hot_former_in_deep_paste", 9000.0),
    tuple(
        Quantity(
            f"70 degC after {t:g} s",
            "mm",
            lambda t=t: 1e3 * PASTE.depth(70.0, t),
            FRONT,
            lambda o, t=t: _isotherm(o, t),
            recorded,
        )
        for t, recorded in ((300.0, 3.034371), (600.0, 0.1280515))
    ),
)

GELLED = Check(
    "H05",
    "gel front on a former that cools",
    "Carslaw & Jaeger, section 12, and quadrature of the gelation law in time",
    "computed",
    lambda: _dipped("hot_former_in_paste", 9000.0),
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
)

SIMILAR = Check(
    "H06",
    "gel front on a face that keeps its temperature",
    "Carslaw & Jaeger, section 2.4, and quadrature of the gelation law in time",
    "computed",
    lambda: _dipped("hot_former_in_paste", 9e6),
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
)

CHECKS = (COATED, DRAWN, DRAINED, FORMER, TURNING_BACK, GELLED, SIMILAR)
