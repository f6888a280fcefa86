"""Python and the command line say the same: every command has its function, and both give one answer."""

from __future__ import annotations

import builtins
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray

import thermokit
from tests.cli.calling import CASES, SOUGHT, WALL, call, one_object
from tests.unit.test_inverse import LUMP
from thermokit.cli import COMMANDS
from thermokit.errors import CaseError, DataError
from thermokit.results.model import Axis, Field
from thermokit.results.objects import dataset_of
from thermokit.results.plain import plain

ERRS = '[tolerances]\n"body.layers.0.thickness" = "± 5 %"\n"stations.heat.outer.convection.air" = "± 5 K"\n'
SWEPT = WALL + '[sweep]\ninputs = { "stations.heat.duration" = ["30 s", "60 s", "90 s"] }\n'

#: command -> the function of the public face that answers the same
FUNCTIONS = {
    "run": "run",
    "dwell": "dwell",
    "tolerance": "tolerance",
    "window": "window",
    "sensitivity": "sensitivity",
    "zones": "zones",
    "methods": "methods",
    "compare": "compare",
    "cost": "cost",
    "bottleneck": "bottleneck",
    "thermocouple": "thermocouple",
    "scale": "scale",
    "sweep": "sweep",
    "fit": "fit",
    "verify": "verify",
    "chart": "chart",
    "why": "why",
    "setting": "setting_sheet",
    "schema": "json_schema",
    "check": "load_case",
    "new": "template",
    "explain": "explain",
    "materials": "load_material",
    "kinetics": "fit_kinetics",
    "show": "load_result",
    "plot": "draw",
}
#: command -> (case, arguments of the command, of the function): those whose whole object is compared here
ALIKE: dict[str, tuple[str, tuple[str, ...], dict[str, Any]]] = {
    "tolerance": (SOUGHT + ERRS, ("--draws", "32", "--at", "100 s"), {"draws": 32, "at": "100 s"}),
    "window": (
        SOUGHT,
        ("--across", "stations.heat.duration=30s..200s", "--up", "body.layers.0.thickness=8mm..12mm", "--points", "5"),
        {
            "across": ("stations.heat.duration", "30 s", "200 s"),
            "up": ("body.layers.0.thickness", 0.008, "12 mm"),
            "points": 5,
        },
    ),
    "sensitivity": (
        SOUGHT + ERRS, ("--rows", "8", "--at", "100 s", "--of", "core_temperature"),
        {"rows": 8, "at": 100.0, "of": ("core_temperature",)},
    ),
    "chart": (
        SOUGHT,
        ("--against", "body.layers.0.thickness=8mm..12mm", "--points", "3", "--family", "body.start=10degC,30degC"),
        {"against": ("body.layers.0.thickness", "8 mm", "12 mm"), "points": 3, "family": ("body.start", ["10 degC", 303.15])},
    ),
    "verify": (WALL, (), {}),
    "scale": (SOUGHT, ("--factor", "2"), {"factors": (2.0,)}),
    "bottleneck": (WALL, (), {}),
    "cost": (WALL + '[cost]\narea = "1 m2"\n', (), {}),
    "thermocouple": (WALL + ERRS, (), {}),
}  # fmt: skip


def test_every_command_has_its_function() -> None:
    """A command that is added must be named here, and its function must be public and take a case where the command does."""
    assert set(FUNCTIONS) == set(COMMANDS)
    for name in FUNCTIONS.values():
        assert name in thermokit.__all__
        assert callable(getattr(thermokit, name)), name


def test_what_is_public_can_be_had() -> None:
    for name in thermokit.__all__:
        assert getattr(thermokit, name) is not None
        assert name in dir(thermokit)
    with pytest.raises(AttributeError, match="nothing_here"):
        _ = thermokit.nothing_here


@pytest.mark.parametrize("command", ALIKE)
def test_command_and_function_give_one_answer(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text, arguments, options = ALIKE[command]
    file = tmp_path / "case.toml"
    file.write_text(text)
    told = one_object(call(capsys, command, file, *arguments, "--json").out)
    found = getattr(thermokit, FUNCTIONS[command])(file, **options)
    assert plain(found.as_json()) == told
    table = found.to_xarray()
    assert isinstance(table, xarray.Dataset) and len(table.data_vars) > 0
    for variable in table.data_vars.values():
        assert "units" in variable.attrs


def test_run_and_dwell_agree_with_their_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "case.toml"
    file.write_text(SOUGHT)
    told = one_object(call(capsys, "dwell", file, "--json").out)
    found = thermokit.dwell(thermokit.load_case(file))
    assert found.as_json() == told["dwell"]
    assert float(found.to_xarray()["earliest"]) == told["dwell"]["earliest"]
    result = thermokit.run(file)
    assert {o.name: o.value for o in result.outcomes} == {name: o["value"] for name, o in told["outcomes"].items()}


def test_compare_and_sweep_agree_with_their_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "case.toml"
    file.write_text(SWEPT)
    told = one_object(call(capsys, "compare", file, "--set", "stations.heat.duration=90 s", "--json").out)
    assert plain(thermokit.compare(file, changes=[{"stations.heat.duration": "90 s"}]).as_json()) == told
    one, other = tmp_path / "one.h5", tmp_path / "other.h5"
    told = one_object(call(capsys, "sweep", file, "-o", one, "--workers", "1", "--json").out)
    found = thermokit.sweep(file, other, workers=1)
    own = found.as_json()
    assert own["sweep"].pop("table") != told["sweep"].pop("table")
    assert own == told
    np.testing.assert_array_equal(found.to_xarray()["stations.heat.duration"], [30.0, 60.0, 90.0])
    assert thermokit.sweep(file, other, workers=1).before


def test_a_result_holds_arrays_with_names_and_units(tmp_path: Path) -> None:
    """The same numbers as in the result file, in the same words."""
    result = thermokit.run(thermokit.parse_case(WALL))
    table = result.to_xarray()
    assert table["temperature"].dims == ("time", "depth")
    assert table["temperature"].attrs["units"] == "degC"
    assert float(table["outcomes_core_temperature"]) == pytest.approx(float(table["core_temperature"][-1]))
    assert table.attrs["status"] == "finished"
    file = tmp_path / "wall.h5"
    thermokit.write_result(result, file)
    with xarray.open_dataset(file, engine="h5netcdf") as stored:
        np.testing.assert_allclose(stored["temperature"].values, table["temperature"].values, atol=1e-9)
        np.testing.assert_allclose(stored["core_temperature"].values, table["core_temperature"].values, atol=1e-9)
    again = thermokit.load_result(file).to_xarray()
    np.testing.assert_allclose(again["temperature"].values, table["temperature"].values, atol=1e-9)


def test_a_map_over_a_sheet_and_a_section_are_data_sets_too() -> None:
    section = thermokit.run(CASES / "how_even_is_the_face_of_a_platen_with_four_heater_bores.toml").to_xarray()
    assert section["temperature"].dims == ("time", "node")
    assert section["x"].dims == ("node",)


def test_axes_of_one_name_and_other_values_stand_beside_each_other() -> None:
    a, b = Axis("x", "m", [0.0, 1.0], "place"), Axis("x", "m", [0.0, 0.5, 1.0], "place")
    table = dataset_of([Field("one/v", (a,), "K", [1.0, 2.0], "v"), Field("two/v", (b,), "K", [1.0, 2.0, 3.0], "v")])
    assert table["one_v"].dims == ("one_x",) and table["two_v"].dims == ("two_x",)


def test_without_xarray_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def refuse(name: str, *rest: Any, **options: Any) -> Any:
        if name == "xarray":
            raise ImportError(name)
        return real(name, *rest, **options)

    result = thermokit.run(thermokit.parse_case(WALL))
    monkeypatch.setitem(sys.modules, "xarray", None)
    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(DataError, match="xarray, which is not installed"):
        result.to_xarray()


def test_values_are_given_as_people_write_them() -> None:
    """A text with its unit or a number in SI; mistakes name the input."""
    case = thermokit.parse_case(LUMP)
    new = thermokit.changed(case, {"body.layers.plate.thickness": "12 mm", "stations.heat.outer.convection.air": 400.0})
    assert new.value("body.layers.plate.thickness") == pytest.approx(0.012)
    assert new.value("stations.heat.outer.convection.air") == 400.0
    with pytest.raises(CaseError, match="out of range"):
        thermokit.changed(case, {"body.layers.plate.thickness": -1.0})
    with pytest.raises(CaseError, match="no such"):
        thermokit.changed(case, {"body.layers.plate.thicknes": 1.0})
    with pytest.raises(CaseError, match="nothing is sought"):
        thermokit.tolerance(thermokit.parse_case(WALL + ERRS), at="3 s")
