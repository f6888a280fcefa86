"""Part of a layer is kept: content conserved, nothing new hottest, second order, many cases as one by one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermokit.conduction.remap import remapped

POWER = {"plane": 1, "cylinder": 2, "sphere": 3}


def volume(edges: np.ndarray, shape: str) -> np.ndarray:
    return np.diff(edges ** POWER[shape], axis=0) / POWER[shape]


@given(
    st.sampled_from(["plane", "cylinder", "sphere"]),
    st.lists(st.floats(0.0, 500.0), min_size=1, max_size=12),
    st.integers(1, 30),
    st.floats(0.05, 0.95) | st.just(1.0),
)
def test_content_of_what_is_kept(shape: str, values: list[float], cells: int, share: float) -> None:
    """Kept and taken away make up the whole; new values lie between old ones."""
    u = np.array(values)
    edges = np.linspace(1.0, 2.0, len(u) + 1)
    whole = np.concatenate(
        [np.linspace(1.0, 1.0 + share, cells + 1), [2.0]] if share < 1.0 else [np.linspace(1, 2, cells + 1)]
    )
    new = remapped(u, edges, whole, POWER[shape], part=True)
    assert (new * volume(whole, shape)).sum() == pytest.approx((u * volume(edges, shape)).sum(), rel=1e-9, abs=1e-9)
    assert new.min() >= u.min() - 1e-7
    assert new.max() <= u.max() + 1e-7


def test_second_order() -> None:
    """Means of a smooth profile over part of the layer: the error falls to a quarter when the cells are halved."""
    errors = []
    for n in (20, 40, 80):
        edges = np.linspace(0.0, 1.0, n + 1)
        exact = (np.exp(-edges[:-1]) - np.exp(-edges[1:])) / np.diff(edges)
        onto = np.linspace(0.1, 0.47, 14)  # away from the ends, where cells are flat
        wanted = (np.exp(-onto[:-1]) - np.exp(-onto[1:])) / np.diff(onto)
        errors.append(np.abs(remapped(exact, edges, onto, part=True) - wanted).max())
    assert errors[0] / errors[1] > 3.0
    assert errors[1] / errors[2] > 3.0


def test_many_cases_as_one_by_one() -> None:
    rng = np.random.default_rng(1)
    u = rng.random((10, 5))
    thickness = np.array([1.0, 2.0, 0.5, 1.5, 3.0])
    edges = np.linspace(0.0, 1.0, 11)[:, None] * thickness
    onto = np.linspace(0.0, 1.0, 7)[:, None] * thickness * np.array([0.2, 0.4, 0.6, 0.8, 1.0])
    many = remapped(u, edges, onto, POWER["cylinder"], part=True)
    for i in range(5):
        assert many[:, i] == pytest.approx(remapped(u[:, i], edges[:, i], onto[:, i], POWER["cylinder"], part=True))


def test_a_part_stays_inside() -> None:
    with pytest.raises(ValueError, match="same stretch"):
        remapped(np.array([1.0, 2.0]), np.array([0.0, 1.0, 2.0]), np.array([0.5, 2.5]), part=True)
