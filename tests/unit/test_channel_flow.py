"""Flow in channels: against the open libraries ht and fluids, the Graetz series, and itself where branches share a flow."""

from __future__ import annotations

import ht
import numpy as np
import pytest

from thermokit.exchange import channel_flow as flow
from thermokit.exchange.channel_circuit import (
    Bore,
    along_given_heat,
    along_given_wall,
    bore_flow,
    flow_for_pressure,
    flow_for_reynolds,
    flow_for_rise,
    split_flow,
)
from validation.references.water import graetz_mean

GRID = np.geomspace(4001.0, 9e5, 12)


@pytest.mark.parametrize("roughness", [0.0, 1e-4, 2e-3, 0.03])
def test_friction_against_fluids(roughness: float) -> None:
    fluids = pytest.importorskip("fluids")
    other = [fluids.friction_factor(re, roughness, Method="Colebrook") for re in GRID]
    assert flow.friction_factor(GRID, roughness) == pytest.approx(other, rel=1e-9)
    assert flow.friction_factor([100.0, 2000.0], roughness) == pytest.approx([0.64, 0.032])


@pytest.mark.parametrize("prandtl", [0.7, 3.0, 7.0, 60.0])
def test_turbulent_against_ht(prandtl: float) -> None:
    other = [ht.conv_internal.turbulent_Gnielinski(re, prandtl, float(flow.friction_petukhov(re))) for re in GRID]
    assert flow.nusselt(GRID, prandtl) == pytest.approx(other, rel=1e-9)
    boelter = [ht.conv_internal.turbulent_Dittus_Boelter(re, prandtl, heating=True) for re in GRID]
    assert flow.nusselt_dittus_boelter(GRID, prandtl) == pytest.approx(boelter, rel=1e-9)


@pytest.mark.parametrize("inverse", [1e-4, 1e-3, 0.01, 0.05, 0.2, 1.0])
def test_laminar_entrance_is_the_graetz_series(inverse: float) -> None:
    """inverse : (length/diameter)/(Re Pr); 3.6568 far down the channel."""
    assert float(flow.nusselt_laminar(1000.0, 7.0, 7000.0 * inverse)) == pytest.approx(graetz_mean(inverse), rel=0.01)
    assert graetz_mean(10.0) == pytest.approx(3.6568, rel=2e-3)


def test_transition_has_no_jump_and_never_falls() -> None:
    re = np.linspace(1000.0, 8000.0, 7001)
    for slenderness in (20.0, np.inf):
        nu = flow.nusselt(re, 7.0, slenderness)
        assert np.all(np.diff(nu) >= 0.0)
        assert np.abs(np.diff(nu)).max() < 0.02  # in steps of Re 1
    f = flow.friction_factor(re, 1e-3)
    assert np.abs(np.diff(f[re > 2200.0])).max() < 2e-5  # 64/Re falls by 1.3e-5 there
    assert [flow.regime(x) for x in (2000.0, 3000.0, 9000.0)] == ["laminar", "in transition", "turbulent"]


def test_half_way_through_transition() -> None:
    """Gnielinski (2013): the mean of both ends at Re = 3150."""
    ends = [float(flow.nusselt_laminar(2300.0, 7.0)), float(flow.nusselt_gnielinski(4000.0, 7.0))]
    assert float(flow.nusselt(3150.0, 7.0)) == pytest.approx(np.mean(ends))


def test_warm_walls_help() -> None:
    assert float(flow.nusselt(2e4, 7.0, prandtl_wall=3.5) / flow.nusselt(2e4, 7.0)) == pytest.approx(2.0**0.11)


def test_ranges_in_words() -> None:
    assert flow.outside(1e4, 7.0, 1e-3) == ""
    assert "Re from 2e+06" in flow.outside(2e6, 7.0)
    assert "roughness" in flow.outside(1e4, 7.0, 0.1)


def test_scale_costs_heat_and_pressure() -> None:
    clean, scaled = (bore_flow(Bore(0.010, 1.0, scale=s), 1e-4) for s in (0.0, 0.5e-3))
    # series of film and shell, each by its own diameter
    shell = 1.0 / (float(scaled.film) * 0.009) + np.log(10 / 9) / 2.0
    assert float(scaled.coefficient) == pytest.approx(1.0 / (0.010 * shell))
    assert float(scaled.coefficient) < 0.3 * float(clean.coefficient)
    assert float(scaled.pressure_drop) > (10 / 9) ** 4.7 * float(clean.pressure_drop)
    with pytest.raises(ValueError, match="no opening"):
        bore_flow(Bore(0.010, 1.0, scale=0.005), 1e-4)


def test_losses_are_heads_of_the_stream() -> None:
    plain, bent = bore_flow(Bore(0.010, 1.0), 1e-4), bore_flow(Bore(0.010, 1.0, losses=2.0), 1e-4)
    assert float(bent.pressure_drop - plain.pressure_drop) == pytest.approx(
        float(plain.liquid.density * plain.velocity**2)
    )
    assert float(bent.pumping) == pytest.approx(1e-4 * float(bent.pressure_drop))


def test_baffle_and_bubbler_sections() -> None:
    """Half a circle has 4 A/P = pi d/(pi + 2); an annulus d_o - d_i."""
    area, hydraulic = Bore(0.012, 0.2, kind="baffle").section()
    assert [float(area), float(hydraulic)] == pytest.approx([np.pi / 8 * 0.012**2, np.pi * 0.012 / (np.pi + 2)])
    area, hydraulic = Bore(0.012, 0.2, kind="bubbler", insert=0.006).section()
    assert [float(area), float(hydraulic)] == pytest.approx([np.pi / 4 * (0.012**2 - 0.006**2), 0.006])
    # a plate takes its strip from both halves
    with_plate = Bore(0.012, 0.2, kind="baffle", insert=0.002).section()[0]
    assert float(with_plate) == pytest.approx(np.pi / 8 * 0.012**2 - 0.001 * 0.012, rel=2e-3)
    with pytest.raises(ValueError, match="plain, baffle or bubbler"):
        Bore(0.012, 0.2, kind="spiral").section()


def test_flows_for_a_wish() -> None:
    bore = Bore(0.010, 2.0, losses=3.0)
    wanted = flow_for_reynolds(bore, 1e4, temperature=298.15)
    assert float(bore_flow(bore, wanted, temperature=298.15).reynolds) == pytest.approx(1e4)
    wanted = flow_for_rise(5000.0, 2.0, temperature=298.15)
    assert 5000.0 * float(bore_flow(bore, wanted, temperature=298.15).rise_per_watt) == pytest.approx(2.0)
    for drop in (5.0, 60.0, 1e3, 2e5):  # laminar, in transition, turbulent
        wanted = flow_for_pressure((bore, bore), drop)
        assert 2 * float(bore_flow(bore, wanted).pressure_drop) == pytest.approx(drop, rel=1e-6)


@pytest.mark.parametrize("total", [1e-5, 4e-5, 3e-4])
def test_branches_share_a_flow_at_one_pressure(total: float) -> None:
    branches = [[Bore(0.010, 1.0)], [Bore(0.010, 2.0), Bore(0.008, 1.0)], [Bore(0.008, 1.0)]]
    split = split_flow(branches, total)
    assert float(sum(split.flows)) == pytest.approx(total)
    for branch, own in zip(branches, split.flows, strict=True):
        assert float(sum(bore_flow(b, own).pressure_drop for b in branch)) == pytest.approx(
            float(split.pressure_drop), rel=1e-6
        )
    twins = split_flow([[Bore(0.01, 1.0)]] * 4, total)
    assert [float(f) for f in twins.flows] == pytest.approx([total / 4] * 4)


def test_along_a_circuit() -> None:
    """Both laws leave with the heat that they took up; a small conductance makes the second the first."""
    per_watt = float(bore_flow(Bore(0.01, 1.0), 1e-4).rise_per_watt)
    assert float(along_given_heat(290.0, 800.0, 0.5, per_watt)) == pytest.approx(290.0 + 400.0 * per_watt)
    exact = 320.0 - 30.0 * np.exp(-150.0 * per_watt)
    assert float(along_given_wall(290.0, 320.0, 150.0, 1.0, per_watt)) == pytest.approx(exact)
    slight = float(along_given_wall(290.0, 320.0, 1e-3, 1.0, per_watt))
    assert slight - 290.0 == pytest.approx(0.03 * per_watt, rel=1e-5)


def test_arrays_over_cases() -> None:
    many = bore_flow(Bore(np.array([0.008, 0.010]), 1.0), np.array([1e-4, 2e-4]), "water_glycol", 283.15)
    one = bore_flow(Bore(0.010, 1.0), 2e-4, "water_glycol", 283.15)
    assert many.coefficient.shape == (2,)
    assert float(many.coefficient[1]) == pytest.approx(float(one.coefficient))
