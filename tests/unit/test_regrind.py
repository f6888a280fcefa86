"""Regrind against a count of every batch, round after round."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.processes.regrind import ages, mean_passes, mean_passes_after, oldest_pass, share_beyond


@pytest.mark.parametrize("share", [0.0, 0.1, 0.25, 0.6])
def test_shares_are_those_of_counting(share: float) -> None:
    """Each round the feed is new material and the share of the last round's mouldings, evenly taken."""
    rounds = 400
    count = np.zeros(rounds + 1)
    count[0] = 1.0  # of material in its first pass
    for n in range(2, rounds):
        if n in (3, 10):
            assert (np.arange(1, rounds + 2) * count).sum() == pytest.approx(mean_passes_after(share, n - 1), rel=1e-12)
        fed = share * count
        count = np.concatenate([[1.0 - share], fed[:-1]])
    assert count[:12] == pytest.approx(ages(share, 12), abs=1e-12)
    assert (np.arange(1, rounds + 2) * count).sum() == pytest.approx(mean_passes(share), rel=1e-9)
    oldest = int(oldest_pass(share, 0.01))
    assert count[oldest:].sum() <= 0.01 + 1e-12
    assert oldest == 1 or count[oldest - 1 :].sum() > 0.01
    beyond = share_beyond(share, 0.11, 0.35)  # three passes use 0.33, four 0.44
    assert beyond == pytest.approx(count[3:].sum(), abs=1e-12)


def test_numbers_or_arrays() -> None:
    share = np.array([0.0, 0.25, 0.5])
    assert ages(share, 4).shape == (4, 3)
    assert ages(share, 4).sum(axis=0) == pytest.approx(1.0 - share**4)
    assert oldest_pass(share, 0.05).tolist() == [1.0, 3.0, 5.0]
    assert share_beyond(share, 0.0, 0.3).tolist() == [0.0, 0.0, 0.0]  # what uses up nothing is never beyond
