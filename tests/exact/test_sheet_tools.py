"""A sheet on tools against exact solutions: Robin series, drawn thinner, half-spaces, and two bodies that touch."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.unit.sheets import (
    ALUMINIUM,
    CONDUCTIVITY,
    DENSITY,
    HEAT,
    K,
    air,
    body,
    case,
    found,
    stuff,
    tool,
    touch,
    transfer,
    values,
)
from thermokit.processes.run import run_case
from thermokit.studies.dwell import dwell
from validation.references import convective_series, plane_series, thick_body
from validation.references.layered_laplace import Sheet, Side, temperature
from validation.references.staged_slab import Stage, StagedSlab

A = CONDUCTIVITY / (DENSITY * HEAT)
HOT = {"start": "150 degC"}
FINE = {"accuracy": {"temperature": "0.02 K"}}
NO_AIR = air(20.0, 0.0)


def mould(temperature: float) -> dict[str, Any]:
    return {"temperature": f"{temperature} degC"}


def history(*stations: Any, **more: Any) -> Any:
    return run_case(case(*stations, **{"sheet": HOT, **FINE, **more})).history


# -- one temperature on each side ------------------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [1.0, 1.6, 2.5])
@pytest.mark.parametrize("contact", [150.0, 1000.0])
def test_between_two_tools_it_cools_as_the_robin_series_says(ratio: float, contact: float) -> None:
    """150 degC between tools at 50 degC; drawn to ratio times its area it is that much thinner."""
    half = 0.002 / ratio
    times = np.array([0.1, 0.4, 1.0]) * half**2 / A
    station = tool(f"{times[-1]} s", draw_ratio=ratio, upper=touch(contact), lower=touch(contact))
    row = history(station, tools={"mould": mould(50.0)}, output={"times": [f"{t} s" for t in times]})
    biot = contact * half / CONDUCTIVITY
    for i, t in enumerate(times):
        exact = [50.0 + 100.0 * convective_series.ratio("plane", biot, A * t / half**2, s) for s in (0.0, 1.0)]
        n = len(row.centres)
        middle = row.temperature[i, [n // 2 - 1, n // 2]].mean()
        assert [middle - K, row.inner_face[i] - K] == pytest.approx(exact, abs=0.05)
        assert row.outer_face[i] == pytest.approx(row.inner_face[i], abs=1e-9)


@pytest.mark.parametrize("side", ["upper", "lower"])
def test_on_one_tool_it_cools_as_half_of_a_slab_twice_as_thick(side: str) -> None:
    row = history(tool("60 s", air=NO_AIR, **{side: touch(250.0)}), tools={"mould": mould(65.0)})
    fourier, biot = A * 60.0 / 0.004**2, 250.0 * 0.004 / CONDUCTIVITY
    near, far = ("inner_face", "outer_face") if side == "upper" else ("outer_face", "inner_face")
    for face, s in ((near, 1.0), (far, 0.0)):
        wanted = 65.0 + 85.0 * convective_series.ratio("plane", biot, fourier, s)
        assert getattr(row, face)[-1] - K == pytest.approx(wanted, abs=0.05)


def test_between_tools_of_two_temperatures() -> None:
    """Sine series about the steady line: faces held at 30 and 70 degC."""
    sides = {"upper": touch(1e9, "cold"), "lower": touch(1e9, "warm")}
    row = history(tool("20 s", **sides), tools={"cold": mould(30.0), "warm": mould(70.0)})
    for x in (0.001, 0.002, 0.003):
        wanted = plane_series.two_walls(x, 20.0, 0.004, A, 150.0, 30.0, 70.0)
        assert np.interp(x, row.centres, row.temperature[-1]) - K == pytest.approx(wanted, abs=0.05)


@pytest.mark.parametrize("share", [0.1, 0.6])
def test_a_share_that_touches(share: float) -> None:
    """Tool and air of one temperature: one coefficient, share x contact + (1 - share) x air's."""
    sides = {side: touch(400.0, share=share) for side in ("upper", "lower")}
    row = history(tool("50 s", air=air(50.0, 20.0), **sides), tools={"mould": mould(50.0)})
    together = share * 400.0 + (1.0 - share) * 20.0
    wanted = 50.0 + 100.0 * convective_series.ratio("plane", together * 0.002 / CONDUCTIVITY, A * 50.0 / 0.002**2, 1.0)
    assert row.inner_face[-1] - K == pytest.approx(wanted, abs=0.05)


@pytest.mark.long
def test_time_goes_with_the_square_of_the_drawn_thickness() -> None:
    """Held faces: release of a sheet drawn to 1 and to 2 times its area, and the series itself."""
    limits = {"coldest_point": None, "release_temperature": "85 degC"}
    found_at = {}
    for ratio in (1.0, 2.0):
        station = tool({"find": ["5 s", "100 s"]}, draw_ratio=ratio, upper=touch(1e9), lower=touch(1e9))
        found_at[ratio] = dwell(case(station, sheet=HOT, limits=limits, tools={"mould": mould(50.0)}, **FINE)).earliest
    assert found_at[1.0] is not None
    assert found_at[1.0] / found_at[2.0] == pytest.approx(4.0, rel=2e-3)
    exact = convective_series.fourier_to_reach("plane", math.inf, 35.0 / 100.0, 0.0) * 0.002**2 / A
    assert found_at[1.0] == pytest.approx(exact, rel=2e-3)


# -- stages ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stretch", [1.0, 1.3])
def test_oven_transfer_and_matched_tools(stretch: float) -> None:
    """Heated in air, carried over, drawn and pressed: the exact profile is handed from stage to stage."""
    stations = [
        {**transfer("200 s", "oven"), "air": air(180.0, 30.0), "emissivity": 0.0},
        {**transfer("8 s"), "air": air(25.0, 12.0), "emissivity": 0.0, "draw_ratio": stretch},
        tool("40 s", draw_ratio=1.5, upper=touch(500.0), lower=touch(500.0)),
    ]
    times = (100.0, 200.0, 208.0, 218.0, 248.0)
    given = case(*stations, tools={"mould": mould(40.0)}, output={"times": [f"{t} s" for t in times]}, **FINE)
    row = run_case(given).history
    exact = StagedSlab(
        CONDUCTIVITY, A, 20.0,
        (
            Stage(200.0, 30.0, 180.0, 0.004),
            Stage(8.0, 12.0, 25.0, 0.004 / stretch),
            Stage(40.0, 500.0, 40.0, 0.004 / stretch / 1.5),
        ),
    )  # fmt: skip
    n = len(row.centres)
    for i, t in enumerate(times):
        assert row.temperature[i, [n // 2 - 1, n // 2]].mean() - K == pytest.approx(exact.at(t, 0.0), abs=0.05)
        assert row.inner_face[i] - K == pytest.approx(exact.at(t, 1.0), abs=0.06)


# -- the first moments -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", ["upper", "lower"])
@pytest.mark.parametrize(("contact", "cold"), [(250.0, 65.0), (250.0, 45.0), (900.0, 40.0)])
def test_time_before_the_skin_is_too_cold_to_be_drawn(side: str, contact: float, cold: float) -> None:
    """Thick body that meets a tool through a contact: (T - T0)/(Tt - T0) = 1 - exp(v^2) erfc(v), v = h sqrt(a t)/k."""
    station = tool("30 s", air=air(25.0, 40.0), **{side: touch(contact)})
    name = f"{side}_draw_time"
    time = found(case(station, sheet=HOT, tools={"mould": mould(cold)}))[name]

    def skin(t: float) -> float:
        return thick_body.convection(0.0, t, A, CONDUCTIVITY, contact, 150.0, cold) - 127.0

    assert time == pytest.approx(brentq(skin, 1e-6, 10.0), rel=0.01)


def test_the_worked_draw_time() -> None:
    """0.54 s: contact 250 W/m2/K, mould 65 degC, lower forming limit 127 degC, wall 2.5 mm."""
    station = tool("30 s", air=air(25.0, 40.0), lower=touch(250.0))
    given = case(station, sheet={**HOT, "thickness": "2.5 mm"}, tools={"mould": mould(65.0)})
    assert found(given)["lower_draw_time"] == pytest.approx(0.54, abs=0.005)


def test_a_skin_that_never_sets_has_no_time() -> None:
    station = tool("30 s", air=air(25.0, 40.0), lower=touch(250.0))
    result = run_case(case(station, sheet=HOT, tools={"mould": mould(140.0)}, limits={"coldest_point": "100 degC"}))
    assert values(result)["lower_draw_time"] is None
    assert not any("chill mark" in text for text in result.remarks)


# -- a tool with a body ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", ["upper", "lower"])
def test_touch_of_two_bodies(side: str) -> None:
    """In perfect contact the joint is at (e1 T1 + e2 T2)/(e1 + e2) while both are thick; the outcome says so too."""
    times = [0.005, 0.02, 0.1]
    station = tool("0.1 s", air=air(25.0, 0.0), **{side: touch(1e9)})
    tools = {"mould": body(12.0, 65.0)}
    output = {"times": [f"{t} s" for t in times]}
    result = run_case(case(station, sheet=HOT, tools=tools, output=output, accuracy={"temperature": "0.1 K"}))
    e1 = thick_body.effusivity(CONDUCTIVITY, DENSITY, HEAT)
    e2 = thick_body.effusivity(ALUMINIUM[1], ALUMINIUM[0], ALUMINIUM[2])
    wanted = thick_body.contact_temperature(e1, 150.0, e2, 65.0)
    assert wanted == pytest.approx(67.5, abs=0.1)  # the worked scenario's
    assert values(result)[f"{side}_touch_temperature"] == pytest.approx(wanted, abs=0.01)
    face = result.history.inner_face if side == "upper" else result.history.outer_face
    assert face[1:] - K == pytest.approx(np.full(2, wanted), abs=0.2)


@pytest.mark.parametrize("side", ["upper", "lower"])
def test_sheet_and_tool_as_two_layers(side: str) -> None:
    """Faces of sheet and tool by the Laplace transform: contact between them, water behind the tool, a fan in front."""
    station = tool("20 s", air=air(25.0, 40.0), **{side: touch(400.0)})
    tools = {"mould": body(12.0, 30.0, back={"coefficient": "800 W/m2/K", "temperature": "15 degC"})}
    result = run_case(case(station, sheet=HOT, tools=tools, output={"times": ["5 s", "20 s"]}, **FINE))
    layers = (
        Sheet(0.004, CONDUCTIVITY, DENSITY * HEAT, 150.0, 400.0),
        Sheet(0.012, ALUMINIUM[1], ALUMINIUM[0] * ALUMINIUM[2], 30.0),
    )
    sides = Side(40.0, 25.0), Side(800.0, 15.0)
    faces = ("outer_face", "inner_face") if side == "upper" else ("inner_face", "outer_face")
    for i, t in enumerate((5.0, 20.0)):
        for name, x in zip(faces, (0.0, 0.004), strict=True):
            wanted = temperature(layers, *sides, 0, x, t)
            assert getattr(result.history, name)[i] - K == pytest.approx(wanted, abs=0.05)
    field = next(f for f in result.fields if f.name == "tool/mould_temperature")
    face = np.asarray(field.values)[-1, -1 if side == "upper" else 0]
    assert face == pytest.approx(temperature(layers, *sides, 1, 0.0, 20.0), abs=0.3)  # half a cell from the joint


def test_material_of_the_worked_touch() -> None:
    """The library's cast aluminium and the scenario's sheet: 67.5 degC."""
    station = tool("10 s", air=air(25.0, 40.0), lower=touch(250.0))
    tools = {"mould": {"material": "aluminium_cast", "thickness": "15 mm", "start": "65 degC"}}
    given = case(station, sheet={**HOT, "thickness": "2.5 mm"}, tools=tools, material=stuff())
    assert found(given)["lower_touch_temperature"] == pytest.approx(67.5, abs=0.2)
