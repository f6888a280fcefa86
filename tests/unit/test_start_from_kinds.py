"""Every kind of case can begin from an earlier run; what it says where that cannot be."""

# ruff: noqa: F811 (fixtures have the names of what they give)

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
from begun_cases import AIR, BAND, PLANE, RECIPE, ROLL, begun_from, first, folder, on_disc  # noqa: F401 (fixtures)

from thermokit.case import KINDS, load_case, parse_case, sought_path, template
from thermokit.case.earlier import Earlier, EarlierLayer
from thermokit.errors import CaseError
from thermokit.processes import direct_of, process_of
from thermokit.processes.run import run_case
from thermokit.results.model import Result

# -- the other kinds ---------------------------------------------------------------------------------------------------

SHEET = """\
process = "sheet"
[sheet]
material = "soft"
thickness = "3 mm"
start = "25 degC"
length = "600 mm"
width = "400 mm"
[materials.soft.recipe]
resin = 100
plasticiser = { parts = 40 }
stabiliser = { kind = "tin", parts = 2 }
"""
HEAT = """\
[[stations]]
name = "heat"
kind = "panels"
duration = "45 s"
upper = { temperature = "420 degC", exchange = 0.6 }
lower = { temperature = "380 degC", exchange = 0.6 }
air = { temperature = "60 degC", coefficient = "8 W/m2/K" }
"""
TRANSFER = """\
[[stations]]
name = "transfer"
kind = "air"
duration = {duration}
[stations.air]
temperature = "23 degC"
coefficient = "10 W/m2/K"
"""
TOOL = """\
[[stations]]
name = "form"
kind = "tool"
duration = "20 s"
lower = { tool = "mould", contact = "250 W/m2/K" }
air = { temperature = "25 degC", coefficient = "40 W/m2/K" }
[tools.mould]
material = "aluminium_cast"
thickness = "12 mm"
start = "25 degC"
back = { coefficient = "800 W/m2/K", temperature = "15 degC" }
[shots]
count = 10
between = "40 s"
"""
LIMITS = '[limits]\ncoldest_point = "90 degC"\nhottest_face = "200 degC"\n'


def test_a_sheet_goes_on(tmp_path: Path) -> None:
    transfer = TRANSFER.format(duration='"12 s"')
    whole = run_case(parse_case(SHEET + HEAT + transfer + LIMITS))
    on_disc(SHEET + HEAT + LIMITS, tmp_path, "first")
    second, _ = on_disc(begun_from(SHEET) + transfer + LIMITS, tmp_path, "second")
    one, two = ({o.name: o.value for o in result.outcomes} for result in (whole, second))
    for name in ("coldest_point", "upper_face", "lower_face", "mean_temperature"):
        assert two[name] == pytest.approx(one[name], abs=0.1), name
    assert two["heat_dose"] == pytest.approx(one["heat_dose"], rel=5e-3)


def test_a_sheet_on_a_tool_that_has_warmed_up(tmp_path: Path) -> None:
    """The settled tool is that of sheets which come as the earlier run left them."""
    whole = run_case(parse_case(SHEET + HEAT + TOOL + LIMITS))
    on_disc(SHEET + HEAT + LIMITS, tmp_path, "first")
    second, _ = on_disc(begun_from(SHEET) + TOOL + LIMITS, tmp_path, "second")
    one, two = ({o.name: o.value for o in result.outcomes} for result in (whole, second))
    assert two["settled_mould_temperature"] == pytest.approx(one["settled_mould_temperature"], abs=0.2)
    assert two["release_temperature"] == pytest.approx(one["release_temperature"], abs=0.2)


def test_a_window_of_a_sheet_that_comes_warm(tmp_path: Path) -> None:
    """Sought in a batch; the whole way in one case gives the same answer."""
    from thermokit.studies.dwell import dwell

    sought = TRANSFER.format(duration='{ find = ["1 s", "400 s"] }')
    limits = LIMITS + 'face_core_difference = "12 K"\n'
    whole = dwell(parse_case(SHEET + HEAT + sought + limits))
    on_disc(SHEET + HEAT + LIMITS, tmp_path, "first")
    found = dwell(load_case_text(begun_from(SHEET) + sought + limits, tmp_path))
    assert whole.latest_limit == found.latest_limit == "coldest_point"
    assert found.earliest == pytest.approx(whole.earliest, abs=0.1)
    assert found.latest == pytest.approx(whole.latest, rel=3e-3)


def load_case_text(text: str, folder: Path) -> Any:
    file = folder / "sought.toml"
    file.write_text(text, encoding="utf-8")
    return load_case(file)


CHARGE = """\
process = "charge"
[charge]
material = "pf_compound"
thickness = "6 mm"
start = "25 degC"
[mould.upper]
temperature = "165 degC"
[mould.lower]
temperature = "165 degC"
"""
CURE = """\
[[stations]]
name = "{name}"
kind = "cure"
duration = "{time} s"
upper = {{ contact = "3000 W/m2/K" }}
lower = {{ contact = "3000 W/m2/K" }}
"""


def test_a_charge_goes_on_curing(tmp_path: Path) -> None:
    cure = [CURE.format(name=name, time=time) for name, time in (("first", 50), ("second", 70))]
    whole = run_case(parse_case(CHARGE + cure[0] + cure[1]))
    on_disc(CHARGE + cure[0], tmp_path, "first")
    second, _ = on_disc(begun_from(CHARGE) + cure[1], tmp_path, "second")
    one, two = whole.history.ends[-1], second.history.ends[-1]
    degrees = [end.states["cure_degree"] for end in (one, two)]
    assert 0.05 < degrees[0].min() < 0.999
    assert degrees[1].min() == pytest.approx(degrees[0].min(), abs=2e-3)
    assert two.temperature.max() == pytest.approx(one.temperature.max(), abs=0.1)


def test_from_one_kind_to_another(tmp_path: Path) -> None:
    """A sheet off the mill, as a body, into the oven, as a sheet: one layer each, taken in their order."""
    band = BAND.format(**PLANE)
    alone = band[: band.index('[[body.layers]]\nname = "backing"')] + band[band.index("[materials") :]
    first, _ = on_disc(alone + ROLL, tmp_path, "first")
    sheet = begun_from(SHEET).replace('thickness = "3 mm"', 'thickness = "4 mm"') + HEAT + LIMITS
    second, _ = on_disc(sheet, tmp_path, "second")
    mean = np.average(first.history.ends[-1].temperature, weights=np.diff(first.history.edges))
    row = second.history.temperature[0]
    assert np.average(row, weights=np.diff(second.history.edges)) == pytest.approx(mean, rel=1e-9)
    assert any("gel_degree" in w and "not followed on" in w for w in second.warnings)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_case_can(kind: str) -> None:
    """The starting case of each kind, with an earlier end for each of its layers: its course begins with it."""
    case = parse_case(template(kind))
    if direct_of(case) is not None:  # no layered body
        assert case.starts() == []
        with pytest.raises(CaseError, match=r"cannot begin from an earlier run|no such file"):
            parse_case(template(kind).replace("process =", 'start_from = "first.h5"\nprocess =', 1))
        return
    names = [start.layer for start in case.starts()]
    assert names
    layers = tuple(
        EarlierLayer(
            name, np.array([0.0, 1e-3, 3e-3]) + i, np.array([310.0, 330.0]), None, None, {"heat_dose": np.ones(2)}
        )
        for i, name in enumerate(names)
    )
    taken = dict(zip(names, layers, strict=True))
    earlier = Earlier("first.h5", "", "", "", "", "plane", 0.0, layers, taken)
    case = replace(case, start_from="first.h5", earlier=earlier)
    path = sought_path(case)
    process = process_of(case if path is None else case.with_values({path: 60.0}))
    before = process.course([np.linspace(0.0, 1.0, 9) for _ in process.layers()]).before
    assert list(before) == names
    moved = [start.own for start in process.case.starts()]
    for name, own in zip(names, moved, strict=True):
        mean = (310.0 + 2 * 330.0) / 3 if own is None else own  # a start that the template has stands for a study's
        if case.process == "dip":
            mean = (310.0 + 2 * 330.0) / 3
        assert before[name].temperature.mean() == pytest.approx(mean)
        assert before[name].degrees["heat_dose"] == pytest.approx(np.ones(8))


MILL = """\
process = "mill"
[band]
material = "fender"
thickness = "4 mm"
start = "25 degC"
width = "600 mm"
kinetics = ["pvc_paste_gelation", "pvc_paste_fusion"]
[rolls]
diameter = "300 mm"
front = "160 degC"
back = "158 degC"
speed = "18 m/min"
friction = 1.2
power = "2 kW"
[[stations]]
name = "mill"
kind = "mill"
duration = "6 min"
folds = 5
[stations.air]
temperature = "35 degC"
coefficient = "12 W/m2/K"
"""


def test_from_the_mill_into_the_press(tmp_path: Path) -> None:
    """The stabiliser counted down through both: what was used up on the mill is where the press begins."""
    recipe = RECIPE + "stabiliser = { parts = 2.5 }\n"
    first, _ = on_disc(MILL + recipe, tmp_path, "first")
    alone = BAND.format(**PLANE)
    body = begun_from(alone[: alone.index('[[body.layers]]\nname = "backing"')])
    second, _ = on_disc(body + recipe + ROLL, tmp_path, "press")
    mill, press = first.history.ends[-1], second.history
    for state in ("heat_dose", "gel_degree", "fusion_degree"):
        content = (mill.states[state] * np.diff(first.history.edges)).sum()
        assert (press.states[state][0] * np.diff(press.edges)).sum() == pytest.approx(content, rel=1e-9, abs=1e-15)
    # 150 s more at up to 190 degC of the 3400 s that 2.5 parts stand there
    more = press.ends[-1].states["heat_dose"].max() - mill.states["heat_dose"].max()
    assert 0.0 < more < 150.0 / 3400.0


# -- mistakes ----------------------------------------------------------------------------------------------------------


class TestMistakes:
    """Plain messages, with the place in the case."""

    @pytest.fixture
    def body(self, folder: Path, first: Result) -> str:
        return begun_from(BAND.format(**PLANE)) + AIR

    def say(self, text: str, folder: Path) -> list[str]:
        with pytest.raises(CaseError) as caught:
            parse_case(text, str(folder / "x.toml"))
        return [f"{m.where} {m}" for m in caught.value.mistakes]

    @pytest.mark.parametrize(
        ("file", "says"),
        [
            ("none.h5", "there is no such file"),
            (".", "that is no file"),
            ("", "that is no file"),
            ("text.h5", "not HDF5"),
            ("other.h5", "not the result of a thermokit run"),
            ("cut.h5", "damaged or cut short"),
            ("newer.h5", "newer thermokit"),
            ("early.h5", "did not finish"),
            ("x" * 500, "x"),
        ],
    )
    def test_files(self, file: str, says: str, folder: Path, body: str) -> None:
        (folder / "text.h5").write_text("not a result")
        whole = (folder / "first.h5").read_bytes()
        (folder / "cut.h5").write_bytes(whole[: len(whole) // 3])
        with h5py.File(folder / "other.h5", "w") as other:
            other["x"] = [1.0]
        for name, attribute, value in (("newer", "layout_version", 99), ("early", "status", "interrupted")):
            (folder / f"{name}.h5").write_bytes(whole)
            with h5py.File(folder / f"{name}.h5", "r+") as changed:
                changed.attrs[attribute] = value
        (found,) = self.say(body.replace("first.h5", file), folder)
        assert found.startswith("start_from ") and says in found

    def test_a_start_of_its_own_beside_it(self, folder: Path, body: str) -> None:
        text = body.replace('thickness = "4 mm"', 'thickness = "4 mm"\nstart = "30 degC"')
        (found,) = self.say(text, folder)
        assert found.startswith("body.layers.0.start ") and "leave this start out" in found
        # the start of the whole body may stay: it is for layers that the result does not hold
        parse_case(body.replace('shape = "plane"', 'shape = "plane"\nstart = "30 degC"'), str(folder / "x.toml"))

    def test_layers_that_are_not_there(self, folder: Path, body: str) -> None:
        text = body.replace('"band"', '"bend"').replace('"backing"', '"web"')
        text += '[[body.layers]]\nname = "third"\nmaterial = "pp"\nthickness = "1 mm"\n'
        (found,) = self.say(text.replace(AIR, "") + AIR, folder)
        assert "(band, backing)" in found and "(bend, web, third)" in found and "did you mean band" in found

    @pytest.mark.parametrize(
        ("text", "where"), [(SHEET + HEAT, "sheet.start"), (CHARGE + CURE.format(name="a", time=60), "charge.start")]
    )
    def test_without_it_a_start_is_needed(self, text: str, where: str, folder: Path) -> None:
        (found,) = self.say(text.replace('start = "25 degC"\n', ""), folder)
        assert found.startswith(f"{where} ") and "missing" in found

    def test_the_result_is_never_written_over(
        self, folder: Path, body: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        from thermokit.cli import main

        case_file = folder / "first_again.toml"
        case_file.write_text(body, encoding="utf-8")
        before = (folder / "first.h5").read_bytes()
        with pytest.raises(SystemExit) as leaving:
            main(["run", str(case_file), "-o", str(folder / "first.h5")])
        assert leaving.value.code == 2
        assert "begins from it" in capsys.readouterr().err
        assert (folder / "first.h5").read_bytes() == before

    def test_check_resolves_it(self, folder: Path, body: str, capsys: pytest.CaptureFixture[str]) -> None:
        from thermokit.cli import main

        case_file = folder / "checked.toml"
        case_file.write_text(body, encoding="utf-8")
        with pytest.raises(SystemExit):
            main(["check", str(case_file), "--json"])
        report = json.loads(capsys.readouterr().out)
        assert 'start_from = "first.h5"' in report["resolved"]
        assert report["start_from"]["layers"] == {"band": "band", "backing": "backing"}
        with pytest.raises(SystemExit):
            main(["check", str(case_file)])
        text = capsys.readouterr().out
        assert "# start_from: band goes on from band at" in text
        assert parse_case(text, str(case_file)) == load_case(case_file)
