"""Laws of continuous lines: flow in tubes, friction heat, the nip of a calender, air under a web, a moving face: L01 to L05."""

from __future__ import annotations

import math
from typing import Any

from thermokit.exchange import baths, channel_flow, nip_heat, sheared_layer
from thermokit.exchange.roll_contact import FOIL
from validation.checks import Check, Quantity, Tolerance
from validation.references import line_graetz, line_moving, line_nip

SHARE = Tolerance(share=0.005)

# -- L01: Graetz -------------------------------------------------------------------------------------------------------

_GRAETZ = Check(
    "L01",
    "Graetz: laminar flow in a tube of even wall temperature",
    "Graetz series; Sellars, Tribus & Klein (1956); far down the tube OEIS A282581",
    "verified",
    lambda: None,
    (
        Quantity(
            "Nu far down", "", line_graetz.tube_nusselt_far, SHARE,
            lambda _: float(channel_flow.nusselt_laminar(1000.0, 1.0)), 3.6567934577632923, 3.657,
        ),
        *(
            Quantity(
                f"mean Nu at x/(D Re Pr) = {x:g}", "", lambda x=x: line_graetz.tube_nusselt_mean(x), Tolerance(share=0.03),
                lambda _, x=x: float(channel_flow.nusselt_laminar(1000.0, 1.0, 1000.0 * x)),
            )
            for x in (0.01, 0.03, 0.1)
        ),
    ),
)  # fmt: skip

# -- L02: friction heat ------------------------------------------------------------------------------------------------

_SHEARED = Check(
    "L02",
    "layer sheared between two walls",
    "Brinkman (1951), as integrated by hand; Nahme (1940), by collocation",
    "computed",
    lambda: None,
    (
        Quantity(
            "Brinkman: middle above walls of one temperature", "K", lambda: 3000.0 * 0.2**2 / (8 * 0.2),
            Tolerance(share=1e-9), lambda _: float(sheared_layer.sheared_temperature(0.5, (0.0, 0.0), 3000.0, 0.2, 0.2)),
        ),
        *(
            Quantity(
                f"Nahme {na:g}: {words}", "", lambda na=na, i=i: line_nip.nahme(na)[i], Tolerance(share=1e-4),
                lambda _, na=na, f=find: float(f(na)),
            )
            for na in (0.5, 5.0, 50.0)
            for i, (words, find) in enumerate(
                (
                    ("hottest, b (T - Tw)", lambda na: sheared_layer.softened_rise(na, 1.0)),
                    ("shear stress over that at the walls' temperature", sheared_layer.softened_stress_share),
                )
            )
        ),
    ),
)  # fmt: skip

# -- L03: the calender's nip -------------------------------------------------------------------------------------------

_R, _G, _U, _MU = 0.3, 1e-3, 0.5, 1e4


def _over(name: str, unit: float) -> Any:
    return lambda r: float(getattr(r, name)) / unit


_NIP = Check(
    "L03",
    "nip of a calender, Newtonian melt, deep bank",
    "Gaskell, J. Appl. Mech. 17 (1950) 334; ratio printed in abstracts since; Middleman (1977), from memory",
    "verified",
    lambda: nip_heat.nip(2 * _R, _G, (_U, _U), _MU),
    (
        Quantity(
            "gauge over gap", "", lambda: 1 + line_nip.exit_place() ** 2, Tolerance(share=1e-5), _over("ratio", 1.0),
            None, 1.226, "printed with four digits",
        ),
        Quantity(
            "exit place lambda", "", line_nip.exit_place, Tolerance(share=1e-5), _over("exit", math.sqrt(_R * _G)),
            None, 0.475, "printed with three digits",
        ),
        Quantity(
            "force over mu U R/H0", "", line_nip.force, Tolerance(share=1e-5),
            _over("force", _MU * _U * _R / (_G / 2)), None, 1.22, "from memory",
        ),
        Quantity(
            "power over 3 mu U^2 sqrt(2 R/H0)", "", line_nip.power, Tolerance(share=1e-5),
            _over("power", 3 * _MU * _U**2 * math.sqrt(4 * _R / _G)), None, 1.08, "from memory",
        ),
    ),
)  # fmt: skip

_NIP_THINNING = Check(
    "L03",
    "gauge behind a nip: melts that thin, shallow banks",
    "quadrature of the equations of Gaskell and McKelvey",
    "computed",
    lambda: None,
    tuple(
        Quantity(
            f"index {n:g}, entering {e:g} gaps", "", lambda n=n, e=e: 1 + line_nip.exit_place(n, e) ** 2,
            Tolerance(absolute=5e-6), lambda _, n=n, e=e: float(nip_heat.exit_ratio(n, e)),
        )
        for n, e in ((0.5, math.inf), (0.25, math.inf), (0.4, 2.0), (1.0, 1.3))
    ),
)  # fmt: skip

# -- L04, L05: air under a web, a face that moves through water --------------------------------------------------------

_AIR_FILM = Check(
    "L04",
    "air film under a web on a roll",
    "foil bearing of infinite width: Eshel & Elrod (1965), from memory; the same equation gives 0.643 for bubbles in tubes",
    "computed",
    lambda: None,
    (
        Quantity(
            "constant of the foil-bearing law", "", line_moving.foil_constant, Tolerance(absolute=1e-4), lambda _: FOIL,
            None, 0.643,
        ),
    ),
)  # fmt: skip

_MOVING = Check(
    "L05",
    "moving face in still fluid",
    "similarity solution of Sakiadis' flow; printed by Tsou, Sparrow & Goldstein (1967), from memory",
    "computed",
    lambda: None,
    tuple(
        Quantity(
            f"Nu/sqrt(Re) at one place, Pr {pr:g}", "", lambda pr=pr: line_moving.moving_face(pr), Tolerance(share=0.001),
            lambda _, pr=pr: float(baths.nusselt_moving_face(1e4, pr)) / 200.0, None, printed,
        )
        for pr, printed in ((0.7, 0.3492), (10.0, 1.6801), (100.0, 5.545))
    ),
)  # fmt: skip

CHECKS = (_GRAETZ, _SHEARED, _NIP, _NIP_THINNING, _AIR_FILM, _MOVING)
