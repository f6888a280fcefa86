"""Heat of bodies that change on their way: nothing is gained or lost where layers are drawn, joined and taken off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid

from tests.balance.bodies import CELLS, CP, FACES, INNER_RADIUS, MEDIA, MELTING, Autocatalytic
from thermokit.conduction.course import Course, on_clock, thinned
from thermokit.conduction.follow import follow
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.history import History
from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Reaction, Span

CLOSED = 1e-12
COLD = Face(exchange=(Exchange(30.0, 300.0),))
STEEL = Medium(7850.0, 40.0, 480.0)
#: (density, specific heat) of media whose heat is that of their temperatures alone
PLAIN = {"plain": (1200.0, 1500.0), "reacting": (1600.0, 1600.0)}
HEAT = 300e3


def charge(medium: str, start=300.0) -> Layer:
    """What is heated, drawn and pressed."""
    reactions = (Reaction("cure_degree", Autocatalytic(), HEAT, 1e-3),) if medium.startswith("reacting") else ()
    return Layer(MEDIA[medium], 0.004, CELLS, start, reactions=reactions, name="charge")


def tool(contact=None) -> Layer:
    """A tool with a contact to what lies outside of it."""
    return Layer(STEEL, 0.008, np.linspace(0.0, 1.0, 7), 320.0, contact=contact, name="tool", counts=False)


def course(medium: str, ratio=1.0, shape: str = "plane", face: str = "all", contact=700.0, start=300.0) -> Course:
    """Heated, drawn onto a tool (in the plane), taken off it and cooled."""
    flat = charge(medium, start)
    drawn = thinned(flat, ratio)
    radius = 0.0 if shape == "plane" else INNER_RADIUS + 0.008
    inside = radius - 0.008 if shape != "plane" else 0.0
    legs = (
        Problem((flat,), (Span(40.0, COLD, FACES[face]),), shape, radius),  # type: ignore[arg-type]
        Problem((tool(contact), drawn), (Span(20.0, COLD, COLD), Span(10.0, Face(), COLD)), shape, inside),  # type: ignore[arg-type]
        Problem((drawn,), (Span(15.0, COLD, COLD),), shape, radius),  # type: ignore[arg-type]
    )
    return Course(legs, ("charge",), (1.0, ratio, ratio))


@pytest.mark.parametrize("face", ["all", "held"])
@pytest.mark.parametrize("medium", MEDIA)
@pytest.mark.parametrize(("shape", "ratio"), [("plane", 1.0), ("plane", 2.7), ("cylinder", 1.0), ("sphere", 1.0)])
def test_closes(shape: str, ratio: float, medium: str, face: str) -> None:
    """Each leg weighted by its area, the parts of the whole way balance to round-off, one run and many."""
    whole = course(medium, ratio, shape, face)
    heat = follow(whole, np.array([75.0]), 0.1).history.heat
    assert heat.mismatch <= CLOSED
    turned = heat.entered + abs(heat.released) + abs(heat.stored)
    assert abs(heat.entered - heat.left + heat.released - heat.stored) <= CLOSED * turned
    assert heat.unit == {"plane": "J/m2", "cylinder": "J/m", "sphere": "J"}[shape]
    if shape == "plane":
        ratios = np.array([1.0, 1.4, 2.7])
        many = follow_batch(course(medium, ratios, shape, face, np.array([50.0, 700.0, 3e3])), 3, 0.1)
        assert many.mismatch.max() <= CLOSED


@pytest.mark.parametrize("ratio", [0.7, 1.0, 3.0])
@pytest.mark.parametrize("medium", PLAIN)
def test_stored_heat_is_that_of_the_temperatures(medium: str, ratio: float) -> None:
    """Per m2 as it was: rho c L dT of the charge whatever it was drawn to, that of the tool as many times as the area."""
    travel = follow(course(medium, ratio, start=390.0), np.array([75.0]), 0.01)
    heat, end = travel.history.heat, travel.history.ends[-1]
    density, capacity = PLAIN[medium]
    own = density * capacity * 0.004 * float(np.mean(end.temperature) - 390.0)
    beside = STEEL.density * STEEL.specific_heat * 0.008 * float(np.mean(travel.companions["tool"].end) - 320.0)
    assert abs(beside) > 0.05 * abs(own)
    assert heat.stored == pytest.approx(own + ratio * beside, rel=1e-10)
    if medium == "reacting":
        grown = float(np.mean(end.states["cure_degree"])) - 1e-3
        assert grown > 0.002
        assert heat.released == pytest.approx(density * HEAT * 0.004 * grown, rel=1e-10)


def drawn_on_its_way(medium: str, ratio: float) -> History:
    """Insulated throughout, with a profile that evens out, drawn after 5 s."""
    flat = charge(medium, np.linspace(370.0, 440.0, 12))
    legs = (Problem((flat,), (Span(5.0),)), Problem((thinned(flat, ratio),), (Span(6e4),)))
    return follow(Course(legs, areas=(1.0, ratio)), np.array([0.0, 5.0, 60005.0]), 1e-3).history


@pytest.mark.parametrize("medium", ["plain", "variable", "melting", "one kelvin"])
def test_drawing_takes_no_heat(medium: str) -> None:
    """The heat of a kilogram is the same whatever it is drawn to, so it ends at the same even temperature."""
    ends = [drawn_on_its_way(medium, ratio) for ratio in (1.0, 2.5)]
    for found in ends:
        assert np.ptp(found.temperature[-1]) < 1e-3
        assert abs(found.heat.stored) <= 1e-9 * 1000.0 * 2000.0 * 0.004 * 70.0
    assert ends[1].temperature[-1].mean() == pytest.approx(ends[0].temperature[-1].mean(), abs=1e-3)


@pytest.mark.parametrize("ratio", [0.6, 2.5])
def test_drawing_takes_no_heat_of_melting(ratio: float) -> None:
    """What melts and crystallises on two curves: h = integral of cp + L (1 - crystalline share), the same in every row."""

    def sensible(t: float) -> float:
        nodes = np.unique(np.clip([350.0, *CP.temperature, t], 350.0, t))  # cp is straight in between
        return float(trapezoid(np.interp(nodes, CP.temperature, CP.value), nodes))

    found = drawn_on_its_way("two curves", ratio)
    share = found.states["crystalline_share"]
    assert share[1].min() < 0.5 < share[1].max()
    assert np.abs(share[2] - share[1]).max() > 0.05
    heats = [
        np.mean([sensible(t) + MELTING.heat * (1.0 - x) for t, x in zip(row, own, strict=True)])
        for row, own in zip(found.temperature, share, strict=True)
    ]
    assert heats == pytest.approx([heats[0]] * 3, abs=0.01)  # of 180 kJ/kg latent heat


def test_prescribed_heat_is_taken_up_exactly() -> None:
    """3 kW/m2 for 20 s on the flat sheet, 1 kW/m2 for 10 s on what was drawn to 2.5 times its area, per m2 of the first."""
    flat = charge("variable")
    drawn = thinned(flat, 2.5)
    legs = (
        Problem((flat,), (Span(20.0, Face(), Face(heating=3000.0)),)),
        Problem((replace(drawn, contact=300.0), tool()), (Span(10.0, Face(heating=1000.0), Face()),)),
        Problem((drawn,), (Span(5.0, Face(heating=-400.0)),)),
    )
    heat = follow(Course(legs, ("charge",), (1.0, 2.5, 2.5)), np.array([35.0])).history.heat
    assert heat.entered == pytest.approx(3000.0 * 20.0 + 2.5 * 1000.0 * 10.0, rel=1e-12)
    assert heat.left == pytest.approx(2.5 * 400.0 * 5.0, rel=1e-12)
    assert heat.stored == pytest.approx(heat.entered - heat.left, rel=1e-12)


def test_errors_of_two_legs_do_not_hide_each_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """Heat that goes astray one way in one leg and the other way in the next is astray twice."""
    from thermokit.conduction import follow as module

    solve = module.solve
    sign = [1.0]

    def leaky(*args, **kwargs):
        run = solve(*args, **kwargs)
        heat = run.heat
        astray = sign[0] * 10.0
        sign[0] *= -1.0
        turned = heat.entered + astray + abs(heat.released) + abs(heat.stored)
        return replace(run, heat=replace(heat, entered=heat.entered + astray, mismatch=abs(astray) / turned))

    monkeypatch.setattr(module, "solve", leaky)
    legs = tuple(replace(course("plain").legs[0], spans=(Span(20.0, COLD, FACES["flux"]),)) for _ in range(2))
    heat = follow(Course(legs), np.array([40.0])).history.heat
    assert abs(heat.entered - heat.left + heat.released - heat.stored) < 1e-6
    assert heat.mismatch == pytest.approx(20.0 / (heat.entered + abs(heat.stored)), rel=1e-9)


def test_errors_of_a_batch_are_weighted_by_heat_and_area(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tenth of the heat of the first leg and three tenths of that of the second, which is twice as large."""
    from thermokit.conduction import follow_batch as module

    solve_batch = module.solve_batch
    shares = [0.1, 0.3]

    def leaky(*args, **kwargs):
        return replace(solve_batch(*args, **kwargs), mismatch=np.full(2, shares.pop(0)))

    monkeypatch.setattr(module, "solve_batch", leaky)
    flat = charge("plain")
    legs = (
        Problem((flat,), (Span(20.0, Face(), Face(heating=3000.0)),)),
        Problem((thinned(flat, 2.0),), (Span(10.0, Face(heating=1000.0)),)),
    )
    found = follow_batch(Course(legs, areas=(1.0, np.array([2.0, 1.0]))), 2)
    # what enters is stored, so each leg turns over twice its heat: 60 and 10 kJ/m2
    exact = [(0.1 * 60.0 + 0.3 * area * 10.0) / (60.0 + area * 10.0) for area in (2.0, 1.0)]
    assert found.mismatch == pytest.approx(exact, rel=1e-9)


def test_clocks_of_sources() -> None:
    """A leg that begins at 0, or without tables, is left as it is."""
    problem = course("plain").legs[0]
    assert on_clock(problem, 30.0) is problem
    assert on_clock(problem, 0.0) is problem
