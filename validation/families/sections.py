"""Steady sections in two dimensions: B01, B02, B05, B06, B08, B10, each a case file of the open kind."""

from __future__ import annotations

from typing import Any

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import sections as exact
from validation.references import sections_boxes as boxes
from validation.references import water

STANDARD = Tolerance(absolute=0.1)  # K or W/m: the rule of ISO 10211 itself
SHAPE = Tolerance(share=0.01)
ISO = "ISO 10211:2007 annex A, test reference case "
TABLE = "Incropera et al., table 4.1; targets: "


def outcome(result: Any, name: str) -> float:
    """An answer of a result, by its name."""
    (value,) = [o.value for o in result.outcomes if o.name == name]
    return float(value)


def probe(name: str) -> Any:
    """Reads a probe of a steady section [degC]."""
    return lambda result: see.probe(result, name)


#: x = 0.25, 0.5, 0.75, 1 from left to right; y = 1.75, 1.5, ... 0.25 downwards: (printed, recomputed)
COLUMN = (
    ((9.7, 9.658188), (13.4, 13.37906), (14.7, 14.72892), (15.1, 15.08538)),
    ((5.3, 5.251738), (8.6, 8.640567), (10.3, 10.31555), (10.8, 10.81058)),
    ((3.2, 3.188684), (5.6, 5.608999), (7.0, 7.014153), (7.5, 7.465122)),
    ((2.0, 2.014153), (3.6, 3.640567), (4.7, 4.658188), (5.0, 5.0)),
    ((1.3, 1.262467), (2.3, 2.308603), (3.0, 2.985847), (3.2, 3.218502)),
    ((0.7, 0.7396473), (1.4, 1.359433), (1.8, 1.766849), (1.9, 1.908282)),
    ((0.3, 0.3418122), (0.6, 0.6295596), (0.8, 0.8199306), (0.9, 0.8863142)),
)
PLACES = [(x, y) for y in (1.75, 1.5, 1.25, 1.0, 0.75, 0.5, 0.25) for x in (0.25, 0.5, 0.75, 1.0)]

HALF_COLUMN = Check(
    "B01",
    "half of a square column",
    ISO + "1; targets: its series",
    "from memory; reproduced by the series",
    lambda: see.run("section_half_column"),
    tuple(
        Quantity(
            f"x {x:g}, y {y:g}",
            "degC",
            lambda x=x, y=y: exact.half_column(x, y),
            STANDARD,
            probe(f"x{round(100 * x)}_y{round(100 * y)}"),
            recorded,
            printed,
        )
        for (x, y), (printed, recorded) in zip(PLACES, [pair for row in COLUMN for pair in row], strict=True)
    ),
)

_MM = 1e-3
WOOD = Check(
    "B02",
    "concrete, wood, insulation and aluminium",
    ISO + "2; targets: bilinear finite elements on a refined rectangular grid",
    "verified",
    lambda: see.run("section_wood_and_aluminium"),
    (
        *(
            Quantity(
                name,
                "degC",
                lambda x=x, y=y: boxes.wood_and_aluminium()[0].at(x * _MM, y * _MM),
                STANDARD,
                probe(name),
                recorded,
                printed,
            )
            for name, x, y, printed, recorded in (
                ("A", 0, 47.5, 7.1, 7.063814),
                ("B", 500, 47.5, 0.8, 0.7612941),
                ("C", 0, 41.5, 7.9, 7.896843),
                ("D", 15, 41.5, 6.3, 6.261628),
                ("E", 500, 41.5, 0.8, 0.8274991),
                ("F", 0, 36.5, 16.4, 16.40799),
                ("G", 15, 36.5, 16.3, 16.33377),
                ("H", 0, 0, 16.8, 16.76736),
                ("I", 500, 0, 18.3, 18.33368),
            )
        ),
        Quantity(
            "heat flow",
            "W/m",
            lambda: boxes.wood_and_aluminium()[1],
            STANDARD,
            lambda r: outcome(r, "bottom_heat_flow"),
            9.490998,
            9.5,
        ),
        Quantity(
            "heat flow at the top",
            "W/m",
            lambda: boxes.wood_and_aluminium()[1],
            STANDARD,
            lambda r: -outcome(r, "top_heat_flow"),
        ),
    ),
)

PLATE = Check(
    "B05",
    "NAFEMS T4: a plate with convection",
    "The Standard NAFEMS Benchmarks, Rev. 3 (1990), test T4; target: its series",
    "verified",
    lambda: see.run("section_plate_with_convection"),
    (
        Quantity(
            "E",
            "degC",
            lambda: exact.plate_with_convection(0.6, 0.2, 0.6, 1.0, 52.0, 750.0, 100.0),
            Tolerance(absolute=0.1),
            probe("E"),
            18.25376,
            18.25,
        ),
    ),
)


def _shape(
    number: str, name: str, case: str, source: str, face: str, target: Any, recorded: Any, printed: Any, note: str = ""
) -> Check:
    """Heat through the hole, over the difference of 1 K in a stuff of 1 W/m/K."""
    return Check(
        number,
        f"{name}, as a section",
        source,
        "verified (formula)" if number == "B06" else "computed",
        lambda: see.run(case),
        (
            Quantity(
                f"{name}, section",
                "",
                target,
                SHAPE,
                lambda r: abs(outcome(r, f"{face}_heat_flow")),
                recorded,
                printed,
                note,
            ),
        ),
    )


FACTORS = (
    _shape(
        "B06",
        "(a) under a plane",
        "section_buried_cylinder",
        TABLE + "2 pi/acosh(2 z/D)",
        "hole",
        lambda: exact.cylinder_under_plane(1.0, 2.0),
        3.045009,
        None,
        "120 by 90 diameters for a half space",
    ),
    _shape(
        "B06",
        "(b) in a square, w/D 2",
        "section_cylinder_in_square_b",
        TABLE + "collocation",
        "hole",
        lambda: exact.cylinder_in_square(1.0, 2.0),
        8.172471,
        8.158834,
        "approximate formula",
    ),
    _shape(
        "B06",
        "(c) in a square, w/D 1.25",
        "section_cylinder_in_square_c",
        TABLE + "collocation",
        "hole",
        lambda: exact.cylinder_in_square(1.0, 1.25),
        21.30625,
        20.93665,
        "approximate formula",
    ),
    _shape(
        "B06",
        "(d) two cylinders",
        "section_two_cylinders",
        TABLE + "2 pi/acosh((4 w^2 - D1^2 - D2^2)/(2 D1 D2))",
        "warm",
        lambda: exact.two_cylinders(1.0, 1.0, 3.0),
        1.782214,
        None,
        "100 by 100 diameters for infinity",
    ),
    _shape(
        "B06",
        "(e) between two planes",
        "section_cylinder_between_planes",
        TABLE + "line sources in a strip",
        "hole",
        lambda: exact.cylinder_between_planes(1.0, 1.0),
        None,
        6.722057,
        "formula for thin cylinders",
    ),
    _shape(
        "B08",
        "D 1, z 2, w 3",
        "section_channel_row_wide",
        "thin-wire formula of handbooks; target: line sources inside the channels",
        "top",
        lambda: water.row_shape_factor(1.0, 2.0, 3.0),
        1.616561,
        1.516783,
        "thin wires only",
    ),
    _shape(
        "B08",
        "D 1, z 1.5, w 2",
        "section_channel_row_close",
        "thin-wire formula of handbooks; target: line sources inside the channels",
        "top",
        lambda: water.row_shape_factor(1.0, 1.5, 2.0),
        1.685395,
        1.474675,
        "thin wires only",
    ),
)

THIN = Check(
    "B08",
    "a row of thinner channels, as a section",
    "thin-wire formula of handbooks; target: line sources inside the channels",
    "computed",
    lambda: see.run("section_channel_row_wide", {"section.channels.hole.diameter": 0.5}),
    (
        Quantity(
            "D 0.5, z 2, w 3, section",
            "",
            lambda: water.row_shape_factor(0.5, 2.0, 3.0),
            SHAPE,
            lambda r: outcome(r, "top_heat_flow"),
            1.317712,
            1.299363,
            "thin wires only",
        ),
    ),
)

STEEL = Check(
    "B08",
    "a row of channels in steel, as a section",
    "line sources inside the channels",
    "computed",
    lambda: see.run("section_channel_row_steel"),
    (
        Quantity(
            "heat of a channel in steel, section",
            "W/m",
            lambda: 30.0 * 40.0 * water.row_shape_factor(0.010, 0.020, 0.030),
            SHAPE,
            lambda r: outcome(r, "top_heat_flow"),
            1939.873,
        ),
    ),
)

CONVECTION = Check(
    "B10",
    "a square column with convection on one side",
    "Incropera et al., Example 4.3, as transcribed with its printed result in a public textbook companion; targets: its series",
    "verified",
    lambda: see.run("section_column_with_convection"),
    (
        Quantity(
            "heat to the air",
            "W/m",
            lambda: exact.column_with_convection(None, 10.0, 500.0, 300.0),
            Tolerance(share=0.005),
            lambda r: -2.0 * outcome(r, "bottom_heat_flow"),
            623.3463,
            882.6,
            "grid of 0.25 m",
        ),
        Quantity(
            "centre of the convective side",
            "K",
            lambda: exact.column_with_convection(0.5, 10.0, 500.0, 300.0),
            Tolerance(absolute=0.5),
            lambda r: see.probe(r, "centre") + see.ZERO_CELSIUS,
            337.2634,
            339.05,
            "grid of 0.25 m",
        ),
        Quantity(
            "0.25 m from its edge",
            "K",
            lambda: exact.column_with_convection(0.25, 10.0, 500.0, 300.0),
            Tolerance(absolute=0.5),
            lambda r: see.probe(r, "quarter") + see.ZERO_CELSIUS,
            348.3623,
            356.99,
            "grid of 0.25 m",
        ),
    ),
)

CHECKS = (HALF_COLUMN, WOOD, PLATE, *FACTORS, THIN, STEEL, CONVECTION)
