"""Thin bodies of one temperature, through stages and by radiation: A20, D09."""

from __future__ import annotations

from typing import Any

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import lumped

SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018
_PANEL = lumped.Panel(0.003, 2770 * 875, 0.8, SIGMA)
HOT, COLD = 448.15, 298.15  # K: air and walls of the two stages


def _stage_1() -> float:
    return _PANEL.time(298.15, 423.15, 40, HOT) + 300


def _end() -> float:
    return _PANEL.temperature(298.15, _stage_1(), 40, HOT)


def _staged() -> tuple[float, Any]:
    """(time to 150 degC, the run whose first stage ends 300 s later)."""
    first = see.run("coated_panel")
    reached = see.crossing(first.history.time, see.celsius(first.history.inner_face), 150.0)
    return reached, see.run("coated_panel", {"stations.cure.duration": reached + 300})


def _total(outcome: tuple[float, Any]) -> float:
    result = outcome[1]
    cooling = result.history.span == 1
    time, face = result.history.time[cooling], see.celsius(result.history.inner_face[cooling])
    return see.crossing(time, face, 37.0)


PANEL = Check(
    "A20",
    "coated panel: heating and cooling stages with convection and radiation",
    "Incropera et al., Example 5.3, as transcribed with its printed result in a public textbook companion",
    "verified (123, 423, 987 s in the transcription; 124, 424, 989 s in the book, from memory)",
    _staged,
    (
        Quantity(
            "150 degC reached",
            "s",
            lambda: _stage_1() - 300,
            Tolerance(absolute=1.0),
            lambda o: o[0],
            None,
            124,
            "rounded steps, 0 degC = 273 K",
        ),
        Quantity(
            "end of the first stage",
            "s",
            _stage_1,
            Tolerance(absolute=1.0),
            lambda o: o[1].history.ends[0].time,
            None,
            424,
            "rounded steps, 0 degC = 273 K",
        ),
        Quantity(
            "panel then",
            "degC",
            lambda: _end() - see.ZERO_CELSIUS,
            Tolerance(absolute=0.1),
            lambda o: see.celsius(o[1].history.ends[0].inner_face),
            None,
            175,
            "rounded",
        ),
        Quantity(
            "37 degC reached",
            "s",
            lambda: _stage_1() + _PANEL.time(_end(), 310.15, 10, COLD),
            Tolerance(absolute=3.0),
            _total,
            None,
            989,
            "rounded steps, 0 degC = 273 K",
        ),
    ),
)


_BOOK_SIGMA = 5.67e-8
_BOOK_PANEL = lumped.Panel(0.003, 2770 * 875, 0.8, _BOOK_SIGMA)
_BOOK_LEVELS = {"cure": (448.0, 40), "cool": (298.0, 10)}  # K of air and walls, W/m2/K: with 0 degC = 273 K
_BOOK = {"body.start": 298.0} | {
    f"stations.{name}.{side}.{path}": value
    for name, (level, _) in _BOOK_LEVELS.items()
    for side in ("inner", "outer")
    for path, value in (
        ("convection.air", level),
        ("radiation.surround", level),
        ("radiation.emissivity", 0.8 * _BOOK_SIGMA / SIGMA),
    )
}


def _book_stage_1() -> float:
    return _BOOK_PANEL.time(298.0, 423.0, 40, 448.0) + 300


def _book_end() -> float:
    return _BOOK_PANEL.temperature(298.0, _book_stage_1(), 40, 448.0)


def _book_staged() -> tuple[float, Any]:
    first = see.run("coated_panel", _BOOK)
    reached = see.crossing(first.history.time, first.history.inner_face, 423.0)
    return reached, see.run("coated_panel", _BOOK | {"stations.cure.duration": reached + 300})


def _book_total(outcome: tuple[float, Any]) -> float:
    history = outcome[1].history
    cooling = history.span == 1
    return see.crossing(history.time[cooling], history.inner_face[cooling], 310.0)


BOOK_PANEL = Check(
    "A20",
    "coated panel in the book's arithmetic",
    "Incropera et al., Example 5.3, as transcribed with its printed result in a public textbook companion",
    "verified (123, 423, 987 s in the transcription; 124, 424, 989 s in the book, from memory)",
    _book_staged,
    (
        Quantity(
            "150 degC reached, book's arithmetic",
            "s",
            lambda: _book_stage_1() - 300,
            Tolerance(absolute=1.0),
            lambda o: o[0],
            123.0751,
            124,
        ),
        Quantity(
            "end of the first stage, book's arithmetic",
            "s",
            _book_stage_1,
            Tolerance(absolute=1.0),
            lambda o: o[1].history.ends[0].time,
            423.0751,
            424,
        ),
        Quantity(
            "panel then, book's arithmetic",
            "degC",
            lambda: _book_end() - 273.0,
            Tolerance(absolute=0.1),
            lambda o: o[1].history.ends[0].inner_face - 273.0,
            174.7544,
            175,
            "rounded",
        ),
        Quantity(
            "37 degC reached, book's arithmetic",
            "s",
            lambda: _book_stage_1() + _BOOK_PANEL.time(_book_end(), 310.0, 10, 298.0),
            Tolerance(absolute=3.0),
            _book_total,
            986.3303,
            989,
        ),
    ),
    "the same with 0 degC = 273 K and sigma = 5.67e-8 W/m2/K4, put in by the emissivity",
)


def _radiating(case: str, name: str, equation: str, exact: Any, recorded: float) -> Check:
    return Check(
        "D09",
        f"thin sheet, {name}",
        f"Bejan & Kraus (eds.), Heat Transfer Handbook (2003), eq. ({equation})",
        "computed (equation verified)",
        lambda: see.run(case),
        (
            Quantity(
                f"450 to 350 K, {name}",
                "s",
                exact,
                Tolerance(share=0.002),
                lambda r: see.crossing(r.history.time, r.history.inner_face, 350.0),
                recorded,
            ),
        ),
    )


# one face stands for half of the 1 mm sheet
CHECKS = (
    PANEL,
    BOOK_PANEL,
    _radiating(
        "radiating_sheet",
        "radiation alone",
        "3.283",
        lambda: lumped.radiation_time(0.9, SIGMA, 2700 * 900, 0.0005, 450, 350, 300),
        157.4552,
    ),
    _radiating(
        "radiating_sheet_to_zero",
        "radiation and convection to 0 K",
        "3.284",
        lambda: lumped.radiation_convection_time_to_zero(0.9, SIGMA, 10, 2700 * 900, 0.0005, 450, 350),
        23.08221,
    ),
)
