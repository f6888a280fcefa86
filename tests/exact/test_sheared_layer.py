"""A sheared layer against its own equations integrated, and the solver against slugs that cool as they run (Graetz)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from thermokit.conduction.problem import Face, Layer, Medium, Problem, Span
from thermokit.conduction.single import solve
from thermokit.exchange import sheared_layer as sheared
from validation.references import line_graetz as graetz

MU, U, K, H, B = 3000.0, 0.2, 0.2, 2e-3, 0.03


def test_brinkman_profile_is_the_equation() -> None:
    """k T'' = -mu (U/h)^2, by differences, with the walls kept."""
    s = np.linspace(0.0, 1.0, 401)
    t = sheared.sheared_temperature(s, (430.0, 450.0), MU, U, K)
    bend = np.diff(t, 2) / (s[1] * H) ** 2
    assert bend == pytest.approx(-MU * (U / H) ** 2 / K, rel=1e-4)
    assert (t[0], t[-1]) == (430.0, 450.0)
    hottest, place = sheared.hottest_of_sheared((430.0, 450.0), MU, U, K)
    assert hottest == pytest.approx(t.max(), abs=1e-2)
    assert place == pytest.approx(s[t.argmax()], abs=3e-3)


def test_inside_is_hotter_only_above_two() -> None:
    assert sheared.brinkman_number(1.0, 2.0, 0.2, 10.0) == 2.0
    assert sheared.hottest_of_sheared((430.0, 440.0), 1.0, 2.0, 0.2)[1] == 1.0
    assert sheared.hottest_of_sheared((430.0, 440.0), 1.1, 2.0, 0.2)[1] < 1.0
    assert sheared.hottest_of_sheared((440.0, 430.0), 0.0, 2.0, 0.2)[1] == 0.0


def test_walls_get_what_is_made() -> None:
    rest, moving = sheared.heat_to_walls((430.0, 450.0), H, MU, U, K)
    assert rest + moving == pytest.approx(MU * U**2 / H)
    s = np.array([0.0, 1e-6])
    t = sheared.sheared_temperature(s, (430.0, 450.0), MU, U, K)
    assert rest == pytest.approx(K * (t[1] - t[0]) / (1e-6 * H), rel=1e-4)


@pytest.mark.parametrize("nahme", [0.01, 0.5, 5.0, 50.0])
def test_layer_that_thins_as_it_warms_by_collocation(nahme: float) -> None:
    """theta'' = -Na exp(-theta) (du/ds)^2 with tau even: exp(-theta) du/ds = tau, u from 0 to 1; theta = b (T - Tw)."""

    def slope(_: np.ndarray, y: np.ndarray, p: np.ndarray) -> np.ndarray:
        return np.vstack([y[1], -nahme * p[0] ** 2 * np.exp(y[0]), p[0] * np.exp(y[0])])

    def ends(a: np.ndarray, b: np.ndarray, p: np.ndarray) -> np.ndarray:
        return np.array([a[0], b[0], a[2], b[2] - 1.0])

    s = np.linspace(0.0, 1.0, 101)
    peak = np.log1p(nahme / 8)
    guess = np.vstack([4 * peak * s * (1 - s), 4 * peak * (1 - 2 * s), s])
    found = solve_bvp(slope, ends, s, guess, p=[1.0 / (1.0 + peak)], tol=1e-9, max_nodes=50_000)
    assert found.success
    assert B * sheared.softened_rise(nahme, B) == pytest.approx(found.sol(0.5)[0], rel=1e-5)
    assert sheared.softened_stress_share(nahme) == pytest.approx(found.p[0], rel=1e-5)


def test_stiff_layer_is_brinkmans() -> None:
    na = sheared.nahme_number(MU, U, K, 1e-7)
    assert sheared.softened_rise(na, 1e-7) == pytest.approx(MU * U**2 / (8 * K), rel=1e-4)
    assert sheared.softened_stress_share(na) == pytest.approx(1.0, abs=1e-4)


DIFFUSIVITY = 0.25 / (950.0 * 2000.0)


def slug(shape: str, times: np.ndarray, tolerance: float = 0.003) -> tuple[np.ndarray, np.ndarray]:
    """(mean excess of the start, Nu by hydraulic diameter) of a slug whose wall is suddenly cold, at times."""
    half, start, wall = 5e-3, 200.0, 100.0
    medium = Medium(950.0, 0.25, 2000.0)
    edges = 1.0 - np.linspace(1.0, 0.0, 121) ** 1.5
    layer = Layer(medium, half, edges, start + 273.15)
    problem = Problem((layer,), (Span(float(times[-1]), Face(), Face(temperature=wall + 273.15)),), shape)  # type: ignore[arg-type]
    history = solve(problem, times, tolerance)
    power = 1 if shape == "plane" else 2
    volume = np.diff(history.edges**power)
    mean = (history.temperature - 273.15) @ volume / volume.sum()
    excess = (mean - wall) / (start - wall)
    # Nu = h Dh/k by what leaves: -d(mean)/dt rho cp V/A, Dh = 4 V/A
    depth = half / power  # volume over area
    rate = -np.gradient(mean, history.time)
    return excess, rate * 950.0 * 2000.0 * depth * 4 * depth / (0.25 * (mean - wall))


@pytest.mark.parametrize(("shape", "limit", "far"), [("plane", np.pi**2, 0.6), ("cylinder", 5.7832, 0.3)])
def test_slug_flow_settles_to_its_nusselt_number(shape: str, limit: float, far: float) -> None:
    """Plug flow, wall of even temperature: Nu 9.87 between plates and 5.783 in a tube (squares of first roots)."""
    times = np.linspace(0.0, 1.8 * far * 5e-3**2 / DIFFUSIVITY, 601)
    excess, nu = slug(shape, times)
    fourier = DIFFUSIVITY * times / 5e-3**2
    settled = (fourier > far) & (fourier < 1.7 * far)
    assert nu[settled] == pytest.approx(limit, rel=2e-3)
    exact = np.array([graetz.slug_mean(shape, f) for f in fourier[1:]])
    assert excess[1:] == pytest.approx(exact, abs=1e-4)


def test_graetz_modes_as_printed() -> None:
    """Shah & London (1978), first roots and coefficients of the tube (from memory): 2.7043644, 6.679032, 10.67338; G 0.748775,
    0.543828, 0.462861."""
    roots, flux = zip(*graetz.tube_modes()[:3], strict=True)
    assert roots == pytest.approx((2.7043644, 6.679032, 10.67338), abs=2e-6)
    assert flux == pytest.approx((0.748775, 0.543828, 0.462861), abs=1e-6)


def test_parabolic_flow_cools_slower_than_its_slug() -> None:
    """What the moving frame leaves out where a melt flows in a closed channel: Nu 3.66 for 5.78, 7.54 for 9.87 far down."""
    assert graetz.tube_nusselt_far() == pytest.approx(3.6567934577632923619, abs=1e-9)
    assert graetz.tube_nusselt_far() / 5.7832 == pytest.approx(0.632, abs=1e-3)
    assert graetz.plates_nusselt_far() / np.pi**2 == pytest.approx(0.764, abs=1e-3)
