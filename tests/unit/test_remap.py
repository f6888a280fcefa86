"""Values moved from one mesh to another: content conserved, nothing new hottest, order two."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermokit.conduction.remap import remapped

MESH = st.lists(st.floats(0.05, 1.0), min_size=1, max_size=12).map(
    lambda widths: np.concatenate([[0.0], np.cumsum(widths)]) / sum(widths)
)


@settings(max_examples=80, deadline=None)
@given(MESH, MESH, st.sampled_from([1, 2, 3]), st.floats(0.0, 2.0), st.integers(0, 10_000))
def test_content_is_conserved_and_nothing_new_is_hottest(
    first: np.ndarray, second: np.ndarray, power: int, inner: float, seed: int
) -> None:
    values = np.random.default_rng(seed).uniform(300.0, 500.0, len(first) - 1)
    old, new = first + inner, second + inner
    faces = (values[0] + 3.0, None)
    found = remapped(values, old, new, power, faces)
    volumes = np.diff(old**power), np.diff(new**power)
    assert (found * volumes[1]).sum() == pytest.approx((values * volumes[0]).sum(), rel=1e-11)
    assert found.max() <= max(values.max(), values[0] + 3.0) + 1e-6
    assert found.min() >= values.min() - 1e-6


def test_the_same_cells_keep_their_values() -> None:
    edges, values = np.array([0.0, 0.1, 0.5, 1.0]), np.array([1.0, 5.0, 2.0])
    assert np.array_equal(remapped(values, edges, edges.copy(), 2), values)


def test_a_straight_line_is_kept() -> None:
    """Averages of 3 + 2x over the new cells, exactly; the faces are known."""
    old, new = np.linspace(0.0, 1.0, 6), np.linspace(0.0, 1.0, 18)
    middle = (new[1:] + new[:-1]) / 2
    found = remapped(3.0 + (old[1:] + old[:-1]), old, new, 1, (3.0, 5.0))
    assert found == pytest.approx(3.0 + 2.0 * middle, rel=1e-12)


def test_order_two() -> None:
    """A smooth monotone profile, exp(x): errors fall by four when the old cells are halved."""

    def error(cells: int) -> float:
        old, new = np.linspace(0.0, 1.0, cells + 1), np.linspace(0.0, 1.0, 4 * cells + 1)
        means = np.diff(np.exp(old)) / np.diff(old)
        exact = np.diff(np.exp(new)) / np.diff(new)
        return float(np.abs(remapped(means, old, new, 1, (1.0, np.e)) - exact).max())

    assert 1.8 < np.log2(error(20) / error(40)) < 2.2


def test_an_end_without_a_face() -> None:
    """Drawn on from the neighbour: a straight line is kept; within its bounds; and the content stays."""
    old, new = np.linspace(0.0, 1.0, 6), np.linspace(0.0, 1.0, 18)
    middle = (new[1:] + new[:-1]) / 2
    line = (old[1:] + old[:-1]) / 2
    assert remapped(line, old, new, 1, bounds=(0.0, 1.0)) == pytest.approx(middle, rel=1e-12)
    steep = np.array([0.0, 0.02, 0.9, 1.0, 1.0])
    found = remapped(steep, old, new, 1, bounds=(0.0, 1.0))
    assert found.min() >= 0.0 and found.max() <= 1.0
    assert found.sum() / len(found) == pytest.approx(steep.mean(), rel=1e-12)


def test_other_stretches_are_refused() -> None:
    with pytest.raises(ValueError, match="same stretch"):
        remapped(np.array([1.0]), np.array([0.0, 1.0]), np.array([0.0, 2.0]))
