"""The window of a setting: margins whose edges are known, and a lumped body whose times follow from its closed form."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from thermokit.case import parse_case
from thermokit.errors import CaseError
from thermokit.processes.base import Limit
from thermokit.studies.dwell import dwell
from thermokit.studies.window import Window, find_window


class Known:
    """A question whose margins are given functions of the setting."""

    def __init__(self, **margins: Callable[[np.ndarray], np.ndarray]):
        self.limits = tuple(Limit(name, name, True, 0.0) for name in margins)
        self.curves = list(margins.values())
        self.asked = 0

    def margins(self, settings: np.ndarray, values: Any = None) -> tuple[tuple[Limit, ...], np.ndarray]:
        self.asked += len(settings)
        return self.limits, np.array([np.asarray(curve(settings), float) for curve in self.curves])


def window(low: float = 1.0, high: float = 1000.0, **margins: Callable[[np.ndarray], np.ndarray]) -> Window:
    return find_window(Known(**margins), low, high)  # type: ignore[arg-type]


def edges(found: Window) -> tuple[float | None, float | None, str | None, str | None]:
    return found.earliest, found.latest, found.earliest_limit, found.latest_limit


def test_two_limits_make_two_edges() -> None:
    found = window(core=lambda s: np.log(s / 70.0), face=lambda s: 86.0 - s)
    assert edges(found) == (pytest.approx(70.0, rel=1e-5), pytest.approx(86.0, rel=1e-5), "core", "face")
    assert found.open
    assert found.middle == pytest.approx(78.0, rel=1e-5)


def test_the_later_start_and_the_sooner_end_count() -> None:
    found = window(a=lambda s: s - 50.0, b=lambda s: s - 60.0, c=lambda s: 90.0 - s, d=lambda s: 80.0 - s)
    assert edges(found) == (pytest.approx(60.0), pytest.approx(80.0), "b", "d")


def test_a_window_much_narrower_than_the_grid() -> None:
    found = window(core=lambda s: s - 70.0, face=lambda s: 70.01 - s)
    assert edges(found) == (pytest.approx(70.0, abs=1e-4), pytest.approx(70.01, abs=1e-4), "core", "face")


def test_nothing_limits_an_end() -> None:
    assert edges(window(core=lambda s: s - 70.0)) == (pytest.approx(70.0), None, "core", None)
    assert edges(window(face=lambda s: 86.0 - s)) == (1.0, pytest.approx(86.0), None, "face")
    assert edges(window(free=lambda s: 0.0 * s + 1.0)) == (1.0, None, None, None)
    assert window(core=lambda s: s - 70.0).middle == pytest.approx(77.0)  # 10 % above the earliest


def test_the_first_of_two_stretches() -> None:
    """A margin that is met, broken and met again."""
    found = window(wave=lambda s: np.sin(s / 100.0 * math.pi) + 0.0 * s, late=lambda s: s - 50.0)
    assert edges(found) == (pytest.approx(50.0), pytest.approx(100.0, rel=1e-4), "late", "wave")
    found = window(wave=lambda s: np.sin(s / 100.0 * math.pi), late=lambda s: s - 150.0)
    assert edges(found) == (pytest.approx(200.0, rel=1e-4), pytest.approx(300.0, rel=1e-4), "wave", "wave")


def test_no_window() -> None:
    found = window(core=lambda s: s - 90.0, face=lambda s: 70.0 - s)
    assert edges(found) == (None, None, None, None)
    assert not found.open
    assert found.middle is None
    at, margins = found.nearest_miss()
    assert at == pytest.approx(80.0, rel=0.01)
    found_margins = {limit.name: margin for limit, margin in margins}
    assert found_margins == {"core": pytest.approx(-10.0, abs=0.8), "face": pytest.approx(-10.0, abs=0.8)}


def test_runs_that_failed_are_no_window() -> None:
    """NaN is not met; nothing is said to be open over it."""
    found = window(core=lambda s: np.where(s < 100.0, s - 70.0, np.nan), face=lambda s: 500.0 - s)
    assert found.earliest == pytest.approx(70.0)
    assert found.latest is not None
    assert 90.0 < found.latest <= 100.1
    assert not window(core=lambda s: np.nan * s).open


def test_a_search_is_few_runs() -> None:
    question = Known(core=lambda s: s - 70.0, face=lambda s: 86.0 - s)
    find_window(question, 0.1, 36_000.0)  # type: ignore[arg-type]
    assert question.asked < 200


# -- a real case whose times are known -----------------------------------------------------------------------------

LUMP = """
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
material = "block"
thickness = "10 mm"
cells = 2
[materials.block]
conductivity = "5000 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
[[stations]]
name = "heat"
duration = {{ find = ["{low}", "{high}"] }}
[stations.outer]
convection = {{ coefficient = "100 W/m2/K", air = "120 degC" }}
[accuracy]
temperature = "0.01 K"
{more}
"""
TAU = 1000.0 * 1000.0 * 0.01 / 100.0  # s, rho c L / h


def time_to(celsius: float, start: float = 20.0, air: float = 120.0) -> float:
    """Lumped body: t = (rho c L / h) ln[(Ta - T0)/(Ta - T)] (Holman, Example 4-1)."""
    return TAU * math.log((air - start) / (air - celsius))


def lump(more: str, low: str = "1 s", high: str = "3600 s") -> Any:
    return parse_case(LUMP.format(more=more, low=low, high=high), "lump.toml")


def test_a_lumped_body() -> None:
    found = dwell(
        lump('[limits.mean_temperature]\nat_least = "60 degC"\n[limits.hottest_temperature]\nat_most = "80 degC"')
    )
    assert found.earliest == pytest.approx(time_to(60.0), rel=1e-3)
    assert found.latest == pytest.approx(time_to(80.0), rel=1e-3)
    assert (found.earliest_limit, found.latest_limit) == ("mean_temperature", "hottest_temperature")
    assert found.recommended == pytest.approx((time_to(60.0) + time_to(80.0)) / 2, rel=1e-3)
    margins = {(m.limit, m.unit): m.value for m in found.margins}
    middle = 120.0 - 100.0 * math.exp(-(time_to(60.0) + time_to(80.0)) / 2 / TAU)
    assert margins["mean_temperature", "K"] == pytest.approx(middle - 60.0, abs=0.05)
    assert margins["hottest_temperature", "K"] == pytest.approx(80.0 - middle, abs=0.05)
    assert margins["mean_temperature", "s"] == pytest.approx((time_to(80.0) - time_to(60.0)) / 2, rel=2e-3)


def test_both_bounds_on_one_outcome() -> None:
    found = dwell(lump('[limits.mean_temperature]\nat_least = "60 degC"\nat_most = "80 degC"'))
    assert found.earliest == pytest.approx(time_to(60.0), rel=1e-3)
    assert found.latest == pytest.approx(time_to(80.0), rel=1e-3)


def test_bounds_of_the_search() -> None:
    limits = '[limits.mean_temperature]\nat_least = "60 degC"'
    found = dwell(lump(limits, low="70 s", high="3600 s"))
    assert (found.earliest, found.earliest_limit) == (pytest.approx(70.0), None)  # met from the beginning of the search
    assert (found.latest, found.latest_limit) == (None, None)
    found = dwell(lump(limits, low="1 s", high="30 s"))
    assert found.earliest is None
    assert found.recommended is None
    assert found.opens_with is not None
    assert "mean_temperature" in found.opens_with


def test_bounds_that_exclude_each_other_never_open() -> None:
    """At least 80 and at most 60 degC of the same: refused, or no window."""
    try:
        found = dwell(lump('[limits.mean_temperature]\nat_least = "80 degC"\nat_most = "60 degC"'))
    except CaseError:
        return
    assert found.earliest is None


def test_the_nearest_miss_of_two_bounds_of_one_outcome_names_the_one_that_is_broken() -> None:
    found = dwell(lump('[limits.mean_temperature]\nat_least = "60 degC"\nat_most = "200 degC"', high="30 s"))
    at_end = 120.0 - 100.0 * math.exp(-30.0 / TAU)
    assert found.opens_with is not None
    assert f"missed by {60.0 - at_end:.2g} K" in found.opens_with
