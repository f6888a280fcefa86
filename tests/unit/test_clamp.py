"""Clamp, energy, sizes, hot modulus and annealing against quadrature, the library's records and marching."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from thermokit.errors import DataError
from thermokit.materials.library import load
from thermokit.shaping import anneal, clamp
from thermokit.shaping.modulus import calibrated, hot_modulus, materials

PSI, INCH = 6894.757293168361, 0.0254


def test_force_share_and_words() -> None:
    area = 0.25 * math.pi * (24 * INCH) ** 2
    assert clamp.clamp_force(50 * PSI, area) == pytest.approx(50 * math.pi * 144 * 4.4482216152605, rel=1e-9)  # lbf
    assert clamp.tonnes(9806.65e1) == pytest.approx(10.0)
    assert clamp.clamp_share(np.array([1e5, 2e5]), 0.1, 40e3).tolist() == [0.25, 0.5]
    assert "25 %" in clamp.check_clamp(1e5, 0.1, 40e3)
    with pytest.raises(DataError, match=r"at least 16\.67 kN"):
        clamp.check_clamp(1e5, 0.1, 15e3)


def test_energies_are_the_work_of_expansion() -> None:
    """Integral of p dV along p V^1.4 = constant, from the vessel's pressure to that of the air around."""
    p, p0, v = 4.5e5, 101325.0, 0.2
    end = v * (p / p0) ** (1 / 1.4)
    assert clamp.stored_energy(p - p0, v) == pytest.approx(quad(lambda x: p * (v / x) ** 1.4, v, end)[0], rel=1e-9)
    inside = 20e3
    end = v * (inside / p0) ** (1 / 1.4)
    work = quad(lambda x: p0 - inside * (v / x) ** 1.4, end, v)[0]
    assert clamp.vacuum_energy(p0 - inside, v) == pytest.approx(work, rel=1e-9)
    assert clamp.stored_energy(0.0, 1.0) == clamp.vacuum_energy(0.0, 1.0) == 0.0


def test_sizes() -> None:
    assert clamp.blank_size(0.5, 0.025, 0.0) == pytest.approx(0.55)
    # let go at the upper release temperature: amorphous within 0.4 to 0.8 %, semi-crystalline 1 to 3 %
    for name, low, high in (("pmma_cast", 0.4, 0.8), ("abs", 0.4, 0.8), ("hips", 0.4, 0.8), ("pp", 1.0, 3.0)):
        material = load(name)
        assert material.forming is not None
        shrunk = 100 * float(clamp.contraction(material, material.forming["release_high"], 293.15))
        assert low <= shrunk <= high, name
    acrylic = load("pmma_cast")
    assert clamp.cold_size(0.4, acrylic, 358.15, 293.15) < 0.4
    # one expansion coefficient for the glass (Crawford, 7e-5) against the density table
    by_coefficient = float(clamp.expansion_contraction(7e-5, 358.15, 293.15))
    assert clamp.contraction(acrylic, 358.15, 293.15) == pytest.approx(by_coefficient, rel=0.1)


@pytest.mark.parametrize("name", materials())
def test_hot_modulus_stays_within_what_its_material_allows(name: str) -> None:
    hot, material = hot_modulus(name), load(name)
    assert material.forming is not None and material.glass_transition is not None
    # semi-crystalline sheet is held by its crystals: only its lower forming limit counts
    lowest = material.forming["lower"] if name == "pp" else material.glass_transition.temperature + 20.0
    assert hot.lowest == pytest.approx(lowest)
    assert hot.highest == pytest.approx(material.forming["upper"])
    assert hot.lowest < hot.at < hot.highest and hot.factor > 1.0 and hot.confidence and all(hot.source)
    assert hot.value(hot.at) == pytest.approx(hot.modulus)
    values = hot.value(np.linspace(hot.lowest, hot.highest, 30))
    assert np.all((values > 1e4) & (values < 5e6))
    for outside in (hot.lowest - 1.0, hot.highest + 1.0, math.nan):
        with pytest.raises(DataError, match="as a rubber"):
            hot.value([hot.at, outside])


def test_modulus_follows_the_network_and_then_falls() -> None:
    acrylic, tray = hot_modulus("pmma_cast"), hot_modulus("hips")
    density = load("pmma_cast").density
    ratio = float(density.at(443.15)) * 443.15 / (float(density.at(433.15)) * 433.15)
    assert acrylic.value(443.15) == pytest.approx(ratio * acrylic.modulus)
    assert tray.value(tray.at + 25.0) < 0.5 * tray.modulus
    # between the knots of the melt: 10 kg/mol published for the entanglements of PMMA (from memory), within the factor
    assert 10.0 / acrylic.factor < acrylic.chain_length() < 10.0 * acrylic.factor
    with pytest.raises(DataError, match="known: "):
        hot_modulus("steel_mild")


def test_the_fact_of_the_trade_calibrates_the_record() -> None:
    """8 inch hemisphere, 7 to 8 lbf/in2, blank taken as 1/4 inch."""
    low, high = (calibrated(4 * INCH, p * PSI, 4 * INCH, INCH / 4) for p in (7, 8))
    assert low < hot_modulus("pmma_cast").modulus < high


def march(length: float, diffusivity: float, rate: float, until: float) -> float:
    """Core less face of a plate whose faces fall steadily, by implicit steps on 81 planes."""
    n, steps = 81, 600
    r = diffusivity * until / steps / (length / (n - 1)) ** 2
    matrix = np.eye(n) * (1 + 2 * r) - r * (np.eye(n, k=1) + np.eye(n, k=-1))
    matrix[0], matrix[-1] = np.eye(n)[0], np.eye(n)[-1]
    inverse, t = np.linalg.inv(matrix), np.zeros(n)
    for step in range(1, steps + 1):
        t[0] = t[-1] = -rate * until * step / steps
        t = inverse @ t
    return float(t[n // 2] - t[0])


def test_parabola_of_slow_cooling() -> None:
    length, a, rate = 0.02, 1.1e-7, 20 / 3600
    settled = float(anneal.settling_time(length, a))
    exact = float(anneal.face_core_difference(rate, length, a))
    assert march(length, a, rate, 12 * settled) == pytest.approx(exact, rel=1e-4)
    # after one settling time all but 32/pi^3 e^-1 = 38 % stands (first term of the series)
    assert march(length, a, rate, settled) == pytest.approx(exact * (1 - 32 / math.pi**3 / math.e), rel=0.02)
    assert anneal.cooling_rate(exact, length, a) == pytest.approx(rate)


def test_heating_through_by_the_table() -> None:
    """Incropera, table 5.1: plane wall, Bi = 0.1 (z = 0.3111, C = 1.0160) and 10 (1.4289, 1.2620), Fo for 5 % left."""
    half, k, a = 0.005, 0.2, 1.1e-7
    biots = np.array([0.1, 10.0])
    z, c = np.array([0.3111, 1.4289]), np.array([1.0160, 1.2620])
    expected = np.log(c / 0.05) / z**2 * half**2 / a
    assert anneal.heating_time(2 * half, k, a, biots * k / half) == pytest.approx(expected, rel=5e-4)


def test_annealing_times() -> None:
    assert anneal.soaking_time(np.array([1e-3, 3e-3])).tolist() == [7200.0, 3 * 3600.0]
    slow, fast = (float(anneal.cooling_time(353.15, 323.15, 0.02, 1.1e-7, d)) for d in (4.0, 8.0))
    extra = float(anneal.settling_time(0.02, 1.1e-7))
    assert slow - extra == pytest.approx(2 * (fast - extra))
