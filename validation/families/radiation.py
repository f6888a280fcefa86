"""Radiation of panels and in the depth of sheet: D01 spectrum, D03 and D04 view factors, D07 grey plates, D11 absorption."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import in_depth, radiation

COMPANION = "as transcribed with its printed result in a public textbook companion"
HOWELL = "Howell, A Catalog of Radiation Heat Transfer Configuration Factors"
HALF_PER_CENT, FOURTH = Tolerance(share=0.005), Tolerance(absolute=1e-4)

_FRACTIONS: tuple[tuple[float, float, float, str], ...] = (
    (1000, 0.000321, 0.0003207698, ""),
    (1500, 0.014, 0.01285008, "printed with three decimals"),
    (1740, 0.0335, 0.03261849, "between rows of the table"),
    (1900, 0.053035, 0.05210825, "between rows of the table"),
    (2195, 0.1, 0.09996518, ""),
    (2400, 0.140256, 0.1402574, ""),
    (3000, 0.273, 0.2732293, "printed with three decimals"),
    (3200, 0.318, 0.3180972, ""),
    (5000, 0.634, 0.6337259, "printed with three decimals"),
    (5600, 0.701046, 0.7010206, ""),
    (6000, 0.738, 0.7377894, "printed with three decimals"),
    (8000, 0.856, 0.8562507, "printed with three decimals"),
    (9382, 0.9, 0.9001526, "printed with one decimal"),
    (14500, 0.9664, 0.9660722, "between rows of the table"),
    (20000, 0.986, 0.9855538, "printed with three decimals"),
)


def _spectrum() -> dict[float | str, float]:
    from thermokit.exchange.planck import band_fraction, peak_wavelength, planck_fraction

    found: dict[float | str, float] = {p: float(planck_fraction(p * 1e-6, 1.0)) for p, *_ in _FRACTIONS}
    found["peak"] = 1e6 * float(peak_wavelength(1.0))
    found["band"] = float(band_fraction(2e-6, 4e-6, 973.15))
    return found


SPECTRUM = Check(
    "D01",
    "share of black radiation below a wavelength",
    f"Incropera et al., Table 12.1, and Cengel, Table 12-2, in their examples, {COMPANION}",
    "verified",
    _spectrum,
    (
        *(
            Quantity(
                f"F(0 to {product:g} um K)",
                "",
                lambda product=product: radiation.planck_share(product * 1e-6),
                FOURTH,
                lambda found, product=product: found[product],
                recorded,
                published,
                note,
            )
            for product, published, recorded, note in _FRACTIONS
        ),
        Quantity(
            "peak",
            "um K",
            lambda: 1e6 * radiation.wien_product(),
            Tolerance(absolute=0.01),
            lambda found: found["peak"],
            2897.772,
            2898,
            "printed with four digits",
        ),
        Quantity(
            "2 to 4 um at 700 degC",
            "",
            lambda: radiation.planck_share(4e-6 * 973.15) - radiation.planck_share(2e-6 * 973.15),
            FOURTH,
            lambda found: found["band"],
            0.4023659,
        ),
    ),
)


def _opposed(sides: tuple[float, float, float], published: float | None, recorded: float, note: str = "") -> Check:
    def run() -> tuple[float, float]:
        from thermokit.exchange.panel_zones import ZonedPanel, mean_zone_views
        from thermokit.exchange.view_factors import view_opposed_rectangles

        a, b, gap = sides
        views = mean_zone_views(ZonedPanel(a, b, gap, rows=2, columns=3), [-0.5 * a, 0.5 * a], [-0.5 * b, 0.5 * b])
        return float(view_opposed_rectangles(*sides)), float(views.sum())

    label = "{:g} x {:g} at {:g}".format(*sides)
    return Check(
        "D03",
        f"opposed equal rectangles, {label}",
        f"{HOWELL}, entry C-11; Incropera et al., Table 13.2 and Example 13.3, {COMPANION}",
        "verified (0.4153, 0.39; 0.1998 from memory)",
        run,
        tuple(
            Quantity(
                label + words,
                "",
                lambda: radiation.opposed(*sides),
                HALF_PER_CENT,
                lambda found, i=i: found[i],
                recorded,
                published,
                note,
            )
            for i, words in enumerate(("", ", in 2 x 3 zones"))
        ),
    )


def _perpendicular() -> dict[str, float]:
    from thermokit.exchange.gap_walls import exchange_area, rectangles
    from thermokit.exchange.view_factors import view_opposed_rectangles, view_perpendicular_rectangles

    unit, tall = np.array([0.0, 1.0]), np.array([0.0, 2.0])
    floor, wall = rectangles(2, 0.0, unit, unit), rectangles(0, 0.0, unit, tall)
    square = float(view_perpendicular_rectangles(1.0, 1.0, 1.0))
    return {
        "a": square,
        "b": float(exchange_area(floor, wall)[0, 0]),
        "b back": float(view_perpendicular_rectangles(2.0, 1.0, 1.0)),
        "c": float(view_opposed_rectangles(1.0, 1.0, 1.0)) + 4.0 * square,
    }


PERPENDICULAR = Check(
    "D04",
    "rectangles at right angles",
    f"{HOWELL}, entry C-14; Incropera et al., Table 13.2",
    "computed (0.2 from memory)",
    _perpendicular,
    (
        Quantity(
            "(a) unit squares",
            "",
            lambda: radiation.perpendicular(1, 1, 1),
            HALF_PER_CENT,
            lambda found: found["a"],
            0.2000438,
            0.2,
            "printed with one digit",
        ),
        Quantity(
            "(b) 1 x 1 to 2 high",
            "",
            lambda: radiation.perpendicular(1, 2, 1),
            HALF_PER_CENT,
            lambda found: found["b"],
            0.2328526,
        ),
        Quantity(
            "(b) and back",
            "",
            lambda: radiation.perpendicular(2, 1, 1),
            HALF_PER_CENT,
            lambda found: found["b back"],
            0.1164263,
        ),
        Quantity(
            "(c) closure of a cube", "", lambda: 1.0, Tolerance(absolute=1e-6), lambda found: found["c"], 1.0, 1.0
        ),
    ),
)


def _elements() -> list[float]:
    from thermokit.exchange.panel_zones import ZonedPanel, zone_views

    square, panel = ZonedPanel(1.0, 1.0, 1.0, 2, 2), ZonedPanel(0.6, 0.4, 0.15, 4, 6)
    corner, centre = zone_views(square, [0.5, 0.0], [0.5, 0.0]).sum(axis=1)
    return [corner, centre, *zone_views(panel, [0.0, 0.0, 0.3], [0.0, 0.2, 0.2]).sum(axis=1)]


ELEMENTS = Check(
    "D04",
    "element to a parallel rectangle, the rectangle in zones",
    f"{HOWELL}, entry B-3",
    "computed",
    _elements,
    tuple(
        Quantity(
            name,
            "",
            lambda args=args: radiation.element(*args),
            HALF_PER_CENT,
            lambda found, i=i: found[i],
            recorded,
        )
        for i, (name, args, recorded) in enumerate(
            (
                ("(d) unit square, corner", (1, 1, 1, 0, 0), 0.1385316),
                ("(e) unit square, centre", (1, 1, 1, 0.5, 0.5), 0.2394565),
                ("(f) 600 x 400 panel at 150 mm, centre", (0.6, 0.4, 0.15, 0.3, 0.2), 0.7523349),
                ("(f) middle of the 600 mm edge", (0.6, 0.4, 0.15, 0.3, 0), 0.4310194),
                ("(f) corner", (0.6, 0.4, 0.15, 0, 0), 0.2305196),
            )
        )
    ),
)

SIGMA_OF_BOOK = 5.67e-8  # W/m2/K4, as the source takes it


def _plates() -> dict[str, float]:
    from thermokit.exchange.panel_reach import panel_reach
    from thermokit.exchange.panel_zones import ZonedPanel
    from thermokit.exchange.view_factors import exchange_factor_grey

    black = SIGMA_OF_BOOK * (800.0**4 - 500.0**4)
    one, two = float(exchange_factor_grey(0.2, 0.1)), float(exchange_factor_grey(0.1, 0.7))
    shielded = black / (1.0 / one + 1.0 / two)
    wide = panel_reach(ZonedPanel(1e4, 1e4, 1e-3, 2, 2), 0.0, 0.0, 0.2, 0.7)
    return {
        "a": float(exchange_factor_grey(0.2, 0.7)) * black,
        "zones": float(wide.factor[0]) * black,
        "b": shielded,
        "shield": (800.0**4 - shielded / one / SIGMA_OF_BOOK) ** 0.25,
    }


def _two_plates() -> float:
    return radiation.plates_in_series((0.2, 0.7), 800, 500, SIGMA_OF_BOOK)[0]


def _shielded() -> tuple[float, list[float]]:
    return radiation.plates_in_series((0.2, 0.1, 0.1, 0.7), 800, 500, SIGMA_OF_BOOK)


PER_MILLE = Tolerance(share=0.001)

PLATES = Check(
    "D07",
    "wide grey plates, and a shield between them",
    f"Cengel, Heat and Mass Transfer, Examples 13-7 and 13-11, {COMPANION}",
    "verified",
    _plates,
    (
        Quantity("(a) flux", "W/m2", _two_plates, PER_MILLE, lambda found: found["a"], 3625.368, 3625),
        Quantity(
            "(a) flux, a panel of zones over a wide sheet",
            "W/m2",
            _two_plates,
            PER_MILLE,
            lambda found: found["zones"],
            3625.368,
            3625,
        ),
        Quantity("(b) flux", "W/m2", lambda: _shielded()[0], PER_MILLE, lambda found: found["b"], 805.6374, 806),
        Quantity("(b) shield", "K", lambda: _shielded()[1][0], PER_MILLE, lambda found: found["shield"], 677.4923),
    ),
)

# D11: acrylic sheet, absorption in its depth
LENGTH, K, HEAT, MU, FLUX, AIR = 0.006, 0.19, 1180 * 1470.0, 400.0, 6000.0, 25.0
CELLS = 120
FIFTH_OF_A_KELVIN = Tolerance(absolute=0.2)


def _sheet(times: tuple[float, ...], both: bool = False, h: float = 0.0) -> Any:
    """History of the sheet: cells take up what ``absorbed_in_cells`` says they do."""
    from thermokit.conduction.problem import DepthSource, Exchange, Face, Layer, Medium, Problem, Span
    from thermokit.conduction.single import solve
    from thermokit.exchange.absorption import absorbed_in_cells
    from thermokit.exchange.bands import grey_bands

    edges = np.linspace(0.0, 1.0, CELLS + 1)
    clear = grey_bands(MU, 0.0)
    taken = absorbed_in_cells(clear, LENGTH * edges)[0]
    if both:
        taken = taken + absorbed_in_cells(clear, LENGTH * edges, side="outer")[0]
    start = AIR + see.ZERO_CELSIUS
    face = Face(exchange=(Exchange(h, start),)) if h > 0.0 else Face()
    source = DepthSource(FLUX * taken / (LENGTH / CELLS))
    layer = Layer(Medium(1180.0, K, 1470.0), LENGTH, edges, start)
    return solve(Problem((layer,), (Span(times[-1], face, face, (source,)),)), np.array(times), 1e-3)


def _profile(history: Any) -> Any:
    """Spline through faces and cells of the last row [degC] over depth [m]."""
    from scipy.interpolate import CubicSpline

    x = np.concatenate([[0.0], history.centres, [LENGTH]])
    t = np.concatenate([[history.inner_face[-1]], history.temperature[-1], [history.outer_face[-1]]])
    return CubicSpline(x, see.celsius(t))


def _hottest(history: Any) -> tuple[float, float]:
    profile = _profile(history)
    x = np.linspace(0.0, LENGTH, 20_001)
    place = int(np.argmax(profile(x)))
    return float(x[place]), float(profile(x[place]))


def _steady() -> in_depth.SteadyAbsorption:
    return in_depth.SteadyAbsorption(LENGTH, K, MU, FLUX, 10.0, AIR)


STEADY = Check(
    "D11",
    "absorption in the depth of an acrylic sheet, steady",
    "closed form of k T'' = -q0 mu exp(-mu x)",
    "computed",
    lambda: _sheet((20_000.0,), h=10.0),
    (
        Quantity(
            "(a) lit face",
            "degC",
            lambda: _steady().at(0.0),
            FIFTH_OF_A_KELVIN,
            lambda history: see.last(see.celsius(history.inner_face)),
            311.4066,
        ),
        Quantity(
            "(a) far face",
            "degC",
            lambda: _steady().at(LENGTH),
            FIFTH_OF_A_KELVIN,
            lambda history: see.last(see.celsius(history.outer_face)),
            284.1626,
        ),
        Quantity(
            "(a) hottest",
            "degC",
            lambda: _steady().at(_steady().hottest_depth),
            FIFTH_OF_A_KELVIN,
            lambda history: _hottest(history)[1],
            322.3194,
        ),
        Quantity(
            "(a) hottest at",
            "mm",
            lambda: 1e3 * _steady().hottest_depth,
            Tolerance(absolute=0.02),
            lambda history: 1e3 * _hottest(history)[0],
            1.622081,
        ),
    ),
)


def _at_depth(depth: float) -> Callable[[Any], float]:
    return lambda history: float(_profile(history)(depth))


def _transient(part: str, time: float, both: bool, places: tuple[tuple[str, float, float], ...], words: str) -> Check:
    return Check(
        "D11",
        f"absorption in the depth of an acrylic sheet, {words}, {time:g} s",
        "cosine series of the insulated slab",
        "computed",
        lambda: _sheet((time,), both),
        tuple(
            Quantity(
                f"({part}) {where}, {time:g} s",
                "degC",
                lambda depth=depth: in_depth.insulated(depth, time, LENGTH, K, HEAT, MU, FLUX, AIR, both),
                FIFTH_OF_A_KELVIN,
                _at_depth(depth),
                recorded,
            )
            for where, depth, recorded in places
        ),
    )


_PLACES = ("lit face", "middle", "far face"), (0.0, 0.5 * LENGTH, LENGTH)

CHECKS = (
    SPECTRUM,
    _opposed((1, 1, 1), 0.1998, 0.1998249),
    _opposed((0.1, 0.1, 0.05), 0.4153, 0.4152533),
    _opposed((1, 10, 1), 0.39, 0.3863825, "reading of a chart"),
    _opposed((0.6, 0.4, 0.15), None, 0.5666666),
    PERPENDICULAR,
    ELEMENTS,
    PLATES,
    STEADY,
    _transient("b", 30, False, tuple(zip(*_PLACES, (51.41241, 39.7099, 32.40528), strict=True)), "lit on one face"),
    _transient("b", 60, False, tuple(zip(*_PLACES, (70.89063, 55.40655, 44.43809), strict=True)), "lit on one face"),
    _transient("c", 60, True, (("face", 0.0, 90.32872), ("middle", 0.5 * LENGTH, 85.8131)), "lit on both faces"),
)
