"""Sheet cases: A07 and F03 through panels, air and tools, what follows an oven, and facts of the trade."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Bound, Check, Quantity, Tolerance
from validation.references import convective_series as series
from validation.references.staged_slab import Stage, StagedSlab

HALF_PER_CENT = Tolerance(share=0.005)
FIFTH_OF_A_KELVIN = Tolerance(absolute=0.2)
TRADE = "common practice, no source"


def _middle(result: Any) -> Any:
    """Mid-thickness of each row [degC]."""
    n = len(result.history.centres)
    return see.celsius(result.history.temperature[:, [n // 2 - 1, n // 2]].mean(axis=1))


def _hottest(result: Any) -> Any:
    """Hottest plane of each row [degC]."""
    history = result.history
    return see.celsius(np.column_stack([history.inner_face, history.temperature, history.outer_face]).max(axis=1))


# -- A07: the textbook's acrylic sheet -----------------------------------------------------------------------------

_A07 = 0.21 / (1990 * 1470)

SOFTENED = Check(
    "A07",
    "acrylic sheet softened on one face, as a sheet on a hot tool",
    "Incropera et al., Problem 5.50 with its printed solution",
    "verified (74 s)",
    lambda: see.run("acrylic_on_a_hot_tool"),
    (
        Quantity(
            "sheet case: far face at 90 degC",
            "s",
            lambda: series.fourier_to_reach("plane", math.inf, 210 / 280, 0.0) * 0.005**2 / _A07,
            HALF_PER_CENT,
            lambda r: see.crossing(r.history.time, see.celsius(r.history.inner_face), 90.0),
            73.98638,
            74,
            "one term of the series",
        ),
    ),
)

# -- F03 and on: oven, transfer, tools -------------------------------------------------------------------------------

_ACRYLIC = StagedSlab(
    0.19,
    0.19 / (1180 * 1470),
    20.0,
    (Stage(210.0, 30.0, 180.0, 0.003), Stage(8.0, 12.0, 25.0, 0.003), Stage(40.0, 500.0, 40.0, 0.002)),
)


def _pressed(level: float, result: Any) -> float:
    """Time on the tools until the middle has fallen to a level."""
    late = result.history.span == 2
    return see.crossing(result.history.time[late], _middle(result)[late], level) - 218.0


STAGED = Check(
    "F03",
    "acrylic sheet of 3 mm through a sheet case: oven, transfer, drawn to 2 mm between tools",
    "Robin series, its profile handed from stage to stage",
    "computed",
    lambda: see.run("acrylic_oven_to_matched_tools"),
    (
        Quantity(
            "sheet case: core at 160 degC in the oven",
            "s",
            lambda: _ACRYLIC.time_to(0, 160.0, 0.0),
            HALF_PER_CENT,
            lambda r: see.crossing(r.history.time, _middle(r), 160.0),
            198.1453,
        ),
        *(
            Quantity(
                f"sheet case: {name} after the {stage}",
                "degC",
                lambda t=t, s=s: _ACRYLIC.at(t, s),
                FIFTH_OF_A_KELVIN,
                lambda r, t=t, s=s: see.at(r, see.celsius(r.history.inner_face), t) if s else see.at(r, _middle(r), t),
            )
            for stage, t in (("oven", 210.0), ("transfer", 218.0), ("tools", 258.0))
            for name, s in (("core", 0.0), ("face", 1.0))
        ),
        Quantity(
            "sheet case: core at 90 degC between the tools",
            "s",
            lambda: _ACRYLIC.time_to(2, 90.0, 0.0),
            HALF_PER_CENT,
            lambda r: _pressed(90.0, r),
        ),
    ),
)

# -- facts of the trade ----------------------------------------------------------------------------------------------


def _window() -> dict[str, float]:
    """Forming window of the library's cast acrylic [degC]: the limits, and within them where it is best formed."""
    from thermokit.materials import library

    forming = library.load("pmma_cast").forming or {}
    return {name: float(see.celsius(forming[name])) for name in ("lower", "ideal_low", "ideal_high", "upper")}


WINDOW = Check(
    "T01",
    "acrylic is formed at about 150 to 180 degC",
    "common practice",
    TRADE,
    _window,
    (
        Bound("T01.1 lower forming limit of cast acrylic", "degC", 140.0, 165.0, lambda window: window["lower"]),
        Bound("T01.1 best formed from", "degC", 140.0, 165.0, lambda window: window["ideal_low"]),
        Bound("T01.1 best formed up to", "degC", 165.0, 190.0, lambda window: window["ideal_high"]),
        Bound(
            "T01.1 upper limit of its face",
            "degC",
            180.0,
            200.0,
            lambda window: window["upper"],
            "where the face scorches, 195 degC by common practice: above the 190 degC up to which it is formed",
        ),
    ),
)


def _dwell_by_thickness(result: Any, thickness: float) -> float:
    """Time until the core is at the lower forming limit of ABS, 127 degC [s/mm]."""
    return see.crossing(result.history.time, _middle(result), 127.0) / thickness


def _radiant(thickness: float, panel: float) -> Check:
    changes = {
        "sheet.thickness": thickness / 1000,
        "stations.heat.upper.temperature": panel + see.ZERO_CELSIUS,
        "stations.heat.lower.temperature": panel + see.ZERO_CELSIUS,
    }
    return Check(
        "T01",
        f"radiant heating from both sides, {thickness:g} mm under {panel:g} degC",
        "common practice",
        TRADE,
        lambda: see.run("abs_between_panels", changes),
        (
            Bound(
                f"{thickness:g} mm under {panel:g} degC: dwell a millimetre",
                "s/mm",
                20.0,
                45.0,
                lambda r: _dwell_by_thickness(r, thickness),
                "roughly 20 to 45 s a millimetre under usual panels; 17 s under 400 degC",
            ),
        ),
    )


def _acrylic_cools(thickness: float) -> Check:
    return Check(
        "T01",
        f"acrylic of {thickness:g} mm needs minutes to cool under pressure",
        "common practice",
        TRADE,
        lambda: see.run("acrylic_pressed", {"sheet.thickness": thickness / 1000}),
        (
            Bound(
                f"acrylic of {thickness:g} mm between wooden tools: hottest plane at 80 degC",
                "min",
                2.0,
                30.0,
                lambda r: see.crossing(r.history.time, _hottest(r), 80.0) / 60,
            ),
        ),
    )


PRESSING = Check(
    "T01",
    "a small rigid PVC pressing can be made in less than 20 s",
    "common practice",
    TRADE,
    lambda: see.run("pvc_small_pressing"),
    (
        Bound(
            "PVC of 1 mm: 3 s of transfer and cooling to 65 degC",
            "s",
            3.0,
            20.0,
            lambda r: see.crossing(r.history.time, _hottest(r), 65.0),
        ),
    ),
)

CHECKS = (
    SOFTENED,
    STAGED,
    WINDOW,
    _radiant(2.0, 350.0),
    _radiant(4.0, 300.0),
    _radiant(4.0, 350.0),
    _acrylic_cools(5.0),
    _acrylic_cools(8.0),
    PRESSING,
)
