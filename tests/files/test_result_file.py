"""The result file: round trip, what other readers see, what happens to damaged and foreign files."""

from __future__ import annotations

import json
from dataclasses import replace

import h5py
import numpy as np
import pytest
from exact_results import CASE, ball_result, same, sheet_result

from thermokit.errors import DataError
from thermokit.results import layout
from thermokit.results.read import read
from thermokit.results.write import image, write


def bare():
    """A run that was interrupted before its first station ended, with nothing judged."""
    r = sheet_result(outcomes=(), limits=(), probes={}, warnings=(), cautions=(), study={}, span_names=("heat",))
    h = r.history
    one = {name: getattr(h, name)[:1] for name in ("time", "span", "temperature", "inner_face", "outer_face")}
    ending = replace(h.ending, status="interrupted", time=0.25, depth=1e-3, advice="start it again")
    return replace(r, history=replace(h, **one, ends=(), ending=ending, crossings={}, warnings=()))


def broken():
    """A run that went wrong: values that are not numbers."""
    r = sheet_result()
    field = r.history.temperature.copy()
    field[50:, 3] = np.nan
    return replace(r, history=replace(r.history, temperature=field))


@pytest.fixture(params=[sheet_result, ball_result, bare, broken], ids=lambda made: made.__name__)
def result(request):
    return request.param()


def test_reads_back_what_was_written(result, tmp_path):
    write(result, tmp_path / "a.h5")
    same(result, read(tmp_path / "a.h5"))


def test_same_result_same_bytes(result):
    assert image(result) == image(result)


def test_hollow_cylinder_keeps_its_radius(tmp_path):
    r = ball_result(shape="cylinder", inner_radius=5e-3)
    write(r, tmp_path / "a.h5")
    same(r, read(tmp_path / "a.h5"))
    with h5py.File(tmp_path / "a.h5") as f:
        np.testing.assert_allclose(f["radius"], r.history.centres + 5e-3, rtol=1e-15)


def test_every_variable_has_unit_meaning_and_scales(result, tmp_path):
    write(result, tmp_path / "a.h5")
    seen = []

    def look(name, item):
        if not isinstance(item, h5py.Dataset):
            return
        seen.append(name)
        assert item.attrs["units"], name
        assert "long_name" in item.attrs, name
        for value in item.attrs.values():
            assert np.asarray(value).dtype != bool, name
        if item.is_scale:
            return
        assert all(len(dim) == 1 for dim in item.dims), f"{name}: one scale an axis"
        if item.ndim and item.size:
            assert (item.compression, item.shuffle) == ("gzip", True), name

    with h5py.File(tmp_path / "a.h5") as f:
        f.visititems(look)
        assert f.attrs["Conventions"].startswith("CF-")
        assert f.attrs["layout_version"] == layout.LAYOUT_VERSION
        for name in ("temperature", "time", "depth", "inner_face_temperature", "outer_face_temperature"):
            assert name in seen
            assert f[name].dtype == np.float64
        assert f["temperature"].attrs["units"] == "degC"
        assert f["time"].attrs["units"] == "s"
        assert f["depth"].attrs["units"] == "m"


def test_xarray_opens_it_as_it_stands(tmp_path):
    xarray = pytest.importorskip("xarray")
    r = ball_result(probes={"core": np.full(61, 300.0)})
    write(r, tmp_path / "a.h5")
    with xarray.open_dataset(tmp_path / "a.h5", engine="h5netcdf") as data:
        assert data.temperature.dims == ("time", "depth")
        assert data.cure_degree.dims == ("time", "depth")
        assert data.time.dtype == np.float64, "seconds must not become dates"
        assert data.temperature.attrs["units"] == "degC"
        assert set(data.coords) >= {"time", "depth", "radius"}
        np.testing.assert_allclose(data.temperature, r.history.temperature - 273.15, atol=1e-12)
        np.testing.assert_allclose(data.core_temperature, 26.85, atol=1e-12)
        # a place between two rows and cells: the reader's own interpolation works on our scales
        assert 20 <= float(data.temperature.interp(time=100.0, depth=0.004)) <= 160
    for group in ("outcomes", "limits", "heat_balance", "station_ends", "provenance", "notes", "layers", "stations"):
        with xarray.open_dataset(tmp_path / "a.h5", engine="h5netcdf", group=group) as data:
            data.load()


def test_h5netcdf_reads_axes_by_name(tmp_path):
    h5netcdf = pytest.importorskip("h5netcdf")
    write(sheet_result(), tmp_path / "a.h5")
    with h5netcdf.File(tmp_path / "a.h5", "r") as f:
        assert f["temperature"].dimensions == ("time", "depth")
        assert f["station_ends/temperature"].dimensions == ("end", "depth")
        assert f["station_ends/hottest_temperature"].attrs["units"] == "degC"


def test_outcomes_limits_balance_and_case_in_the_file(tmp_path):
    r = sheet_result()
    write(r, tmp_path / "a.h5")
    with h5py.File(tmp_path / "a.h5") as f:
        never = f["outcomes/time_to_burning"]
        assert np.isnan(never[()])
        assert (never.attrs["reached"], never.attrs["units"]) == (0, "s")
        assert f["outcomes/time_to_forming"][()] == 41.25
        check = f["limits/face_core_difference"]
        assert (check[()], check.attrs["margin"], check.attrs["met"]) == (24.0, -9.0, 0)
        assert f["heat_balance/in"].attrs["units"] == "J/m2"
        assert f["heat_balance/mismatch"][()] == 3e-13
        assert f["provenance/case_text"].asstr()[()] == CASE
        assert f["provenance"].attrs["case_sha256"] == r.provenance.case_sha256
        assert json.loads(f["study/json"].asstr()[()])["dwell"]["latest"] is None
        assert f["extremes/hottest"][()] == pytest.approx(180.0, abs=1e-12)


def test_names_that_collide_or_hold_a_slash(tmp_path):
    r = sheet_result()
    probes = {"inner_face": r.probes["core"], "half/way": r.probes["core"] + 1}
    r = replace(r, probes=probes, limits=(r.limits[0], replace(r.limits[0], required="at least 130 degC")))
    write(r, tmp_path / "a.h5")
    same(r, read(tmp_path / "a.h5"))
    with h5py.File(tmp_path / "a.h5") as f:
        np.testing.assert_allclose(f["inner_face_temperature"], r.history.inner_face - 273.15)


def test_study_with_numpy_and_nan_becomes_json(tmp_path):
    r = sheet_result(study={"dwell": {"earliest": np.float64(70.1), "latest": float("nan"), "all": np.arange(2)}})
    write(r, tmp_path / "a.h5")
    assert read(tmp_path / "a.h5").study == {"dwell": {"earliest": 70.1, "latest": None, "all": [0, 1]}}


def test_file_open_in_a_viewer_can_be_read_and_replaced(tmp_path):
    write(sheet_result(), tmp_path / "a.h5")
    with h5py.File(tmp_path / "a.h5", "r") as viewer:
        same(sheet_result(), read(tmp_path / "a.h5"))
        write(ball_result(), tmp_path / "a.h5")
        assert viewer["temperature"].shape == (71, 24)
    same(ball_result(), read(tmp_path / "a.h5"))


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "not a result file"), (b"time;temperature\n", "not a result file"), (None, "no such file")],
    ids=["empty", "text", "missing"],
)
def test_not_hdf5_is_a_plain_message(content, words, tmp_path):
    path = tmp_path / "a.h5"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(DataError, match=words):
        read(path)


def test_folder_foreign_and_newer_files(tmp_path):
    with pytest.raises(DataError, match="folder"):
        read(tmp_path)
    with h5py.File(tmp_path / "foreign.h5", "w") as f:
        f["temperature"] = [1.0]
    with pytest.raises(DataError, match="not the result of a thermokit run"):
        read(tmp_path / "foreign.h5")
    write(sheet_result(), tmp_path / "newer.h5")
    with h5py.File(tmp_path / "newer.h5", "a") as f:
        f.attrs["layout_version"] = layout.LAYOUT_VERSION + 1
    with pytest.raises(DataError, match="newer thermokit"):
        read(tmp_path / "newer.h5")
    write(sheet_result(), tmp_path / "lacking.h5")
    with h5py.File(tmp_path / "lacking.h5", "a") as f:
        del f["heat_balance"]
    with pytest.raises(DataError, match="damaged"):
        read(tmp_path / "lacking.h5")


def test_cut_short_anywhere_is_a_plain_message(tmp_path):
    whole, path = image(sheet_result()), tmp_path / "a.h5"
    for length in np.linspace(8, len(whole) - 1, 40).astype(int):
        path.write_bytes(whole[:length])
        with pytest.raises(DataError, match="cannot read"):
            read(path)
