"""What stands in a folder after a kill, judged: every file under its final name must be whole, the earlier one or the new one."""

from __future__ import annotations

import csv
import io
import json
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np


def left_over(folder: Path) -> list[Path]:
    """Unfinished files, which are told by their names: hidden, ending in ``.part``."""
    return [path for path in sorted(folder.rglob("*")) if path.name.startswith(".") and path.name.endswith(".part")]


def broken(path: Path) -> str:
    """What is not whole about a file, by its kind; nothing where it is whole."""
    try:
        return _BY_SUFFIX[path.suffix](path)
    except Exception as wrong:  # whatever a reader makes of half a file
        return f"{type(wrong).__name__}: {wrong}"[:300]


def _until_then(path: Path) -> bool:
    """Whether a file is the result of a run that Ctrl-C ended."""
    import thermokit

    return path.suffix == ".h5" and bool(thermokit.load_result(path).status == "interrupted")


def _hdf(path: Path) -> str:
    import h5py

    import thermokit
    from thermokit.results.sweep_table import is_table, read_table

    read: list[str] = []
    with h5py.File(path, "r") as file:

        def visit(name: str, item: object) -> None:
            if isinstance(item, h5py.Dataset):
                np.asarray(item[()])
                read.append(name)

        file.visititems(visit)
    if is_table(path):
        read_table(path)
    else:
        thermokit.load_result(path)
    return "" if read else "no dataset"


def _csv(path: Path) -> str:
    text = path.read_bytes().decode()
    rows = [row for row in csv.reader(io.StringIO(text)) if row and not row[0].startswith("#")]
    if not text.endswith("\n"):
        return "the last line is not whole"
    return "" if len({len(row) for row in rows}) == 1 and len(rows) > 1 else "lines of different lengths"


def _png(path: Path) -> str:
    from PIL import Image

    with Image.open(path) as picture:
        picture.load()
    return "" if path.read_bytes().endswith(b"IEND\xaeB`\x82") else "no end"


def _ends(word: bytes) -> Callable[[Path], str]:
    return lambda path: "" if path.read_bytes().rstrip().endswith(word) else f"does not end in {word!r}"


def _toml(path: Path) -> str:
    text = path.read_bytes().decode()
    tomllib.loads(text)
    return "" if text.endswith("\n") else "the last line is not whole"


def _npz(path: Path) -> str:
    with np.load(path, allow_pickle=False) as held:
        return "" if [held[name] for name in held.files] else "nothing in it"


def _json(path: Path) -> str:
    json.loads(path.read_bytes())
    return ""


_BY_SUFFIX: dict[str, Callable[[Path], str]] = {
    ".h5": _hdf, ".csv": _csv, ".png": _png, ".pdf": _ends(b"%%EOF"), ".html": _ends(b"</html>"), ".toml": _toml,
    ".npz": _npz, ".json": _json, ".vtk": lambda p: "" if p.read_bytes().startswith(b"# vtk") else "no heading",
    ".md": lambda p: "" if p.read_bytes().endswith(b"\n") else "the last line is not whole",
}  # fmt: skip


def faults(
    folder: Path, known: dict[str, bytes], allowed: dict[str, tuple[bytes | None, ...]], interrupted: bool
) -> Iterator[str]:
    """What is wrong in a folder.

    known : files that must be as they were; allowed : what each written name may hold, None for no file; interrupted : a
    result of a run that Ctrl-C ended may stand there too.
    """
    hidden = left_over(folder)
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_dir() or path in hidden:
            continue
        if name in known:
            if path.read_bytes() != known[name]:
                yield f"{name} was changed"
        elif name in allowed or ".parts/" in name:
            data = path.read_bytes()
            if (wrong := broken(path)) and data not in allowed.get(name, ()):
                yield f"{name} is not whole: {wrong}"
            elif name in allowed and data not in allowed[name] and not (interrupted and _until_then(path)):
                yield f"{name} is neither the earlier nor the new one"
        else:
            yield f"{name} was left"
    for name, contents in allowed.items():
        if None not in contents and not (folder / name).exists():
            yield f"{name} is gone"
    if len(hidden) > 1:
        yield f"more than one unfinished file: {[path.name for path in hidden]}"
