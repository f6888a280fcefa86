"""Least squares and intervals held against certified problems, and intervals against what they promise.

Data and certified values: National Institute of Standards and Technology, Statistical Reference Datasets, Nonlinear
Regression (Misra1a, Thurber, MGH09), certified to 11 digits; in the public domain.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pytest

from thermokit.studies.fit_confidence import confidence, profile_ends, together
from thermokit.studies.fit_squares import Space, around, distinct, jacobian_of, minimum

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Array = NDArray[np.float64]


@dataclass(frozen=True)
class Certified:
    """A problem of NIST: model of parameters (points, n) and x, data, starts, certified values and deviations."""

    model: Callable[[Array, Array], Array]
    x: Array
    y: Array
    starts: tuple[tuple[float, ...], ...]
    values: tuple[float, ...]
    deviations: tuple[float, ...]
    squares: float
    scatter: float

    def residuals(self, points: Array) -> Array:
        with np.errstate(all="ignore"):
            return self.model(points[:, :, None], self.x) - self.y


def columns(text: str) -> tuple[Array, Array]:
    numbers = np.array(text.split(), float).reshape(-1, 2)
    return numbers[:, 1], numbers[:, 0]


MISRA1A = Certified(
    lambda b, x: b[:, 0] * (1.0 - np.exp(-b[:, 1] * x)),
    *columns("""10.07 77.6 14.73 114.9 17.94 141.1 23.93 190.8 29.61 239.9 35.18 289.0 40.02 332.8 44.82 378.4 50.76 434.8
    55.05 477.3 61.01 536.8 66.40 593.1 75.47 689.1 81.78 760.0"""),
    starts=((500.0, 0.0001), (250.0, 0.0005)),
    values=(2.3894212918e02, 5.5015643181e-04),
    deviations=(2.7070075241e00, 7.2668688436e-06),
    squares=1.2455138894e-01,
    scatter=1.0187876330e-01,
)
THURBER = Certified(
    lambda b, x: (b[:, 0] + b[:, 1] * x + b[:, 2] * x**2 + b[:, 3] * x**3)
    / (1.0 + b[:, 4] * x + b[:, 5] * x**2 + b[:, 6] * x**3),
    *columns("""80.574 -3.067 84.248 -2.981 87.264 -2.921 87.195 -2.912 89.076 -2.840 89.608 -2.797 89.868 -2.702
    90.101 -2.699 92.405 -2.633 95.854 -2.481 100.696 -2.363 101.060 -2.322 401.672 -1.501 390.724 -1.460 567.534 -1.274
    635.316 -1.212 733.054 -1.100 759.087 -1.046 894.206 -0.915 990.785 -0.714 1090.109 -0.566 1080.914 -0.545
    1122.643 -0.400 1178.351 -0.309 1260.531 -0.109 1273.514 -0.103 1288.339 0.010 1327.543 0.119 1353.863 0.377
    1414.509 0.790 1425.208 0.963 1421.384 1.006 1442.962 1.115 1464.350 1.572 1468.705 1.841 1447.894 2.047
    1457.628 2.200"""),
    starts=((1000.0, 1000.0, 400.0, 40.0, 0.7, 0.3, 0.03), (1300.0, 1500.0, 500.0, 75.0, 1.0, 0.4, 0.05)),
    values=(1.2881396800e03, 1.4910792535e03, 5.8323836877e02, 7.5416644291e01, 9.6629502864e-01, 3.9797285797e-01,
            4.9727297349e-02),
    deviations=(4.6647963344e00, 3.9571156086e01, 2.8698696102e01, 5.5675370270e00, 3.1333340687e-02, 1.4984928198e-02,
                6.5842344623e-03),
    squares=5.6427082397e03,
    scatter=1.3714600784e01,
)  # fmt: skip
MGH09 = Certified(
    lambda b, x: b[:, 0] * (x**2 + x * b[:, 1]) / (x**2 + x * b[:, 2] + b[:, 3]),
    *columns("""0.1957 4.0 0.1947 2.0 0.1735 1.0 0.1600 0.5 0.0844 0.25 0.0627 0.167 0.0456 0.125 0.0342 0.1 0.0323 0.0833
    0.0235 0.0714 0.0246 0.0625"""),
    starts=((25.0, 39.0, 41.5, 39.0), (0.25, 0.39, 0.415, 0.39)),
    values=(1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01),
    deviations=(1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02),
    squares=3.0750560385e-04,
    scatter=6.6279236551e-03,
)
PROBLEMS = {"Misra1a": MISRA1A, "Thurber": THURBER, "MGH09": MGH09}


def space_of(problem: Certified, start: tuple[float, ...]) -> Space:
    size = np.abs(np.array(start))
    open_ = np.full(len(size), np.inf)
    return Space(-open_, open_, size, 1e-5 * np.abs(np.array(problem.values)))


@pytest.mark.parametrize("number", [0, 1])
@pytest.mark.parametrize("problem", PROBLEMS.values(), ids=PROBLEMS.keys())
def test_certified_values(problem: Certified, number: int) -> None:
    start = problem.starts[number]
    space = space_of(problem, start)
    found = minimum(problem.residuals, np.array(start), space, 1e-14, 3000)
    assert found.squares == pytest.approx(problem.squares, rel=1e-9)
    assert found.at == pytest.approx(np.array(problem.values), rel=1e-5)
    sure = confidence(found, np.abs(np.array(problem.values)), by_scatter=True)
    assert sure.scatter == pytest.approx(problem.scatter, rel=1e-9)
    assert [sure.deviation(i) for i in range(len(start))] == pytest.approx(problem.deviations, rel=1e-5)


def test_profile_of_a_nearly_straight_problem_is_that_of_the_covariance() -> None:
    space = space_of(MISRA1A, MISRA1A.starts[1])
    found = minimum(MISRA1A.residuals, np.array(MISRA1A.values), space, 1e-14, 300)
    sure = confidence(found, np.array(MISRA1A.values), by_scatter=True)
    low, high = profile_ends(MISRA1A.residuals, found, space, sure, 0)
    # Student's t for 12 degrees of freedom and 95 %: 2.1788 (any table)
    assert sure.quantiles[0] == pytest.approx(2.1788, abs=1e-4)
    half = 2.1788 * MISRA1A.deviations[0]
    assert low is not None
    assert high is not None
    # Bates and Watts: skew to the side where the curve flattens out, small here
    assert found.at[0] - low == pytest.approx(half, rel=0.06)
    assert high - found.at[0] == pytest.approx(half, rel=0.06)


def test_profile_of_a_curved_problem_is_exact() -> None:
    """y = exp(a) measured once with deviation 0.5: the interval of exp(a) is 1 +- 1.96 x 0.5, that of a its logarithm."""

    def residuals(points: Array) -> Array:
        return np.repeat((np.exp(points) - 1.0) / 0.5, 2, axis=1) / np.sqrt(2.0)

    space = Space(np.array([-50.0]), np.array([50.0]), np.array([1.0]), np.array([1e-4]))
    found = minimum(residuals, np.array([0.3]), space, 1e-12)
    sure = confidence(found, np.array([1.0]))
    low, high = profile_ends(residuals, found, space, sure, 0)
    assert sure.half_width(0) == pytest.approx(1.959964 * 0.5, rel=1e-4)
    assert high == pytest.approx(np.log(1.0 + 1.959964 * 0.5), abs=0.02)
    assert low == pytest.approx(np.log(1.0 - 1.959964 * 0.5), rel=0.05)


def test_an_end_beyond_the_bound_is_none() -> None:
    space = Space(np.array([-1.0]), np.array([0.5]), np.array([1.0]), np.array([1e-3]))
    found = minimum(lambda points: np.repeat(points, 3, axis=1), np.array([0.3]), space, 1e-12)
    sure = confidence(found, np.array([1.0]))
    low, high = profile_ends(lambda points: np.repeat(points, 3, axis=1), found, space, sure, 0)
    assert high is None  # 1.96/sqrt(3) = 1.13 lies beyond 0.5
    assert low is None


@pytest.mark.parametrize("at", [-2.0, 0.3, 2.0])
def test_the_jacobian_of_a_parabola_is_exact_at_bounds_too(at: float) -> None:
    space = Space(np.array([-2.0]), np.array([2.0]), np.array([1.0]), np.array([0.1]))
    points, offsets = around(np.array([at]), space)
    assert np.all(np.abs(points) <= 2.0)
    values = 3.0 * points**2 - 2.0 * points
    assert jacobian_of(values, offsets)[0, 0] == pytest.approx(6.0 * at - 2.0, abs=1e-12)


def coverage(draws: int, seed: int) -> float:
    """Share of fits whose intervals hold the truth: a decay of two unknowns, seen through noise."""
    x = np.linspace(0.0, 4.0, 25)
    truth = np.array([2.0, 0.7])
    random = np.random.default_rng(seed)
    open_ = np.full(2, np.inf)
    space = Space(-open_, open_, truth, 1e-4 * truth)
    held = 0
    for _ in range(draws):
        y = truth[0] * np.exp(-truth[1] * x) + 0.1 * random.normal(size=len(x))

        def residuals(points: Array, y: Array = y) -> Array:
            return (points[:, :1] * np.exp(-points[:, 1:] * x) - y) / 0.1

        found = minimum(residuals, np.array([1.5, 1.0]), space, 1e-10)
        sure = confidence(found, truth)
        for i in range(2):
            low, high = profile_ends(residuals, found, space, sure, i)
            assert low is not None
            assert high is not None
            held += low <= truth[i] <= high
    return held / (2 * draws)


def test_intervals_hold_as_often_as_they_say() -> None:
    # 80 intervals at 95 %: between 0.89 and 1 in 99 of 100 such tests (binomial)
    assert coverage(40, 11) >= 0.89


@pytest.mark.long
def test_intervals_hold_as_often_as_they_say_in_many() -> None:
    # 800 intervals of 400 pairs: 0.95 within 3.3 deviations of a binomial of 400
    assert coverage(400, 12) == pytest.approx(0.95, abs=3.3 * np.sqrt(0.95 * 0.05 / 400))


def test_two_that_act_as_one_are_told() -> None:
    """Only the product of two unknowns is seen."""
    x = np.linspace(1.0, 2.0, 9)

    def residuals(points: Array) -> Array:
        return points[:, :1] * points[:, 1:] * x - 6.0 * x

    space = Space(np.array([0.1, 0.1]), np.array([50.0, 50.0]), np.array([1.0, 1.0]), np.array([1e-3, 1e-3]))
    found = minimum(residuals, np.array([1.0, 1.0]), space, 1e-12)
    sure = confidence(found, np.array([1.0, 1.0]))
    assert found.at[0] * found.at[1] == pytest.approx(6.0, rel=1e-6)
    pairs = together(sure, ("a", "b"))
    assert [pair[:2] for pair in pairs] == [("a", "b")]
    assert pairs[0][2] < 0.0  # as one rises the other falls
    assert not np.isfinite(sure.half_width(0))


def test_minima_at_one_place_count_once() -> None:
    def residuals(points: Array) -> Array:
        return np.column_stack([points**2 - 4.0, 0.1 * (points - 2.0)])

    space = Space(np.array([-9.0]), np.array([9.0]), np.array([1.0]), np.array([1e-4]))
    found = distinct([minimum(residuals, np.array([s]), space) for s in (-3.0, 1.0, 3.0)], np.array([1.0]))
    assert len(found) == 2
    assert found[0].at[0] == pytest.approx(2.0, abs=1e-6)
