"""The same as ``test_nothing_escapes`` for cases with a plan, a drawing, regions or rolls: zones, methods, sensitivity.

The examples are given hostile words wherever a word of the user's own may stand.
"""

from __future__ import annotations

import os
import shutil
import tomllib
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import pytest

from validation.siege.judge import Said, call
from validation.siege.mutate_tables import text_of
from validation.siege.seeds import CASES

from .test_nothing_escapes import CASE, JOB, TITLE, _assert_no_formula
from .watching import MARK, watched

#: what is put before a name: a formula, a command, a tag, mathematics; before a station's and a material's a path too
WORDS = (f"=cmd|'{MARK}'", f"$(touch {MARK})", f"@SUM({MARK})<b>", f"$x%s{{{MARK}}}")
PATH = f"/../{MARK}.py"
CHOSEN = ("kind", "process", "tooling", "product")  # keys whose values are not the user's own words
CASES_OF = {
    "sheet": "how_to_set_the_zones_of_an_oven_with_a_dead_zone",
    "formed": "how_long_to_cool_a_vacuum_formed_seed_tray",
    "mould": "how_evenly_does_a_drawn_dish_cool",
    "section": "how_even_is_the_face_of_a_platen_with_four_heater_bores",
    "line": "how_cold_does_a_calendered_sheet_reach_its_wind_up",
}


def hostile(raw: dict[str, Any]) -> dict[str, Any]:
    """A case with hostile words for title, job and every name that it gives, also where the name is said again."""
    names: dict[str, str] = {}

    def find(entry: Any, room: str = "") -> None:
        for key, inner in entry.items():
            if room in ("materials", "tools") or (key == "name" and isinstance(inner, str)):
                name = key if room in ("materials", "tools") else inner
                names[name] = (
                    WORDS[len(names) % len(WORDS)] + (PATH if room in ("materials", "stations") else "") + name
                )
            for one in inner if isinstance(inner, list) else [inner]:
                if isinstance(one, dict):
                    find(one, key)

    def change(entry: Any, key: str = "") -> Any:
        if isinstance(entry, dict):
            return {_said(name, names): change(inner, name) for name, inner in entry.items()}
        if isinstance(entry, list):
            return [change(inner, key) for inner in entry]
        return names.get(entry, entry) if isinstance(entry, str) and key not in CHOSEN else entry

    find(raw)
    out: dict[str, Any] = change(raw)
    out["title"] = TITLE
    out["job"] = {"number": JOB, "part": JOB, "grade": "=1+1"}
    return out


def _said(key: str, names: dict[str, str]) -> str:
    """A key that is a name, or a name with what a limit is of."""
    if key.endswith("_temperature") and key.removesuffix("_temperature") in names:
        return names[key.removesuffix("_temperature")] + "_temperature"
    return names.get(key, key)


@pytest.fixture(scope="module")
def works(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the hostile cases, one to stand in and one for the output."""
    folder = tmp_path_factory.mktemp("kinds")
    for kind, name in CASES_OF.items():
        raw = tomllib.loads((CASES / f"{name}.toml").read_text(encoding="utf-8"))
        if kind == "mould":  # the drawing's layers are called so: only the file's name may be anything
            raw |= {"title": TITLE, "job": {"number": JOB}, "drawing": f"$(touch {MARK}).dxf"}
            shutil.copy(CASES / f"{name}.dxf", folder / f"$(touch {MARK}).dxf")
        else:
            raw = hostile(raw)
        if kind == "sheet":
            raw["sheet"]["spots"] = [3, 2]
            raw["stations"][0]["upper"]["temperature"] = [["410 degC"] * 3] * 2
            raw["stations"][0]["upper"]["dead"] = [[2, 2]]
            raw["stations"][0]["lower"] |= {"rows": 2, "columns": 3}
            raw["limits"]["map_spread"] = "40 K"
        if kind == "section":
            raw["accuracy"]["temperature"] = "2 K"
        (folder / f"{kind}.toml").write_text(text_of(raw), encoding="utf-8")
    (folder / "body.toml").write_text(CASE, encoding="utf-8")
    for below in ("out", "empty"):
        (folder / below).mkdir()
    warm = tuple(str(folder / name) for name in ("body.toml", "warm.h5", "warm.svg"))
    # everything is imported once, and the fonts are found, before anyone watches
    assert call(("run", warm[0], "-o", warm[1]), ("body.toml",)).status == 0
    assert call(("plot", warm[1], "-o", warm[2]), ("body.toml",)).status == 0
    return folder


def thermokit(works: Path, monkeypatch: pytest.MonkeyPatch, *words: str) -> Said:
    """The command, watched; only the folder ``out`` may be written to, and nothing there is named by the case."""
    monkeypatch.chdir(works / "empty")
    outside = {path for path in works.rglob("*") if not path.is_relative_to(works / "out")}
    with watched() as seen:
        said = call(words, tuple(f"{kind}.toml" for kind in (*CASES_OF, "body")))
    assert not said.finds, said.finds
    assert said.status in (0, 1), said.err
    assert not seen.ran
    strays = [path for path in seen.written if not Path(os.path.realpath(path)).is_relative_to(works / "out")]
    assert not [path for path in strays if path != os.devnull]
    assert {path for path in works.rglob("*") if not path.is_relative_to(works / "out")} == outside
    assert MARK not in "".join(path.name for path in (works / "out").rglob("*"))
    for path in (works / "out").glob("*.svg"):
        tags = {element.tag.rpartition("}")[2] for element in ElementTree.parse(path).iter()}
        assert not tags & {"script", "img", "foreignObject", "a", "b"}
    assert (said.out + said.err).strip()
    return said


def test_the_cases_are_hostile(works: Path) -> None:
    for kind in CASES_OF:
        assert (works / f"{kind}.toml").read_text(encoding="utf-8").count(MARK) > 3
    raw = tomllib.loads((works / "section.toml").read_text(encoding="utf-8"))
    assert all(MARK in face for face in raw["stations"][0]["faces"])


@pytest.mark.parametrize(
    "words",
    [
        *(("check", f"{{{kind}}}", *more) for kind in CASES_OF for more in ((), ("--json",))),
        ("zones", "{sheet}", "-o", "{out}/z.toml", "--result", "{out}/z.h5"),
        pytest.param(("zones", "{sheet}", "--json"), marks=pytest.mark.long),
        ("methods", "{formed}", "--method", "vacuum_male", "-o", "{out}/m.toml"),
        pytest.param(("methods", "{formed}"), marks=pytest.mark.long),
        pytest.param(("methods", "{formed}", "--json"), marks=pytest.mark.long),
        ("sensitivity", "{body}", "--rows", "8", "-o", "{out}/s.svg"),
        ("sensitivity", "{body}", "--rows", "8", "--json"),
        pytest.param(("run", "{mould}", "-o", "{out}/d.h5"), marks=pytest.mark.long),
    ],
    ids=lambda words: "_".join(w.strip("-{}") for w in words if "/" not in w)[:40],
)
def test_nothing_is_run_or_written_elsewhere(
    words: tuple[str, ...], works: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = {kind: str(works / f"{kind}.toml") for kind in (*CASES_OF, "body")} | {"out": str(works / "out")}
    thermokit(works, monkeypatch, *(word.format(**names) for word in words))


@pytest.mark.parametrize("kind", ["sheet", "section", pytest.param("line", marks=pytest.mark.long)])
def test_results_of_every_kind_carry_nothing_on(kind: str, works: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Run, shown as words, JSON and a table, drawn in every way, and put on a sheet for the shop."""
    result, out = str(works / "out" / f"{kind}.h5"), works / "out"
    thermokit(works, monkeypatch, "run", str(works / f"{kind}.toml"), "-o", result)
    thermokit(works, monkeypatch, "show", result)
    thermokit(works, monkeypatch, "show", result, "--json")
    table = thermokit(works, monkeypatch, "show", result, "--csv", "-").out
    if MARK in table:
        _assert_no_formula(table)
    thermokit(works, monkeypatch, "plot", result, "-o", str(out / f"{kind}.svg"))
    thermokit(works, monkeypatch, "setting", result, "-o", str(out / f"{kind}.html"))
    assert "<script" not in (out / f"{kind}.html").read_text(encoding="utf-8").lower()
