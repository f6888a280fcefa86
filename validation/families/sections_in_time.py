"""Sections in time: B12, F01 and F02 by the open kind in two dimensions, and F01, F02 by a mould and its section."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import convective_series as series
from validation.references import plane_series, sections

HALF_PER_CENT = Tolerance(share=0.005)
FORMULA = "first term of the Fourier series, printed widely in the moulding trade; targets: the full series"

CORNER = Check(
    "B12",
    "a corner that is cooled on both faces",
    "product theorem: Carslaw & Jaeger, section 1.15",
    "from memory",
    lambda: see.run("section_corner"),
    tuple(
        Quantity(
            f"x {x:g}, y {y:g} mm after 50 s",
            "degC",
            lambda x=x, y=y: 100.0 * sections.corner(x / 1e3, y / 1e3, 1e-6, 50.0),
            Tolerance(absolute=0.5),  # of a step of 100 K
            lambda r, x=x, y=y: see.probe(r, f"x{x}_y{y}", 50.0),
            100.0 * recorded,
        )
        for x, y, recorded in ((5, 5, 0.1466315), (5, 10, 0.2614188), (10, 20, 0.6516269))
    ),
)


def _mean(result: Any, region: str) -> np.ndarray:
    """Mean of a region by area at every row [degC]."""
    mesh = result.history.mesh
    corners = mesh.triangles[mesh.region == result.history.region_names.index(region)]
    x, y = mesh.x[corners], mesh.y[corners]
    area = (x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])
    return see.celsius(result.history.temperature[:, corners].mean(axis=2) @ area / area.sum())


def _reached(result: Any, region: str, place: str, level: float) -> float:
    """Time [s] at which the hottest place, or the mean, of a region has fallen to a level [degC]."""
    peaks = see.celsius(np.asarray(result.history.peaks[region]))
    values = peaks if place == "centre" else _mean(result, region)
    there = np.isfinite(peaks)
    return see.crossing(result.history.time[there], values[there], level)


FINE = {"accuracy.temperature": 0.01}  # what happens in the first half second
LENGTH = 0.120  # m of the moulding in the cases of a mould, whose ends cool it too


def _exact(s: float, a: float, wanted: float, place: str, contact: float, ends: bool) -> float:
    if ends and place == "mean":
        return sections.rectangle_mean_time(s, LENGTH, 0.20, a, contact, wanted)
    biot = contact * s / 2 / 0.20
    where = 0.0 if place == "centre" else "mean"
    return series.fourier_to_reach("plane", biot, wanted, where) * (s / 2) ** 2 / a


def _slab(
    number: str, part: str, case: str, region: str, end: float, way: str, recorded: Any, contact: float = math.inf
) -> Check:
    s, a, melt, wall = {"b": (0.002, 0.9e-7, 280.0, 90.0)}.get(part, (0.003, 1.0e-7, 230.0, 50.0))
    wanted = (end - wall) / (melt - wall)
    formula = {
        place: None
        if contact < math.inf
        else plane_series.cooling_time_one_term(s, a, melt, wall, end, place == "mean")
        for place in ("centre", "mean")
    }
    return Check(
        number,
        f"cooling of a moulding ({part} to {end:g} degC), {way}",
        FORMULA if contact == math.inf else "Robin series",
        "computed",
        lambda: see.run(case, FINE if end == 200.0 else None),
        tuple(
            Quantity(
                f"({part}) {place} at {end:g} degC, {way}",
                "s",
                lambda place=place: _exact(s, a, wanted, place, contact, way != "section"),
                HALF_PER_CENT,
                lambda r, place=place: _reached(r, region, place, end),
                value,
                formula[place],
                "" if formula[place] is None else "one-term formula",
            )
            for place, value in zip(("centre", "mean"), recorded, strict=True)
        ),
    )


SLABS = (
    _slab("F01", "a", "section_slab_a", "half", 90.0, "section", (15.91834, 11.80044)),
    _slab("F01", "b", "section_slab_b", "half", 130.0, "section", (8.104384, 6.070844)),
    _slab("F01", "c", "section_slab_a", "half", 200.0, "section", (3.751679, 0.4908739)),
    _slab("F02", "a", "section_slab_contact", "half", 90.0, "section", (20.22601, None), 1000.0),
    _slab("F01", "a", "section_mould", "part", 90.0, "mould", (15.91834, None)),
    _slab("F02", "a", "section_mould_contact", "part", 90.0, "mould", (20.22601, None), 1000.0),
)

UNEVEN = Check(
    "F02",
    "cooling between walls of two temperatures, section",
    "sine series about the steady line",
    "computed",
    lambda: see.run("section_slab_uneven"),
    tuple(
        Quantity(
            f"(b) {x} mm after 10 s, section",
            "degC",
            lambda x=x: plane_series.two_walls(x / 1000, 10, 0.003, 1e-7, 230, 30, 70),
            Tolerance(absolute=0.2),
            lambda r, name=name: see.probe(r, name, 10.0),
            recorded,
        )
        for x, name, recorded in (
            (0.75, "quarter", 94.2878),
            (1.5, "middle", 126.5426),
            (2.25, "three_quarters", 113.9709),
        )
    ),
)

CHECKS = (CORNER, *SLABS, UNEVEN)
