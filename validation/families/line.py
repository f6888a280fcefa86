"""Bodies that run along a line: a sheet on a conveyor, slugs, wire and pipe: E01, L01, L06 to L08, and facts of the trade."""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from thermokit.conduction.problem import (
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Series,
    Shape,
    Span,
    Transition,
)
from thermokit.conduction.single import solve
from thermokit.exchange import convection
from validation import measure as see
from validation.checks import Bound, Check, Quantity, Tolerance
from validation.references import line_graetz, line_moving, line_pipe
from validation.references.layered_cylinder import CoatedRod

ZERO = 273.15
TIGHT = 0.003  # K, of the solver
SHARE = Tolerance(share=0.005)

# -- E01: a plastic sheet on a conveyor --------------------------------------------------------------------------------

_NU, _K, _PR = 1.896e-5, 0.02808, 0.7202


def _plate() -> float:
    return float(convection.nusselt_plate(3.0 * 1.2 / _NU, _PR) * _K / 1.2)


def _conveyor_h() -> float:
    return 0.664 * math.sqrt(3.6 / _NU) * _PR ** (1 / 3) * _K / 1.2


@lru_cache
def _conveyor() -> dict[str, float]:
    """Convection and radiation of the section at its entrance [W], and the sheet that leaves it [degC], radiation as it falls."""
    h, area, hot, cold = _plate(), 2 * 0.6 * 1.2, 95.0 + ZERO, 25.0 + ZERO
    face = Face(exchange=(Exchange(h, cold),), radiation=(Radiation(0.9, cold),))
    # conducts so well that it is even: the example knows one temperature only
    sheet = Layer(Medium(1200.0, 50.0, 1700.0), 1e-3, np.linspace(0.0, 1.0, 6), hot)
    end = solve(Problem((sheet,), (Span(0.6 / (9.0 / 60.0), face, face),)), np.array([0.0, 4.0]), TIGHT)
    sigma = 5.670374419e-8
    entrance = h * 70.0 + 0.9 * sigma * (hot**4 - cold**4)
    even = Face(heating=-entrance)
    ends = solve(Problem((sheet,), (Span(0.6 / (9.0 / 60.0), even, even),)), np.array([0.0, 4.0]), TIGHT)
    return {
        "nusselt": h * 1.2 / _K,
        "convection": h * area * 70.0,
        "radiation": 0.9 * sigma * area * (hot**4 - cold**4),
        "leaving": float(end.temperature[-1].mean()) - ZERO,
        "leaving even": float(ends.temperature[-1].mean()) - ZERO,
    }


_CONVEYOR = Check(
    "E01",
    "plastic sheet cooled by air and radiation on a conveyor",
    "Cengel, Example 7-3, data as transcribed in a public textbook companion (its printed Nu and exit are an integer division)",
    "verified",
    _conveyor,
    (
        Quantity(
            "Nusselt number", "", lambda: 0.664 * math.sqrt(3.0 * 1.2 / _NU) * _PR ** (1 / 3), SHARE,
            lambda r: r["nusselt"], 259.349, 289.3345, "the transcription divides 1 by 3 as integers; the book: 259, from memory",
        ),
        Quantity(
            "coefficient", "W/m2/K", lambda: _conveyor_h(), SHARE, lambda r: r["nusselt"] * _K / 1.2, 6.068766,
        ),
        Quantity(
            "convection", "W", lambda: _conveyor_h() * 1.44 * 70.0, SHARE,
            lambda r: r["convection"], 611.7316, 682.459, "the transcription's Nu; the book: about 611, from memory",
        ),
        Quantity(
            "radiation", "W", lambda: 0.9 * 5.67e-8 * 1.44 * (368.0**4 - 298.0**4), SHARE,
            lambda r: r["radiation"], 768.1573, 768.1573, "sigma 5.67e-8, kelvin from 273",
        ),
        Quantity(
            "both", "W", lambda: _conveyor_h() * 1.44 * 70.0 + 0.9 * 5.67e-8 * 1.44 * (368.0**4 - 298.0**4), SHARE,
            lambda r: r["convection"] + r["radiation"], 1379.889,
        ),
        Quantity(
            "sheet leaving, heat as at the entrance", "degC",
            lambda: 95.0 - (_conveyor_h() * 1.44 * 70.0 + 0.9 * 5.67e-8 * 1.44 * (368.0**4 - 298.0**4)) / (
                1200.0 * 1700.0 * 1e-3 * 1.2 * 0.15
            ),
            Tolerance(absolute=0.1), lambda r: r["leaving even"], 91.24213, 91.05, "the transcription's convection",
        ),
        Quantity(
            "sheet leaving", "degC", lambda: line_moving.conveyor(4.0, 95.0, 25.0, 6.068766, 0.9, 1200 * 1700 * 1e-3),
            Tolerance(absolute=0.02), lambda r: r["leaving"], note="the heat falls by 6 % along the section",
        ),
    ),
)  # fmt: skip

# -- L01: plug flow and Graetz -----------------------------------------------------------------------------------------


@lru_cache
def _slug(shape: Shape) -> Any:
    """(a t/half^2 (rows,), mean excess (rows,)) of a slug of melt whose wall is held cold."""
    half, rho_c, k = 5e-3, 950.0 * 2000.0, 0.25
    edges = 1.0 - np.linspace(1.0, 0.0, 121) ** 1.5
    layer = Layer(Medium(950.0, k, 2000.0), half, edges, 200.0 + ZERO)
    fourier = np.array([0.0, 0.05, 0.1, 0.2, 0.3])
    span = Span(float(fourier[-1] * half**2 * rho_c / k), Face(), Face(temperature=100.0 + ZERO))
    history = solve(Problem((layer,), (span,), shape), fourier * half**2 * rho_c / k, TIGHT)
    volume = np.diff(history.edges ** (1 if shape == "plane" else 2))
    rows = [int(np.argmin(np.abs(history.time - f * half**2 * rho_c / k))) for f in fourier]
    mean = history.temperature[rows] @ volume / volume.sum()
    return dict(zip(fourier.tolist(), ((mean - ZERO - 100.0) / 100.0).tolist(), strict=True))


def _slugs(shape: Shape, words: str) -> Check:
    return Check(
        "L01",
        f"slug of melt that runs along cold {words}",
        "Fourier's series in the frame that moves along (plug flow); Carslaw & Jaeger, sections 3.4 and 7.6",
        "computed",
        lambda: _slug(shape),
        tuple(
            Quantity(
                f"{words}: mean excess at a t/half^2 = {f:g}", "", lambda f=f: line_graetz.slug_mean(shape, f),
                Tolerance(absolute=2e-4), lambda r, f=f: r[f],
            )
            for f in (0.05, 0.1, 0.2, 0.3)
        ),
    )  # fmt: skip


# -- L06, L07, L08: wire, freezing about a line, a tube of two layers --------------------------------------------------

_CORE, _OUT, _COPPER, _COVER = 0.7e-3, 1.6e-3, (390.0, 8940.0 * 385.0), (0.30, 920.0 * 2300.0)


@lru_cache
def _wire() -> Any:
    """Covered copper wire, 200 degC, into water of 20 degC at 3000 W/m2/K."""
    even = np.linspace(0.0, 1.0, 9)
    fine = 1.0 - np.linspace(1.0, 0.0, 61) ** 1.5
    layers = (
        Layer(Medium(8940.0, 390.0, 385.0), _CORE, even, 200.0 + ZERO),
        Layer(Medium(920.0, 0.30, 2300.0), _OUT - _CORE, fine, 200.0 + ZERO),
    )
    span = Span(8.0, Face(), Face(exchange=(Exchange(3000.0, 20.0 + ZERO),)))
    return solve(Problem(layers, (span,), "cylinder"), np.array([0.0, 0.5, 1.0, 2.0, 4.0, 8.0]), TIGHT)


def _wire_at(time: float, place: str) -> Any:
    def find(history: Any) -> float:
        row = int(np.argmin(np.abs(history.time - time)))
        return float(history.outer_face[row] if place == "skin" else history.temperature[row, 0]) - ZERO

    return find


_WIRE = Check(
    "L06",
    "covered copper wire in a trough",
    "composite cylinder, Laplace transform inverted numerically; Carslaw & Jaeger, section 13.8",
    "computed",
    _wire,
    tuple(
        Quantity(
            f"{place} after {t:g} s", "degC",
            lambda t=t, r=r: CoatedRod(_CORE, _OUT, _COPPER, _COVER, 200.0, 3000.0, 20.0).temperature(r, t),
            Tolerance(absolute=0.1), _wire_at(t, place),
        )
        for t in (0.5, 4.0)
        for place, r in (("skin", _OUT), ("conductor", 1e-6))
    ),
)  # fmt: skip

_FROM, _TO, _IN, _EDGE = 20.0, 200.0, 1e-3, 15e-3  # s, s, m, m


@lru_cache
def _sink() -> line_moving.LineSink:
    return line_moving.LineSink(400.0, 0.30, 950.0 * 2300.0, 950.0 * 2e5, 130.0, 180.0)


@lru_cache
def _freezing() -> Any:
    """(front [mm], temperatures [degC]) at the end of freezing about a line, latent heat over 0.5 K."""
    grid = np.linspace(_IN, _EDGE, 281)
    centres = (grid[1:] + grid[:-1]) / 2
    start = np.array([_sink().temperature(r, _FROM) for r in centres]) + ZERO
    times = np.geomspace(_FROM, _TO, 100)
    faces = [Series(tuple(times - _FROM), tuple(_sink().temperature(r, t) + ZERO for t in times)) for r in (_IN, _EDGE)]
    medium = Medium(950.0, 0.30, 2300.0, melting=Transition(2e5, 129.75 + ZERO, 130.25 + ZERO))
    layer = Layer(medium, _EDGE - _IN, (grid - _IN) / (_EDGE - _IN), start)
    span = Span(_TO - _FROM, Face(temperature=faces[0]), Face(temperature=faces[1]))
    history = solve(Problem((layer,), (span,), "cylinder", _IN), np.array([0.0, _TO - _FROM]), 0.02)
    end = history.temperature[-1] - ZERO
    return {"front": float(np.interp(130.0, end, centres)) * 1e3, "at": lambda r: float(np.interp(r, centres, end))}


_LATENT = Check(
    "L07",
    "latent heat in a round body: freezing about a line",
    "Paterson (1952); Ozisik, Heat Conduction (from memory); latent heat over 0.5 K in the solver",
    "computed",
    _freezing,
    (
        Quantity("front", "mm", lambda: _sink().front(_TO) * 1e3, Tolerance(share=0.01), lambda r: r["front"]),
        *(
            Quantity(
                f"at {1e3 * r:g} mm", "degC", lambda r=r: _sink().temperature(r, _TO), Tolerance(absolute=0.5),
                lambda found, r=r: found["at"](r),
            )
            for r in (2e-3, 3e-3, 8e-3, 12e-3)
        ),
    ),
)  # fmt: skip

_TUBE = ((40e-3, 45e-3, 0.4), (45e-3, 55e-3, 0.25))  # radii [m], conductivity


@lru_cache
def _tube() -> Any:
    """Tube of two layers with a contact between, water inside and out, run until it is settled."""
    layers = tuple(
        Layer(Medium(950.0, k, 2000.0), b - a, np.linspace(0.0, 1.0, 41), 50.0 + ZERO, contact=c)
        for (a, b, k), c in zip(_TUBE, (500.0, None), strict=True)
    )
    span = Span(
        20_000.0, Face(exchange=(Exchange(300.0, 90.0 + ZERO),)), Face(exchange=(Exchange(1000.0, 10.0 + ZERO),))
    )
    return solve(Problem(layers, (span,), "cylinder", _TUBE[0][0]), np.array([0.0, 20_000.0]), TIGHT)


_STEADY = Check(
    "L08",
    "pipe wall of two layers, settled",
    "resistances in series: films, ln(b/a)/k, contact; any textbook (Incropera et al., section 3.3)",
    "computed",
    _tube,
    (
        Quantity(
            "bore", "degC", lambda: line_pipe.two_layer_tube(_TUBE, 500.0, 300.0, 1000.0, 90.0, 10.0)[0],
            Tolerance(absolute=0.02), lambda h: float(h.inner_face[-1]) - ZERO,
        ),
        Quantity(
            "skin", "degC", lambda: line_pipe.two_layer_tube(_TUBE, 500.0, 300.0, 1000.0, 90.0, 10.0)[1],
            Tolerance(absolute=0.02), lambda h: float(h.outer_face[-1]) - ZERO,
        ),
    ),
)  # fmt: skip

# -- T01: facts of the trade -------------------------------------------------------------------------------------------

_CASES = Path(__file__).parents[2] / "cases"
TRADE = "common practice, no source"


def _calender() -> dict[str, float]:
    """Bowls of the example of a calender and the sheet that leaves them [degC]."""
    import thermokit

    case = see.load(_CASES / "how_cold_does_a_calendered_sheet_reach_its_wind_up.toml")
    bowls = [s.temperature - ZERO for s in case.stations if s.kind == "roll"]
    leaves = {o.name: o.value for o in thermokit.run(case).outcomes}
    return {"coolest": min(bowls), "last": bowls[-1] - max(bowls), "sheet": leaves["last_bowl_mean"]}


def _pipe_speed() -> float:
    """Speed [m/min] at which the bore of the example's 32 x 3 mm HDPE pipe reaches its haul-off at 65 degC."""
    from scipy.optimize import brentq

    import thermokit

    case = see.load(_CASES / "how_fast_may_a_32mm_hdpe_pipe_run_through_its_baths.toml")

    def miss(speed: float) -> float:
        outcomes = thermokit.run(case.with_values({"line.speed": speed / 60.0})).outcomes
        return next(o.value for o in outcomes if o.name == "haul_off_back") - 65.0

    return float(brentq(miss, 5.0, 30.0, xtol=0.1))


_BOWLS = Check(
    "T01",
    "bowls of a calender for plasticised PVC",
    TRADE,
    TRADE,
    _calender,
    (
        Bound("T01.9 bowls of the example: coolest", "degC", 160.0, 180.0, lambda r: r["coolest"]),
        Bound("T01.9 last bowl less the hottest", "K", 0.0, 0.0, lambda r: r["last"], "the last is the hottest"),
        Bound("T01.9 sheet leaving the last bowl", "degC", 160.0, 180.0, lambda r: r["sheet"]),
    ),
)

_HAUL_OFF = Check(
    "T01",
    "polyethylene pipe leaves its baths with a bore of 65 degC at most",
    TRADE,
    TRADE,
    _pipe_speed,
    (Bound("T01.10 32 x 3 mm HDPE, 10 m of baths: speed for a bore of 65 degC", "m/min", 6.0, 20.0, lambda v: v),),
)

CHECKS = (
    _CONVEYOR,
    _slugs("plane", "plates"),
    _slugs("cylinder", "tube"),
    _WIRE,
    _LATENT,
    _STEADY,
    _BOWLS,
    _HAUL_OFF,
)
