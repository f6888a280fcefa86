"""Latent heat: C01 Stefan, C02 Neumann, C03 latent heat spread over a range."""

from __future__ import annotations

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import phase_change

JAEGER = "Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., section 11.2"
PER_CENT = Tolerance(share=0.01)
_A, _STE = 0.35 / (950 * 2300), 2300 * 100 / 200e3


def _front(time: float, recorded: float) -> Quantity:
    return Quantity(
        f"front after {time:g} s",
        "mm",
        lambda: 1000 * phase_change.stefan_front(time, _A, _STE),
        PER_CENT,
        lambda r: 1000 * see.frozen_depth(r, 129.0, 130.0, see.row_of(r, time)),
        recorded,
    )


STEFAN = Check(
    "C01",
    "melt at its melting point freezes on a cold wall",
    JAEGER + " (from memory)",
    "computed",
    lambda: see.run("freezing_from_the_melting_point"),
    (
        Quantity(
            "root",
            "",
            lambda: phase_change.stefan_root(_STE),
            PER_CENT,
            lambda r: see.frozen_depth(r, 129.0, 130.0, -1) / (2 * (_A * 60) ** 0.5),
            0.6547205,
        ),
        _front(10.0, 1.657274),
        _front(60.0, 4.059475),
        Quantity(
            "flux into the wall after 10 s",
            "W/m2",
            lambda: phase_change.stefan_wall_flux(10, _A, 0.35, _STE, 100),
            PER_CENT,
            lambda r: -see.inner_flux(r, 0.35, see.row_of(r, 10.0)),
            24170.3,
        ),
    ),
)


def _latent(stefan: float) -> dict[str, float]:
    return {"materials.stuff.melting.heat": 2300.0 * 100.0 / stefan}


def _root(stefan: float, recorded: float) -> Check:
    """The front after 60 s; after 10 s where it would have gone through the layer by then."""
    time = 60.0 if stefan < 3.0 else 10.0
    return Check(
        "C01",
        f"root of Stefan's problem, Stefan number {stefan:g}",
        JAEGER + " (from memory)",
        "computed",
        lambda: see.run("freezing_from_the_melting_point", _latent(stefan)),
        (
            Quantity(
                f"root, Stefan number {stefan:g}",
                "",
                lambda: phase_change.stefan_root(stefan),
                PER_CENT,
                lambda r: see.frozen_depth(r, 129.0, 130.0, see.row_of(r, time)) / (2 * (_A * time) ** 0.5),
                recorded,
            ),
        ),
    )


ROOTS = tuple(
    _root(stefan, recorded)
    for stefan, recorded in (
        (0.05, 0.1568209),
        (0.1, 0.2200163),
        (0.5, 0.4647859),
        (1.0, 0.6200626),
        (2.0, 0.8006014),
        (5.0, 1.059687),
    )
)


def _neumann() -> phase_change.Neumann:
    return phase_change.Neumann(2.22, 917 * 2050, 0.58, 917 * 4186, 917 * 334e3, -20, 0, 10)


WATER = Check(
    "C02",
    "water freezes on a cold wall",
    JAEGER + " (from memory)",
    "computed",
    lambda: see.run("freezing_water"),
    (
        Quantity(
            "root",
            "",
            lambda: _neumann().front(3600.0) / (2 * (2.22 / (917 * 2050) * 3600) ** 0.5),
            PER_CENT,
            lambda r: see.frozen_depth(r, -0.1, 0.1, see.row_of(r, 3600)) / (2 * (2.22 / (917 * 2050) * 3600) ** 0.5),
            0.2221004,
        ),
        *(
            Quantity(
                f"front after {t} s",
                "mm",
                lambda t=t: 1000 * _neumann().front(t),
                PER_CENT,
                lambda r, t=t: 1000 * see.frozen_depth(r, -0.1, 0.1, see.row_of(r, t)),
                recorded,
            )
            for t, recorded in ((600, 11.82415), (3600, 28.96312))
        ),
        *(
            Quantity(
                f"{depth} mm deep after 3600 s",
                "degC",
                lambda depth=depth: _neumann().temperature(depth / 1000, 3600),
                Tolerance(absolute=0.5),
                lambda r, name=name: see.probe(r, name),
                recorded,
            )
            for depth, name, recorded in ((10, "ten", -12.99468), (40, "forty", 4.070993))
        ),
    ),
)


def _spread() -> phase_change.SpreadLatentHeat:
    return phase_change.SpreadLatentHeat(0.35, 950 * 2300, 950 * 12300, 40, 110, 130, 200)


CRYSTALLISING = Check(
    "C03",
    "latent heat spread over 20 K",
    "three-zone similarity solution after Tien & Geiger (1967) (from memory)",
    "computed",
    lambda: see.run("crystallising_polymer"),
    (
        *(
            Quantity(
                f"depth of {level} degC after 20 s",
                "mm",
                lambda i=i: 1000 * _spread().depths(20)[i],
                PER_CENT,
                lambda r, level=level: 1000 * see.depth_of(r, float(level)),
                recorded,
            )
            for i, level, recorded in ((0, 110, 1.150057), (1, 130, 1.592925))
        ),
        *(
            Quantity(
                f"{depth} mm deep after 20 s",
                "degC",
                lambda depth=depth: _spread().temperature(depth / 1000, 20),
                Tolerance(absolute=0.5),
                lambda r, name=name: see.probe(r, name),
                recorded,
            )
            for depth, name, recorded in (
                (0.5, "half", 71.28016),
                (1.0, "one", 101.3672),
                (1.5, "one_and_half", 126.6207),
                (2.0, "two", 143.1882),
                (3.0, "three", 168.7872),
            )
        ),
    ),
)

CHECKS = (STEFAN, *ROOTS, WATER, CRYSTALLISING)
