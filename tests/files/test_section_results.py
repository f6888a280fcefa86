"""The result file of a section: whole on the way out and back, as netCDF-4 readers and as VTK's readers see it."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
import xarray

from thermokit.case import load_case
from thermokit.errors import DataError
from thermokit.results.model import layered, section_of
from thermokit.results.read import read
from thermokit.results.summary import as_json, as_text
from thermokit.results.table import as_csv
from thermokit.results.write import image, write
from thermokit.studies.run import run

CASE = Path(__file__).parents[1] / "unit" / "case_texts" / "section.toml"


@cache
def result() -> Any:
    return run(load_case(CASE))


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("section") / "mould.h5"
    write(result(), path)
    return path


def same(a: Any, b: Any) -> None:
    """Everything equal, temperatures to the rounding of the way through degC."""
    if isinstance(a, np.ndarray):
        np.testing.assert_allclose(a, b, rtol=0, atol=1e-9)
    elif isinstance(a, dict):
        assert list(a) == list(b)
        for name in a:
            same(a[name], b[name])
    elif isinstance(a, tuple):
        assert len(a) == len(b)
        for x, y in zip(a, b, strict=True):
            same(x, y)
    elif hasattr(a, "__dataclass_fields__"):
        for item in fields(a):
            same(getattr(a, item.name), getattr(b, item.name))
    elif isinstance(a, float | np.floating):
        assert a == pytest.approx(b, abs=1e-9, nan_ok=True)
    else:
        assert a == b


def test_reads_back(file: Path) -> None:
    again = read(file)
    same(section_of(result()), section_of(again))
    same(result().probes, again.probes)
    assert (again.outcomes, again.limits, again.shape) == (result().outcomes, result().limits, "section")
    assert as_text(again) == as_text(result())
    assert as_json(again, file) == as_json(result(), file)


def test_same_result_same_bytes() -> None:
    assert image(result()) == image(result())


def test_opens_with_xarray_as_it_stands(file: Path) -> None:
    history = section_of(result())
    with xarray.open_dataset(file, engine="h5netcdf") as data:
        assert data["temperature"].dims == ("time", "node")
        assert data["x"].dims == data["y"].dims == ("node",)
        assert {name: data[name].attrs["units"] for name in ("temperature", "x", "y", "time")} == {
            "temperature": "degC", "x": "m", "y": "m", "time": "s",
        }  # fmt: skip
        np.testing.assert_allclose(data["temperature"] + 273.15, history.temperature, atol=1e-9)
        assert data["middle_temperature"].dims == ("time",)
        assert data["cell_node"].shape == history.mesh.triangles.shape
    with xarray.open_dataset(file, engine="h5netcdf", group="station_ends") as ends:
        assert ends["heat"].attrs["units"] == "J/m"


def test_absent_is_not_a_number(file: Path) -> None:
    with h5py.File(file) as data:
        part = np.unique(data["cell_node"][()][data["cell_region"][()] == 1])
        assert np.isnan(data["temperature"][-1][part]).all()
        assert np.isfinite(data["temperature"][20][part]).all()
        assert list(data["regions/name"].asstr()) == ["block", "part"]
        assert list(data["faces/name"].asstr()) == ["bottom", "parting", "c1", "c2"]


def test_vtkhdf_as_its_specification_has_it(file: Path) -> None:
    """VTKHDF file format 2.0, unstructured grid with time steps: one part, a mesh that stays, data by offsets."""
    history = section_of(result())
    nodes, cells, rows = len(history.mesh.x), len(history.mesh.triangles), len(history.time)
    with h5py.File(file) as data:
        grid = data["VTKHDF"]
        assert grid.attrs["Version"].tolist() == [2, 0]
        assert grid.attrs["Type"] == b"UnstructuredGrid"
        kind = grid.attrs.get_id("Type").get_type()
        assert not kind.is_variable_str(), "readers want a string of fixed length"
        assert [int(grid[f"NumberOf{what}"][0]) for what in ("Points", "Cells", "ConnectivityIds")] == [
            nodes, cells, 3 * cells,
        ]  # fmt: skip
        assert grid["Points"].shape == (nodes, 3)
        assert np.array_equal(grid["Offsets"][()], 3 * np.arange(cells + 1))
        assert np.array_equal(grid["Connectivity"][()].reshape(-1, 3), history.mesh.triangles)
        assert set(grid["Types"][()]) == {5}  # VTK_TRIANGLE
        steps = grid["Steps"]
        assert int(steps.attrs["NSteps"]) == rows
        assert steps["Values"][()].tolist() == history.time.tolist()
        assert steps["NumberOfParts"][()].tolist() == [1] * rows
        for name in ("PartOffsets", "PointOffsets"):
            assert steps[name][()].tolist() == [0] * rows
        for name in ("CellOffsets", "ConnectivityIdOffsets"):
            assert steps[name].shape == (rows, 1)
            assert not steps[name][()].any()
        values = grid["PointData/temperature"]
        assert values.is_virtual, "the field is not stored twice"
        offsets = steps["PointDataOffsets/temperature"][()]
        for row in (0, rows // 2, rows - 1):
            part = values[offsets[row] : offsets[row] + nodes]
            np.testing.assert_array_equal(part, data["temperature"][row])
        assert np.array_equal(grid["CellData/region"][()], data["cell_region"][()])


def test_vtk_reads_it(file: Path) -> None:
    """Where the library is installed: its own reader gives mesh and temperatures back."""
    pytest.importorskip("vtkmodules")
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkIOHDF import vtkHDFReader

    reader = vtkHDFReader()
    reader.SetFileName(str(file))
    reader.UpdateInformation()
    history = section_of(result())
    assert reader.GetNumberOfSteps() == len(history.time)
    reader.SetStep(len(history.time) - 1)
    reader.Update()
    grid = reader.GetOutput()
    assert (grid.GetNumberOfPoints(), grid.GetNumberOfCells()) == (len(history.mesh.x), len(history.mesh.triangles))
    values = vtk_to_numpy(grid.GetPointData().GetArray("temperature")) + 273.15
    np.testing.assert_allclose(values, history.temperature[-1], atol=1e-9)


def test_table() -> None:
    lines = as_csv(result()).split("\r\n")
    assert lines[0] == (
        "time [s],station,middle_temperature [degC],corner_temperature [degC],block hottest [degC],part hottest [degC]"
    )
    assert len(lines) == 26 + 2
    assert lines[1].startswith("0,cool,230,20,20,230")
    assert lines[26].split(",")[2] == "", "what is not there has no value"


def test_layered_only_says_so_in_plain_words() -> None:
    with pytest.raises(DataError, match="result of a section"):
        layered(result())


def test_cut_short(file: Path, tmp_path: Path) -> None:
    short = tmp_path / "short.h5"
    short.write_bytes(file.read_bytes()[:-20_000])
    with pytest.raises(DataError):
        read(short)
