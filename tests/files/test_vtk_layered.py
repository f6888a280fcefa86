"""A layered result as a VTK grid: read back by a reader written from the format's description, and by meshio where it is there."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from exact_results import ball_result, sheet_result, slab

from thermokit.errors import DataError
from thermokit.results.vtk_layered import as_vtk

ZERO = 273.15


def grid_of(content: bytes) -> tuple[dict[str, Any], dict[str, Any]]:
    """(coordinates, point data) of a legacy file: lines of text, after each that announces numbers their bytes and a new line."""
    at, axes, data, name, size = 0, {}, {}, "", ()

    def line() -> str:
        nonlocal at
        end = content.index(b"\n", at)
        text, at = content[at:end].decode("ascii"), end + 1
        return text

    def numbers(count: int) -> Any:
        nonlocal at
        values, at = np.frombuffer(content[at : at + 8 * count], ">f8").astype(float), at + 8 * count + 1
        assert content[at - 1 : at] == b"\n"
        return values

    assert line() == "# vtk DataFile Version 3.0"
    assert len(line()) < 256
    assert (line(), line()) == ("BINARY", "DATASET RECTILINEAR_GRID")
    while at < len(content):
        words = line().split()
        if words[0] == "DIMENSIONS":
            size = tuple(map(int, words[1:]))
        elif words[0].endswith("_COORDINATES"):
            assert words[2] == "double"
            axes[words[0][0]] = numbers(int(words[1]))
        elif words[0] == "POINT_DATA":
            assert int(words[1]) == np.prod(size)
        elif words[0] == "SCALARS":
            name = words[1]
        elif words[0] == "LOOKUP_TABLE":
            data[name] = numbers(int(np.prod(size))).reshape(size[::-1])[0]  # x runs first
    return axes, data


def test_the_exact_slab_comes_back() -> None:
    """The sine series of Carslaw & Jaeger at some times and depths."""
    axes, data = grid_of(as_vtk(sheet_result()))
    depth = 1e-3 * axes["Y"]
    assert axes["Z"].tolist() == [0.0]
    assert (depth[0], depth[-1]) == (0.0, pytest.approx(4e-3))
    for row in (10, 30, 60):
        exact = slab(axes["X"][row], depth)[0] - ZERO
        assert data["temperature_degC"][:, row] == pytest.approx(exact, abs=1e-9)


def test_degrees_stand_on_the_faces_too_and_stay_away_where_nothing_reacts() -> None:
    result = ball_result()
    axes, data = grid_of(as_vtk(result))
    degree = data["cure_degree"]
    assert degree.shape == (len(result.history.centres) + 2, len(axes["X"]))
    assert np.isnan(degree[0]).all()
    assert degree[-1] == pytest.approx(degree[-2])
    assert degree[-2, -1] == pytest.approx(1 - np.exp(-4e-3 * 900.0))


def test_a_reader_of_others_opens_it(tmp_path: Path) -> None:
    meshio = pytest.importorskip("meshio")
    file = tmp_path / "tray.vtk"
    file.write_bytes(as_vtk(sheet_result()))
    mesh = meshio.read(file)
    at = np.argmin(np.abs(mesh.points - [30.0, 4.0, 0.0]).sum(axis=1))
    assert np.ravel(mesh.point_data["temperature_degC"])[at] == pytest.approx(180.0)


def test_the_same_result_gives_the_same_bytes_and_a_strange_title_does_no_harm() -> None:
    assert as_vtk(sheet_result()) == as_vtk(sheet_result())
    result = sheet_result()
    from dataclasses import replace

    grid_of(as_vtk(replace(result, provenance=replace(result.provenance, title="Wie lange? –\nä" * 100))))


def test_a_section_opens_by_itself() -> None:
    from types import SimpleNamespace

    from thermokit.conduction.section_history import SectionHistory

    section: Any = object.__new__(SectionHistory)
    with pytest.raises(DataError, match="section"):
        as_vtk(SimpleNamespace(history=section, provenance=sheet_result().provenance))  # type: ignore[arg-type]
