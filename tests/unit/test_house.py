"""The rules of the house, read off the source: arrows between rooms, light imports, short files, docstrings, no addresses."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "thermokit"

#: rooms from the ground up; one may import from those before it and from itself, those of one row not from each other
ROWS = (
    ("errors", "units"),
    ("materials", "logs"),
    ("kinetics", "exchange", "shaping"),
    ("conduction",),
    ("case",),
    ("stations",),
    ("processes",),
    ("results",),
    ("studies",),
    ("figures",),
    ("sheets",),
    ("cli",),
    ("__main__",),
)
HEIGHT = {room: height for height, row in enumerate(ROWS) for room in row}
#: what a result is made of stands as low as the processes that make it
LOW = {"results.model": HEIGHT["processes"]}
HEAVY = ("scipy", "h5py", "matplotlib", "fipy", "xarray", "pandas", "sksundae", "multiprocessing")
PHYSICS = ("materials", "kinetics", "exchange", "shaping", "conduction", "stations", "processes")
MOST_LINES = 500

FILES = sorted(p for p in PACKAGE.rglob("*.py"))


def module(file: Path) -> str:
    """``case.body`` of thermokit/case/body.py; a room's own __init__ is the room."""
    parts = list(file.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def height(name: str) -> int:
    """How high a module of thermokit stands (``name`` without ``thermokit.``)."""
    for low, at in LOW.items():
        if name == low or name.startswith(low + "."):
            return at
    return HEIGHT[name.split(".")[0]]


def tree(file: Path) -> ast.Module:
    return ast.parse(file.read_text(encoding="utf-8"), str(file))


def imports(node: ast.AST) -> Iterator[tuple[int, str]]:
    """(line, what is imported) anywhere under a node; ``from a.b import c`` gives a.b.c."""
    for item in ast.walk(node):
        if isinstance(item, ast.Import):
            yield from ((item.lineno, alias.name) for alias in item.names)
        elif isinstance(item, ast.ImportFrom):
            assert item.level == 0, f"line {item.lineno}: imports name the whole path"
            yield from ((item.lineno, f"{item.module}.{alias.name}") for alias in item.names)


def at_top(body: list[ast.stmt]) -> Iterator[ast.stmt]:
    """Statements that run when the module is imported, without ``if TYPE_CHECKING``."""
    for item in body:
        if isinstance(item, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        if isinstance(item, ast.If) and ast.unparse(item.test) in ("TYPE_CHECKING", "typing.TYPE_CHECKING"):
            yield from at_top(item.orelse)
        elif isinstance(item, ast.ClassDef):
            yield from at_top(item.body)
        elif isinstance(item, ast.If | ast.Try | ast.With):
            for part in ("body", "orelse", "finalbody"):
                yield from at_top(getattr(item, part, []))
        else:
            yield item


def test_every_room_has_its_place() -> None:
    rooms = {p.name for p in PACKAGE.iterdir() if p.is_dir() and any(p.glob("*.py"))}
    rooms |= {p.stem for p in PACKAGE.glob("*.py")} - {"__init__"}
    assert rooms <= set(HEIGHT), f"no place for {rooms - set(HEIGHT)}: add it to ROWS"


@pytest.mark.parametrize("file", FILES, ids=module)
def test_imports_run_downwards(file: Path) -> None:
    here = module(file)
    if not here:
        # the public face names its modules as words and imports none
        assert not [name for _, name in imports(tree(file)) if name.startswith("thermokit")]
        return
    for line, name in imports(tree(file)):
        if not name.startswith("thermokit."):
            continue
        there = name.removeprefix("thermokit.")
        if there.split(".")[0] not in HEIGHT:
            assert there == "__version__", f"line {line}: import from the room, not from the public face: {name}"
            continue
        room_here, room_there = here.split(".")[0], there.split(".")[0]
        if room_here == room_there:
            continue
        assert height(there) < height(here) or there in LOW or any(there.startswith(low + ".") for low in LOW), (
            f"line {line}: {here} may not import {there}: arrows run downwards"
        )
        assert height(there) <= height(here), f"line {line}: {here} may not import {there}: arrows run downwards"


def test_a_backward_import_is_seen() -> None:
    """The checker itself: it would see what it is there to see."""
    assert height("case.body") > height("conduction.problem") > height("kinetics.rates") > height("materials.library")
    assert height("results.write") > height("processes.run") == height("results.model")
    code = ast.parse(
        "def f():\n    from thermokit.cli.run import command\nif TYPE_CHECKING:\n    import scipy\nelse:\n    import h5py"
    )
    assert {name for _, name in imports(code)} == {"scipy", "h5py", "thermokit.cli.run.command"}
    top = [name for item in at_top(code.body) for _, name in imports(item)]
    assert top == ["h5py"]


@pytest.mark.parametrize("file", FILES, ids=module)
def test_nothing_heavy_is_imported_at_the_top(file: Path) -> None:
    code = tree(file)
    for item in at_top(code.body):
        for line, name in imports(item):
            first = name.split(".")[0]
            assert first not in HEAVY, f"line {line}: import {first} inside the function that needs it"
            assert first != "click" or module(file).split(".")[0] == "cli", f"line {line}: click belongs to cli"
    room = module(file).split(".")[0]
    for line, name in imports(code):
        assert not name.startswith("scipy.stats") or name == "scipy.stats.qmc" or room == "studies", (
            f"line {line}: scipy.stats takes more than a second"
        )
        if room in PHYSICS:
            assert name.split(".")[0] not in ("click", "matplotlib", "h5py"), (
                f"line {line}: physics draws and writes nothing"
            )


@pytest.mark.parametrize("file", FILES, ids=module)
def test_files_are_short(file: Path) -> None:
    lines = len(file.read_text(encoding="utf-8").splitlines())
    assert lines <= MOST_LINES, f"{lines} lines: look for the two ideas in it"


def public(body: list[ast.stmt], prefix: str = "") -> Iterator[tuple[str, ast.AST]]:
    """Public functions and classes, and public methods of public classes."""
    for item in body:
        if not isinstance(item, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) or item.name.startswith("_"):
            continue
        yield f"{prefix}{item.name}", item
        if isinstance(item, ast.ClassDef):
            yield from public(item.body, f"{prefix}{item.name}.")


@pytest.mark.parametrize("file", FILES, ids=module)
def test_what_is_public_says_what_it_answers(file: Path) -> None:
    code = tree(file)
    assert ast.get_docstring(code), "the module says nothing about itself"
    documented_elsewhere = "D102" in file.read_text(encoding="utf-8")  # methods of one kind, documented once
    silent = [
        name for name, item in public(code.body)
        if not ast.get_docstring(item) and not (documented_elsewhere and "." in name)  # type: ignore[arg-type]
    ]  # fmt: skip
    assert silent == []


@pytest.mark.parametrize("file", FILES, ids=module)
def test_nothing_is_read_from_the_surroundings_at_import(file: Path) -> None:
    for item in at_top(tree(file).body):
        if isinstance(item, ast.Import | ast.ImportFrom) or (
            isinstance(item, ast.Expr) and isinstance(item.value, ast.Constant)
        ):
            continue  # imports and docstrings
        words = ast.unparse(item)
        for word in ("sys.argv", "os.environ", "getenv", "open(", "datetime.now", "time.time("):
            assert word not in words, f"line {item.lineno}: {word} at import"


def shipped() -> Iterator[Path]:
    """Every text file of the project."""
    for folder in ("thermokit", "tests", "validation", "cases", ".ci"):
        yield from (p for p in (ROOT / folder).rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    yield from (p for p in ROOT.iterdir() if p.is_file() and p.suffix in (".md", ".toml", ".txt"))


#: places of one machine, and addresses from which packages come; written apart so that this file does not hold them
ELSEWHERE = re.compile(
    "|".join(("/" + "work/", "/" + "tmp/", r"\.\./" + "shared", "/" + "home/", "py" + r"pi\.org", "index" + "-url"))
)


def test_the_project_stands_alone() -> None:
    """No path of somebody's machine and no address of a package registry stands in it."""
    found = []
    for file in shipped():
        try:
            text = file.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue  # a picture
        found += [f"{file.relative_to(ROOT)}: {hit.group()}" for hit in ELSEWHERE.finditer(text)]
    assert found == []


def test_nothing_unfinished_is_marked() -> None:
    marks = re.compile(r"\b(" + "|".join(("TO" + "DO", "FIX" + "ME", "X" + "XX")) + r")\b")
    found = [
        f"{p.relative_to(ROOT)}: {hit.group()}" for p in FILES for hit in marks.finditer(p.read_text(encoding="utf-8"))
    ]
    assert found == []


def loaded_by(code: str) -> set[str]:
    """Top names of all modules that a statement loads, in an interpreter of its own."""
    line = f"import sys; {code}; print(*sorted({{m.split('.')[0] for m in sys.modules}}))"
    out = subprocess.run([sys.executable, "-c", line], capture_output=True, text=True, check=True, cwd=ROOT).stdout
    return set(out.split())


def test_importing_is_light() -> None:
    assert "numpy" not in loaded_by("import thermokit, thermokit.cli")
    heavy = set(HEAVY)
    for room in ("case", "conduction.single", "processes.run", "results.model", "studies.dwell", "materials.library"):
        assert not loaded_by(f"import thermokit.{room}") & heavy, room
