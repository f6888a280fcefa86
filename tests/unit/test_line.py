"""A line against closed forms: webs on rolls, a tube in a bath, heats, draws, and batches against single runs."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import pytest
from line_cases import SECOND, SPAN, TUBE, WEB, WIRE
from scipy.optimize import brentq

from thermokit.case import parse_case
from thermokit.processes import process_of
from thermokit.processes.line_speed import at_values
from thermokit.studies.dwell import window_of
from thermokit.studies.run import run

DARK = WEB.replace('coefficient = "8 W/m2/K"', 'coefficient = "0 W/m2/K"\nemissivity = 0.0')
L, K, RHO, CP, H = 0.3e-3, 0.17, 1350.0, 1300.0, 500.0  # of WEB
TIME = 0.15 * math.pi / 0.2  # s on its roll


@cache
def ran(text: str) -> Any:
    return run(parse_case(text))


def outcome(result: Any, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    return float(value)


def series(time: float, terms: int = 12) -> tuple[float, float, float]:
    """(touching face, mean, free face) of WEB as shares of the step, free face insulated: plane wall, zeta tan zeta = Bi.

    Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, section 5.5.
    """
    bi, fo = H * L / K, K * time / (RHO * CP * L**2)
    face = mean = free = 0.0
    for n in range(terms):
        z = brentq(lambda x: x * math.sin(x) - bi * math.cos(x), n * math.pi + 1e-9, (n + 0.5) * math.pi)
        c = 4.0 * math.sin(z) / (2.0 * z + math.sin(2.0 * z)) * math.exp(-z * z * fo)
        face, mean, free = face + c * math.cos(z), mean + c * math.sin(z) / z, free + c
    return face, mean, free


def test_a_web_on_a_roll_is_the_series() -> None:
    result = ran(DARK)
    for name, share in zip(("back", "mean", "face"), series(TIME), strict=True):
        assert outcome(result, f"hot_roll_{name}") == pytest.approx(150.0 - 125.0 * share, abs=0.1)


def test_a_thin_metal_web_is_lumped() -> None:
    result = ran(DARK.replace("0.17 W/m/K", "200 W/m/K"))
    lumped = 150.0 - 125.0 * math.exp(-H * TIME / (RHO * CP * L))
    assert outcome(result, "hot_roll_mean") == pytest.approx(lumped, abs=0.1)


def test_a_tube_of_metal_in_its_bath_is_lumped() -> None:
    """T = Tw + (T0 - Tw) exp(-h 2 pi R t/(rho c pi (R2 - r2))), t = 3 m at 0.1 m/s."""
    rate = 300.0 * 2.0 * 0.02 / (900.0 * 2000.0 * (0.02**2 - 0.018**2))
    assert outcome(ran(TUBE), "bath_mean") == pytest.approx(20.0 + 130.0 * math.exp(-rate * 30.0), abs=0.1)


def test_duty_is_what_the_web_carries_away() -> None:
    """rho cp L v (T - T0), by metre of width here 1 m: the free face is insulated."""
    result = ran(DARK)
    carried = RHO * CP * L * 0.2 * (outcome(result, "hot_roll_mean") - 25.0)
    assert 1e3 * outcome(result, "hot_roll_heat") == pytest.approx(carried, rel=1e-3)
    assert outcome(result, "throughput") == pytest.approx(3600.0 * RHO * L * 0.2, rel=1e-9)


@pytest.mark.parametrize("material", ["stuff", "hdpe"])
def test_heats_of_all_stations_are_the_balance_of_the_run(material: str) -> None:
    """Heat out of a metre of pipe times the speed, latent heat counted, whatever each station took."""
    text = TUBE.replace('material = "stuff"', f'material = "{material}"').replace('"0.05 K"', '"1 K"')
    result = ran(text + SPAN.replace("0.4 m", "2 m"))
    heat = result.history.heat
    taken = sum(o.value for o in result.outcomes if o.name in ("bath_heat", "span_heat"))
    assert 1e3 * taken == pytest.approx((heat.entered - heat.left) * 0.1, rel=1e-4)


def test_a_roll_gives_what_the_free_face_loses_besides() -> None:
    """In and out of the faces as the solver has them: in through the roll alone."""
    result = ran(WEB)
    assert 1e3 * outcome(result, "hot_roll_heat") == pytest.approx(0.2 * result.history.heat.entered, rel=5e-3)


def test_preheat_takes_mass_times_heat() -> None:
    mass = 8900.0 * math.pi * 0.8e-3**2
    assert 1e3 * outcome(ran(WIRE), "wheel_heat") == pytest.approx(mass * 390.0 * 80.0 * 1.0, rel=1e-3)


def test_a_wire_is_the_layered_body_that_it_is() -> None:
    """The same wire written as an open body: conductor at 100, covering at 210 degC, gap and trough by their times."""
    parts = WIRE.split("[materials.metal]")[1].split("[[stations]]")[0]
    faces = (
        'convection = { coefficient = "30 W/m2/K", air = "25 degC" }\n'
        'radiation = { emissivity = 0.9, surround = "25 degC" }\n'
    )
    text = (
        'process = "body"\n[body]\nshape = "cylinder"\n[[body.layers]]\nmaterial = "metal"\nthickness = "0.8 mm"\n'
        'start = "100 degC"\ncontact = "3000 W/m2/K"\n[[body.layers]]\nmaterial = "stuff"\nthickness = "1.2 mm"\n'
        f'start = "210 degC"\n[materials.metal]{parts}[[stations]]\nduration = "0.3 s"\n[stations.outer]\n{faces}'
        '[[stations]]\nduration = "10 s"\n[stations.outer]\nconvection = { coefficient = "2500 W/m2/K", air = "20 degC" }\n'
        '[[output.probes]]\nname = "wall"\nat = "0.80001 mm"\n[accuracy]\ntemperature = "0.2 K"\n'
    )
    body, wire = ran(text), ran(WIRE)
    assert wire.history.outer_face[-1] == pytest.approx(body.history.outer_face[-1], abs=0.2)
    assert outcome(wire, "trough_back") == pytest.approx(float(body.probes["wall"][-1]) - 273.15, abs=0.4)


def test_a_gauge_keeps_heat_and_mass() -> None:
    """Rolled to half its thickness the web runs twice as fast: what goes in by the hour comes out, and no nip heat is lost."""
    nip = (
        '[[stations]]\nname = "nip"\nkind = "nip"\nface = "150 degC"\nback = "150 degC"\nlength = "5 mm"\n'
        'contact = "1 W/m2/K"\ngauge = "0.15 mm"\nfriction = "6 K"\n'
    )
    plain, rolled = ran(DARK), ran(DARK.replace("[accuracy]", nip + "[accuracy]"))
    assert outcome(rolled, "speed_behind") == pytest.approx(24.0, rel=1e-9)
    assert outcome(rolled, "throughput") == pytest.approx(outcome(plain, "throughput"), rel=1e-9)
    assert outcome(rolled, "nip_mean") == pytest.approx(outcome(plain, "hot_roll_mean") + 6.0, abs=0.1)
    assert outcome(rolled, "nip_heat") == pytest.approx(RHO * CP * L * 0.2 * 6.0 / 1e3, rel=0.01)


def test_many_cases_are_as_many_runs() -> None:
    case = parse_case(WEB + SPAN + SECOND)
    process = process_of(case)
    run_alone = [ran((WEB + SPAN + SECOND).replace('"12 m/min"', f'"{v} m/min"')) for v in (6, 12, 30)]
    assert len(run_alone) == 3
    process.edges = tuple(np.linspace(0.0, 1.0, 41) for _ in process.layers())
    found, _ = at_values(process, {"line.speed": np.array([6.0, 12.0, 30.0]) / 60.0}, 3)
    alone = [outcome(result, "hot_roll_mean") for result in run_alone]
    np.testing.assert_allclose(found["mean at hot roll"] - 273.15, alone, atol=0.3)


def test_lengths_and_speeds_say_the_same() -> None:
    """A tube at v needs the length L: at v over the length L it is as fast as v."""
    by_length = window_of(parse_case(TUBE.replace('length = "3 m"', 'length = { find = ["0.5 m", "20 m"] }')))
    assert by_length.earliest is not None
    by_speed = window_of(parse_case(TUBE.replace('speed = "6 m/min"', 'speed = { find = ["1 m/min", "60 m/min"] }')))
    assert by_speed.latest == pytest.approx(0.1 * 3.0 / by_length.earliest, rel=2e-3)
    assert by_speed.latest_limit == by_length.earliest_limit == "back_most at bath"


def test_the_formula_is_solved_for_the_speed() -> None:
    """v = s/[tau ln((Tr - T0)/(Tr - T))], tau = rho cp L (1/h + L/3k), T = 126 degC: the shop's sum by itself."""
    case = parse_case(DARK.replace('speed = "12 m/min"', 'speed = { find = ["2 m/min", "60 m/min"] }'))
    hand = process_of(case).hand([])
    assert hand is not None
    tau = RHO * CP * L * (1.0 / H + L / (3.0 * K))
    assert hand.value == pytest.approx(0.15 * math.pi / (tau * math.log(125.0 / 24.0)), rel=1e-3)
    assert "tau = " in hand.formula and "hot roll" in hand.formula


def test_a_film_of_air_takes_contact_away() -> None:
    """0.643 R (6 eta 2 U/T)^(2/3) = 5.5 um less roughness, k 0.031: 1/h = 1/500 + film/k (foil-bearing law)."""
    text = WEB.replace('width = "1 m"', 'width = "1 m"\ntension = "20 N"').replace(
        'contact = "500 W/m2/K"', 'contact = "500 W/m2/K"\nroughness = "0 um"'
    )
    eta, k = 2.4e-5, 0.0355  # air at 150 degC, handbook
    film = 0.643 * 0.15 * (6.0 * eta * 0.4 / 20.0) ** (2.0 / 3.0)
    assert outcome(ran(text), "hot_roll_contact") == pytest.approx(1.0 / (1.0 / 500.0 + film / k), rel=0.05)


def test_no_speed_is_lost_between_metres_and_seconds() -> None:
    result = ran(WEB + SPAN + SECOND)
    fields = {
        field.name: np.asarray(field.values, float) for field in result.fields if field.unit in ("m", "s", "degC")
    }
    np.testing.assert_allclose(fields["line/end"], 0.2 * fields["line/time"], rtol=1e-9)
    np.testing.assert_allclose(fields["track/distance"], 0.2 * result.history.time, atol=1e-9)
    assert fields["line/mean"][0] == pytest.approx(outcome(result, "hot_roll_mean"), abs=1e-9)


def test_freezing_comes_in_order() -> None:
    """A pipe cooled from outside freezes there first and its bore last; a slit ring then closes."""
    text = (
        TUBE.replace('material = "stuff"', 'material = "hdpe"').replace('"0.05 K"', '"1 K"').replace("300 W", "2000 W")
    )
    result = ran(text)
    assert outcome(result, "skin_freezes") < outcome(result, "bore_freezes")
    assert outcome(result, "mean_when_skin_freezes") > 116.0
    assert any("pressure outside and tension inside" in text for text in result.remarks)


def test_of_two_stretches_of_speed_the_fast_one_is_meant() -> None:
    """At a crawl the span brings any web to its limits once more: no one runs a line there."""
    text = WEB.replace('mean_least = "122 degC"\nmean_most = "130 degC"', "").replace("[stations.limits]\n", "")
    limits = '[stations.limits]\nmean_least = "105 degC"\nmean_most = "111 degC"\n'
    found = window_of(parse_case(text.replace('"12 m/min"', '{ find = ["1 m/min", "60 m/min"] }') + SPAN + limits))
    assert (found.earliest_limit, found.latest_limit) == ("mean_most at span", "mean_least at span")
    assert found.earliest is not None and found.latest is not None
    assert 0.1 < found.earliest < found.latest < 0.3


def test_a_nip_that_shears_warms_by_its_power() -> None:
    """Bowls that give nothing: the mean rises by what is told; the gap is the gauge less what it swells, 1 to 1.27."""
    nip = (
        '[[stations]]\nname = "nip"\nkind = "nip"\nface = "150 degC"\nback = "150 degC"\nlength = "5 mm"\n'
        'contact = "1 W/m2/K"\ngauge = "0.15 mm"\n'
        'shear = { bowls = "300 mm", viscosity = "8000 Pa s", index = 0.5, softening = "0 1/K" }\n'
    )
    plain, rolled = ran(DARK), ran(DARK.replace("[accuracy]", nip + "[accuracy]"))
    rise = outcome(rolled, "nip_friction")
    assert rise > 1.0
    assert outcome(rolled, "nip_mean") == pytest.approx(outcome(plain, "hot_roll_mean") + rise, abs=0.1)
    assert 0.15 / 1.27 < outcome(rolled, "nip_gap") < 0.15
    assert outcome(rolled, "nip_force") > 0.0


def test_lamps_by_kind_and_colour() -> None:
    """40 kW/m2 of medium-wave lamps, of which 0.61 is radiated and 0.65 of that taken in by a white film at full power
    (makers' and handbooks' figures, as the modules name them): 15.9 kW/m2."""
    lamps = (
        '[[stations]]\nname = "lamps"\nkind = "lamps"\nlamp = "medium_wave"\nonto = "white PVC film, 0.3 mm"\n'
        '[[stations.zones]]\nlength = "0.1 m"\npower = "40 kW/m2"\n'
    )
    result = ran(DARK.replace('[[stations]]\nname = "hot roll"', lamps + '[[stations]]\nname = "hot roll"'))
    assert outcome(result, "lamps_heat") == pytest.approx(40.0 * 0.61 * 0.65 * 0.1, rel=0.05)
