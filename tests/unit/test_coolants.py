"""Coolants and the dew point, against open libraries of fluid properties where they are installed, and tables."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.errors import DataError
from thermokit.exchange import coolants
from thermokit.exchange.dew_point import dew_point
from thermokit.exchange.glycol_mixture import mixture

CELSIUS = 273.15


def test_water_agrees_with_iapws_95() -> None:
    """From freezing to 200 degC, boiling pressure above 100 degC; the critical enhancement of the conductivity is left out."""
    fluid = pytest.importorskip("CoolProp.CoolProp")
    T = CELSIUS + np.array([1.0, 15.0, 40.0, 60.0, 90.0, 120.0, 160.0, 200.0])
    found = coolants.liquid("water", T)
    for i, t in enumerate(T):
        p = max(101325.0, 1.0001 * fluid.PropsSI("P", "T", t, "Q", 0, "Water"))
        rho, cp, mu, k = (fluid.PropsSI(name, "T", t, "P", p, "Water") for name in ("D", "C", "V", "L"))
        assert found.density[i] == pytest.approx(rho, rel=5e-5)
        assert found.specific_heat[i] == pytest.approx(cp, rel=1e-3)
        assert found.viscosity[i] == pytest.approx(mu, rel=5e-5)
        assert found.conductivity[i] == pytest.approx(k, rel=2.5e-3 if t > CELSIUS + 150 else 5e-4)
        assert found.prandtl[i] == pytest.approx(mu * cp / k, rel=4e-3)


def test_water_is_the_industrial_formulation() -> None:
    """To round-off, at pressures of its own."""
    iapws = pytest.importorskip("iapws")
    for T, p in ((300.0, 0.3), (363.15, 0.5), (453.15, 3.0)):
        other, own = iapws.IAPWS97(T=T, P=p), coolants.liquid("water", T, pressure=1e6 * p)
        assert float(own.density) == pytest.approx(other.rho, rel=1e-9)
        assert float(own.specific_heat) == pytest.approx(1e3 * other.cp, rel=1e-9)
        assert float(own.viscosity) == pytest.approx(other.mu, rel=1e-6)


def test_boiling_there_and_back() -> None:
    T = CELSIUS + np.array([0.01, 50.0, 100.0, 180.0])
    assert coolants.saturation_temperature(coolants.saturation_pressure(T)) == pytest.approx(T, abs=1e-9)
    # steam tables: 1.0142 bar at 100 degC, 10.03 bar at 180 degC (IAPWS R7-97)
    assert coolants.saturation_pressure(T[2:]) == pytest.approx([101418.0, 1.00263e6], rel=1e-4)
    assert np.all(np.isnan(coolants.saturation_pressure([200.0, 700.0])))


def test_hot_water_needs_a_pressurised_unit() -> None:
    needed = coolants.pressure_to_stay_liquid(np.array([CELSIUS + 60.0, CELSIUS + 130.0]))
    assert needed[0] == pytest.approx(101325.0)
    assert needed[1] == pytest.approx(coolants.saturation_pressure(CELSIUS + 140.0))


@pytest.mark.parametrize(("share", "celsius"), [(0.1, 20.0), (0.3, -10.0), (0.3, 20.0), (0.5, -20.0), (0.5, 40.0)])
def test_glycol_by_two_sources(share: float, celsius: float) -> None:
    """The same coefficients in an open library to its digits; the tables of ASHRAE, fitted there, within 6 %."""
    fluid = pytest.importorskip("CoolProp.CoolProp")
    T = celsius + CELSIUS
    own = mixture(T, share)
    for name, within in (("MEG", 1e-6), ("AEG", 0.06)):
        other = [fluid.PropsSI(q, "T", T, "P", 5e5, f"INCOMP::{name}[{share}]") for q in ("D", "C", "L", "V")]
        assert [float(x) for x in own] == pytest.approx(other, rel=within)


def test_glycol_freezes_where_tables_say() -> None:
    """-15 to -16 degC at 30 %, -34 to -37 degC at 50 % by mass: handbook tables of antifreeze (from memory)."""
    celsius = coolants.freezing_temperature([0.3, 0.5]) - CELSIUS
    assert -16.5 < celsius[0] < -13.5 and -38.0 < celsius[1] < -33.0
    assert float(coolants.freezing_temperature()) == CELSIUS


def test_what_lies_outside_is_said() -> None:
    assert coolants.outside("water", CELSIUS + 20.0) == ""
    assert "known from 0 to 200 degC, asked for 215" in coolants.outside("water", CELSIUS + 215.0)
    assert "asked for -20 degC" in coolants.outside("water_glycol", CELSIUS - 20.0, 0.3)
    assert "known from 20 to 280" in coolants.outside("oil", np.array([CELSIUS + 10.0, CELSIUS + 300.0]))
    with pytest.raises(DataError, match="no coolant 'milk'; there are water"):
        coolants.liquid("milk", 300.0)
    with pytest.raises(DataError, match="0 to 60 %"):
        coolants.liquid("water_glycol", 300.0, 0.8)
    # held at its ends, not extrapolated
    assert float(coolants.liquid("water", 500.0).density) == float(coolants.liquid("water", 473.15).density)


def test_oil_is_the_library_record() -> None:
    from thermokit.materials import library

    table = library.load("thermal_oil").properties
    at = coolants.liquid("oil", table["viscosity"].temperature)
    assert at.viscosity == pytest.approx(table["viscosity"].value)
    assert at.prandtl == pytest.approx(table["prandtl"].value, rel=0.03)


def test_dew_point() -> None:
    fluid = pytest.importorskip("CoolProp.CoolProp")
    for celsius, share in ((20.0, 0.5), (35.0, 0.9), (25.0, 0.6), (50.0, 0.5)):
        other = fluid.HAPropsSI("D", "T", celsius + CELSIUS, "P", 101325.0, "R", share)
        assert float(dew_point(celsius + CELSIUS, share)) == pytest.approx(other, abs=0.05)
    assert float(dew_point(293.15, 1.0)) == pytest.approx(293.15)
    for wrong in (0.0, 1.2):
        with pytest.raises(ValueError, match="relative humidity"):
            dew_point(293.15, wrong)
