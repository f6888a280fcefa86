"""Rolls heated from inside, nips that shear, sizes, how the speed goes with the wall, speeds found in few runs: closed forms."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import pytest
from line_cases import SPAN, TUBE, WEB

from thermokit.case import parse_case
from thermokit.processes import process_of
from thermokit.studies.dwell import window_of
from thermokit.studies.run import run
from thermokit.studies.window import Question, find_window

DARK = WEB.replace('coefficient = "8 W/m2/K"', 'coefficient = "0 W/m2/K"\nemissivity = 0.0')
METAL = DARK.replace("0.17 W/m/K", "200 W/m/K")
MASS = 1350.0 * 1300.0 * 0.3e-3  # J/m2/K of WEB


@cache
def ran(text: str) -> Any:
    return run(parse_case(text))


def outcome(result: Any, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    return float(value)


# -- a roll heated from inside, lumped: Tf = Tm - duty/(pi D U), duty = rho cp L v (Tf - T0)(1 - exp(-h t/(rho cp L))) ------

INSIDE = 'side = "back"\ninside = { medium = "oil", film = "800 W/m2/K", shell = "20 mm", conductivity = "45 W/m/K" }\n'


def settled_face(medium: float, came: float = 25.0, flow: float | None = None) -> tuple[float, float]:
    """(face [degC], duty [W/m]); flow : rho cp V of the oil by metre of width [W/K/m], for half its fall."""
    shell = 0.15 * math.log(0.15 / 0.13) / 45.0  # m2 K/W by area of the face
    u = 1.0 / (shell + 0.15 / 0.13 / 800.0)
    taken = MASS * 0.2 * (1.0 - math.exp(-500.0 * (0.15 * math.pi / 0.2) / MASS))  # W/m/K
    loss = 1.0 / (math.pi * 0.3 * u) + (0.0 if flow is None else 0.5 / flow)
    face = (medium + loss * taken * came) / (1.0 + loss * taken)
    return face, taken * (face - came)


def test_the_face_of_a_roll_lies_where_its_duty_leaves_it() -> None:
    result = ran(METAL.replace('contact = "500 W/m2/K"\n', 'contact = "500 W/m2/K"\n' + INSIDE))
    face, duty = settled_face(150.0)
    assert face < 135.0  # it is no small thing
    assert outcome(result, "hot_roll_roll_face") == pytest.approx(face, abs=0.1)
    assert outcome(result, "hot_roll_drop") == pytest.approx(150.0 - face, abs=0.1)
    assert 1e3 * outcome(result, "hot_roll_heat") == pytest.approx(duty, rel=2e-3)


def test_a_chill_roll_warms_above_its_water() -> None:
    cold = METAL.replace('start = "25 degC"', 'start = "150 degC"').replace(
        'temperature = "150 degC"', 'temperature = "25 degC"'
    )
    result = ran(cold.replace('contact = "500 W/m2/K"\n', 'contact = "500 W/m2/K"\n' + INSIDE.replace("oil", "water")))
    face, _ = settled_face(25.0, 150.0)
    assert outcome(result, "hot_roll_roll_face") == pytest.approx(face, abs=0.1)
    assert outcome(result, "hot_roll_drop") < -10.0


def test_half_of_the_oils_fall_lies_between() -> None:
    from thermokit.exchange.coolants import liquid

    text = METAL.replace('contact = "500 W/m2/K"\n', 'contact = "500 W/m2/K"\nflow = "20 L/min"\n' + INSIDE)
    at = liquid("oil", 150.0 + 273.15)
    flow = float(at.density * at.specific_heat) * 20e-3 / 60.0
    face, duty = settled_face(150.0, flow=flow)
    assert outcome(ran(text), "hot_roll_roll_face") == pytest.approx(face, abs=0.1)
    assert outcome(ran(text), "hot_roll_flow") == pytest.approx(duty / flow, rel=0.01)


def test_two_rolls_from_inside_settle_together() -> None:
    """The second takes what the first leaves; each by the closed form from what comes to it."""
    one = METAL.replace('contact = "500 W/m2/K"\n', 'contact = "500 W/m2/K"\n' + INSIDE).split("[accuracy]")[0]
    roll = one.split("[[stations]]")[1].split("[stations.limits]")[0]
    text = one + SPAN + "[[stations]]" + roll.replace("hot roll", "second") + '[accuracy]\ntemperature = "0.1 K"\n'
    result = ran(text)
    face, _ = settled_face(150.0)
    came = face - (face - 25.0) * math.exp(-500.0 * (0.15 * math.pi / 0.2) / MASS)
    assert outcome(result, "second_roll_face") == pytest.approx(settled_face(150.0, came)[0], abs=0.15)


# -- nips ----------------------------------------------------------------------------------------------------------------


def nip_case(shear: str) -> str:
    nip = (
        '[[stations]]\nname = "nip"\nkind = "nip"\nface = "150 degC"\nback = "150 degC"\nlength = "5 mm"\n'
        f'contact = "1 W/m2/K"\ngauge = "0.15 mm"\nshear = {{ bowls = "300 mm", viscosity = "5000 Pa s"{shear} }}\n'
    )
    return DARK.replace('start = "25 degC"', 'start = "150 degC"').replace("[accuracy]", nip + "[accuracy]")


def test_a_nip_softens_with_its_bowls() -> None:
    """K exp[-b (T - Tref)]: 30 K below its reference it is exp(0.6) as stiff, so are pressure and force."""
    plain, told = ran(nip_case("")), ran(nip_case(', temperature = "180 degC"'))
    for name in ("nip_force", "nip_pressure"):
        assert outcome(told, name) / outcome(plain, name) == pytest.approx(math.exp(0.02 * 30.0), rel=1e-9)
    assert outcome(told, "nip_gap") == pytest.approx(outcome(plain, "nip_gap"))


def test_the_rise_in_a_nip_is_what_its_friction_puts_in() -> None:
    result = ran(nip_case(""))
    assert outcome(result, "nip_mean") - 150.0 == pytest.approx(outcome(result, "nip_friction"), abs=0.02)


# -- sizes ---------------------------------------------------------------------------------------------------------------


def words(result: Any) -> str:
    return " ".join(text for rows in result.study["sizes"].values() for text in rows)


def test_a_pipe_is_told_its_sleeve_and_its_die() -> None:
    """HDPE, 20 and 200 degC: 955 and 747 kg/m3 (its table). Die of draw-down 1.5: section 1.5 times that of the melt."""
    die = '[[stations]]\nname = "die"\nkind = "die"\nlength = "0.2 m"\n'
    text = TUBE.replace('material = "stuff"', 'material = "hdpe"').replace('start = "150 degC"', 'start = "200 degC"')
    text = text.replace("[[stations]]", die + "[[stations]]", 1).replace('"0.05 K"', '"1 K"')
    told = words(ran(text))
    assert "40 mm outside, 2 mm wall" in told
    low, high = (float(x) for x in told.split("bore of the sleeve ")[1].split(" mm (")[0].split(" to "))
    assert low == pytest.approx(40.0) and 40.5 < high < 40.0 * (955.0 / 725.0) ** (1 / 3)
    bore, pin = (float(told.split(f"{word} ")[-1].split(" mm")[0]) for word in ("bore", "pin"))
    melt = math.pi * 38.0 * 2.0 * (955.0 / 747.0) ** (2 / 3)
    assert math.pi / 4.0 * (bore**2 - pin**2) == pytest.approx(1.5 * melt, rel=0.03)  # three digits are told


def test_a_die_that_is_there_tells_its_draw_down() -> None:
    text = TUBE.replace('material = "stuff"', 'material = "hdpe"').replace('start = "150 degC"', 'start = "200 degC"')
    text = text.replace(
        'diameter = "40 mm"', 'diameter = "40 mm"\nopening = { bore = "50 mm", pin = "44 mm" }'
    ).replace("0.05 K", "1 K")
    melt = math.pi * 38.0 * 2.0 * (955.0 / 747.0) ** (2 / 3)
    down = float(words(ran(text)).split("draw-down of ")[1].split(",")[0])
    assert down == pytest.approx(math.pi / 4.0 * (50.0**2 - 44.0**2) / melt, abs=0.01)


# -- how the time goes with the wall -----------------------------------------------------------------------------------------


def test_a_thin_metal_web_takes_as_much_longer_as_it_is_thicker() -> None:
    """tau = rho cp L/h: exponent 1."""
    block = ran(METAL).study["scale_up"]
    assert block["exponent"] == pytest.approx(1.0, abs=0.02) and "(1)" in block["regime"]


def test_a_thick_pipe_takes_the_square_of_its_wall() -> None:
    """h so high that the skin has the water's temperature, bore insulated, wall small against the radius: t ~ L2/a, exponent 2."""
    text = TUBE.replace("200 W/m/K", "0.4 W/m/K").replace('"40 mm"', '"1200 mm"').replace('"2 mm"', '"6 mm"')
    text = (
        text.replace("300 W/m2/K", "1e5 W/m2/K")
        .replace("3 m", "30 m")
        .replace('"6 m/min"', '"15 m/min"')
        .replace("0.05 K", "0.5 K")
    )
    block = ran(text).study["scale_up"]
    assert block["exponent"] == pytest.approx(2.0, abs=0.06) and "(2)" in block["regime"]


# -- speeds --------------------------------------------------------------------------------------------------------------

HDPE = (
    TUBE.replace('material = "stuff"', 'material = "hdpe"')
    .replace('start = "150 degC"', 'start = "200 degC"')
    .replace('speed = "6 m/min"', 'speed = { find = ["1 m/min", "60 m/min"] }')
    .replace("300 W/m2/K", "1500 W/m2/K").replace("3 m", "8 m").replace('"0.05 K"', '"1 K"')
)  # fmt: skip
SOUGHT = WEB.replace('speed = "12 m/min"', 'speed = { find = ["2 m/min", "60 m/min"] }')


@pytest.mark.parametrize("text", [HDPE, SOUGHT], ids=["pipe", "web"])
def test_few_runs_find_what_many_find(text: str) -> None:
    """On two curves of melting and all over the range: the same window to some parts in a thousand."""
    case = parse_case(text)
    quick = window_of(case)
    process: Any = process_of(case.with_values({"line.speed": quick.middle}))
    from thermokit.processes.run import settled

    edges = settled(case.with_values({"line.speed": quick.middle}), process).edges
    low, high = float(case.line.speed.low), float(case.line.speed.high)
    whole = find_window(Question(case, "line.speed", edges, 0.01), low, high, points=33)
    assert (quick.earliest_limit, quick.latest_limit) == (whole.earliest_limit, whole.latest_limit)
    assert quick.latest == pytest.approx(whole.latest, rel=3e-3)
    assert quick.earliest == pytest.approx(whole.earliest, rel=3e-3)


def test_a_speed_with_one_limit_stands_a_tenth_below_it() -> None:
    found = window_of(parse_case(HDPE))
    assert found.earliest_limit is None and found.latest is not None
    assert found.middle == pytest.approx(0.9 * found.latest)


def test_rows_of_a_study_take_the_last_stretch_of_a_speed() -> None:
    """A limit met at a crawl, broken, and met again from 20 to 30: the fast stretch is meant, with its limits."""
    from thermokit.studies.answers_window import _first_stretch, _last_stretch

    settings = np.array([[1.0, 2.0, 10.0, 20.0, 21.0, 30.0, 31.0]])
    one = np.array([[1.0, -1.0, -1.0, -1.0, 1.0, 1.0, 1.0]])
    other = np.array([[1.0, 1.0, 1.0, 1.0, 1.0, 1.0, -1.0]])
    limits: Any = ("least", "most")
    fast = _last_stretch(limits, settings, np.array([one, other]))
    assert fast.earliest[0] == pytest.approx(20.5) and fast.latest[0] == pytest.approx(30.5)
    assert (fast.first[0], fast.last[0]) == (0, 1) and fast.setting[0] == pytest.approx(25.5)
    slow = _first_stretch(limits, settings, np.array([one, other]))
    assert slow.earliest[0] == pytest.approx(1.0) and slow.latest[0] == pytest.approx(1.5)
