"""Gates, runners and thick places: against the exact series, by shape, with latent heat, and what never freezes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermokit.conduction.problem import Medium, Transition
from thermokit.processes.mould_gate import Piece, frozen_share, gate_times, thickness_at_rib, time_until
from validation.references import convective_series as series

ZERO = 273.15
STUFF = Medium(1000.0, 0.2, 2000.0)
A = 1e-7


def piece(shape: str = "plane", size: object = 0.003, contact: object = 1e6, **more: object) -> Piece:
    return Piece(STUFF, shape, size, more.get("start", ZERO + 230.0), more.get("wall", ZERO + 50.0), contact)


@pytest.mark.parametrize("shape", ["plane", "cylinder"])
@pytest.mark.parametrize(("contact", "target"), [(1e6, 90.0), (1000.0, 90.0), (2500.0, 130.0), (300.0, 200.0)])
def test_middle_and_mean_by_the_series(shape: str, contact: float, target: float) -> None:
    biot, left = contact * 0.0015 / 0.2, (target - 50.0) / 180.0
    for criterion, where in (("hottest", 0.0), ("mean", "mean")):
        exact = series.fourier_to_reach(shape, biot, left, where) * 0.0015**2 / A
        found = time_until(piece(shape, contact=contact), ZERO + target, criterion)
        assert float(found[0]) == pytest.approx(exact, rel=5e-3)


def test_by_hand_is_the_first_term() -> None:
    """Close to the whole series where it has been cooled well: the second term of a round mean is still 0.13 % there."""
    for shape in ("plane", "cylinder"):
        for criterion, where in (("hottest", 0.0), ("mean", "mean")):
            exact = series.fourier_to_reach(shape, math.inf, 40.0 / 180.0, where) * 0.0015**2 / A
            assert float(piece(shape).by_hand(ZERO + 90.0, criterion)) == pytest.approx(exact, rel=2e-3)
    assert np.isnan(piece().by_hand(ZERO + 225.0))


def test_round_gates_close_sooner_than_flat_ones() -> None:
    """By the ratio of the first roots squared, (2.405/1.571)^2 = 2.34, and a little for the larger C of the cylinder."""
    flat, round_ = (float(time_until(piece(shape), ZERO + 70.0)[0]) for shape in ("plane", "cylinder"))
    expected = 2.3438 * math.log(4 / math.pi * 9.0) / math.log(1.601975 * 9.0)
    assert flat / round_ == pytest.approx(expected, rel=5e-3)


def test_twice_as_thick_takes_four_times_as_long() -> None:
    times = time_until(piece(size=np.array([0.001, 0.002])), ZERO + 130.0)
    assert times[1] / times[0] == pytest.approx(4.0, rel=1e-3)


def test_cases_side_by_side() -> None:
    contact, target = np.array([500.0, 3000.0, 1e4]), ZERO + np.array([80.0, 130.0, 180.0])
    many = time_until(piece(contact=contact), target)
    for i in range(3):
        assert many[i] == pytest.approx(float(time_until(piece(contact=contact[i]), target[i])[0]), rel=1e-3)


def test_what_is_cold_or_never_gets_cold() -> None:
    found = time_until(
        piece(start=ZERO + 100.0, wall=ZERO + np.array([50.0, 50.0, 95.0])), ZERO + np.array([120.0, 50.0, 95.5])
    )
    assert found[0] == 0.0
    assert np.isnan(found[1])
    assert np.isfinite(found[2])


def test_latent_heat_holds_it_open() -> None:
    """Latent heat of as much as the sensible heat above freezing: the gate stays open markedly longer."""
    latent = Medium(1000.0, 0.2, 2000.0, Transition(150e3, 430.0, 445.0), Transition(150e3, 390.0, 405.0))
    freeze = float(time_until(Piece(latent, "plane", 0.0012, ZERO + 230.0, ZERO + 50.0, 2000.0), 390.0)[0])
    plain = float(time_until(piece(size=0.0012, contact=2000.0), 390.0)[0])
    assert 1.3 < freeze / plain < 2.5


def test_gate_and_hold() -> None:
    gate = piece(size=0.0012, contact=2000.0)
    times = gate_times(gate, ZERO + 130.0)
    assert float(times.hold_least[0] - times.freeze[0]) == pytest.approx(0.5)
    assert float(times.hold_most[0] - times.freeze[0]) == pytest.approx(1.0)
    assert float(times.by_hand) < float(times.freeze[0])  # it knows of no contact


def test_frozen_share_grows_from_the_faces() -> None:
    own = piece(contact=2000.0)
    whole = float(time_until(own, ZERO + 130.0)[0])
    share = frozen_share(own, ZERO + 130.0, np.array([0.002, 0.3, 0.7, 1.05]) * whole)
    assert share[0] == 0.0 and share[3] == 1.0
    assert 0.0 < share[1] < share[2] < 1.0
    # the front by the series: left at s (share of the half thickness from the middle) is 80/180
    s = 1.0 - float(share[2])
    left = series.ratio("plane", 2000.0 * 0.0015 / 0.2, A * 0.7 * whole / 0.0015**2, s)
    assert left == pytest.approx(80.0 / 180.0, abs=0.01)


def test_circle_in_the_root_of_a_rib() -> None:
    """It touches the far face and passes through both corners (or touches both fillets), by its own geometry."""
    for s, b, r in ((0.003, 0.0018, 0.0), (0.002, 0.002, 0.0), (0.003, 0.0015, 0.0005)):
        radius = float(thickness_at_rib(s, b, r)) / 2
        away = math.hypot(b / 2 + r, s + r - radius)  # from its centre to that of a fillet (or to the corner)
        assert away == pytest.approx(radius + r)
    assert float(thickness_at_rib(0.003, 0.009)) == pytest.approx(0.009)
    assert float(thickness_at_rib(0.003, 0.0)) == pytest.approx(0.003)


def root_of_a_rib(s: float, b: float, contact: float, left: float, cell: float = 0.1e-3) -> float:
    """Time until the hottest place of a wall s with a rib b has a share of the difference left: the section by finite volumes."""
    from scipy.sparse import csc_matrix, identity
    from scipy.sparse.linalg import splu

    high, across, rib = round((s + 0.009) / cell), round(0.009 / cell), round(b / 2 / cell)
    there = np.zeros((across + 1, high + 1), bool)  # a margin outside that is empty
    there[:across, : round(s / cell)] = True
    there[:rib, :high] = True
    number = np.where(there, np.cumsum(there).reshape(there.shape) - 1, -1)
    inside, face = A / cell**2, A / 0.2 / cell / (cell / 2 / 0.2 + 1 / contact)
    rows, columns, values = [], [], []
    for (i, j), c in np.ndenumerate(number):
        if c < 0:
            continue
        for x, y in ((i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)):
            if x < 0 or x == across or y == high:  # mirror, and cuts far away
                continue
            beside = number[x, y] if y >= 0 else -1
            rows += [c] if beside < 0 else [c, c]
            columns += [c] if beside < 0 else [c, beside]
            values += [-face] if beside < 0 else [-inside, inside]
    n, step = there.sum(), 0.05
    matrix = csc_matrix((values, (rows, columns)), (n, n))
    implicit = splu(csc_matrix(identity(n) - step * matrix))
    T, before, time = np.ones(n), 1.0, 0.0
    while T.max() > left:
        before, T, time = T.max(), implicit.solve(T), time + step
    return time - step * (left - T.max()) / (before - T.max())


@pytest.mark.parametrize(("s", "b", "left"), [(0.003, 0.0018, 0.222), (0.003, 0.0018, 0.5), (0.002, 0.002, 0.3)])
def test_root_of_a_rib_as_a_slab(s: float, b: float, left: float) -> None:
    own = Piece(STUFF, "plane", thickness_at_rib(s, b), ZERO + 230.0, ZERO + 50.0, 1500.0)
    found = float(time_until(own, ZERO + 50.0 + 180.0 * left)[0])
    assert found == pytest.approx(root_of_a_rib(s, b, 1500.0, left), rel=0.05)


def test_other_shapes_are_refused() -> None:
    with pytest.raises(ValueError, match="'plane' or 'cylinder'"):
        time_until(piece("cube"), ZERO + 90.0)
