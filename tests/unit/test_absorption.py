"""Absorption in depth against sums over bounces, rays thrown at random, the records' own shares, and reciprocity."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermokit.errors import DataError
from thermokit.exchange.absorption import absorbed_in_cells, share_in_cells, slab_shares, slab_shares_of_entries
from thermokit.exchange.bands import Bands, bands_between, bands_of, grey_bands
from thermokit.exchange.pyrometer import NARROW_BANDS, pyrometer_bands
from thermokit.materials import library

WITH_BANDS = [name for name in library.names() if "bands" in library.load(name).record.get("radiation", {})]


@pytest.fixture(scope="module")
def petg() -> Bands:
    bands = bands_of(library.load("petg").record)
    assert bands is not None
    return bands


def by_bounces(r: float, t: float, behind: float) -> tuple[float, float, float]:
    """(absorbed, reflected, passed), pass after pass through slab and gap, until nothing is left to follow."""
    absorbed, reflected, passed = 0.0, r, 0.0
    inside_down, inside_up, gap_down, gap_up = 1.0 - r, 0.0, 0.0, 0.0
    for _ in range(5000):
        at_far, at_near = inside_down * t, inside_up * t
        absorbed += (inside_down + inside_up) * (1.0 - t)
        reflected += at_near * (1.0 - r)
        passed += gap_down * (1.0 - behind)
        inside_down, inside_up, gap_down, gap_up = (
            at_near * r,
            at_far * r + gap_up * (1.0 - r),
            at_far * (1.0 - r) + gap_up * r,
            gap_down * behind,
        )
    return absorbed, reflected, passed


@pytest.mark.parametrize("behind", [0.0, 0.5, 1.0])
@pytest.mark.parametrize(("kappa", "r"), [(1000.0, 0.05), (100.0, 0.3), (20.0, 0.04)])
def test_shares_of_a_slab_are_the_sum_of_all_bounces(kappa: float, r: float, behind: float) -> None:
    shares = slab_shares(grey_bands(kappa, r), 1.5e-3, 700.0, 1.3, behind)
    want = by_bounces(r, math.exp(-kappa * 1.3 * 1.5e-3), behind)
    assert (shares.absorbed, shares.reflected, shares.passed) == pytest.approx(want, abs=1e-12)


def test_one_pass_without_reflection_is_beers_law() -> None:
    edges = np.array([0.0, 1e-4, 5e-4, 2e-3])
    taken = absorbed_in_cells(grey_bands(800.0, 0.0), edges)[0]
    assert taken == pytest.approx(-np.diff(np.exp(-800.0 * edges)), abs=1e-15)


@pytest.mark.parametrize("side", ["inner", "outer"])
@pytest.mark.parametrize("behind", [0.0, 0.6, 1.0])
def test_cells_take_what_is_neither_reflected_nor_passed(petg: Bands, side: str, behind: float) -> None:
    edges = 1.5e-3 * np.linspace(0.0, 1.0, 31) ** 1.5
    taken = absorbed_in_cells(petg, edges, 1.2, behind, side=side)
    shares = slab_shares_of_entries(petg, 1.5e-3, 1.2, behind)
    assert taken.shape == (len(petg), 30) and np.all(taken >= 0.0)
    assert taken.sum(axis=1) == pytest.approx(1.0 - shares.reflected - shares.passed, abs=1e-14)
    weights = petg.weights(693.15)
    assert weights.sum() == pytest.approx(1.0, abs=1e-14)
    assert share_in_cells(petg, edges, weights, 1.2, behind, side=side) == pytest.approx(weights @ taken, abs=1e-15)


def test_lit_from_the_other_side_it_is_the_mirror_image(petg: Bands) -> None:
    edges = np.array([0.0, 2e-4, 5e-4, 1.5e-3])
    turned = (edges[-1] - edges)[::-1]
    inner, outer = absorbed_in_cells(petg, edges, behind=0.3), absorbed_in_cells(petg, turned, behind=0.3, side="outer")
    assert inner == pytest.approx(outer[:, ::-1], abs=1e-15)


def test_cases_one_by_one_and_together(petg: Bands) -> None:
    thick, sources = np.array([0.5e-3, 1.5e-3, 3e-3]), np.array([500.0, 700.0, 900.0])
    behind, own = np.array([0.0, 0.4, 0.9]), np.array([0.0, 0.1, 0.2])
    edges = np.linspace(0.0, 1.0, 9)[:, None] * thick
    together = share_in_cells(petg, edges, petg.weights(sources), 1.1, behind, own)
    shares = slab_shares(petg, thick, sources, 1.1, behind)
    assert together.shape == (8, 3) and absorbed_in_cells(petg, edges, 1.1, behind, own).shape == (len(petg), 8, 3)
    for i in range(3):
        alone = share_in_cells(petg, edges[:, i], petg.weights(sources[i]), 1.1, behind[i], own[i])
        assert together[:, i] == pytest.approx(alone, abs=1e-15)
        one = slab_shares(petg, thick[i], sources[i], 1.1, behind[i])
        assert shares.absorbed[i] == pytest.approx(one.absorbed, abs=1e-15)
    many = slab_shares(petg, 1.5e-3, sources)
    assert many.passed.shape == (3,)
    tinted = grey_bands(np.array([500.0, 1000.0]), 0.05)
    assert slab_shares(tinted, 1.5e-3, 700.0).absorbed.shape == (2,)
    assert share_in_cells(tinted, np.linspace(0, 1.5e-3, 5), tinted.weights(700.0)).shape == (4, 2)


def test_a_block_at_a_time_gives_the_same(petg: Bands, monkeypatch: pytest.MonkeyPatch) -> None:
    from thermokit.exchange import absorption

    edges, weights = np.linspace(0.0, 1e-3, 11), petg.weights(np.array([600.0, 800.0]))
    whole = share_in_cells(petg, edges, weights)
    monkeypatch.setattr(absorption, "_BLOCK", 1)
    assert share_in_cells(petg, edges, weights) == pytest.approx(whole, abs=1e-15)


def thrown_from(cell: tuple[float, float], rate: float, r: float, ends: tuple[float, float], count: int) -> np.ndarray:
    """Where radiation given off in a cell of a slab of thickness 1 ends: shares (inner surroundings, outer, slab).

    Each ray starts somewhere in the cell, up or down, is absorbed after a distance drawn from its law, is thrown back at
    a face with probability r, and outside by surroundings that reflect ``ends``.
    """
    rng = np.random.default_rng(7)
    ended = np.zeros(3)
    x = rng.uniform(*cell, count)
    down = rng.random(count) < 0.5
    outside = np.zeros(count, dtype=bool)  # in the gap beyond the face it has just passed
    while len(x):
        flight = rng.exponential(1.0 / rate, len(x))
        room = np.where(down, 1.0 - x, x)
        stays = ~outside & (flight < room)
        ended[2] += stays.sum()
        # in the gap: taken by the surroundings, or thrown back at the face
        taken = outside & (rng.random(len(x)) >= np.where(down, ends[1], ends[0]))
        ended[0] += (taken & ~down).sum()
        ended[1] += (taken & down).sum()
        left = ~stays & ~taken
        x, down, outside = x[left], down[left], outside[left]
        back = rng.random(len(x)) < r
        # arriving at a face from inside: back inside, or out; from outside (coming back): back out, or in
        face = np.where(down, 1.0, 0.0)
        inside_next = np.where(outside, ~back, back)
        x = face
        down = np.where(outside, np.where(back, down, ~down), np.where(back, ~down, down))
        outside = ~inside_next
    return ended / count


@pytest.mark.parametrize(
    ("cell", "rate", "r", "ends"), [((0.0, 0.2), 2.0, 0.1, (0.0, 0.0)), ((0.5, 0.8), 1.0, 0.3, (0.2, 0.7))]
)
def test_a_cell_gives_off_through_a_face_what_it_takes_in_from_there(
    cell: tuple[float, float], rate: float, r: float, ends: tuple[float, float]
) -> None:
    """Reciprocity by rays: 2 kappa p dx times the share that ends on one side is the share taken in from that side."""
    count = 200_000
    inner, outer, _ = thrown_from(cell, rate, r, ends, count)
    sent = 2.0 * rate * (cell[1] - cell[0])
    edges = np.array([0.0, cell[0], cell[1], 1.0]) if cell[0] > 0.0 else np.array([0.0, cell[1], 1.0])
    place = 1 if cell[0] > 0.0 else 0
    for side, found, own, behind in (("inner", inner, ends[0], ends[1]), ("outer", outer, ends[1], ends[0])):
        want = absorbed_in_cells(grey_bands(rate, r), edges, 1.0, behind, own, side=side)[0, place]
        error = math.sqrt(found * (1.0 - found) / count)
        assert sent * found == pytest.approx(want, abs=4.0 * sent * error)


@pytest.mark.parametrize("name", WITH_BANDS)
def test_shares_of_the_records_from_their_full_spectra(name: str) -> None:
    """Absorbed and passed as computed from the whole spectrum, printed to 0.01; hotter sources shine below the bands.

    The 0.25 mm rows lie between the thicknesses that the mixture was made from.
    """
    record = library.load(name).record
    bands = bands_of(record)
    assert bands is not None
    rows = [row for row in record["radiation"]["shares"]["rows"] if row[0] <= 1500]
    assert len(rows) >= 20
    for source, thickness, absorbed, reflected, passed in rows:
        shares = slab_shares(bands, 1e-3 * thickness, source)
        found = [float(x) for x in (shares.absorbed, shares.reflected, shares.passed)]
        assert found == pytest.approx([absorbed, reflected, passed], abs=0.015), (source, thickness)


@pytest.mark.parametrize("name", WITH_BANDS)
def test_mixtures_agree_with_every_coefficient_of_the_record(name: str) -> None:
    record = library.load(name).record
    bands = bands_of(record)
    assert bands is not None
    given = record["radiation"]["bands"]["each"]
    for (_, _, entries), band in zip(bands.ranges(), given, strict=True):
        share, rate = bands.share[entries], bands.coefficient[entries]
        assert share.sum() == pytest.approx(1.0, abs=1e-12)
        if "absorption" in band:
            assert share @ rate == pytest.approx(band["absorption"], rel=0.01)
        for key, thickness in (("effective_0p5_mm", 5e-4), ("effective_1_mm", 1e-3), ("effective_3_mm", 3e-3)):
            if key in band:
                want = math.exp(-band[key] * thickness)
                assert share @ np.exp(-rate * thickness) == pytest.approx(want, rel=0.003, abs=2e-4), (band, key)


def test_a_material_without_bands_has_none() -> None:
    assert bands_of(library.load("steel_mild").record) is None


def test_bands_of_a_user_are_held_at_their_ends_and_must_join() -> None:
    bands = bands_between([1e-6, 3e-6], [3e-6, 6e-6], [100.0, np.array([5e3, 6e3])], [0.04, 0.05])
    assert bands.low.tolist() == [0.0, 3e-6] and bands.high.tolist() == [3e-6, np.inf]
    assert bands.coefficient.shape == (2, 2) and bands.weights(700.0).sum() == pytest.approx(1.0)
    with pytest.raises(DataError, match="begin where the one before it ends"):
        bands_between([1e-6, 4e-6], [3e-6, 6e-6], [100.0, 5e3], [0.04, 0.05])
    with pytest.raises(DataError, match="longer wavelength"):
        bands_between([3e-6], [1e-6], [100.0], [0.04])


def test_a_mixture_of_sources_is_weighted_by_what_arrives(petg: Bands) -> None:
    hot, cold = petg.weights(900.0), petg.weights(500.0)
    mixed = petg.mixture(np.array([900.0, 500.0]), np.array([[3.0, 1.0], [0.0, 2.0]]))
    assert mixed[:, 0] == pytest.approx((3 * hot + cold) / 4, abs=1e-15)
    assert mixed[:, 1] == pytest.approx(cold, abs=1e-15)


def test_what_a_pyrometer_reads() -> None:
    """Common practice: 7.9 um for polyesters, 3.43 um for polyolefins; through 0.8 to 1.6 um one sees the lamp behind."""
    seen = pyrometer_bands(bands_of(library.load("petg").record), 1.5e-3)
    first, last = seen[0], seen[-1]
    assert first.true and first.low <= 7.9e-6 <= first.high and NARROW_BANDS["petg"] == "7.9 um"
    assert not last.true and last.high <= 1.7e-6 and last.through > 0.9
    olefin = pyrometer_bands(bands_of(library.load("ldpe").record), 1e-3)
    assert olefin[0].low <= 3.43e-6 <= olefin[0].high
    one = pyrometer_bands(grey_bands(1000.0, 0.05), 1.5e-3)[0]
    assert not one.true and one.emissivity == pytest.approx(0.95)
    assert one.sight == pytest.approx(1e-3) and one.through == pytest.approx(math.exp(-1.5))
