"""What an HDF5 file could do to its reader, beside being wrong, is refused before anything of it is read.

A link or a dataset may lead to another file (a device has no end, a pipe may never begin), and a few bytes may declare any
size: a fill value that stands for a thousand million numbers, zeros packed into nothing.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

SIGNATURE = b"\x89HDF\r\n\x1a\n"
MOST_OBJECTS = 100_000
MOST_BYTES = 800_000_000  # of one dataset: five times the temperatures that a run may keep
#: what h5py and the readers raise where a file is not what it says it is
BROKEN = (
    OSError, KeyError, ValueError, TypeError, RuntimeError, AttributeError, IndexError, ArithmeticError, MemoryError,
)  # fmt: skip


def content(path: Path) -> bytes | None:
    """The bytes of an HDF5 file, None where it is none: then no more of it is read than the signature."""
    with path.open("rb") as handle:
        if handle.read(len(SIGNATURE)) != SIGNATURE:
            return None
        handle.seek(0)
        return handle.read()


def refuse_traps(file: Any) -> None:
    """Raise ValueError where an open file leads to other files, or holds what no run writes or memory takes."""
    import h5py

    waiting, seen = [file], set()
    while waiting:
        group = waiting.pop()
        for name in group:
            if not isinstance(group.get(name, getlink=True), h5py.HardLink):
                raise ValueError(f"{name!r:.40} is a link to another place")
            item = group[name]
            place = h5py.h5o.get_info(item.id).addr
            if place in seen:
                continue
            seen.add(place)
            if len(seen) > MOST_OBJECTS:
                raise ValueError(f"it holds more than {MOST_OBJECTS} datasets and groups")
            if isinstance(item, h5py.Group):
                waiting.append(item)
            elif isinstance(item, h5py.Dataset):
                # a section keeps its temperatures once, and shows them again: sources in the file itself are called "."
                elsewhere = item.is_virtual and any(source.file_name != "." for source in item.virtual_sources())
                if elsewhere or item.external:
                    raise ValueError(f"{name!r:.40} holds the data of another file")
                if item.dtype.kind == "c":
                    raise ValueError(f"{name!r:.40} holds complex numbers")
                if (item.size or 0) * item.dtype.itemsize > MOST_BYTES:
                    raise ValueError(f"{name!r:.40} is larger than {MOST_BYTES // 1_000_000} MB")
