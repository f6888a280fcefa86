"""The heating cylinder: a ring warmed at the bore against Bessel series, throttling, times in zones, limits, mistakes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1, y0, y1

from thermokit.case import parse_case
from thermokit.errors import CaseError
from thermokit.processes.run import run_case
from thermokit.results.fields import find
from thermokit.results.model import Result
from thermokit.studies.dwell import dwell

PLAIN = """
process = "cylinder"
[machine]
bore = "60 mm"
spreader = "44 mm"
contact = "1500 W/m2/K"
[[zones]]
name = "all"
length = "400 mm"
temperature = "220 degC"
[shot]
material = "stuff"
mass = "60 g"
cycle = "30 s"
start = "20 degC"
[materials.stuff]
conductivity = "0.18 W/m/K"
density = "1000 kg/m3"
specific_heat = "2000 J/kg/K"
[accuracy]
temperature = "0.02 K"
"""


def case(*changes: tuple[str, str], text: str = PLAIN) -> object:
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return parse_case(text)


def outcome(result: Result, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    assert value is not None
    return value


def ring(time: float, inner: float, outer: float, k: float, capacity: float, h: float) -> tuple[float, float]:
    """(mean, value at the inner radius) of 1 - u in a ring, insulated inside, film h outside, u from 1 to 0 (exact).

    Eigenfunctions J0(b r) Y1(b a) - Y0(b r) J1(b a) (Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., section 7.10);
    their integrals by r f = -(1/b^2) (r f')'.
    """

    def f(b: float, r: float) -> float:
        return float(j0(b * r) * y1(b * inner) - y0(b * r) * j1(b * inner))

    def slope(b: float, r: float) -> float:
        return float(b * (-j1(b * r) * y1(b * inner) + y1(b * r) * j1(b * inner)))

    def condition(b: float) -> float:
        return k * slope(b, outer) + h * f(b, outer)

    grid = np.linspace(1.0, 40.0 * math.pi / (outer - inner), 6000)
    values = [condition(b) for b in grid]
    roots = [
        brentq(condition, a, b) for a, b, u, v in zip(grid, grid[1:], values, values[1:], strict=False) if u * v < 0.0
    ]
    mean = at_inner = 0.0
    r = np.linspace(inner, outer, 4001)
    for b in roots:
        integral = -outer * slope(b, outer) / b**2
        norm = np.trapezoid(r * np.array([f(b, x) for x in r]) ** 2, r)
        share = integral / norm * math.exp(-(b**2) * k / capacity * time)
        mean += share * integral / ((outer**2 - inner**2) / 2.0)
        at_inner += share * f(b, inner)
    return 1.0 - mean, 1.0 - at_inner


def test_ring_warms_as_the_series_of_bessel_functions() -> None:
    result = run_case(case())
    area = math.pi / 4.0 * (0.06**2 - 0.044**2)
    time = 0.4 * area * 1000.0 / 0.06 * 30.0  # volume of the ring over that of a shot, times the cycle
    assert outcome(result, "time_in_cylinder") == pytest.approx(time, rel=1e-12)
    mean, inner = ring(time, 0.022, 0.030, 0.18, 2e6, 1500.0)
    assert outcome(result, "melt_mean") == pytest.approx(20.0 + 200.0 * mean, abs=0.03)
    assert outcome(result, "melt_coldest") == pytest.approx(20.0 + 200.0 * inner, abs=0.03)
    assert outcome(result, "heating_efficiency") == pytest.approx(mean, abs=2e-4)
    assert result.history.heat.mismatch < 1e-9
    # what the barrel gives: heat into a shot by its mass and rise, shot after shot
    power = 0.06 * 2000.0 * 200.0 * mean / 30.0 / 1e3
    assert outcome(result, "heat_power") == pytest.approx(power, rel=2e-4)


def test_throttling_alone_warms_by_pressure_over_heat_capacity() -> None:
    """An insulated barrel: dT = dp/(rho cp), the first law for a liquid that is throttled (exact)."""
    changes = (
        ('contact = "1500 W/m2/K"', 'contact = "1e-9 W/m2/K"'),
        ('start = "20 degC"', 'start = "200 degC"\npressure_loss = "50 MPa"'),
    )
    result = run_case(case(*changes))
    assert outcome(result, "melt_mean") == pytest.approx(200.0 + 50e6 / 2e6, abs=1e-3)
    assert outcome(result, "friction_rise") == pytest.approx(25.0, rel=1e-9)
    assert outcome(result, "melt_spread") < 1e-6
    assert abs(outcome(result, "heat_power")) < 1e-6


def test_a_cylinder_without_spreader_is_a_full_rod() -> None:
    """Fourier series of a rod with a firm wall: 1 - sum 4/b^2 exp(-b^2 Fo), b the zeros of J0 (exact)."""
    changes = (
        ('spreader = "44 mm"', 'spreader = "0 mm"'),
        ("1500 W/m2/K", "1e6 W/m2/K"),
        ('cycle = "30 s"', 'cycle = "90 s"'),
    )
    result = run_case(case(*changes))
    fourier = 0.18 / 2e6 * outcome(result, "time_in_cylinder") / 0.03**2
    zeros = np.array([2.404825557695773, 5.520078110286311, 8.653727912911013, 11.791534439014281])
    mean = 1.0 - float((4.0 / zeros**2 * np.exp(-(zeros**2) * fourier)).sum())
    assert fourier > 0.1  # four terms are enough
    assert outcome(result, "melt_mean") == pytest.approx(20.0 + 200.0 * mean, abs=0.05)


def test_zones_share_the_time_by_their_length_and_a_warm_spreader_evens_out() -> None:
    zones = '[[zones]]\nname = "rear"\nlength = "100 mm"\ntemperature = "220 degC"\n[[zones]]\nname = "front"\nlength = "300 mm"'
    two = run_case(case(('[[zones]]\nname = "all"\nlength = "400 mm"', zones)))
    one = run_case(case())
    assert outcome(two, "melt_mean") == pytest.approx(outcome(one, "melt_mean"), abs=0.03)
    times = find(two, "barrel/time")
    assert times is not None
    assert times.values[1] == pytest.approx(3.0 * times.values[0], rel=1e-12)
    warmed = run_case(case(('spreader = "44 mm"', 'spreader = "44 mm"\nspreader_contact = "800 W/m2/K"')))
    assert outcome(warmed, "melt_spread") < outcome(one, "melt_spread") / 2.0


DOSE = 'kinetics = []\ndose = { energy = "100 kJ/mol", reference = "220 degC", time = "6 h" }\n'
AGEING = (
    ('material = "stuff"\n', 'material = "stuff"\n' + DOSE),
    ("[materials.stuff]", '[regrind]\nshare = "50 %"\noldest = "5 %"\n[materials.stuff]'),
)


def test_heat_life_adds_up_over_passes_and_hold_ups() -> None:
    """At one temperature throughout the dose is time over life; half regrind: five passes leave 3 % that are older."""
    result = run_case(case(*AGEING, ('start = "20 degC"', 'start = "220 degC"')))
    once = outcome(result, "time_in_cylinder") / 21600.0
    assert outcome(result, "heat_dose_once") == pytest.approx(once, rel=1e-6)
    assert outcome(result, "heat_dose_mix") == pytest.approx(2.0 * once, rel=1e-6)
    assert outcome(result, "oldest_passes") == 5.0
    assert outcome(result, "heat_dose_oldest") == pytest.approx(5.0 * once, rel=1e-6)
    assert outcome(result, "hold_up_dose") == pytest.approx(5.0 * once, rel=1e-9)  # five times as long, at the bore
    shares = find(result, "regrind/share")
    assert shares is not None
    assert shares.values[:3] == pytest.approx([0.5, 0.25, 0.125], rel=1e-12)


def test_the_window_of_the_cycle_lies_between_evenness_and_heat_life() -> None:
    sought = case(*AGEING, ("0.02 K", "0.1 K"), ('cycle = "30 s"', 'cycle = { find = ["10 s", "400 s"] }'))
    found = dwell(sought)
    assert (found.earliest_limit, found.latest_limit) == ("spread", "heat_dose")
    assert found.earliest is not None and found.latest is not None
    early = run_case(sought.with_values({"shot.cycle": found.earliest}))  # type: ignore[attr-defined]
    late = run_case(sought.with_values({"shot.cycle": found.latest}))  # type: ignore[attr-defined]
    assert outcome(early, "melt_spread") == pytest.approx(10.0, abs=0.1)
    assert outcome(late, "heat_dose_oldest") == pytest.approx(0.3, abs=0.002)
    assert found.hand is None  # without a least temperature the trade has no formula


def test_hand_formula_stands_beside_a_wanted_mean() -> None:
    limits = '[limits]\nmean = "190 degC"\n[accuracy]'
    found = dwell(
        case(("[accuracy]", limits), ("0.02 K", "0.5 K"), ('cycle = "30 s"', 'cycle = { find = ["5 s", "200 s"] }'))
    )
    assert found.hand is not None
    time = 4.0 * 0.008**2 / (math.pi**2 * 0.18 / 2e6) * math.log(8.0 / math.pi**2 * 200.0 / 30.0)
    assert found.hand.value == pytest.approx(time / (math.pi * (0.03**2 - 0.022**2) * 0.4 * 1000.0 / 0.06), rel=1e-9)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ((('spreader = "44 mm"', 'spreader = "60 mm"'),), "does not go into the bore"),
        ((('spreader = "44 mm"', 'spreader = "0 mm"\nspreader_contact = "800 W/m2/K"'),), "there is no spreader"),
        ((('start = "20 degC"\n', ""),), "missing"),
        ((('cycle = "30 s"', 'cycle = "0 s"'),), "out of range"),
        ((("[accuracy]", '[regrind]\nshare = "100 %"\n[accuracy]'),), "out of range"),
        ((('length = "400 mm"', 'length = "400 s"'),), "length"),
    ],
)
def test_mistakes(changes: tuple[tuple[str, str], ...], words: str) -> None:
    with pytest.raises(CaseError, match=words):
        case(*changes)
