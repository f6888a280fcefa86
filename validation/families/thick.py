"""Thick bodies, joints and moving faces: A08, A09, A11, A12, A18."""

from __future__ import annotations

import math

from validation import measure as see
from validation.checks import Bound, Check, Quantity, Tolerance
from validation.references import plane_series, thick_body
from validation.references.layered_laplace import Sheet, Side, temperature

COMPANION = "as transcribed with its printed result in a public textbook companion"
KELVIN_TENTH = Tolerance(absolute=0.1)


def _flux_sheet() -> Check:
    recorded = {
        (10, "heated face"): 52.57821,
        (10, "mid"): 27.99707,
        (10, "insulated face"): 22.1221,
        (40, "heated face"): 89.40062,
        (40, "mid"): 61.31944,
        (40, "insulated face"): 51.98827,
        (120, "heated face"): 178.3333,
        (120, "mid"): 150.2083,
        (120, "insulated face"): 140.8333,
    }
    depth = {"heated face": 0.003, "mid": 0.0015, "insulated face": 0.0}
    find = {
        "heated face": lambda r, t: see.outer(r, t),
        "mid": lambda r, t: see.probe(r, "mid", t),
        "insulated face": lambda r, t: see.inner(r, t),
    }
    return Check(
        "A08",
        "sheet heated by a constant flux on one face",
        "Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., section 3.8",
        "computed",
        lambda: see.run("sheet_under_constant_flux"),
        tuple(
            Quantity(
                f"{where} after {t} s",
                "degC",
                lambda t=t, where=where: 20 + plane_series.constant_flux(depth[where], t, 0.003, 0.2, 1.5e6, 5000),
                KELVIN_TENTH,
                lambda r, t=t, where=where: find[where](r, float(t)),
                value,
            )
            for (t, where), value in recorded.items()
        ),
    )


_STEEL = "Holman, Heat Transfer, Example 4-2, " + COMPANION
THICK = (
    Check(
        "A09",
        "thick steel, face held",
        _STEEL,
        "verified",
        lambda: see.run("thick_steel_held"),
        (
            Quantity(
                "(a) 25 mm deep after 30 s",
                "degC",
                lambda: thick_body.step_temperature(0.025, 30, 1.4e-5, 35, 250),
                KELVIN_TENTH,
                lambda r: see.probe(r, "depth_25"),
                118.499,
                118.5,
            ),
        ),
    ),
    Check(
        "A09",
        "thick steel under a constant flux",
        _STEEL,
        "verified",
        lambda: see.run("thick_steel_heated"),
        (
            Quantity(
                "(b) 25 mm deep after 30 s",
                "degC",
                lambda: thick_body.step_flux(0.025, 30, 1.4e-5, 45, 35, 3.2e5),
                KELVIN_TENTH,
                lambda r: see.probe(r, "depth_25"),
                79.31416,
                79.3,
            ),
            Quantity(
                "(b) surface after 30 s",
                "degC",
                lambda: thick_body.step_flux(0.0, 30, 1.4e-5, 45, 35, 3.2e5),
                KELVIN_TENTH,
                see.inner,
                199.4437,
                199.4,
            ),
        ),
    ),
    Check(
        "A09",
        "soil meets cold air",
        "Geankoplis, Transport Processes and Unit Operations, Example 5.3-1, " + COMPANION,
        "verified",
        lambda: see.run("soil_in_cold_air"),
        (
            Quantity(
                "(c) surface after 5 h",
                "degC",
                lambda: thick_body.convection(0.0, 18000, 4.65e-7, 0.865, 11.36, 15.6, -17.8),
                KELVIN_TENTH,
                see.inner,
                -5.167882,
                -5.2,
            ),
            Quantity(
                "(c) depth of 0 degC",
                "m",
                lambda: thick_body.depth_of_isotherm(0.0, 18000, 4.65e-7, 0.865, 11.36, 15.6, -17.8),
                # 0.1 K of temperature, over the gradient of about 145 K/m at that depth
                Tolerance(absolute=0.1 / 145),
                lambda r: see.depth_of(r, 0.0),
                0.03312043,
                0.0293,
                "chart reading",
            ),
        ),
    ),
)

_ACRYLIC = thick_body.effusivity(0.19, 1180, 1470)
_ALUMINIUM = thick_body.effusivity(160, 2700, 900)
_FOAM = thick_body.effusivity(0.035, 100, 1400)
_A1 = 0.19 / (1180 * 1470)


def _acrylic_joint(mould: float) -> float:
    return thick_body.contact_temperature(_ACRYLIC, 170, mould, 40)


TOUCH = (
    Check(
        "A11",
        "hot acrylic meets an aluminium mould",
        "Incropera et al., section 5.7 (two semi-infinite solids)",
        "computed",
        lambda: see.run("hot_acrylic_on_aluminium"),
        (
            Quantity(
                "joint, aluminium",
                "degC",
                lambda: _acrylic_joint(_ALUMINIUM),
                Tolerance(absolute=0.2),
                lambda r: see.joint(r, 0, (0.19, 160), None, -1)[0],
                43.67784,
            ),
            Quantity(
                "acrylic 0.5 mm from the joint",
                "degC",
                lambda: thick_body.step_temperature(0.0005, 2, _A1, 170, _acrylic_joint(_ALUMINIUM)),
                Tolerance(absolute=0.2),
                lambda r: see.probe(r, "half_millimetre"),
                113.152,
            ),
            Quantity(
                "acrylic 1 mm from the joint",
                "degC",
                lambda: thick_body.step_temperature(0.001, 2, _A1, 170, _acrylic_joint(_ALUMINIUM)),
                Tolerance(absolute=0.2),
                lambda r: see.probe(r, "one_millimetre"),
                153.4705,
            ),
            Quantity(
                "flux into the mould",
                "W/m2",
                lambda: thick_body.contact_flux(_ACRYLIC, 170, _ALUMINIUM, 40, 2.0),
                # 0.2 K of the 126 K between acrylic and joint
                Tolerance(share=0.2 / 126),
                lambda r: see.joint(r, 0, (0.19, 160), None, -1)[2],
                28931.18,
            ),
            Bound(
                "T01.7 joint above the metal mould",
                "K",
                0.0,
                5.0,
                lambda r: see.joint(r, 0, (0.19, 160), None, -1)[0] - 40,
                "a metal mould drops the surface to within about 5 K of it",
            ),
        ),
    ),
    Check(
        "A11",
        "hot acrylic meets a foam mould",
        "Incropera et al., section 5.7 (two semi-infinite solids)",
        "computed",
        lambda: see.run("hot_acrylic_on_foam"),
        (
            Quantity(
                "joint, foam",
                "degC",
                lambda: _acrylic_joint(_FOAM),
                Tolerance(absolute=0.2),
                lambda r: see.joint(r, 0, (0.19, 0.035), None, -1)[0],
                155.8714,
            ),
            Bound(
                "T01.7 joint above the foam mould",
                "K",
                100.0,
                130.0,
                lambda r: see.joint(r, 0, (0.19, 0.035), None, -1)[0] - 40,
                "a foam mould does not cool the surface at once",
            ),
        ),
    ),
)

_SHEETS = (Sheet(0.003, 0.20, 1050 * 2000, 200, 2000.0), Sheet(0.015, 30, 7800 * 460, 40))


def _two_layers() -> Check:
    places = {
        "polymer mid-plane": (0, 0.0),
        "polymer side of the joint": (0, 0.003),
        "steel side of the joint": (1, 0.0),
        "steel outer face": (1, 0.015),
    }
    recorded = {
        5: (199.5218, 60.25889, 47.90372, 34.30801),
        20: (165.5327, 49.39331, 42.83615, 32.78544),
        60: (86.85586, 35.36743, 32.49009, 27.23549),
    }
    find = {
        "polymer mid-plane": lambda r, t: see.inner(r, t),
        "polymer side of the joint": lambda r, t: see.joint(r, 0, (0.2, 30), 2000, see.row_of(r, t))[0],
        "steel side of the joint": lambda r, t: see.joint(r, 0, (0.2, 30), 2000, see.row_of(r, t))[1],
        "steel outer face": lambda r, t: see.outer(r, t),
    }
    return Check(
        "A12",
        "polymer on a cooled steel plate with contact resistance",
        "exact Laplace transform of the two layers, inverted by mpmath (Talbot)",
        "computed",
        lambda: see.run("polymer_on_cooled_steel"),
        tuple(
            Quantity(
                f"{where} after {t} s",
                "degC",
                lambda t=t, place=place: temperature(_SHEETS, Side(), Side(2000, 20), *place, t),
                Tolerance(absolute=0.3),
                lambda r, t=t, where=where: find[where](r, float(t)),
                recorded[t][i],
            )
            for t in recorded
            for i, (where, place) in enumerate(places.items())
        ),
    )


T3 = Check(
    "A18",
    "NAFEMS T3: bar with a sinusoidal face",
    "The Standard NAFEMS Benchmarks, Rev. 3 (1990), test T3",
    "verified",
    lambda: see.run("bar_with_sinusoidal_face"),
    (
        Quantity(
            "80 mm, 32 s",
            "degC",
            lambda: plane_series.sinusoidal_face(0.08, 32, 0.1, 35 / (7200 * 440.5), 100, math.pi / 40),
            KELVIN_TENTH,
            lambda r: see.probe(r, "near_the_end"),
            36.60304,
            36.60,
        ),
    ),
)

CHECKS = (_flux_sheet(), *THICK, *TOUCH, _two_layers(), T3)
