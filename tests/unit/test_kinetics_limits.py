"""Glass transition, gel point, limits by vitrification and diffusion, and the keys of ``[kinetics.*]`` that give them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from thermokit.case import parse_case, resolved_text
from thermokit.conduction.batch import solve_batch
from thermokit.conduction.lanes import rate_of_cases
from thermokit.conduction.problem import Face, Layer, Medium, Problem, Reaction, Span
from thermokit.conduction.single import solve
from thermokit.errors import CaseError
from thermokit.kinetics.branches import SumOfRates
from thermokit.kinetics.cured import property_at_degree, reaction_heat_at
from thermokit.kinetics.limited import DiffusionLimited, Vitrified
from thermokit.kinetics.network import GlassTransition, gel_degree_flory_stockmayer
from thermokit.kinetics.rates import NthOrder, TwoRate
from thermokit.processes.media import Stuff
from thermokit.studies.run import run

GLASS = GlassTransition(253.15, 493.15, 0.5)  # -20 and 220 degC


# -- glass transition and gel point ------------------------------------------------------------------------------------


def test_the_glass_transition_follows_dibenedetto() -> None:
    # (Tg - Tg0)/(Tginf - Tg0) = lam a/[1 - (1 - lam) a]: -20 + 240 * 0.125/0.875 and so on, by hand
    found = GLASS.at(np.array([0.0, 0.25, 0.5, 0.75, 0.9, 1.0])) - 273.15
    assert found == pytest.approx([-20.0, 14.285714, 60.0, 124.0, 176.363636, 220.0], abs=1e-5)


def test_the_degree_of_a_glass_transition_is_its_inverse() -> None:
    degree = np.linspace(0.0, 1.0, 21)
    assert GLASS.degree(GLASS.at(degree)) == pytest.approx(degree, abs=1e-12)
    assert GLASS.degree(np.array([200.0, 600.0])) == pytest.approx([0.0, 1.0])
    step = 1e-6
    numeric = (GLASS.at(degree[1:-1] + step) - GLASS.at(degree[1:-1] - step)) / (2 * step)
    assert GLASS.slope(degree[1:-1]) == pytest.approx(numeric, rel=1e-7)
    assert np.array_equal(GLASS.slope(np.array([-0.1, 1.1])), [0.0, 0.0])


def test_the_gel_point_follows_flory_and_stockmayer() -> None:
    assert gel_degree_flory_stockmayer(2, 4) == pytest.approx(1 / math.sqrt(3))
    assert gel_degree_flory_stockmayer(3, 2) == pytest.approx(1 / math.sqrt(2))
    assert gel_degree_flory_stockmayer(2, 3, 0.8) == pytest.approx(1 / math.sqrt(0.8 * 2))
    for wrong in ((2, 2, 1.0), (1, 3, 1.0), (2, 4, 0.0), (2, 4, 1.1)):
        with pytest.raises(ValueError, match="groups"):
            gel_degree_flory_stockmayer(*wrong)


def test_properties_and_heat_of_a_cured_part_close_the_balance() -> None:
    # enthalpy round a cycle is zero: heat fresh from 400 to 440 K, react at 440, cool cured, un-react at 400
    fresh, cured, heat = 1900.0, 1700.0, 300e3
    assert fresh * 40.0 - float(reaction_heat_at(440.0, heat, 400.0, fresh, cured)) - cured * 40.0 == -heat
    assert property_at_degree(0.2, 0.3, np.array([-1.0, 0.25, 2.0])) == pytest.approx([0.2, 0.225, 0.3])


# -- limits ------------------------------------------------------------------------------------------------------------

FAST = TwoRate(1e5, 60e3, 1e6, 60e3, 1.0, 1.3)


def held(law: Any, celsius: float, hours: float, start: float = 0.0) -> float:
    """Degree after a hold, by an independent integrator."""
    at = np.array([celsius + 273.15])
    slope = lambda t, a: law.evaluate(at, (a,))  # noqa: E731
    done = solve_ivp(slope, (0.0, 3600.0 * hours), [start], method="LSODA", rtol=1e-9, atol=1e-12)
    return float(done.y[0, -1])


@pytest.mark.parametrize("celsius", [40.0, 80.0, 120.0, 160.0])
def test_the_degree_cannot_pass_what_the_glass_transition_allows(celsius: float) -> None:
    law = Vitrified(FAST, GLASS, 0.01)
    after_weeks, after_years = held(law, celsius, 500.0), held(law, celsius, 1e5)
    allowed = float(GLASS.degree(np.array(celsius + 273.15 + law.reach)))
    assert held(FAST, celsius, 1e5) > 0.999 > allowed
    assert after_weeks <= after_years < allowed
    # the glass transition ends some 10 to 30 K above the temperature of cure: Wisanrakkit and Gillham (1990) and others
    lead = float(GLASS.at(np.array(after_weeks))) - 273.15 - celsius
    assert 0.0 < lead < 30.0


def test_cure_goes_on_when_it_is_made_hotter_and_is_not_undone_when_cooled() -> None:
    law = Vitrified(FAST, GLASS, 0.01)
    stopped = held(law, 80.0, 10.0)
    assert held(law, 20.0, 1000.0, stopped) == pytest.approx(stopped, abs=1e-9)
    assert held(law, 140.0, 1.0, stopped) > stopped + 0.1


def test_well_above_the_glass_transition_nothing_is_limited() -> None:
    # 260 degC, Tg at most 220: k_d = 0.01 exp(40.2 * 40/91.6) = 4.2e5 1/s, against a chemical rate below 10 1/s
    at, degree = np.full(9, 533.15), np.linspace(0.0, 0.99, 9)
    assert Vitrified(FAST, GLASS, 0.01).evaluate(at, (degree,)) == pytest.approx(FAST.evaluate(at, (degree,)), rel=1e-4)


def test_the_diffusion_factor_halves_the_rate_at_the_critical_degree() -> None:
    # 1/(1 + exp(C (a - a_c))), a_c = 0.8 + 0.004 (T - 400): by hand
    law = DiffusionLimited(NthOrder(0.02, 0.0, 0.0), 30.0, 0.8, 0.004, 400.0)
    found = law.evaluate(np.array([400.0, 425.0, 400.0]), (np.array([0.8, 0.9, 0.9]),))
    assert found == pytest.approx([0.01, 0.01, 0.02 / (1 + math.exp(3.0))], rel=1e-12)


def test_laws_inside_laws_are_cut_to_their_cases() -> None:
    glass = GlassTransition(np.array([250.0, 260.0, 270.0]), 480.0, np.array([0.4, 0.5, 0.6]))
    inner = SumOfRates(NthOrder(np.array([1e5, 2e5, 3e5]), 60e3, 1.0), FAST)
    law = Vitrified(inner, glass, np.array([0.01, 0.02, 0.03]))
    rng = np.random.default_rng(3)
    temperature, degree = rng.uniform(350, 450, (5, 3)), rng.uniform(0.1, 0.9, (5, 3))
    whole = law.linearise(temperature, (degree,))
    for case in range(3):
        cut = rate_of_cases(law, np.array([case]), 3)
        alone = cut.linearise(temperature[:, [case]], (degree[:, [case]],))
        assert alone[0][:, 0] == pytest.approx(whole[0][:, case], rel=1e-12)
        assert alone[1][:, 0] == pytest.approx(whole[1][:, case], rel=1e-12)
        assert alone[2][0][:, 0] == pytest.approx(whole[2][0][:, case], rel=1e-12)
    assert rate_of_cases(Vitrified(FAST, GLASS, 0.01), np.array([0]), 3).law is FAST


# -- in a case ---------------------------------------------------------------------------------------------------------

BODY = """\
process = "body"
[body]
shape = "plane"
start = "{celsius} degC"
[[body.layers]]
material = "resin"
thickness = "1 mm"
cells = 2
kinetics = "own"
[materials.resin]
conductivity = "0.2 W/m/K"
density = "1200 kg/m3"
specific_heat = "1500 J/kg/K"
[kinetics.own]
state = "cure"
{keys}
[[stations]]
duration = "{duration}"
[stations.inner]
temperature = "{celsius} degC"
[stations.outer]
temperature = "{celsius} degC"
"""
TWO = """\
rate_1 = { factor = "1e5 1/s", energy = "60 kJ/mol" }
rate_2 = { factor = "1e6 1/s", energy = "60 kJ/mol" }
m = 1
n = 1.3
"""
ORDER = 'form = "nth_order"\nrate_1 = { factor = "0.005 1/s", energy = "0 kJ/mol" }\nn = 1\n'
GLASSY = 'glass_transition = { start = "-20 degC", full = "220 degC", lambda = 0.5 }\n'


def case_of(keys: str, celsius: float = 80.0, duration: str = "4 h") -> Any:
    return parse_case(BODY.format(keys=keys, celsius=celsius, duration=duration), "own.toml")


def end_degree(case: Any) -> float:
    return float(run(case).history.states["cure_degree"][-1, 0])


def test_an_nth_order_set_of_ones_own_follows_its_closed_form() -> None:
    # a = 1 - exp(-k t)
    assert end_degree(case_of(ORDER, duration="300 s")) == pytest.approx(1 - math.exp(-1.5), abs=1e-5)


def test_a_vitrifying_set_of_ones_own_stops_where_its_law_says() -> None:
    found = end_degree(case_of(TWO + GLASSY + "vitrification = {}\n"))
    assert found == pytest.approx(held(Vitrified(FAST, GLASS, 0.01), 80.0, 4.0), abs=2e-4)
    assert found < float(GLASS.degree(np.array(80.0 + 273.15 + 51.6)))


def test_a_diffusion_limited_set_of_ones_own_follows_its_law() -> None:
    keys = 'diffusion = { sharpness = 30, critical = 0.6, at = "80 degC", slope = "0.004 1/K" }\n'
    law = DiffusionLimited(FAST, 30.0, 0.6, 0.004, 353.15)
    assert end_degree(case_of(TWO + keys)) == pytest.approx(held(law, 80.0, 4.0), abs=2e-4)


EVERY_KEY = TWO + GLASSY + (
    'vitrification = { rate = "0.1 1/s", reach = "40 K", strength = 30 }\ngel_degree = 0.55\n'
    'valid = { from = "60 degC", to = "160 degC" }\n'
)  # fmt: skip


@pytest.mark.parametrize("keys", [TWO, ORDER, EVERY_KEY, ORDER + GLASSY + "vitrification = {}\n"])
def test_the_resolved_text_gives_the_same_set_back(keys: str) -> None:
    case = case_of(keys)
    again = parse_case(resolved_text(case), "again.toml")
    assert again.kinetics["own"] == case.kinetics["own"]


def test_a_process_finds_gel_point_and_glass_transition() -> None:
    stuff = Stuff({}, case_of(EVERY_KEY).kinetics)
    assert stuff.gel_degree("own") == 0.55
    glass = stuff.glass_transition("own")
    assert glass is not None and float(glass.at(np.array(0.5))) == pytest.approx(333.15)
    assert stuff.gel_degree("pf_calibrated") == 0.4 and stuff.glass_transition("pf_calibrated") is None


def test_values_may_differ_by_case() -> None:
    case = case_of(TWO + GLASSY + "vitrification = {}\n").with_values(
        {"kinetics.own.glass_transition.full": np.array([450.0, 490.0]), "kinetics.own.n": np.array([1.3, 1.6])}
    )
    law = case.kinetics["own"].law
    at, degree = np.full((3, 2), 370.0), np.full((3, 2), 0.5)
    rates = law.evaluate(at, (degree,))
    for i, (full, n) in enumerate(((450.0, 1.3), (490.0, 1.6))):
        alone = Vitrified(TwoRate(1e5, 60e3, 1e6, 60e3, 1.0, n), GlassTransition(253.15, full, 0.5), 0.01)
        assert rates[:, i] == pytest.approx(alone.evaluate(at[:, i], (degree[:, i],)), rel=1e-12)


@pytest.mark.parametrize(
    ("keys", "where", "says"),
    [
        (TWO.replace("m = 1\n", ""), "kinetics.own.m", "missing"),
        (ORDER + "m = 1\n", "kinetics.own.m", "nth_order"),
        (ORDER + 'rate_2 = { factor = "1 1/s", energy = "0 kJ/mol" }\n', "kinetics.own.rate_2", "nth_order"),
        ('form = "nth_order"\nn = 1\n', "kinetics.own.rate_1", "missing"),
        (TWO.replace('"1e6 1/s"', '"-1e6 1/s"'), "kinetics.own.rate_2.factor", "out of range"),
        (TWO + "start = 1.2\n", "kinetics.own.start", "out of range"),
        (TWO + "gel_degree = 0\n", "kinetics.own.gel_degree", "out of range"),
        (TWO + "vitrification = {}\n", "kinetics.own.vitrification", "glass_transition = {"),
        (TWO + GLASSY.replace("220", "-30"), "kinetics.own.glass_transition.full", "above start"),
        (TWO + GLASSY.replace("0.5", "0"), "kinetics.own.glass_transition.lambda", "out of range"),
        (TWO + 'valid = { from = "160 degC", to = "60 degC" }\n', "kinetics.own.valid.to", "above"),
        (
            TWO + GLASSY + "vitrification = {}\n"
            'diffusion = { sharpness = 30, critical = 0.6, at = "80 degC", slope = "0 1/K" }\n',
            "kinetics.own.diffusion",
            "one limit of the two",
        ),
        ('form = "two_rates"\n' + TWO, "kinetics.own.form", "two_rate"),
    ],
)
def test_mistakes_are_named_with_their_place(keys: str, where: str, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        case_of(keys)
    assert [str(m) for m in caught.value.mistakes if m.where == where and says in str(m)], str(caught.value)


def test_a_run_beyond_the_range_of_ones_own_set_says_so() -> None:
    keys = TWO + 'valid = { from = "60 degC", to = "100 degC" }\n'
    assert [w for w in run(case_of(keys, 120.0, "10 s")).warnings if "own: valid 60 to 100 degC" in w]
    assert not [w for w in run(case_of(keys, 90.0, "10 s")).warnings if "valid" in w]


# -- starts without a first rate -----------------------------------------------------------------------------------

SINGULAR = """\
rate_1 = {{ factor = "0 1/s", energy = "0 kJ/mol" }}
rate_2 = {{ factor = "0.02 1/s", energy = "0 kJ/mol" }}
m = {m}
n = {n}
start = {start}
"""


@pytest.mark.parametrize("start", [0.0, 1e-4])
def test_below_m_of_one_cure_begins_by_itself(start: float) -> None:
    """With m + n = 2 and y = a/(1-a): y^(1-m) = y0^(1-m) + (1-m) k t; from 0 the solution that grows, y0 = 0."""
    m, k, t = 0.524, 0.02, 100.0
    y = ((start / (1 - start)) ** (1 - m) + (1 - m) * k * t) ** (1 / (1 - m))
    result = run(case_of(SINGULAR.format(m=m, n=2 - m, start=start), duration="100 s"))
    assert float(result.history.states["cure_degree"][-1, 0]) == pytest.approx(y / (1 + y), abs=2e-4)
    assert not [w for w in result.warnings if "hardly begins" in w]


def grown(m: float, start: Any, first: Any, k: float = 0.02) -> Problem:
    """A layer held at one temperature for 100 s."""
    law = TwoRate(first, 0.0, k, 0.0, m, 2.0 - m)
    layer = Layer(Medium(1200.0, 0.2, 1500.0), 1e-3, np.linspace(0, 1, 4), 350.0, reactions=(
        Reaction("cure_degree", law, 1e5, start),))  # fmt: skip
    held_at = Face(temperature=350.0)
    return Problem((layer,), (Span(100.0, held_at, held_at),))


@pytest.mark.parametrize(("m", "start", "first"), [
    (0.3, 0.0, 1e-6), (0.524, 1e-6, 0.0), (0.524, 0.0, 1e-4), (0.8, 0.0, 1e-5), (1.0, 1e-5, 0.0), (0.0, 0.0, 0.0)
])  # fmt: skip
def test_a_small_degree_grows_as_it_should_alone_and_in_a_batch(m: float, start: float, first: float) -> None:
    """Against LSODA at tight tolerance. The time constant of growth is far shorter than any of conduction here."""
    law = TwoRate(first, 0.0, 0.02, 0.0, m, 2.0 - m)
    at = np.array([350.0])
    slope = lambda t, a: law.evaluate(at, (a,))  # noqa: E731
    exact = solve_ivp(slope, (0.0, 100.0), [start], method="LSODA", rtol=1e-10, atol=1e-14).y[0, -1]
    # with heat released at a held face the layer warms by less than 0.01 K, and the law does not read it
    alone = solve(grown(m, start, first), np.array([100.0]))
    assert alone.states["cure_degree"][-1] == pytest.approx(np.full(3, exact), abs=5e-4)
    batch = solve_batch(grown(m, np.array([start, 0.3, start]), first), 3)
    assert batch.end_states["cure_degree"][-1][:, [0, 2]] == pytest.approx(np.full((3, 2), exact), abs=5e-4)


def test_a_vitrifying_layer_in_a_batch_is_that_of_single_runs() -> None:
    """Held at 80 degC for 4 h: fast chemistry that freezes, with another glass transition in each case."""
    full = np.array([450.0, 480.0, 520.0])

    def held_layer(glass: GlassTransition) -> Problem:
        reaction = Reaction("cure_degree", Vitrified(FAST, glass, 0.01), 1e5)
        layer = Layer(Medium(1200.0, 0.2, 1500.0), 1e-3, np.linspace(0, 1, 4), 353.15, reactions=(reaction,))
        face = Face(temperature=353.15)
        return Problem((layer,), (Span(14400.0, face, face),))

    batch = solve_batch(held_layer(GlassTransition(253.15, full, 0.5)), 3).end_states["cure_degree"][-1]
    for case, top in enumerate(full):
        glass = GlassTransition(253.15, float(top), 0.5)
        alone = solve(held_layer(glass), np.array([14400.0])).states["cure_degree"][-1]
        assert batch[:, case] == pytest.approx(alone, abs=1e-4)
        assert alone[0] == pytest.approx(held(Vitrified(FAST, glass, 0.01), 80.0, 4.0), abs=3e-4)


def test_from_m_of_one_a_seed_is_asked_for() -> None:
    assert [w for w in run(case_of(SINGULAR.format(m=1, n=1, start=0), duration="9 s")).warnings if "1e-4" in w]
    assert not [w for w in run(case_of(SINGULAR.format(m=1, n=1, start=1e-4), duration="9 s")).warnings if "1e-4" in w]


def test_a_run_too_cold_for_a_library_set_with_a_negative_rate_says_so() -> None:
    text = BODY.replace('kinetics = "own"', 'kinetics = "epoxy_tgddm_dds_1982"')
    cold = run(parse_case(text.format(keys=TWO, celsius=0, duration="60 s"), "cold.toml"))
    assert [w for w in cold.warnings if "its rate is below zero up to" in w and "was at 0 degC" in w]
    warm = run(parse_case(text.format(keys=TWO, celsius=120, duration="60 s"), "warm.toml"))
    assert not [w for w in warm.warnings if "below zero" in w]
