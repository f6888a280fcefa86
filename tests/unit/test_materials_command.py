"""``thermokit materials``: lists, one record in words and as JSON, pictures, and plain messages for mistakes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from thermokit.cli.materials import command
from thermokit.errors import DataError
from thermokit.kinetics import library as kinetics
from thermokit.materials import library


def run(*words: str) -> str:
    found = CliRunner().invoke(command, words, catch_exceptions=False)
    assert found.exit_code == 0, found.output
    return found.stdout


def test_the_list_names_every_material_and_its_family() -> None:
    lines = run().splitlines()
    assert [line.split()[0] for line in lines] == library.names()
    assert "amorphous thermoplastic" in lines[0]
    assert [entry["id"] for entry in json.loads(run("--json"))] == library.names()


def test_the_list_of_kinetics() -> None:
    assert [line.split()[0] for line in run("--kinetics").splitlines()] == kinetics.names()
    assert {entry["state"] for entry in json.loads(run("--kinetics", "--json"))} == {
        "cure_degree",
        "gel_degree",
        "fusion_degree",
        "heat_dose",
    }


def test_one_material_in_words_shows_value_unit_range_source_and_confidence() -> None:
    text = run("pp")
    for part in (
        "conductivity [W/m/K], 0 to 230 degC, ± 10 % (handbook)",
        "read in the source at 20, 50, 100 degC only",
        "heat 95 kJ/kg",
        "lower 145 degC",
        "CAUTION",
        "Springer Handbook",
    ):
        assert part in text


@pytest.mark.parametrize("name", library.names())
def test_words_and_json_of_every_material(name: str) -> None:
    text = run(name)
    record = json.loads(run(name, "--json"))
    assert record["id"] == name
    # what is said in words points to every source, and no line runs off the page
    said, listed = text.rsplit("\nsources\n", 1)
    assert all(f"[{i}]" in said and f"    [{i}] " in listed for i in range(1, len(record["references"]) + 1))
    assert max(len(line) for line in text.splitlines()) <= 100
    assert all(len(record[q]["values"]) > 1 for q in ("conductivity", "specific_heat", "density"))


@pytest.mark.parametrize("name", kinetics.names())
def test_words_and_json_of_every_kinetics_set(name: str) -> None:
    text = run("--kinetics", name)
    assert kinetics.load(name).flags[0][:30] in text
    assert json.loads(run("--kinetics", name, "--json"))["id"] == name


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_a_picture_is_written_and_json_stays_clean(tmp_path: Path, ending: str) -> None:
    picture = tmp_path / f"hdpe.{ending}"
    json.loads(run("hdpe", "--json", "--plot", str(picture)))
    content = picture.read_bytes()
    assert content.startswith(b"\x89PNG") if ending == "png" else b"<svg" in content
    if ending == "svg":
        for label in ("Conductivity [W/m/K]", "[kJ/kg/K]", "[kJ/kg]", "[kg/m³]", "Temperature [°C]"):
            assert label in content.decode()


@pytest.mark.parametrize("name", ["water", "pvc_paste_dip", "pet", "air"])
def test_every_kind_of_material_can_be_drawn(name: str) -> None:
    from thermokit.figures.materials import draw_material

    assert len(draw_material(library.load(name)).axes) == 4


def test_mistakes_are_plain() -> None:
    with pytest.raises(DataError, match=r"nearest: .*petg"):
        run("petgg")
    with pytest.raises(DataError, match=r"\.png or \.svg"):
        run("abs", "--plot", "abs.pdf")
    assert CliRunner().invoke(command, ["--plot", "x.png"]).exit_code == 2
    assert CliRunner().invoke(command, ["--kinetics", "uf_calibrated", "--plot", "x.png"]).exit_code == 2


def test_reading_a_record_loads_no_heavy_library() -> None:
    code = (
        "import sys; from thermokit.materials.library import load; from thermokit.kinetics.library import load as k;"
        "import thermokit.exchange.view_factors; load('abs'); k('pf_calibrated');"
        "print([m for m in ('scipy', 'matplotlib', 'h5py', 'click', 'fipy') if m in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
