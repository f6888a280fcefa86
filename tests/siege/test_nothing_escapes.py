"""Hostile cases and logs through every command: nothing is run, nothing is written but the output, no output carries the attack on.

What Python does is watched by an audit hook: files opened for writing, folders, renames, processes, sockets, imports, compiling.
"""

from __future__ import annotations

import csv
import io
import os
import re
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import h5py
import pytest

from validation.siege.judge import Said, call

from .watching import MARK, text, watched

#: where a message of a mistake says which file it is about
TITLE = rf"../../{MARK} $(touch {MARK}) `{MARK}` {{{{7*7}}}} %s%n <script>{MARK}</script> $\frac{{1}}{{0}}$ ) Tj /JS ({MARK})"
STATION, LAYER, PROBE, STUFF = f"@SUM({MARK})/../x", f"=cmd|{MARK}'", f"=HYPERLINK({MARK})<b>$x%s", f"../../{MARK}.py"
JOB = f'<img src=x onerror="{MARK}()">&{{{{{MARK}}}}}'


CASE = f"""\
title = {text(TITLE)}
process = "body"
[job]
number = {text(JOB)}
part = {text(JOB)}
grade = {text("=1+1")}
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = {text(LAYER)}
material = {text(STUFF)}
thickness = "10 mm"
cells = 10
[materials.{text(STUFF)}]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = {text(STATION)}
duration = "60 s"
[stations.outer]
convection = {{ coefficient = "50 W/m2/K", air = "150 degC" }}
[output]
every = "20 s"
[[output.probes]]
name = {text(PROBE)}
at = "5 mm"
[limits.{text(PROBE + "_temperature")}]
at_least = "20.5 degC"
[limits.outer_face_temperature]
at_most = "110 degC"
[cost]
area = "0.1 m2"
[tolerances]
{text(f"body.layers.{LAYER}.thickness")} = "± 3 %"
"""
#: on the command line a path ends at the first =
BY_NUMBER, THICKNESS, COEFFICIENT = (
    "body.layers.0.thickness",
    f"body.layers.{LAYER}.thickness",
    f"stations.{STATION}.outer.convection.coefficient",
)
SOUGHT = CASE.replace('"60 s"', '{ find = ["5 s", "500 s"] }')
SWEPT = CASE + f'[sweep.inputs]\n{text(THICKNESS)} = ["8 mm", "9 mm"]\n'
FIT = f"""\
[fit]
log = "log.csv"
[fit.unknowns]
{text(COEFFICIENT)} = {{ from = "5 W/m2/K", to = "500 W/m2/K" }}
[[fit.channels]]
column = {text("=cmd()")}
at = {text(PROBE)}
"""
LOG = "time [s];=cmd() [degC];\x1b[31m<script> [degC]\r\n" + "".join(
    f"{t};{20 + 0.003 * t**1.8:.2f};21\r\n" for t in range(0, 60, 4)
)


def _dsc(step: float) -> str:
    """A calorimeter's run with a peak that stands later the faster it is heated; step : seconds between its rows."""
    peak = 60.0 - 10.0 * (step > 3.0)
    rows = "".join(f"{step * i};{40 + i};{2.4 / step / (1 + ((i - peak) / 12) ** 2):.5f};1\n" for i in range(120))
    return f"# \x1b[31m$(touch {MARK})\ntime [s];temperature [degC];heat flow [W/g];=cmd()\n{rows}"


@pytest.fixture(scope="module")
def works(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the hostile cases and files, an empty folder to stand in, and one for the output."""
    folder = tmp_path_factory.mktemp("works")
    for name, content in (("case", CASE), ("sought", SOUGHT), ("swept", SWEPT), ("fitted", CASE + FIT)):
        (folder / f"{name}.toml").write_text(content, encoding="utf-8")
    (folder / "log.csv").write_text(LOG, encoding="utf-8")
    (folder / "dsc.csv").write_text(_dsc(6.0), encoding="utf-8")
    (folder / "faster.csv").write_text(_dsc(2.0), encoding="utf-8")
    for below in ("out", "empty", "beside"):
        (folder / below).mkdir()
    # everything is imported once, and the fonts are found, before anyone watches
    for words in (
        ("run", "case.toml", "-o", "warm.h5"),
        ("plot", "warm.h5", "-o", "warm.png"),
        ("setting", "warm.h5", "-o", "warm.html"),
    ):
        assert not call(tuple(str(folder / w) if "." in w else w for w in words), ("case.toml",)).finds
    return folder


def thermokit(works: Path, monkeypatch: pytest.MonkeyPatch, *words: str, allowed: str = "out") -> Said:
    """The command, watched, with an empty folder as the present one; ``allowed`` : folder in which it may write."""
    monkeypatch.chdir(works / "empty")
    outside = {path for path in works.rglob("*") if not path.is_relative_to(works / allowed)}
    with watched() as seen:
        said = call(words, ("case.toml", "sought.toml", "swept.toml", "fitted.toml", "log.csv", "dsc.csv"))
    assert not said.finds, said.finds
    assert said.status in (0, 1), said.err
    assert not seen.ran
    strays = [path for path in seen.written if not Path(os.path.realpath(path)).is_relative_to(works / allowed)]
    assert not [path for path in strays if path != os.devnull]
    assert {path for path in works.rglob("*") if not path.is_relative_to(works / allowed)} == outside
    assert not list((works / "empty").iterdir())
    assert MARK not in "".join(path.name for path in (works / allowed).rglob("*"))
    return said


@pytest.fixture(scope="module")
def result(works: Path) -> Path:
    """The result of the hostile case."""
    assert call(("run", str(works / "case.toml"), "-o", str(works / "result.h5")), ("case.toml",)).status == 0
    return works / "result.h5"


def test_the_watch_sees_what_it_must(tmp_path: Path) -> None:
    """The hook itself: each of what it is to find is done once."""
    with watched() as seen:
        (tmp_path / "a").write_text("x")
        (tmp_path / "b").mkdir()
        (tmp_path / "a").rename(tmp_path / "c")
        os.close(os.open(tmp_path / "d", os.O_WRONLY | os.O_CREAT))
        exec(compile(f"{MARK} = 1", "case", "exec"), {})
        os.system("true")
    assert {Path(path).name for path in seen.written} >= {"a", "b", "c", "d"}
    assert any(line.startswith("compile") for line in seen.ran) and any("os.system" in line for line in seen.ran)


@pytest.mark.parametrize(
    "words",
    [
        ("check", "{case}"),
        ("check", "{case}", "--json"),
        ("check", "{case}", "--paths"),
        ("run", "{case}", "-o", "{out}/r.h5"),
        ("run", "{case}", "-o", "{out}/r.h5", "--json"),
        ("dwell", "{sought}", "-o", "{out}/d.h5"),
        ("dwell", "{sought}", "--json"),
        ("show", "{result}"),
        ("show", "{result}", "--json"),
        ("show", "{result}", "--vtk", "{out}/r.vtk"),
        ("why", "{case}"),
        ("tolerance", "{case}", "--draws", "8", "-o", "{out}/t.svg"),
        ("window", "{case}", "--across", "{thickness}=8mm..12mm", "--up", "{coefficient}=40W/m2/K..60W/m2/K", "--points", "5",
         "-o", "{out}/w.svg", "-o", "{out}/w.h5"),
        ("chart", "{sought}", "--against", "{thickness}=8mm..12mm", "--points", "3", "-o", "{out}/c.svg", "-o", "{out}/c.pdf"),
        ("fit", "{fitted}", "-o", "{out}/f.toml", "--plot", "{out}/f.svg"),
        ("fit", "{fitted}", "--json"),
        ("kinetics", "fit", "{dsc}", "{faster}", "--form", "nth_order", "-o", "{out}/k.toml", "--plot", "{out}/k.svg"),
        ("cost", "{case}"),
        ("bottleneck", "{case}"),
        ("compare", "{case}", "{case}"),
        ("scale", "{sought}"),
        ("setting", "{case}", "-o", "{out}/s.html", "--causes"),
        ("setting", "{result}", "-o", "{out}/s.pdf"),
    ],
    ids=lambda words: "_".join(w.strip("-{}") for w in words if "/" not in w and "=" not in w)[:40],
)  # fmt: skip
def test_nothing_is_run_or_written_elsewhere(
    words: tuple[str, ...], works: Path, result: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = {name: str(works / f"{name}.toml") for name in ("case", "sought", "fitted")}
    names |= {
        "dsc": str(works / "dsc.csv"),
        "faster": str(works / "faster.csv"),
        "out": str(works / "out"),
        "result": str(result),
    }
    names |= {"thickness": BY_NUMBER, "coefficient": COEFFICIENT}
    said = thermokit(works, monkeypatch, *(word.format(**names) for word in words))
    for path in (works / "out").glob("*.svg"):
        tags = {element.tag.rpartition("}")[2] for element in ElementTree.parse(path).iter()}
        assert not tags & {"script", "img", "foreignObject", "a", "b"}
        path.unlink()
    assert (said.out + said.err).strip()


def test_default_outputs_stand_beside_the_case(works: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    case = works / "beside" / "case.toml"
    case.write_text(CASE, encoding="utf-8")
    thermokit(works, monkeypatch, "run", str(case), allowed="beside")
    thermokit(works, monkeypatch, "plot", str(works / "beside" / "case.h5"), "--kind", "history", allowed="beside")
    thermokit(works, monkeypatch, "setting", str(works / "beside" / "case.h5"), allowed="beside")
    assert {path.name for path in (works / "beside").iterdir()} == {
        "case.toml", "case.h5", "case_history.png", "case.html"
    }  # fmt: skip


def test_a_sweep_writes_its_table_only(works: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = works / "out"
    thermokit(works, monkeypatch, "sweep", str(works / "swept.toml"), "-o", str(out / "t.h5"), "--workers", "1",
              "--csv", str(out / "t.csv"))  # fmt: skip
    assert {path.name for path in out.glob("t.*")} == {"t.h5", "t.csv"}
    _assert_no_formula((out / "t.csv").read_text(encoding="utf-8"))


def _assert_no_formula(table: str) -> None:
    rows = list(csv.reader(io.StringIO(table, newline="")))
    assert len(rows) > 1 and any(MARK in cell for row in rows for cell in row)
    for cell in (cell for row in rows for cell in row):
        assert not cell.startswith(("=", "@", "\t", "\r"))
        assert not cell.startswith(("+", "-")) or re.fullmatch(r"[+-][\d.]+(e[+-]?\d+)?", cell)


def test_no_cell_of_a_table_is_a_formula(works: Path, result: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _assert_no_formula(thermokit(works, monkeypatch, "show", str(result), "--csv", "-").out)


class _Tags(HTMLParser):
    """Tags, attributes and text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.names: set[str] = set()
        self.words = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.names |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        self.words += data


def test_the_sheet_shows_what_the_case_says_as_text(works: Path, result: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    thermokit(works, monkeypatch, "setting", str(result), "-o", str(works / "out" / "h.html"))
    page = _Tags()
    page.feed((works / "out" / "h.html").read_text(encoding="utf-8"))
    assert not page.tags & {"script", "img", "iframe", "object", "embed", "link", "base", "form", "a"}
    assert not {name for name in page.names if name.startswith("on") or name in ("src", "href", "action")}
    assert TITLE in page.words and JOB in page.words


def test_the_printed_sheet_keeps_text_in_its_brackets(
    works: Path, result: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In PDF a bracket in a text must be marked, or the text goes on as commands."""
    thermokit(works, monkeypatch, "setting", str(result), "-o", str(works / "out" / "p.pdf"))
    data = (works / "out" / "p.pdf").read_bytes()
    bare = re.sub(rb"\((?:\\.|[^\\()])*\)", b"", re.sub(rb"(?s)stream\r?\n.*?endstream", b"", data))
    assert not re.search(rb"/(JS|JavaScript|Launch|URI|OpenAction|AA|EmbeddedFile)\b", bare)
    for packed in re.findall(rb"(?s)stream\r?\n(.*?)\r?\nendstream", data):
        plain = _unpacked(packed)
        assert not re.search(rb"/JS\b", re.sub(rb"\((?:\\.|[^\\()])*\)", b"", plain))


def _unpacked(packed: bytes) -> bytes:
    import zlib

    try:
        return zlib.decompress(packed)
    except zlib.error:
        return packed


def test_names_with_strokes_make_no_groups(works: Path, result: Path) -> None:
    """The groups of a result are the same whatever the case's names are."""
    plain = CASE
    for hostile, name in ((STATION, "heat"), (LAYER, "wall"), (PROBE, "core"), (STUFF, "stuff"), (TITLE, "Wall")):
        plain = plain.replace(text(hostile), f'"{name}"').replace(hostile, name)
    file = works / "plain.toml"
    file.write_text(plain, encoding="utf-8")
    assert call(("run", str(file), "-o", str(works / "plain.h5")), ("plain.toml",)).status == 0
    assert _groups(result) == _groups(works / "plain.h5")
    file.unlink()
    (works / "plain.h5").unlink()


def _groups(file: Path) -> tuple[set[str], int]:
    groups: set[str] = set()
    datasets = []

    def visit(name: str, item: Any) -> None:
        groups.add(name) if isinstance(item, h5py.Group) else datasets.append(name)

    with h5py.File(file) as held:
        held.visititems(visit)
    return groups, len(datasets)


UNPRINTABLE = ["\x1b[31mred", "\x1b]0;title\x07", "a\nb", "a\rb", "\u202egnp", "\x9b31m", "\x00"]


@pytest.mark.parametrize("strange", UNPRINTABLE, ids=ascii)
@pytest.mark.parametrize("where", ["value", "key", "name", "word"])
def test_no_control_character_reaches_the_terminal(strange: str, where: str, tmp_path: Path) -> None:
    """Such a text is refused, and the message shows it as TOML writes it."""
    written = "".join(f"\\u{ord(c):04x}" if not c.isprintable() else c for c in strange)
    lines = {
        "value": CASE.replace(f"title = {text(TITLE)}", f'title = "{written}"'),
        "key": CASE + f'"{written}" = 1\n',
        "name": CASE.replace(text(PROBE), f'"{written}"', 1),
        "word": CASE.replace('shape = "plane"', f'shape = "{written}"'),
    }
    file = tmp_path / "case.toml"
    file.write_text(lines[where], encoding="utf-8")
    said = call(("check", str(file)), ("case.toml",))
    assert said.status == 2 and not said.finds
    assert written.lower() in said.err.lower()


def test_files_that_a_case_names_are_only_read(works: Path, result: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The earlier run, the log and the rows stay as they are, also where they are not what they should be."""
    out = works / "out"
    earlier = CASE.replace('start = "20 degC"\n', "").replace("process =", f'start_from = "{result.name}"\nprocess =')
    (works / "later.toml").write_text(earlier, encoding="utf-8")
    rows = CASE + '[sweep]\nplan = "file"\nfile = "rows.csv"\n'
    (works / "by_rows.toml").write_text(rows, encoding="utf-8")
    (works / "rows.csv").write_text(f'"{THICKNESS} [mm]"\n8\n9\n', encoding="utf-8")
    before = {path: path.read_bytes() for path in (result, works / "rows.csv", works / "log.csv")}
    for path in before:
        path.chmod(0o444)
    thermokit(works, monkeypatch, "run", str(works / "later.toml"), "-o", str(out / "later.h5"))
    thermokit(works, monkeypatch, "fit", str(works / "fitted.toml"))
    thermokit(works, monkeypatch, "sweep", str(works / "by_rows.toml"), "-o", str(out / "rows.h5"), "--workers", "1")
    assert {path: path.read_bytes() for path in before} == before


@pytest.mark.parametrize("name", ["/dev/zero", "pipe", "loop", "folder", "/proc/self/mem", "pickled.h5"])
@pytest.mark.parametrize("key", ["start_from", "log", "rows", "drawing"])
def test_names_that_are_no_files_are_refused(key: str, name: str, tmp_path: Path) -> None:
    """A device has no end, a pipe gives nothing, a pickle would run what it holds."""
    import pickle

    (tmp_path / "folder").mkdir()
    (tmp_path / "loop").symlink_to("loop")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "pickled.h5").write_bytes(pickle.dumps(_Bomb()))
    plain = CASE + FIT
    words: tuple[str, ...] = ("check",)
    if key == "start_from":
        plain = f'start_from = "{name}"\n' + plain
    elif key == "drawing":
        plain = (Path(__file__).parents[2] / "cases" / "how_evenly_does_a_drawn_dish_cool.toml").read_text(
            encoding="utf-8"
        )
        plain = re.sub(r'(?m)^drawing = ".*?"', f'drawing = "{name}"', plain)
        assert f'drawing = "{name}"' in plain
    elif key == "log":
        plain, words = plain.replace("log.csv", name), ("fit",)
    else:
        plain, words = plain + f'[sweep]\nplan = "file"\nfile = "{name}"\n', ("sweep",)
    file = tmp_path / "case.toml"
    file.write_text(plain, encoding="utf-8")
    with watched() as seen:
        said = call((*words, str(file)), ("case.toml", Path(name).name))
    assert said.status == 2 and not said.finds, (said.finds, said.err)
    assert not seen.written and not seen.ran
    assert not (tmp_path / "hurt").exists()


class _Bomb:
    """What unpickling it would run makes a file."""

    def __reduce__(self) -> tuple[Any, ...]:
        return os.system, ("touch hurt",)


def test_no_code_reads_what_could_run() -> None:
    """No module reads pickles, evaluates text or starts a shell."""
    forbidden = re.compile(
        r"\b(import (pickle|marshal|shelve|dill|yaml|joblib)|from (pickle|marshal|shelve|yaml) import|eval\(|exec\(|os\.system"
        r"|shell=True|allow_pickle=True|read_pickle|__import__\()"
    )
    root = Path(__file__).parents[2] / "thermokit"
    found = [
        f"{path.relative_to(root)}: {line.strip()}"
        for path in sorted(root.rglob("*.py"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if forbidden.search(line)
    ]
    assert not found
