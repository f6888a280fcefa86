"""Examples that seek another input than a time, against formulas that need no solver."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

import thermokit
from cases.plausible import SIGMA, case_file
from thermokit.studies.bottleneck import bottleneck
from thermokit.studies.cost import cost
from thermokit.studies.dwell import dwell
from thermokit.studies.thermocouple import thermocouple


def test_the_oven_of_the_chock() -> None:
    """One term of the plate (Incropera & DeWitt, section 5.5): T0 + (Ta - T0)(1 - C exp(-z^2 Fo)) = 140 degC."""
    half, k, rho, cp, h = 0.012, 0.25, 1150.0, 1700.0, 25.0
    z = brentq(lambda x: x * math.tan(x) - h * half / k, 1e-9, math.pi / 2 - 1e-9)
    c = 4.0 * math.sin(z) / (2.0 * z + math.sin(2.0 * z))
    share = 1.0 - c * math.exp(-(z**2) * k / (rho * cp) * 3600.0 / half**2)
    found = dwell(case_file("how_hot_must_the_oven")).as_json()
    assert found["unit"] == "degC"
    assert found["recommended"] == pytest.approx(20.0 + 120.0 / share, abs=0.3)


def test_a_couple_in_the_chock_goes_where_it_can_be_told() -> None:
    """The film of air shows while it warms, T - T0 ~ h t/C; in the end all comes to the air whatever the film."""
    case = thermokit.load_case(case_file("how_hot_must_the_oven"))
    found = thermocouple(case, of="middle_temperature")
    assert found.best.left < 0.3 * found.spread
    assert found.best.last < 0.5 * 3600.0
    assert found.names[int(abs(found.weights).argmax())] == "stations.oven.outer.convection.coefficient"


def test_the_planter_lid() -> None:
    """Heat taken in 50 s at a face half-way up, over rho cp dT of the mean (the shop's formula): within the window."""
    found = dwell(case_file("how_thick_a_planter_lid"))
    face = 273.15 + (20.0 + 180.0) / 2.0
    flux = 0.6 * SIGMA * ((430.0 + 273.15) ** 4 - face**4) + 8.0 * (60.0 + 273.15 - face)
    by_hand = 2.0 * flux * 50.0 / (1040.0 * 1800.0 * ((120.0 + 180.0) / 2.0 - 20.0))
    assert found.earliest is not None and found.latest is not None
    assert found.earliest < by_hand < 1.1 * found.latest
    assert (found.earliest_limit, found.latest_limit) == ("hottest_face", "coldest_point")


def test_what_the_planter_lid_costs() -> None:
    """The machine and hands cost 60 an hour for 59 s; the material is its mass over the yield."""
    found = cost(case_file("how_thick_a_planter_lid"))
    money = {m.name: m.amount for m in found.money}
    assert money["machine"] + money["labour"] == pytest.approx(60.0 * 59.0 / 3600.0 / 0.97)
    thickness = float(found.case.value("sheet.thickness"))
    assert money["material"] == pytest.approx(1040.0 * 0.8 * 0.5 * thickness * 1.9 / 0.97)
    # heat into the part, ideal: mass cp dT of the mean between the two limits
    ideal = 1040.0 * 0.8 * 0.5 * thickness * 1800.0 / 3.6e6 / 0.97
    into = found.kwh("heat into the part")
    assert into is not None and 100.0 * ideal < into < 160.0 * ideal
    ruled = bottleneck(case_file("how_thick_a_planter_lid"))
    assert ruled.cycle == pytest.approx(59.0)
    assert ruled.ruling.name == "heat"
