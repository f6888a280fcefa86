"""Share of good parts: closed forms of the normal, uniform and lognormal distribution, and the drawn inputs themselves."""

from __future__ import annotations

import math
from statistics import NormalDist
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from thermokit.case import Find, parse_case
from thermokit.case.tolerances import Tolerance
from thermokit.processes.base import Limit
from thermokit.studies.dwell import dwell
from thermokit.studies.tolerance import draw, shares

PHI = NormalDist().cdf
SHARE = 0.004  # of 1024 scrambled Sobol points, against the closed form


class Linear:
    """Margins that are straight in the setting and in two inputs: s - a + b over 0 and high - s + a over 0."""

    path = "s"

    def __init__(self, tolerances: dict[str, Tolerance], high: float = math.inf, a: float = 50.0, b: float = 0.0):
        self.high = high
        self.values = {"a": a, "b": b, "s": Find(low=None, high=None)}
        self.case = self._case(tolerances, self.values)

    def _case(self, tolerances: dict[str, Tolerance], values: dict[str, Any]) -> Any:
        return SimpleNamespace(
            tolerances=tolerances,
            value=lambda path: values[path],
            with_values=lambda new: self._case(tolerances, {**values, **new}),
        )

    def margins(self, settings: np.ndarray, values: dict[str, np.ndarray]) -> tuple[tuple[Limit, ...], np.ndarray]:
        a, b = (values.get(x, self.values[x]) for x in "ab")
        limits = (Limit("least", "least", True, 0.0), Limit("most", "most", False, 0.0))
        return limits, np.array(
            [settings - a + b, self.high - settings + a if np.isfinite(self.high) else 1.0 + 0 * settings]
        )


def normal(plus_minus: float, relative: bool = False) -> Tolerance:
    return Tolerance(plus_minus=plus_minus, relative=relative)


def test_plus_minus_is_two_standard_deviations() -> None:
    """Met from a on: share at s is Phi((s - a)/sigma); 0.5 at a, 0.977 at a + (±)."""
    found = shares(Linear({"a": normal(4.0)}), 40.0, 60.0)
    for s in (46.0, 48.0, 50.0, 51.0, 54.0):
        good, broken = found.at(s)
        assert good == pytest.approx(PHI((s - 50.0) / 2.0), abs=SHARE), s
        assert broken["least"] == pytest.approx(1.0 - good, abs=1e-9)
        assert broken["most"] == 0.0
    assert found.at(54.0)[0] == pytest.approx(0.97725, abs=SHARE)


def test_relative_is_a_share_of_the_value() -> None:
    found = shares(Linear({"a": normal(0.08, relative=True)}), 40.0, 60.0)
    assert found.at(52.0)[0] == pytest.approx(PHI(1.0), abs=SHARE)


def test_independent_inputs_add_in_squares() -> None:
    found = shares(Linear({"a": normal(4.0), "b": normal(3.0)}), 40.0, 60.0)
    sigma = math.hypot(2.0, 1.5)
    for s in (47.0, 50.0, 52.0, 54.0):
        assert found.at(s)[0] == pytest.approx(PHI((s - 50.0) / sigma), abs=2 * SHARE), s


def test_the_best_setting_is_between_two_limits() -> None:
    """Both limits move with a: good where a <= s <= a + 6, best at a + 3 with Phi(1.5) - Phi(-1.5)."""
    found = shares(Linear({"a": normal(4.0)}, high=6.0), 44.0, 62.0)
    assert found.best == pytest.approx(53.0, abs=0.2)
    assert found.at(found.best)[0] == pytest.approx(PHI(1.5) - PHI(-1.5), abs=SHARE)


def test_a_plateau_is_met_in_its_middle() -> None:
    found = shares(Linear({"a": normal(0.2)}, high=10.0), 48.0, 62.0)
    assert found.at(found.best)[0] == 1.0
    assert found.best == pytest.approx(55.0, abs=0.2)


def test_uniform_has_ends() -> None:
    found = shares(Linear({"a": Tolerance(plus_minus=4.0, relative=False, distribution="uniform")}), 40.0, 60.0)
    for s, share in ((45.9, 0.0), (48.0, 0.25), (50.0, 0.5), (52.0, 0.75), (54.1, 1.0)):
        assert found.at(s)[0] == pytest.approx(share, abs=SHARE), s


def test_lognormal_is_a_factor() -> None:
    """± a factor of 1.2 (k = 2): the logarithm has the standard deviation ln(1.2)/2."""
    found = shares(Linear({"a": Tolerance(plus_minus=1.2, relative=True, distribution="lognormal")}), 38.0, 65.0)
    assert found.at(50.0)[0] == pytest.approx(0.5, abs=SHARE)
    assert found.at(60.0)[0] == pytest.approx(PHI(2.0), abs=SHARE)


@pytest.mark.parametrize("relative", [False, True])
def test_the_setting_itself_may_be_off(relative: bool) -> None:
    """A timer that is off by ± 3 s, or ± 6 % of what it is set to."""
    found = shares(Linear({"s": normal(0.06 if relative else 3.0, relative)}), 40.0, 60.0)
    for s in (48.0, 50.0, 52.0):
        sigma = 0.03 * s if relative else 1.5
        assert found.at(s)[0] == pytest.approx(PHI((s - 50.0) / sigma), abs=SHARE), s


def test_the_same_seed_gives_the_same_parts() -> None:
    one, other = (shares(Linear({"a": normal(4.0)}), 40.0, 60.0) for _ in range(2))
    assert np.array_equal(one.good, other.good)
    assert (one.draws, one.seed) == (other.draws, other.seed)


def test_draws() -> None:
    case = Linear(
        {"a": normal(4.0), "b": Tolerance(plus_minus=1.0, relative=False, distribution="uniform")}, b=7.0
    ).case
    values = draw(case, 1024, 1)
    assert values["a"].mean() == pytest.approx(50.0, abs=0.02)
    assert values["a"].std() == pytest.approx(2.0, rel=0.01)
    assert (values["b"].min(), values["b"].max()) == (pytest.approx(6.0, abs=0.01), pytest.approx(8.0, abs=0.01))
    assert abs(np.corrcoef(values["a"], values["b"])[0, 1]) < 0.01


# -- a real case --------------------------------------------------------------------------------------------------

LUMP = """
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "block"
material = "block"
thickness = "10 mm"
cells = 2
[materials.block]
conductivity = "5000 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
[[stations]]
name = "heat"
duration = "find"
[stations.outer]
convection = {{ coefficient = "100 W/m2/K", air = "120 degC" }}
[limits.mean_temperature]
at_least = "60 degC"
[limits.hottest_temperature]
at_most = "80 degC"
[tolerances]
{tolerances}
"""


def exact(t: float, relative_sigma: float) -> float:
    """Thickness varies: T(t) = 120 - 100 exp(-h t/(rho c L)) lies in 60..80 for L between h t/(rho c ln(100/60, 100/40))."""
    nominal = 0.01
    ends = [100.0 * t / (1e6 * math.log(100.0 / (120.0 - T))) for T in (60.0, 80.0)]
    low, high = sorted((x / nominal - 1.0) / relative_sigma for x in ends)
    return PHI(high) - PHI(low)


def test_a_lumped_body_of_varying_thickness() -> None:
    case = parse_case(LUMP.format(tolerances='"body.layers.block.thickness" = "± 30 %"'), "lump.toml")
    found = dwell(case).shares
    assert found is not None
    for t in (55.0, 65.0, 72.0, 85.0):
        assert found.at(t)[0] == pytest.approx(exact(t, 0.15), abs=0.01), t
    grid = np.linspace(50.0, 90.0, 401)
    best = grid[np.argmax([exact(t, 0.15) for t in grid])]
    assert found.at(found.best)[0] == pytest.approx(exact(best, 0.15), abs=0.01)


@pytest.mark.parametrize("path", ["stations.heat.duration", "stations.0.duration"])
def test_the_sought_time_may_have_a_tolerance(path: str) -> None:
    """By its name or its number: T is met between t1 and t2, the clock is off by ± 10 s."""
    case = parse_case(LUMP.format(tolerances=f'"{path}" = "± 10 s"'), "lump.toml")
    found = dwell(case).shares
    assert found is not None
    t1, t2 = (100.0 * math.log(100.0 / (120.0 - T)) for T in (60.0, 80.0))
    for t in (52.0, 60.0, 70.0):
        assert found.at(t)[0] == pytest.approx(PHI((t2 - t) / 5.0) - PHI((t1 - t) / 5.0), abs=0.01), t
