"""Sizes along a line: mass is kept, dies and pins give the size that they were found for, the knife drags half its gap."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermokit.shaping import line_sizes as sizes

HOT, COLD = 770.0, 955.0


@pytest.mark.parametrize("free", [1, 2, 3])
def test_mass_is_kept(free: int) -> None:
    share = sizes.shrinkage_by_density(HOT, COLD, free)
    assert share**free * COLD == pytest.approx(HOT)


def test_only_three_directions() -> None:
    with pytest.raises(ValueError, match="1, 2 or 3"):
        sizes.shrinkage_by_density(HOT, COLD, 0)


def test_thickness_there_and_back() -> None:
    cold = sizes.cold_thickness(1e-3, HOT, COLD)
    assert sizes.hot_thickness(cold, HOT, COLD) == pytest.approx(1e-3)
    assert sizes.cold_thickness(1e-3, HOT, COLD, free=1) == pytest.approx(1e-3 * HOT / COLD)


def test_pipe_free_and_held() -> None:
    d, s = sizes.cold_tube(0.11, 0.01, HOT, COLD)
    assert s / d == pytest.approx(0.01 / 0.11)
    free_length = (HOT / COLD) ** (1 / 3)
    assert HOT * sizes.tube_section(0.11, 0.01) == pytest.approx(COLD * sizes.tube_section(d, s) * free_length)
    dh, sh = sizes.cold_tube_held(0.11, 0.01, HOT, COLD)
    assert dh == 0.11
    assert HOT * sizes.tube_section(0.11, 0.01) == pytest.approx(COLD * sizes.tube_section(dh, sh))
    assert d < dh
    assert sh < s


@given(
    outer=st.floats(0.005, 0.5), share=st.floats(0.03, 0.45), down=st.floats(1.0, 20.0), balance=st.floats(0.95, 1.2),
)  # fmt: skip
def test_die_and_pin_give_the_pipe(outer: float, share: float, down: float, balance: float) -> None:
    wall = share * outer
    die, pin = sizes.die_of_tube(outer, wall, down, balance, HOT, COLD)
    k = (HOT / COLD) ** (1 / 3)
    found = sizes.tube_draw_down(die, pin, outer / k, (outer - 2 * wall) / k)
    assert found[0] == pytest.approx(down, rel=1e-9)
    assert found[1] == pytest.approx(balance, rel=1e-9)


def test_no_annulus_is_not_a_number() -> None:
    assert np.isnan(sizes.die_of_tube(0.1, 0.002, 4.0, 0.9, HOT, COLD)).all()


def test_output_of_a_pipe_line() -> None:
    """pi (0.11 - 0.01) 0.01 m2 x 955 kg/m3 = 3.0 kg/m."""
    assert sizes.line_output(sizes.tube_section(0.11, 0.01), 1.0, 955.0) == pytest.approx(3.0002, abs=1e-3)


def test_wire_by_mass() -> None:
    d = float(sizes.covered_diameter(1.38e-3, 4.6e-3, 5.0, 940.0))
    assert np.pi / 4 * (d**2 - 1.38e-3**2) * 940.0 * 5.0 == pytest.approx(4.6e-3)


def test_slot_by_draw_down() -> None:
    assert sizes.die_gap_of_sheet(0.5e-3, 1.3, 1200.0, 1300.0, free=1) == pytest.approx(0.5e-3 * 1.3 * 1300 / 1200)


def test_knife_drags_half_its_gap() -> None:
    """Couette: integral of U y/h over the gap is U h/2."""
    y = np.linspace(0.0, 0.5e-3, 1001)
    flow = np.trapezoid(0.2 * y / 0.5e-3, y)
    assert sizes.knife_wet(0.5e-3) == pytest.approx(flow / 0.2)


def test_head_pushes_through_as_poiseuille() -> None:
    """h^3 dp/(12 mu L) by width, over U: added to the drag."""
    h, dp, mu, u, land = 0.5e-3, 200.0, 3.0, 0.1, 5e-3
    wet = sizes.knife_wet(h, sizes.knife_push(h, dp, mu, u, land))
    assert wet == pytest.approx(h / 2 + h**3 * dp / (12 * mu * land * u))


@pytest.mark.parametrize("entry", [0.4e-3, 0.8e-3, 4e-3])
def test_wedge_by_its_pressure(entry: float) -> None:
    """Reynolds: dp/dx = 6 mu U (h - 2 H)/h^3 must come to zero over a plane wedge, H the wet thickness."""
    h0 = 0.4e-3
    wet = float(sizes.knife_wet_of_wedge(h0, entry))
    if entry == h0:
        assert wet == pytest.approx(h0 / 2)
        return
    h = np.linspace(entry, h0, 200_001)
    slope = (h - 2 * wet) / h**3
    assert abs(np.trapezoid(slope, h)) < 1e-6 * np.trapezoid(np.abs(slope), -h)


def test_add_on_and_its_gap() -> None:
    """300 g/m2 of paste of 1250 kg/m3 is 0.24 mm: a gap of 0.48 mm."""
    gap = sizes.knife_gap(0.300, 1250.0)
    assert gap == pytest.approx(0.48e-3)
    assert sizes.add_on(sizes.knife_wet(gap), 1250.0) == pytest.approx(0.300)
    assert sizes.add_on(0.24e-3, 1250.0, 0.9) == pytest.approx(0.270)
