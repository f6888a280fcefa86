"""Events of a line: a stop under lamps against the sum of heat, changed speed and lost water against lines that run so."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import pytest
from line_cases import CLOTH, SPAN, TUBE

from thermokit.case import parse_case
from thermokit.processes import process_of
from thermokit.processes.line_events import happenings
from thermokit.processes.line_stop import Happening
from thermokit.processes.run import judged, settled
from thermokit.studies.run import run

#: cloth and coat so conducting that they are even, in air that takes nothing: 678 J/m2/K under 14.4 kW/m2
AREAL = 0.12 * 1300.0 + 0.3 * 1740.0
EVEN = (
    CLOTH.replace('"0.06 W/m/K"', '"50 W/m/K"')
    .replace('"0.16 W/m/K"', '"50 W/m/K"')
    .replace('coefficient = "8 W/m2/K"\nemissivity = 0.6', 'coefficient = "0 W/m2/K"\nemissivity = 0.0')
    .split('[[stations]]\nname = "drum"')[0]
)
END = '[limits]\nhottest = "{} degC"\n[[events]]\nkind = "stop"\nlasts = "20 s"\n[accuracy]\ntemperature = "0.05 K"\n'
SPEED = 'speed = "10 m/min"'


@cache
def happened(text: str) -> tuple[Happening, ...]:
    case = parse_case(text)
    process: Any = process_of(case)
    solved = settled(case, process)
    facts = process.facts(solved.travel, solved.edges, solved.tolerance)
    return tuple(happenings(process, facts))


def stopped(glow: float, shutter: float | None, limit: float = 250.0) -> tuple[Any, str]:
    """(trace under the lamps, all that is said)."""
    given = f'after_glow = "{glow} s"\n' + (f'shutter = "{shutter} s"\n' if shutter is not None else "")
    text = EVEN.replace("setting = 0.9\n", f"setting = 0.9\n{given}", 1) + END.format(limit)
    (event,) = happened(text)
    (trace,) = event.traces
    return trace, " ".join(event.words)


RATE = 0.9 * 16e3 / AREAL  # K/s, lamps on
BEFORE = 25.0 + RATE * 9.0  # degC behind 1.5 m at 10 m/min


@pytest.mark.parametrize("glow", [1.0, 4.0])
def test_after_glow_heats_on(glow: float) -> None:
    """Rise q tau/areal (1 - exp(-t/tau)), nothing lost."""
    trace, _ = stopped(glow, None)
    rise = RATE * glow * (1.0 - np.exp(-trace.time / glow))
    assert trace.values[0] == pytest.approx(BEFORE, abs=0.1)
    np.testing.assert_allclose(trace.values - BEFORE, rise, atol=0.015 * RATE * glow + 0.1)


def test_a_shutter_ends_it() -> None:
    trace, told = stopped(4.0, 0.8)
    assert np.max(trace.values) - BEFORE == pytest.approx(RATE * 4.0 * (1.0 - math.exp(-0.2)), rel=0.02)
    assert trace.breaks is None and "at most" in told


def test_the_time_to_the_limit_is_said() -> None:
    """Lamps left on: 15 K at 21.2 K/s are 0.7 s; with an after-glow of 4 s, -4 ln(1 - 15/(21.2 x 4)) = 0.8 s."""
    limit = BEFORE + 15.0
    trace, told = stopped(4.0, None, limit)
    assert trace.breaks == pytest.approx(-4.0 * math.log(1.0 - 15.0 / (RATE * 4.0)), rel=0.05)
    assert f"reaches {limit:.0f} degC in {15.0 / RATE:.1f} s" in told
    assert "shutter" in told and "<= 1 s" in told


def test_a_short_glow_needs_no_shutter() -> None:
    """0.3 s of after-glow put in 6 K at most."""
    _, told = stopped(0.3, None, BEFORE + 15.0)
    assert "stays below" in told and "switch them off at once" in told


FASTER = '[[events]]\nname = "faster"\nkind = "speed"\nfactor = 1.25\n'
LOST = '[[events]]\nname = "lost"\nkind = "water_lost"\n'
COOL = TUBE.replace('"200 W/m/K"', '"0.4 W/m/K"').replace('"0.05 K"', '"0.3 K"')


def mean_back(text: str) -> float:
    result = run(parse_case(text))
    (value,) = [o.value for o in result.outcomes if o.name == "bath_back"]
    return float(value)


def test_after_a_change_of_speed_the_line_settles_at_the_new_one() -> None:
    """The oldest piece is as it was, the newest as a line that always ran so; in between it rises."""
    (event,) = happened(COOL + FASTER)
    (trace,) = event.traces
    assert trace.time[0] == pytest.approx(0.0, abs=1e-3)
    assert trace.time[-1] == pytest.approx(30.0 / 1.25, rel=1e-3)
    assert trace.values[0] == pytest.approx(mean_back(COOL), abs=0.6)
    assert trace.values[-1] == pytest.approx(mean_back(COOL.replace('"6 m/min"', '"7.5 m/min"')), abs=0.6)
    assert np.all(np.diff(trace.values) > -0.1)


def test_lost_water_leaves_air() -> None:
    """What enters when the water is gone runs through as through a span of the same length."""
    (event,) = happened(COOL + LOST)
    (trace,) = event.traces
    dry = COOL.split("[[stations]]")[0] + SPAN.replace("0.4 m", "3 m").replace('"span"\nkind', '"bath"\nkind')
    assert trace.values[-1] == pytest.approx(mean_back(dry + '[accuracy]\ntemperature = "0.3 K"\n'), abs=1.0)
    assert trace.breaks is not None and 0.0 < trace.breaks < 30.0
    assert "back_most at bath is broken after" in event.words[0]


def test_a_line_that_keeps_its_limits_says_so() -> None:
    (event,) = happened(COOL.replace('"60 degC"', '"149 degC"') + FASTER)
    assert "every limit is still met" in event.words[0]


def test_events_stand_in_the_result() -> None:
    case = parse_case(COOL + FASTER)
    process = process_of(case)
    result = judged(case, process, settled(case, process), {})
    assert "faster" in result.study["events"]
    assert any(field.name == "event_1_1/value" for field in result.fields)
