"""Sheets against the method of lines with a general integrator (LSODA): other nodes, other time stepping, hand-made fluxes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.unit.sheets import (
    ABS,
    CLEAR,
    SIGMA,
    K,
    Lines,
    air,
    case,
    panels,
    placed,
    plain,
    stuff,
    tool,
    touch,
    transfer,
)
from thermokit.processes.run import run_case

FINE = {"accuracy": {"temperature": "0.02 K"}}


def faces(row: Any, i: int) -> list[float]:
    n = len(row.centres)
    return [row.inner_face[i], float(row.temperature[i, [n // 2 - 1, n // 2]].mean()), row.outer_face[i]]


def of(lines: np.ndarray) -> list[float]:
    return [float(lines[0]), float(lines[len(lines) // 2]), float(lines[-1])]


def panel(hot: float, factor: float) -> Any:
    """q = F sigma (Tp^4 - T^4) + h (Ta - T), oven air 60 degC, h 8."""
    return lambda t, face: factor * SIGMA * ((hot + K) ** 4 - face**4) + 8.0 * (60.0 + K - face)


def test_unlike_panels_then_transfer() -> None:
    """4 mm ABS, 420 degC above and 380 below, then 5 s of air at 25 degC with radiation to it."""
    given = case(
        panels(plain(420.0), plain(380.0, 0.5), "70 s"), transfer(), output={"times": ["35 s", "70 s", "75 s"]}, **FINE
    )
    row = run_case(given).history
    heating = Lines(0.004, ABS, 20.0 + K).run([35.0, 70.0], panel(420.0, 0.6), panel(380.0, 0.5))

    def open_face(t: float, face: float) -> float:
        return 10.0 * (25.0 + K - face) + 0.93 * SIGMA * ((25.0 + K) ** 4 - face**4)

    cooled = Lines(0.004, ABS, heating[-1]).run([5.0], open_face, open_face)
    for i, wanted in enumerate((heating[0], heating[1], cooled[0])):
        assert faces(row, i) == pytest.approx(of(wanted), abs=0.05)


@pytest.mark.parametrize("initial", [25.0, 600.0])
def test_a_panel_that_warms_up_or_glows_on(initial: float) -> None:
    """Its face goes to 420 degC as exp(-t/40 s); the lower one is steady."""
    warming = plain(420.0, 0.6, initial=f"{initial} degC", time_constant="40 s")
    given = case(panels(warming, plain(), "80 s"), output={"times": ["10 s", "40 s", "80 s"]}, **FINE)
    row = run_case(given).history

    def upper(t: float, face: float) -> float:
        return panel(420.0 + (initial - 420.0) * np.exp(-t / 40.0), 0.6)(t, face)

    wanted = Lines(0.004, ABS, 20.0 + K).run([10.0, 40.0, 80.0], upper, panel(420.0, 0.6))
    for i in range(3):
        assert faces(row, i) == pytest.approx(of(wanted[i]), abs=0.15)  # the table is within 0.2 K of the exponential


def clear_source(lines: Lines, kappa: float, r: float, behind: float) -> np.ndarray:
    """Share taken in by depth [1/m] of what falls on the upper face: rays to and fro, each exp(-kappa x) along its way."""
    x, length = lines.x, lines.x[-1]
    t, out = np.exp(-kappa * length), np.zeros(len(lines.x))
    down = 1.0 - r
    back = r + (1.0 - r) ** 2 * behind / (1.0 - r * behind)  # of the far face with what lies behind
    for _ in range(60):
        out += down * kappa * np.exp(-kappa * x)
        up = down * t * back
        out += up * kappa * np.exp(-kappa * (length - x))
        down = up * t * r
    return out


@pytest.mark.parametrize("kappa", [500.0, 1000.0, 6000.0])
def test_clear_sheet_that_takes_in_and_gives_off_in_depth(kappa: float) -> None:
    """1.5 mm, panels 350 degC above and 400 below by 0.6, air 60 degC with h 8; what passes meets 0.06 of reflection."""
    sheet = {
        "thickness": "1.5 mm",
        "absorption": "in_depth",
        "bands": [{"coefficient": f"{kappa} 1/m", "reflectance": 0.05}],
    }
    station = panels(plain(350.0), plain(400.0), "50 s")
    output = {"times": ["15 s", "50 s"]}
    row = run_case(case(station, sheet=sheet, material=stuff(*CLEAR), output=output, **FINE)).history
    lines = Lines(0.0015, CLEAR, 20.0 + K, 241)
    upper = clear_source(lines, kappa, 0.05, 0.06)
    lines.source = 0.6 * SIGMA * (upper * (350.0 + K) ** 4 + upper[::-1] * (400.0 + K) ** 4)
    lines.emission = 0.6 * (upper + upper[::-1])

    def still(t: float, face: float) -> float:
        return 8.0 * (60.0 + K - face)

    wanted = lines.run([15.0, 50.0], still, still)
    for i in range(2):
        assert faces(row, i) == pytest.approx(of(wanted[i]), abs=0.05)


def test_a_fan_and_a_tool_whose_temperature_rises() -> None:
    """Drawn to 1.6 times the area, contact 250 W/m2/K to a tool from 45 to 65 degC within 10 s, a fan above."""
    tools = {"mould": {"temperature": {"time": ["0 s", "10 s"], "value": ["45 degC", "65 degC"]}}}
    station = tool("30 s", draw_ratio=1.6, lower=touch(250.0), air=air(25.0, 40.0))
    row = run_case(
        case(station, sheet={"start": "150 degC"}, tools=tools, output={"times": ["5 s", "30 s"]}, **FINE)
    ).history
    wanted = Lines(0.0025, ABS, 150.0 + K).run(
        [5.0, 30.0],
        lambda t, face: 40.0 * (25.0 + K - face),
        lambda t, face: 250.0 * (45.0 + 2.0 * min(t, 10.0) + K - face),
    )
    for i in range(2):
        assert faces(row, i) == pytest.approx(of(wanted[i]), abs=0.05)


def test_panels_that_see_their_place() -> None:
    """The middle under 700 x 500 mm, black sheet and panels: F sigma (Tp^4 - T^4) + (1 - F) sigma (T0^4 - T^4)."""
    black = placed(temperature="420 degC", emissivity=1.0)
    sheet = {"length": "600 mm", "width": "400 mm", "spots": [1, 1], "emissivity": 1.0}
    given = case(
        panels(black, black, "60 s", oven={"surround": "90 degC"}), sheet=sheet, output={"times": ["60 s"]}, **FINE
    )
    row = run_case(given).history
    a, b = 0.35 / 0.15, 0.25 / 0.15  # Howell B-3, four quarters
    u, v = np.sqrt(1 + a * a), np.sqrt(1 + b * b)
    view = 4.0 * (a / u * np.arctan(b / u) + b / v * np.arctan(a / v)) / (2 * np.pi)

    def face_flux(t: float, face: float) -> float:
        seen = view * (420.0 + K) ** 4 + (1 - view) * (90.0 + K) ** 4 - face**4
        return SIGMA * float(seen) + 8.0 * (60.0 + K - face)

    wanted = Lines(0.004, ABS, 20.0 + K).run([60.0], face_flux, face_flux)
    assert faces(row, 0) == pytest.approx(of(wanted[0]), abs=0.05)
