"""Fields (maps, tables by shot, histories of tools): stored, read back, seen by other readers, printed as tables."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import h5py
import numpy as np
import pytest
from click.testing import CliRunner
from exact_results import same, sheet_result
from field_results import full_result, map_fields, plan_axes, shot_fields, tool_field

from thermokit.cli import show
from thermokit.errors import DataError
from thermokit.results.fields import find
from thermokit.results.model import Axis, Field
from thermokit.results.read import read
from thermokit.results.summary import as_text
from thermokit.results.table import fields_as_csv
from thermokit.results.write import image, write

REGIONS = Axis("region", "", ("corner", "flat wall", "Rand – außen"), "region of the part")
BY_REGION = Field("forming/release_temperature", (REGIONS,), "degC", np.array([81.5, np.nan, 85.0]), "hottest plane")


def with_fields(*fields):
    return sheet_result(fields=fields)


def test_reads_back_what_was_written(tmp_path):
    scalar = Field("forming/worst", (), "K", np.array(3.5), "worst of all")
    whole = Field("shots/order", shot_fields()[0].axes, "1", np.arange(50), "whole numbers stay whole")
    # groups in turn: the order is kept, not the groups together
    r = full_result(fields=(BY_REGION, *full_result().fields, whole, scalar))
    write(r, tmp_path / "a.h5")
    same(r, read(tmp_path / "a.h5"))


def test_same_result_same_bytes():
    r = full_result(fields=(*full_result().fields, BY_REGION))
    assert image(r) == image(r)


def test_a_file_without_fields_is_as_before(tmp_path):
    write(sheet_result(), tmp_path / "a.h5")
    with h5py.File(tmp_path / "a.h5") as f:
        assert "map" not in f
    assert read(tmp_path / "a.h5").fields == ()
    assert "Maps and tables" not in as_text(sheet_result())


def test_axes_stand_once_in_the_group_with_unit_and_meaning(tmp_path):
    r = full_result(fields=(*full_result().fields, BY_REGION))
    write(r, tmp_path / "a.h5")
    with h5py.File(tmp_path / "a.h5") as f:
        assert set(f["map"]) == {"y", "x", *(field.name[4:] for field in map_fields())}
        cold = f["map/coldest_point"]
        assert cold.attrs["units"] == "degC" and cold.attrs["long_name"].startswith("coldest point through")
        np.testing.assert_array_equal(cold, find(r, "map/coldest_point").values)  # as given, not through kelvin
        assert f["map/x"].is_scale and f["map/x"].attrs["units"] == "mm"
        for i, axis in enumerate("yx"):
            assert cold.dims[i][0] == f["map"][axis] == f["map/lower_face"].dims[i][0]
        assert f["forming/region"].attrs["units"] == "1"
        assert f["shots/shot"].dtype == np.int64

        def look(name, item):
            if isinstance(item, h5py.Dataset) and not item.is_scale:
                assert all(len(dimension) == 1 for dimension in item.dims), name
                assert item.attrs["units"] and item.attrs["long_name"], name

        for group in ("map", "shots", "zones", "tool", "forming"):
            f[group].visititems(look)


def test_xarray_opens_every_group(tmp_path):
    xarray = pytest.importorskip("xarray")
    r = full_result(fields=(*full_result().fields, BY_REGION))
    write(r, tmp_path / "a.h5")
    with xarray.open_dataset(tmp_path / "a.h5", engine="h5netcdf") as data:
        assert data.temperature.dims == ("time", "depth")
    for field in r.fields:
        group, _, name = field.name.partition("/")
        with xarray.open_dataset(tmp_path / "a.h5", engine="h5netcdf", group=group) as data:
            assert data[name].dims == tuple(axis.name for axis in field.axes)
            np.testing.assert_array_equal(data[name], field.values)
            assert data[name].attrs["units"] == field.unit
            for axis in field.axes:
                np.testing.assert_array_equal(data[axis.name], np.asarray(axis.values))
    with xarray.open_dataset(tmp_path / "a.h5", engine="h5netcdf", group="map") as data:
        assert float(data.coldest_point.interp(x=0, y=0)) == pytest.approx(143.5, abs=4)
    with xarray.open_dataset(tmp_path / "a.h5", engine="h5netcdf", group="forming") as data:
        assert float(data.release_temperature.sel(region="Rand – außen")) == 85.0


def test_names_from_the_case_file_need_not_suit_hdf5(tmp_path):
    depth = replace(tool_field().axes[1], name="half/way, depth - mm")
    named = replace(tool_field("as it is"), axes=(tool_field().axes[0], depth))
    odd = [tool_field("half/way"), tool_field("half_way"), replace(tool_field(), name="tool/time"), named]
    write(with_fields(*odd), tmp_path / "a.h5")
    same(with_fields(*odd), read(tmp_path / "a.h5"))


Y, X = plan_axes()
COLD = map_fields()[0]
OTHER_X = replace(X, values=X.values + 1)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ([COLD, replace(COLD, name="map/b", axes=(Y, OTHER_X))], "map/b: its axis 'x' differs .* rename"),
        ([COLD, replace(COLD, name="map/b", axes=(Y, replace(X, unit="m")))], "its axis 'x' differs"),
        ([COLD, COLD], "two fields are called map/coldest_point"),
        ([replace(COLD, axes=(X, Y))], "shape"),
        ([replace(COLD, name="limits/coldest")], "'limits' cannot be the name"),
        ([replace(COLD, name="temperature/coldest")], "'temperature' cannot be the name"),
        ([replace(COLD, name="/coldest")], "'' cannot be the name"),
        ([replace(COLD, axes=(Y, replace(X, name="")))], "needs a name"),
        ([replace(COLD, axes=(Y, replace(X, values=[])))], "needs a name and values"),
    ],
)
def test_fields_that_contradict_each_other_are_a_programming_error(fields, words):
    with pytest.raises(ValueError, match=words):
        image(with_fields(*fields))


def test_equal_axes_of_one_name_in_other_groups_may_differ(tmp_path):
    r = with_fields(COLD, replace(COLD, name="after/coldest_point", axes=(Y, OTHER_X)))
    write(r, tmp_path / "a.h5")
    same(r, read(tmp_path / "a.h5"))


def detach(f):
    f["map/coldest_point"].dims[0].detach_scale(f["map/y"])


def shorten(f):
    facts = dict(f["map/coldest_point"].attrs)
    scales = [f["map/y"], f["map/x"]]
    del f["map/coldest_point"]
    short = f["map"].create_dataset("coldest_point", data=np.zeros((3, 3)))
    for axis, scale in enumerate(scales):
        short.dims[axis].attach_scale(scale)
    for name in ("field", "unit", "order", "long_name"):
        short.attrs[name] = facts[name]


def forget_unit(f):
    del f["map/coldest_point"].attrs["unit"]


@pytest.mark.parametrize("damage", [detach, shorten, forget_unit])
def test_damaged_fields_are_a_plain_message(damage, tmp_path):
    write(full_result(), tmp_path / "a.h5")
    with h5py.File(tmp_path / "a.h5", "a") as f:
        damage(f)
    with pytest.raises(DataError, match=r"damaged or cut short .*; run the case again"):
        read(tmp_path / "a.h5")


def test_cut_short_anywhere_is_a_plain_message(tmp_path):
    whole, path = image(full_result()), tmp_path / "a.h5"
    for length in np.linspace(8, len(whole) - 1, 20).astype(int):
        path.write_bytes(whole[:length])
        with pytest.raises(DataError, match="cannot read"):
            read(path)


# -- in words and as a table -------------------------------------------------------------------------------------------


def test_summary_names_the_fields():
    text = as_text(full_result())
    lines = text.splitlines()
    block = lines[lines.index("Maps and tables") + 1 :]
    assert block[0].split()[:6] == ["map", "20", "y,", "30", "x", "coldest_point,"]
    assert "50 shot" in text and "touch_temperature, release_temperature" in text
    assert max(map(len, lines)) <= 100


def rows_of(text):
    assert "\n" not in text.replace("\r\n", "")
    return list(csv.reader(io.StringIO(text, newline="")))


def test_a_map_as_table_has_one_line_a_place():
    head, *rows = rows_of(fields_as_csv([COLD]))
    assert head == ["y [mm]", "x [mm]", "coldest_point [degC]"]
    assert len(rows) == 600
    assert [float(v) for v in rows[31][:2]] == [-170.0, -270.0]
    found = np.array([float(row[2]) for row in rows]).reshape(20, 30)
    np.testing.assert_allclose(found, COLD.values, rtol=1e-9)


def test_words_and_missing_values_in_a_table():
    head, *rows = rows_of(fields_as_csv([BY_REGION]))
    assert head == ["region", "release_temperature [degC]"]
    assert rows == [["corner", "81.5"], ["flat wall", ""], ["Rand – außen", "85"]]


@pytest.fixture
def stored(tmp_path):
    write(full_result(), tmp_path / "tray.h5")
    return str(tmp_path / "tray.h5")


def test_show_writes_a_field_or_a_group(stored, tmp_path):
    done = CliRunner().invoke(show.command, [stored, "--field", "map/coldest_point"])
    assert done.stdout_bytes.decode() == fields_as_csv([map_fields(cold=14.0)[0]])
    target = tmp_path / "s.csv"
    done = CliRunner().invoke(show.command, [stored, "--field", "shots", "--csv", str(target)])
    assert done.exit_code == 0 and "wrote" in done.output
    head, *rows = rows_of(target.read_bytes().decode())
    assert head[:2] == ["shot", "touch_temperature [degC]"] and len(rows) == 50


def test_show_refuses_what_is_not_there(stored, tmp_path):
    def told(*arguments):
        return str(CliRunner().invoke(show.command, list(arguments)).exception)

    assert "holds no field map/none; it holds: map/coldest_point, " in told(stored, "--field", "map/none")
    assert "different axes: give one name out of zones/upper_before" in told(stored, "--field", "zones")
    write(sheet_result(), tmp_path / "b.h5")
    assert "it holds none" in told(str(tmp_path / "b.h5"), "--field", "map")
    assert CliRunner().invoke(show.command, [stored, "--field", "map", "--json"]).exit_code == 2
