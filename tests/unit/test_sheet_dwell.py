"""Limits of a sheet, met and broken, what is said of them, and dwells sought in heating, in air and in cooling."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import CubicSpline
from sheets import HEAT, K, air, case, checks, panels, placed, plain, tool, touch, transfer, values

from thermokit.errors import CaseError
from thermokit.processes import process_of
from thermokit.processes.run import run_case
from thermokit.studies.dwell import Dwell, dwell, run_at

R = 8.314462618
SAG = {"softening": "105 degC", "rate": "0.05 1/K"}
DOSE = {"energy": "120 kJ/mol", "reference": "200 degC", "time": "10 min"}
FAN = air(25.0, 40.0)
MOULD = {"mould": {"temperature": "50 degC"}}
BLANK = {"length": "600 mm", "width": "400 mm"}


def heated(duration: Any = "find", sheet: Any = None, after: Any = (), **more: Any) -> Any:
    return case(panels(plain(), plain(), duration), *after, sheet={**BLANK, **(sheet or {})}, **more)


def edges(found: Dwell) -> tuple[float, float]:
    assert found.earliest is not None
    assert found.latest is not None
    return found.earliest, found.latest


# -- the worked potting tray -----------------------------------------------------------------------------------------


def test_the_window_of_the_potting_tray() -> None:
    """4 mm ABS, 420 degC by 0.6: core at 127 degC after 66 to 74 s, face at 182 degC after 82 to 91 s."""
    found = dwell(heated())
    earliest, latest = edges(found)
    assert 66.0 <= earliest <= 74.0
    assert 82.0 <= latest <= 91.0
    assert 75.0 <= (found.recommended or 0.0) <= 81.0
    assert latest - earliest == pytest.approx(16.5, abs=1.0)
    assert (found.earliest_limit, found.latest_limit) == ("coldest_point", "hottest_face")
    thicker, _, colder = found.shifts
    assert [thicker.earliest, thicker.latest] == pytest.approx([80.0, 96.0], abs=1.0)
    assert (colder.earliest or 0.0) - earliest == pytest.approx(8.0, abs=2.0)  # for panels 15 K colder: about +8 s
    assert found.hand is not None
    assert found.hand.value == pytest.approx(80.0, rel=0.03)


def test_heat_and_mass_of_the_potting_tray() -> None:
    """0.6 x 0.4 m x 4 mm x 1050 = 1.01 kg; heated by 135 K it takes 1900 x 135 J/kg, 0.072 kWh; here by 129 K."""
    found = values(run_case(heated("77.5 s")))
    assert found["blank_mass"] == pytest.approx(1.01, abs=0.005)
    mean = found["mean_temperature"]
    assert found["heat_taken"] == pytest.approx(1.008 * HEAT * (mean - 20.0) / 3.6e6, rel=1e-6)
    assert found["heat_taken"] * 135.0 / (mean - 20.0) == pytest.approx(0.072, abs=0.0005)


# -- each limit ------------------------------------------------------------------------------------------------------


def both(name: str, given: Any, low: Any, high: Any, **limits: Any) -> tuple[Any, Any]:
    """The check of a limit that is broken at ``low`` and met at ``high``."""
    found = []
    for bound, met in ((low, False), (high, True)):
        result = run_case(given(limits={**limits, name: bound}))
        check = checks(result)[name]
        assert check.met == met
        assert (check.margin >= 0.0) == met
        found.append(check)
    return found[0], found[1]


def test_face_core_difference() -> None:
    check, _ = both("face_core_difference", lambda limits: heated("60 s", limits=limits), "20 K", "60 K")
    end = run_case(heated("60 s")).history.ends[-1]
    profile = [end.inner_face, *end.temperature, end.outer_face]
    assert check.found == pytest.approx(max(profile) - min(profile))
    assert (check.unit, check.required) == ("K", "at most 20 K")
    assert check.when == 60.0


def pressed(limits: Any) -> Any:
    return heated("70 s", after=[tool("30 s", lower=touch(250.0), air=FAN)], tools=MOULD, limits=limits)


def test_release_temperature_and_difference() -> None:
    end = run_case(pressed({})).history.ends[-1]
    hottest, apart = max(end.inner_face, *end.temperature, end.outer_face) - K, abs(end.inner_face - end.outer_face)
    hot, _ = both("release_temperature", lambda limits: pressed(limits), f"{hottest - 1} degC", f"{hottest + 1} degC")
    assert (hot.found, hot.where, hot.when) == (pytest.approx(hottest), "hottest plane, at release", 100.0)
    slow, _ = both("release_difference", lambda limits: pressed(limits), f"{apart - 1} K", f"{apart + 1} K")
    assert (slow.found, slow.required) == (pytest.approx(apart), f"at most {apart - 1:.6g} K")


def test_limits_look_at_the_sheet_as_it_reaches_the_tool() -> None:
    """Coldest point and difference are those of the end of the transfer, not of the heating or the pressing."""
    stations = [transfer("6 s"), tool("20 s", lower=touch(250.0), air=FAN)]
    result = run_case(heated("70 s", after=stations, tools=MOULD, limits={"face_core_difference": "40 K"}))
    end = result.history.ends[1]
    profile = np.array([end.inner_face, *end.temperature, end.outer_face])
    assert checks(result)["coldest_point"].found == pytest.approx(profile.min() - K)
    assert checks(result)["face_core_difference"].found == pytest.approx(np.ptp(profile))
    assert checks(result)["coldest_point"].when == pytest.approx(76.0)
    assert checks(result)["hottest_face"].when == pytest.approx(70.0, abs=0.5)


def test_heat_dose_is_the_integral_over_the_history_of_the_hottest_place() -> None:
    """D = integral exp[-E/R (1/T - 1/Tref)] dt/600 s, by quadrature of a spline through the rows."""
    result = run_case(heated("90 s", {"dose": DOSE}, output={"every": "0.25 s"}))
    history = result.history

    def dose(row: Any) -> float:
        spline = CubicSpline(history.time, row)
        return quad(lambda t: np.exp(-120e3 / R * (1 / spline(t) - 1 / 473.15)) / 600.0, 0.0, 90.0, limit=400)[0]

    found = values(result)["heat_dose"]
    assert found == pytest.approx(dose(history.temperature[:, 0]), rel=2e-3)
    assert found == pytest.approx(dose(history.inner_face), rel=0.06)  # the states are those of cells, not of faces
    both("heat_dose", lambda limits: heated("90 s", {"dose": DOSE}, limits=limits), 0.001, 0.5)


def test_sag_of_a_sheet_of_one_temperature() -> None:
    """exp[0.05 (130 - 105)] x 60 s x 0.4^2/0.004 m s, and its ratio to a known run of exp[0.05 (120 - 105)]."""
    good = float(np.exp(0.05 * 15.0) * 60.0 * 0.4**2 / 0.004)
    sag = {**SAG, "known_good": good, "known_good_sag": "20 mm"}
    still = {**transfer("60 s"), "air": air(130.0, 10.0)}

    def held(limits: Any) -> Any:
        return case(still, sheet={**BLANK, "start": "130 degC", "sag": sag}, limits=limits)

    found = values(run_case(held({})))
    assert found["sag_number"] == pytest.approx(np.exp(0.05 * 25.0) * 60.0 * 0.16 / 0.004, rel=1e-4)
    assert found["sag_index"] == pytest.approx(np.exp(0.5), rel=1e-4)
    assert found["sag"] == pytest.approx(20.0 * np.exp(0.5), rel=1e-4)
    check, _ = both("sag_index", held, 1.6, 1.7)
    assert check.where == "sag number over that of the known-good run, at the end of the last station"


def test_sag_comes_near_the_lower_panel() -> None:
    """Twice the sag number of a run that sagged by 60 mm, over a panel 150 mm below: 30 mm are left."""
    panel = placed(temperature="420 degC")

    def under(known: float) -> Any:
        sag = {**SAG, "span": "400 mm", "known_good": known, "known_good_sag": "60 mm"}
        return run_case(case(panels(panel, panel, "60 s"), sheet={**BLANK, "spots": [1, 1], "sag": sag}))

    number = values(under(1.0))["sag_number"]
    result = under(number / 2)
    assert values(result)["clearance"] == pytest.approx(150.0 - 120.0, abs=0.1)
    assert any("comes within 30 mm of the lower panel; 50 mm are usual" in text for text in result.remarks)
    assert not any("lower panel" in text for text in under(number).remarks)  # 90 mm are left


@pytest.mark.parametrize(
    ("limit", "needs"),
    [
        ({"sag_index": 1.0}, "sheet.sag"), ({"heat_dose": 0.3}, "sheet.dose"),
        ({"map_spread": "5 K"}, "size and gap"), ({"release_temperature": "85 degC"}, 'kind = "tool"'),
    ],
)  # fmt: skip
def test_a_limit_on_what_is_not_followed(limit: Any, needs: str) -> None:
    with pytest.raises(CaseError, match=needs):
        heated("60 s", limits=limit)


# -- dwells elsewhere ------------------------------------------------------------------------------------------------


def test_heating_that_ends_on_a_tool() -> None:
    """Coldest point at the touch from below, release of the hottest plane from above; run at the edges both just hold."""
    stations = [transfer("6 s"), tool("40 s", lower=touch(250.0), air=FAN)]
    limits = {"release_temperature": "105 degC", "hottest_face": "200 degC"}
    given = heated(after=stations, tools=MOULD, limits=limits)
    found = dwell(given)
    earliest, latest = edges(found)
    assert (found.earliest_limit, found.latest_limit) == ("coldest_point", "release_temperature")
    for value, name, bound in ((earliest, "coldest_point", 127.0), (latest, "release_temperature", 105.0)):
        result = run_case(given.with_values({found.path: value}))
        assert checks(result)[name].found == pytest.approx(bound, abs=0.1)
    assert all(check.met for check in run_at(given, found).limits)


def test_cooling_after_a_given_heating() -> None:
    """Sought on the tool; what happened before stays as it is."""
    station = tool("find", lower=touch(250.0), air=FAN)
    found = dwell(heated("75 s", after=[station], tools=MOULD, limits={"release_temperature": "85 degC"}))
    assert (found.path, found.earliest_limit, found.latest) == ("stations.form.duration", "release_temperature", None)
    assert found.earliest is not None
    at = heated("75 s", after=[{**station, "duration": f"{found.earliest} s"}], tools=MOULD)
    assert values(run_case(at))["release_temperature"] == pytest.approx(85.0, abs=0.1)
    assert found.recommended == pytest.approx(1.1 * found.earliest)
    assert any("tool or its water 10 K hotter" in shift.change for shift in found.shifts)


def test_a_transfer_that_may_take_only_so_long() -> None:
    """Sought in air: the latest moment at which the coldest point still lies above its limit."""
    given = heated("78 s", after=[{**transfer({"find": ["1 s", "120 s"]}), "air": air(25.0, 15.0)}])
    found = dwell(given)
    assert found.latest is not None
    assert found.latest_limit == "coldest_point"
    result = run_case(given.with_values({found.path: found.latest}))
    assert checks(result)["coldest_point"].found == pytest.approx(127.0, abs=0.1)


def test_sag_and_dose_end_a_window() -> None:
    """Each limit of the states is where the window ends; run there, the state has its bound."""
    for sheet, limits, name in (
        ({"sag": {**SAG, "known_good": 4000.0}}, {"sag_index": 1.0}, "sag_index"),
        ({"dose": DOSE}, {"heat_dose": 0.004}, "heat_dose"),
    ):
        given = heated(sheet=sheet, limits={**limits, "hottest_face": "220 degC", "coldest_point": "100 degC"})
        found = dwell(given)
        _, latest = edges(found)
        assert found.latest_limit == name
        at = run_case(given.with_values({found.path: latest}))
        assert checks(at)[name].found == pytest.approx(next(iter(limits.values())), rel=0.01)


def test_no_window_and_what_opens_one() -> None:
    """A face no more than 20 K above a core at 127 degC: only colder panels, and the setting that is named does."""
    given = heated({"find": ["10 s", "900 s"]}, limits={"face_core_difference": "12 K"})
    found = dwell(given)
    assert found.recommended is None
    assert found.opens_with is not None
    assert "face_core_difference (at most 12 K) is missed by" in found.opens_with
    named = float(found.opens_with.split("panels at ")[1].split(" degC")[0])
    colder = {f"stations.heat.{side}.temperature": named + K for side in ("upper", "lower")}
    assert dwell(given.with_values(colder)).recommended is not None
    assert process_of(given).limits()[2].name == "face_core_difference"


def test_the_same_in_other_units() -> None:
    """Inches, degF, per cent: the same window to round-off of the numbers written."""
    imperial = {
        "thickness": f"{0.4 / 2.54:.12g} in", "start": "68 degF", "length": f"{60 / 2.54:.12g} in",
        "width": f"{40 / 2.54:.12g} in",
    }  # fmt: skip
    hot = {"temperature": "788 degF", "exchange": "60 %"}
    oven = {"temperature": "140 degF", "coefficient": "8 W/m2/degC"}
    limits = {"coldest_point": "260.6 degF", "hottest_face": "359.6 degF"}
    given = case(panels(hot, hot, {"find": ["0.1 s", "10 h"]}, air=oven), sheet=imperial, limits=limits)
    assert edges(dwell(given)) == pytest.approx(edges(dwell(heated())), rel=1e-8)
