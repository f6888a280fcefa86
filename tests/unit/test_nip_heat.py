"""A calender's nip: Gaskell's numbers, quadrature of its equations, limits, the melt's heat, the bowl that keeps the sheet."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from thermokit.exchange.nip_heat import (
    consistency_at,
    exit_ratio,
    followed_bowl,
    gap_for_gauge,
    nip,
    nip_rise,
)

R, G, U, MU = 0.3, 1e-3, 0.5, 1e4  # radius, gap, speed, viscosity


def pull(rho: float, lam: float, n: float = 1.0) -> float:
    d = rho * rho - lam * lam
    return float(np.sign(d) * abs(d) ** n / (1.0 + rho * rho) ** (2 * n + 1))


def root(n: float, entrance: float = -np.inf) -> float:
    def left(lam: float) -> float:
        return quad(pull, entrance, -lam, args=(lam, n))[0] + quad(pull, -lam, lam, args=(lam, n))[0]

    return float(brentq(left, 1e-3, 0.9, xtol=1e-13))


def test_deep_bank_of_a_newtonian_melt_as_printed() -> None:
    """lambda 0.475 and gauge over gap 1.226, Gaskell (1950), printed in many places since."""
    assert np.sqrt(exit_ratio() - 1.0) == pytest.approx(0.475, abs=5e-4)
    assert exit_ratio() == pytest.approx(1.226, abs=5e-4)


@pytest.mark.parametrize("n", [1.0, 0.8, 0.5, 0.25])
@pytest.mark.parametrize("entering", [np.inf, 10.0, 2.0, 1.2])
def test_exit_by_quadrature(n: float, entering: float) -> None:
    lam = root(n, -np.sqrt(entering - 1.0))
    assert exit_ratio(n, entering) == pytest.approx(1.0 + lam**2, abs=2e-6)


def test_force_power_and_peak_of_a_newtonian_melt() -> None:
    """Middleman's integrals by quadrature; 1.22 mu U R/H0 and 3 x 1.08 mu U^2 sqrt(2R/H0), H0 half the gap, from memory."""
    found, half, lam = nip(2 * R, G, (U, U), MU), G / 2, root(1.0)
    force = 6 * quad(lambda r: -r * pull(r, lam), -np.inf, lam)[0]
    power = 6 * quad(lambda r: (r * r - lam * lam) ** 2 / (1 + r * r) ** 3, -np.inf, lam)[0]
    peak = np.sqrt(18.0) * quad(pull, -np.inf, -lam, args=(lam,))[0]
    assert found.force == pytest.approx(force * MU * U * R / half, rel=1e-7)
    assert found.power == pytest.approx(power * MU * U**2 * np.sqrt(2 * R / half), rel=1e-7)
    assert found.pressure == pytest.approx(peak * MU * U / half * np.sqrt(R / half), rel=1e-7)
    assert force == pytest.approx(1.22, abs=0.005)
    assert power / 3 == pytest.approx(1.08, abs=0.005)
    assert found.friction == 0.0


def test_power_is_what_both_bowls_put_in() -> None:
    """Newtonian, equal speeds: the drag of the walls times their speed, 2 U integral of h/2 |..| dp/dx: another integral."""
    found, lam = nip(2 * R, G, (U, U), MU), root(1.0)
    unit = np.sqrt(R * G)
    lead = 12 * MU * U / G**2
    # shear stress at a wall = (h/2) dp/dx; forward pull of both bowls on the melt = integral of h dp/dx
    drag = quad(lambda r: G * (1 + r * r) * lead * pull(r, lam) * unit, -np.inf, lam)[0]
    assert found.power == pytest.approx(U * drag, rel=1e-6)


@pytest.mark.parametrize("n", [1.0, 0.6, 0.3])
def test_power_law_is_pumping_against_pressure(n: float) -> None:
    """Equal speeds: heat = integral of q dp/dx with q = U g (rho^2 - lambda^2), what flows relative to the bowls, any n."""
    found, lam = nip(2 * R, G, (U, U), 3e4, n, 5e-3), root(n, -2.0)
    unit = np.sqrt(R * G)
    lead = 2 * 3e4 * (2 * (2 * n + 1) / n) ** n * U**n / G ** (n + 1)

    def pumped(r: float) -> float:
        return U * G * (r * r - lam * lam) * lead * pull(r, lam, n) * unit

    heat = quad(pumped, -2.0, -lam)[0] + quad(pumped, -lam, lam)[0]
    assert found.power == pytest.approx(heat, rel=1e-5)


def test_friction_of_a_newtonian_melt_adds_its_own_shear() -> None:
    """mu du^2 integral of dx/h from a deep bank to the exit: (atan lambda + pi/2) sqrt(R g)/g."""
    even, uneven = nip(2 * R, G, (U, U), MU), nip(2 * R, G, (0.9 * U, 1.1 * U), MU)
    added = MU * (0.2 * U) ** 2 * np.sqrt(R / G) * (np.arctan(root(1.0)) + np.pi / 2)
    assert uneven.power - even.power == pytest.approx(added, rel=1e-6)
    assert uneven.friction == pytest.approx(added, rel=1e-6)
    assert uneven.force == pytest.approx(even.force, rel=1e-12)


def test_cases_in_one_array_are_those_one_by_one() -> None:
    gaps, indices = np.array([0.3e-3, 0.5e-3, 1e-3]), np.array([0.3, 0.5, 1.0])
    many = nip(0.6, gaps, (0.4, 0.5), 2e4, indices, 2e-3)
    for i in range(3):
        one = nip(0.6, gaps[i], (0.4, 0.5), 2e4, indices[i], 2e-3)
        for name in ("gauge", "pressure", "force", "power", "friction", "bite", "exit"):
            assert getattr(many, name)[i] == pytest.approx(float(getattr(one, name)), rel=1e-12), name


def test_limits_of_the_bank() -> None:
    assert exit_ratio(0.4, 1.0) == 1.0
    banks = exit_ratio(1.0, np.geomspace(1.0, 1e6, 50))
    assert np.all(np.diff(banks) >= 0.0)
    assert np.all(banks <= np.geomspace(1.0, 1e6, 50))
    assert banks[-1] == pytest.approx(float(exit_ratio()), abs=1e-6)
    with pytest.raises(ValueError, match=r"0\.2 to 1"):
        nip(0.6, 1e-3, (0.5, 0.5), 1e4, 1.5)


@pytest.mark.parametrize("entering", [np.inf, 0.9e-3, 0.55e-3])
def test_gap_gives_the_gauge(entering: float) -> None:
    gap = gap_for_gauge(0.5e-3, 0.4, entering)
    assert gap * exit_ratio(0.4, entering / gap) == pytest.approx(0.5e-3, rel=1e-9)


def test_gap_of_a_sheet_that_is_thin_enough_is_its_gauge() -> None:
    assert gap_for_gauge(0.5e-3, 0.4, 0.4e-3) == 0.5e-3


def test_rise_of_a_melt_that_softens_is_its_equation_integrated() -> None:
    """rho cp dT/ds = q exp(-b T) over the same shear: closed form against steps."""
    q, b = 30.0, 0.03
    t, steps = 0.0, 200_000
    for _ in range(steps):
        t += q * np.exp(-b * t) / steps
    found = nip_rise(q * 1e-3 * 0.5 * 1250.0 * 1800.0, 1e-3, 0.5, 1250.0, 1800.0, b)
    assert found == pytest.approx(t, abs=1e-3)
    assert nip_rise(q * 1e-3 * 0.5 * 1250.0 * 1800.0, 1e-3, 0.5, 1250.0, 1800.0) == pytest.approx(q)


def test_consistency_falls_with_temperature() -> None:
    assert consistency_at(1e4, 453.15, 443.15, 0.03) == pytest.approx(1e4 * np.exp(-0.3))


def test_sheet_keeps_to_the_hotter_and_faster_bowl() -> None:
    assert followed_bowl((443.0, 433.0), (0.5, 0.5))[0] == 0
    assert followed_bowl((443.0, 443.2), (0.5, 0.55))[0] == 1
    assert followed_bowl((443.0, 453.0), (0.5, 0.55))[0] == 1
    which, why = followed_bowl((453.0, 443.0), (0.5, 0.55))
    assert which is None
    assert "one cannot say" in why
    assert followed_bowl((443.0, 443.0), (0.5, 0.5))[0] is None
