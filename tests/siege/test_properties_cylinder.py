"""Laws that hold for any heating cylinder, on cases that are made at random."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from thermokit.case import parse_case, resolved_text
from thermokit.processes import process_of
from thermokit.processes.run import run_case, settled
from thermokit.studies.dwell import window_of

from . import properties as hold
from .enthalpy_by_hand import enthalpy
from .generated_body import with_rows
from .generated_cylinder import cylinders, zone_cut
from .profiles import sieged
from .solving import accuracy_of, case_of, judged_on, run_of, side_by_side, warmer
from .writing import amount


def of_degree(case: Any) -> float:
    """Error of a degree that goes with a step's error of temperature."""
    return hold.DEGREE_PER_KELVIN * hold.step_error(case)


def outcome(result: Any, name: str) -> float:
    """An outcome by its name."""
    return float(next(o.value for o in result.outcomes if o.name == name))


@sieged(5)
@given(tree=cylinders())
def test_any_case_is_sound(tree: dict[str, Any]) -> None:
    """Heat balance, finite numbers, rows inside the extremes, degrees in 0 to 1 that never fall, a text that comes back."""
    case = case_of(tree)
    assert parse_case(resolved_text(case)) == case
    result = run_case(case)
    hold.finished(result)
    hold.closes(result)
    hold.all_finite(result)
    hold.degrees_are_shares(result)
    hold.never_falls(result, most=of_degree(case))
    hold.extremes_hold_the_rows(result, hold.step_error(case))


@sieged(5)
@given(tree=cylinders(own=True, reacts=False))
def test_heat_by_hand(tree: dict[str, Any]) -> None:
    """Power of the plunger and heat of the barrel are the throughput times the rise of heat content: kW of the machine.

    Plunger: pressure lost times volume of melt a second. Content by cells from the file's own tables; the solver's tables may
    leave their curves by 1e-4 K.
    """
    case = case_of(tree)
    result = run_case(case)
    history: Any = result.history
    stuff = case.materials["stuff"]
    share = history.states.get("crystalline_share", [None, None])
    edges = history.edges + case.machine.spreader / 2.0
    part = np.diff(edges**2) / (edges[-1] ** 2 - edges[0] ** 2)
    begin, end = (enthalpy(history.temperature[row], stuff, share[row]) @ part for row in (0, -1))
    throughput = case.shot.mass / case.shot.cycle
    density = case.shot.density if case.shot.density is not None else stuff.density
    plunger = case.shot.pressure_loss * throughput / density
    barrel = 1e3 * outcome(result, "heat_power")
    turned = (
        throughput
        * (history.heat.entered + history.heat.left)
        / (float(stuff.density) * np.pi * (edges[-1] ** 2 - edges[0] ** 2))
    )
    steep = float(np.max(enthalpy(np.array([300.0, 700.0]), stuff)[1]) / 400.0)
    found = barrel + plunger - throughput * (end - begin)
    assert abs(found) <= 1e-9 * (turned + plunger + abs(barrel)) + 2e-4 * steep * throughput


@sieged(3)
@given(tree=cylinders(own=True))
def test_time_by_hand(tree: dict[str, Any]) -> None:
    """What is in the cylinder is its volume full of melt; it is moulded shot by shot."""
    case = case_of(tree)
    result = run_case(case)
    machine, shot = case.machine, case.shot
    density = shot.density if shot.density is not None else case.materials["stuff"].density
    volume = np.pi / 4.0 * (machine.bore**2 - machine.spreader**2) * sum(z.length for z in case.zones)
    assert outcome(result, "content") == pytest.approx(volume * density, rel=1e-12)
    assert outcome(result, "time_in_cylinder") == pytest.approx(volume * density / shot.mass * shot.cycle, rel=1e-12)
    assert result.history.time[-1] == pytest.approx(outcome(result, "time_in_cylinder"), rel=1e-12)


@sieged(3)
@given(tree=cylinders(friction=False, reacts=False))
def test_without_friction_nothing_leaves_what_it_met(tree: dict[str, Any]) -> None:
    """Maximum principle between hopper, spreader and zones."""
    case = case_of(tree)
    zones = [z.temperature for z in case.zones]
    below = case.machine.spreader_below if case.machine.spreader_contact is not None else 0.0
    bounds = [case.shot.start, *zones, *(z - below for z in zones)]
    hold.stays_within(run_case(case), min(bounds), max(bounds), hold.step_error(case))


@sieged(3)
@given(tree=cylinders(), rng=st.randoms(use_true_random=False))
def test_units_do_not_matter(tree: dict[str, Any], rng: Any) -> None:
    """The same case exactly whatever units it is written in, and the same answer to the last bit."""
    one, other = case_of(tree), case_of(tree, lambda a: rng.choice(list(a.texts().values())))
    assert one == other
    hold.same_bits(run_case(one), run_case(other))


@sieged(3)
@given(tree=cylinders(), which=st.integers(0, 3), tenths=st.integers(1, 9))
def test_a_zone_cut_in_two_is_one_zone(tree: dict[str, Any], which: int, tenths: int) -> None:
    """Two zones of the same temperature, one after the other, each run within its accuracy."""
    case = case_of(tree)
    one, other = run_case(case), run_of(zone_cut(tree, which, tenths))
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    for a, b in zip(one.outcomes, other.outcomes, strict=True):
        if a.unit in ("degC", "K"):
            assert b.value == pytest.approx(a.value, abs=2.0 * accuracy_of(case)), a
        elif a.unit in ("s", "kg"):
            assert b.value == pytest.approx(a.value, rel=1e-12), a


@sieged(3)
@given(tree=cylinders(), share=st.integers(5, 20))
def test_a_batch_is_as_many_runs(tree: dict[str, Any], share: int) -> None:
    """What limits look at, side by side and one by one on the same mesh, within the accuracy of a run."""
    case = case_of(tree)
    factors = np.array([1.0, share / 10.0, 1.3])
    values = {
        "shot.cycle": case.shot.cycle * factors, "shot.mass": case.shot.mass * factors[[0, 2, 1]],
        "machine.contact": case.machine.contact * factors,
        "zones.zone_1.temperature": case.zones[0].temperature + np.array([0.0, -5.0, 10.0]),
    }  # fmt: skip
    edges = settled(case, process_of(case)).edges
    found = side_by_side(case, values, edges)
    for i in range(3):
        own = case.with_values({p: column[i] for p, column in values.items()})
        for name, value in judged_on(own, edges).items():
            kelvin = name in ("hottest", "spread", "mean", "coldest")
            allowed = accuracy_of(case) * (1.0 if kelvin else max(1.0, abs(value)) / 50.0)
            assert abs(found.quantities[name][i] - value) <= allowed, (name, i, found.quantities[name][i], value)


@sieged(3)
@given(tree=cylinders(reacts=False), kelvin=st.integers(1, 40), longer=st.integers(11, 30))
def test_hotter_zones_and_longer_cycles_never_make_a_colder_melt(
    tree: dict[str, Any], kelvin: int, longer: int
) -> None:
    """No place is colder at any time with hotter zones; without friction a longer cycle never gives a colder mean."""
    tree = with_rows(tree | {"stations": [{"duration": amount(1, "time")}]})
    tree.pop("stations")
    tree.pop("output")
    one, other = run_of(tree), run_of(warmer(tree, kelvin, "zones"))
    case = case_of(tree)
    for name in ("melt_mean", "melt_coldest"):
        assert outcome(other, name) >= outcome(one, name) - accuracy_of(case), name
    zones = [z["temperature"].number for z in tree["zones"]]
    if "pressure_loss" in tree["shot"] or zones != sorted(zones) or "spreader_contact" in tree["machine"]:
        return
    assume(tree["shot"]["start"].number < zones[0])
    cycle = tree["shot"]["cycle"]
    slower = run_of(tree | {"shot": tree["shot"] | {"cycle": cycle._replace(number=cycle.number * longer / 10)}})
    assert outcome(slower, "melt_mean") >= outcome(one, "melt_mean") - accuracy_of(case)


@sieged(2)
@given(
    tree=cylinders(friction=False, reacts=False, melts=False, own=True),
    above=st.integers(2, 30),
    wider=st.integers(1, 9),
)
def test_edges_of_a_window_meet_the_limits(tree: dict[str, Any], above: int, wider: int) -> None:
    """Edges put back meet their limits with nothing to spare; less asked for is there no later."""
    zones = [z["temperature"].number for z in tree["zones"]]

    def sought(mean: float) -> Any:
        shot = tree["shot"] | {"cycle": {"find": ["0.5 s", "1 h"]}}
        limits = {"mean": amount(mean, "temperature"), "spread": amount(2000, "temperature_difference")}
        return case_of(tree | {"shot": shot, "limits": limits})

    least = float(min(zones)) - 10.0 - above
    assume(least > float(tree["shot"]["start"].number) + wider)
    case = sought(least)
    window = window_of(case)
    for edge, by in ((window.earliest, window.earliest_limit), (window.latest, window.latest_limit)):
        if edge is None:
            continue
        for limit in run_case(case.with_values({"shot.cycle": edge})).limits:
            assert limit.margin is not None and limit.margin >= -accuracy_of(case), (edge, limit)
            if limit.name == by:
                assert limit.margin <= accuracy_of(case), (edge, limit)
    if window.earliest is not None:
        more = window_of(sought(least - wider))
        assert more.earliest is not None and more.earliest <= window.earliest * (1.0 + 1e-3)
