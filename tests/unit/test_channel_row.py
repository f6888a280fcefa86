"""The row of channels: limits, cases side by side, what it says no to, and how fast it is."""

from __future__ import annotations

import time

import numpy as np
import pytest

from thermokit.exchange.channel_row import channel_row

STEEL = 30.0


def test_a_poor_film_rules() -> None:
    """R tends to pitch/(pi d h) as h falls."""
    row = channel_row(STEEL, 0.010, 0.015, 0.035, 1.0)
    assert float(row.resistance) == pytest.approx(0.035 / (np.pi * 0.010), rel=1e-3)


def test_far_channels_make_an_even_face() -> None:
    """The first harmonic fades as exp(-2 pi z/p): five times smaller for each quarter of a pitch deeper, near enough."""
    uneven = [float(channel_row(STEEL, 0.010, z, 0.040, 5000.0).spread) for z in (0.020, 0.030, 0.040)]
    resistance = [float(channel_row(STEEL, 0.010, z, 0.040, 5000.0).resistance) for z in (0.020, 0.030, 0.040)]
    swing = np.array(uneven) * resistance  # over the flux
    assert swing[1] / swing[0] == pytest.approx(np.exp(-np.pi / 2), rel=0.02)
    assert swing[2] / swing[1] == pytest.approx(np.exp(-np.pi / 2), rel=0.005)
    # a centimetre of steel more adds as much as a slab of a centimetre
    assert resistance[2] - resistance[1] == pytest.approx(0.010 / STEEL, rel=1e-3)


def test_heat_is_hottest_between_channels() -> None:
    row = channel_row(STEEL, 0.010, 0.012, 0.040, 8000.0)
    assert 0.0 < float(row.unevenness) < float(row.spread)
    assert float(row.bore_share) > 1.0


def test_cases_side_by_side() -> None:
    depth = np.array([0.012, 0.018, 0.025])
    many = channel_row(STEEL, 0.010, depth, 0.035, np.array([500.0, 3000.0, 1e4]))
    for i, (z, h) in enumerate(zip(depth, (500.0, 3000.0, 1e4), strict=True)):
        one = channel_row(STEEL, 0.010, z, 0.035, h)
        assert many.resistance[i] == pytest.approx(float(one.resistance), rel=1e-8)
        assert many.unevenness[i] == pytest.approx(float(one.unevenness), rel=1e-6)


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ((0.010, 0.005, 0.035), "reaches the face"),
        ((0.010, 0.015, 0.010), "the next channel"),
        ((0.0, 0.015, 0.010), "above 0"),
    ],
)
def test_what_cannot_be_drilled(sizes: tuple[float, float, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        channel_row(STEEL, *sizes)


def test_other_mistakes() -> None:
    with pytest.raises(ValueError, match="the back of the block"):
        channel_row(STEEL, 0.010, 0.015, 0.030, block=0.018)
    with pytest.raises(ValueError, match="face is 'flux' or 'temperature'"):
        channel_row(STEEL, 0.010, 0.015, 0.030, face="warm")


def test_a_row_takes_milliseconds() -> None:
    channel_row(STEEL, 0.010, 0.015, 0.035, 5000.0)
    took = []
    for _ in range(5):
        begun = time.perf_counter()
        channel_row(STEEL, 0.010, 0.015, 0.035, 5000.0)
        took.append(time.perf_counter() - begun)
    assert min(took) < 0.005
