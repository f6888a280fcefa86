"""A case that begins from the result of an earlier run: the mapping conserves, two runs joined are one run."""

# ruff: noqa: F811 (fixtures have the names of what they give)

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from begun_cases import ACCURACY, AIR, BAND, PLANE, ROLL, begun_from, first, folder, on_disc  # noqa: F401 (fixtures)

from thermokit.case import load_case, parse_case, resolved_text
from thermokit.conduction.follow import follow
from thermokit.conduction.follow_batch import follow_batch
from thermokit.errors import CaseError
from thermokit.processes import process_of
from thermokit.processes.run import run_case
from thermokit.results.model import Result
from thermokit.results.read import read


@pytest.mark.parametrize("shape", ["plane", "cylinder"])
def test_two_runs_joined_are_one_run(shape: str, tmp_path: Path) -> None:
    """With pp behind it, which melts and crystallises on two curves: temperature, gel, fusion, dose, crystalline share."""
    body = BAND.format(shape=shape, radius='inner_radius = "20 mm"' if shape != "plane" else "", cells=24)
    whole = run_case(parse_case(body + ROLL + AIR + ACCURACY))
    on_disc(body + ROLL + ACCURACY, tmp_path, "first")
    second, _ = on_disc(begun_from(body) + AIR + ACCURACY, tmp_path, "second")
    one, two = whole.history.ends[-1], second.history.ends[-1]
    assert two.temperature == pytest.approx(one.temperature, abs=0.02)
    assert list(two.states) == list(one.states)
    assert {"gel_degree", "fusion_degree", "heat_dose", "crystalline_share"} <= set(one.states)
    for name, value in one.states.items():
        assert two.states[name] == pytest.approx(value, abs=2e-4, nan_ok=True), name
    # heat of the second run is what the second station of the whole took
    assert second.history.heat.stored == pytest.approx(-second.history.heat.left, rel=1e-9)


def test_dose_goes_on(folder: Path, first: Result) -> None:
    second, _ = on_disc(begun_from(BAND.format(**PLANE)) + ROLL + ACCURACY, folder, "again")
    doses = [{o.name: o.value for o in result.outcomes} for result in (first, second)]
    assert 0.0 < doses[0]["heat_dose"] < doses[1]["heat_dose"]
    assert doses[1]["heat_life_left"] < doses[0]["heat_life_left"]


def test_other_cells_hold_the_same_heat(folder: Path, first: Result) -> None:
    """sum T dx of the first row of the second run, on a mesh that the solver chose."""
    text = begun_from(BAND.format(**PLANE)).replace("cells = 24\n", "").replace("cells = 16\n", "") + AIR
    second = run_case(parse_case(text, str(folder / "x.toml")))
    end = first.history.ends[-1]
    content = (end.temperature * np.diff(first.history.edges)).sum()
    assert len(second.history.centres) != len(first.history.centres)
    row = second.history.temperature[0]
    assert (row * np.diff(second.history.edges)).sum() == pytest.approx(content, rel=1e-12)
    assert second.history.time[0] == 0.0


def test_by_share_of_another_thickness_is_said(folder: Path, first: Result) -> None:
    text = begun_from(BAND.format(**PLANE)).replace('thickness = "4 mm"', 'thickness = "3 mm"') + AIR
    second = run_case(parse_case(text, str(folder / "x.toml")))
    assert any("was 4 mm and is 3 mm" in w for w in second.warnings)
    band = slice(0, 24)
    assert second.history.temperature[0][band] == pytest.approx(first.history.ends[-1].temperature[band], rel=1e-12)


def test_in_their_order_where_names_differ(folder: Path, first: Result) -> None:
    text = begun_from(BAND.format(**PLANE)).replace('"band"', '"sheet"').replace('"backing"', '"web"') + AIR
    case = parse_case(text, str(folder / "x.toml"))
    assert {name: held.name for name, held in case.earlier.taken.items()} == {"sheet": "band", "web": "backing"}


def test_a_layer_of_its_own_beside_it(folder: Path, first: Result) -> None:
    """What the result does not hold begins with its own start, or with the body's."""
    body = begun_from(BAND.format(**PLANE)).replace('"backing"', '"cover"')
    with pytest.raises(CaseError, match=r"body\.layers\.1\.start: missing"):
        parse_case(body + AIR, str(folder / "x.toml"))
    text = body.replace('material = "pp"', 'material = "pp"\nstart = "40 degC"') + AIR
    second = run_case(parse_case(text, str(folder / "x.toml")))
    assert second.history.temperature[0][24:] == pytest.approx(np.full(16, 313.15))
    assert second.history.temperature[0][:24] == pytest.approx(first.history.ends[-1].temperature[:24])


def test_a_state_that_is_not_followed_on_is_said(folder: Path, first: Result) -> None:
    text = begun_from(BAND.format(**PLANE)).replace('"fender"', '"pvc_plasticised"') + AIR
    text = text.replace('kinetics = ["pvc_paste_gelation", "pvc_paste_fusion"]\n', "")
    second = run_case(parse_case(text.replace("[materials.fender", "[materials.other"), str(folder / "x.toml")))
    assert any("fusion_degree, gel_degree, heat_dose" in w and "not followed on" in w for w in second.warnings)


def test_in_a_batch(folder: Path, first: Result) -> None:
    """Many cases begin with the profile, as one does; a start that a study puts there moves the profile by as much."""
    case = parse_case(begun_from(BAND.format(**PLANE)) + AIR, str(folder / "x.toml"))
    edges = [np.linspace(0.0, 1.0, 21), np.linspace(0.0, 1.0, 13)]
    mean = case.earlier.mean("band")
    values = {
        "stations.air.duration": np.array([20.0, 40.0, 80.0]),
        "body.layers.band.start": np.array([mean, mean - 10.0, mean]),
    }
    many = follow_batch(process_of(case.with_values(values)).course(edges), 3, 0.004)
    assert not many.status.any()
    for i in range(3):
        one = case.with_values({path: float(value[i]) for path, value in values.items()})
        course = process_of(one).course(edges)
        alone = follow(course, None, 0.004).history.ends[-1]
        assert many.end_temperature[-1][:, i] == pytest.approx(alone.temperature, abs=0.02)
        for name, value in alone.states.items():
            assert many.end_states[name][-1][:, i] == pytest.approx(value, abs=2e-4, nan_ok=True), name
    moved = process_of(case.with_values({"body.layers.band.start": mean - 10.0})).course(edges).before["band"]
    plain = process_of(case).course(edges).before["band"]
    assert moved.temperature == pytest.approx(plain.temperature - 10.0, rel=1e-12)


def test_provenance_and_reading_only(folder: Path, first: Result) -> None:
    import hashlib

    file = folder / "first.h5"
    before = file.read_bytes()
    result, written = on_disc(begun_from(BAND.format(**PLANE)) + AIR, folder, "third")
    block = read(written).study["start_from"]
    assert block["sha256"] == hashlib.sha256(before).hexdigest()
    assert block["case_sha256"] == first.provenance.case_sha256
    assert block["file"] == "first.h5"
    assert block["layers"] == {"band": "band", "backing": "backing"}
    assert result.provenance.case_sha256 == load_case(folder / "third.toml").source.sha256
    assert file.read_bytes() == before


def test_what_is_read_is_what_was_written(folder: Path, first: Result) -> None:
    """The reader of the case against the reader of results: the names in the file are those of the writer."""
    case = parse_case(begun_from(BAND.format(**PLANE)) + AIR, str(folder / "x.toml"))
    result = read(folder / "first.h5")
    end = result.history.ends[-1]
    both = np.concatenate([layer.temperature for layer in case.earlier.layers])
    assert np.array_equal(both, end.temperature)
    assert (case.earlier.layers[0].inner, case.earlier.layers[-1].outer) == (end.inner_face, end.outer_face)
    assert (case.earlier.title, case.earlier.shape) == (result.provenance.title, result.shape)
    for state in case.earlier.layers[0].states:
        assert np.array_equal(case.earlier.layers[0].states[state], end.states[state][:24])


def test_text_reads_back(folder: Path, first: Result) -> None:
    case = parse_case(begun_from(BAND.format(**PLANE)) + AIR, str(folder / "x.toml"))
    text = resolved_text(case)
    assert 'start_from = "first.h5"' in text
    assert parse_case(text, str(folder / "y.toml")) == case
