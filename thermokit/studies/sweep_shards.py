"""The journal of a sweep: a folder beside its table with one small whole file for each chunk of rows that is finished.

A chunk is there or it is not (it is written under another name, forced to disk and renamed): whatever ends the command, the
next one goes on with what is missing. Only the driver writes here, and there is one at a time: it holds the folder's lock.
"""

from __future__ import annotations

import io
import json
import os
import zipfile
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import DataError
from thermokit.results.whole import write_whole
from thermokit.studies.answers import blank
from thermokit.studies.answers_plan import FINISHED

if TYPE_CHECKING:
    from pathlib import Path

    from thermokit.studies.answers_plan import Answers, Plan

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

MANIFEST = "sweep.json"


class Shards:
    """The folder of one table."""

    def __init__(self, table: Path):
        self.folder = table.with_name(table.name + ".parts")
        self._lock: int | None = None

    def begin(self, facts: dict[str, Any]) -> None:
        """Make the folder, or go on with the one of the same sweep.

        facts : what must be the same, ``identity`` first. Raises DataError where the folder belongs to another sweep, or
        another process is at it. Until :meth:`end` no other one can be.
        """
        names = {file.name for file in self.folder.iterdir()} if self.folder.is_dir() else set()
        # a driver that was killed over its first file has left the folder with that one unfinished
        if MANIFEST not in names and any(not name.startswith(f".{MANIFEST}.") for name in names):
            raise DataError(f"{self.folder} is there and is no folder of a sweep; give the table another name with -o")
        try:
            self.folder.mkdir(exist_ok=True)
        except OSError as wrong:
            raise DataError(f"cannot make the folder {self.folder}: {wrong.strerror}") from None
        self._alone()
        manifest = self.folder / MANIFEST
        if manifest.exists():
            try:
                held = json.loads(manifest.read_text(encoding="utf-8"))
            except (OSError, ValueError):
                raise DataError(f"{manifest} cannot be read; delete the folder {self.folder} to begin again") from None
            if held != facts:
                what = "another case (or its rows were changed)"
                if held.get("identity") == facts["identity"]:
                    what = "the same case on another machine or by other versions"
                raise DataError(
                    f"{self.folder} holds finished rows of {what}: they cannot be joined with these. Give the table "
                    "another name with -o, or delete that folder to begin again"
                )
            return
        write_whole(manifest, (json.dumps(facts, indent=1, sort_keys=True) + "\n").encode())

    def _alone(self) -> None:
        """Take the folder's lock, which ends with the process. Raises DataError where another process has it."""
        if fcntl is None:
            return
        with suppress(OSError):  # a folder on a disk without locks is as it was without them
            self._lock = os.open(self.folder, os.O_RDONLY)
            try:
                fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                self.end()
                raise DataError(
                    f"another process is at this sweep now ({self.folder}); wait for it, or give the table another name with -o"
                ) from None

    def end(self) -> None:
        """Leave the folder to other processes."""
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None

    def __del__(self) -> None:
        self.end()

    def present(self, count: int) -> set[int]:
        """Numbers of the chunks that are finished; unfinished files of a driver that was killed are taken away."""
        found = set()
        for file in self.folder.iterdir():
            if file.name.endswith(".part"):
                with suppress(OSError):
                    file.unlink()
            elif file.suffix == ".npz" and file.stem.isdecimal() and int(file.stem) < count:
                found.add(int(file.stem))
        return found

    def keep(self, number: int, found: Answers) -> None:
        """Write one chunk, whole. Raises DataError where the disk is full."""
        held: dict[str, Any] = {f"outcome_{i}": column for i, column in enumerate(found.outcomes.values())}
        held |= {f"words_{i}": column.astype(np.str_) for i, column in enumerate(found.words.values())}
        failed = np.flatnonzero(found.status != FINISHED)
        held |= {"margins": found.margins, "failed": failed, "reasons": found.status[failed].astype(np.str_)}
        target = io.BytesIO()
        np.savez(target, allow_pickle=False, **held)
        write_whole(self._file(number), target.getvalue())

    def read(self, number: int, plan: Plan, rows: int) -> Answers:
        """One chunk. Raises DataError where it cannot be read."""
        out = blank(plan, rows)
        try:
            with np.load(self._file(number), allow_pickle=False) as held:
                for i, column in enumerate(out.outcomes.values()):
                    column[:] = held[f"outcome_{i}"]
                for i, column in enumerate(out.words.values()):
                    column[:] = held[f"words_{i}"].astype(object)
                out.margins[:] = held["margins"]
                out.status[held["failed"]] = held["reasons"].astype(object)
        except (OSError, ValueError, KeyError, zipfile.BadZipFile):
            raise DataError(
                f"{self._file(number)} cannot be read; delete it, and the same command solves its rows again"
            ) from None
        return out

    def remove(self) -> None:
        """Take the folder away: its rows are in the table."""
        if not self.folder.is_dir():
            return
        with suppress(OSError):
            for file in sorted(self.folder.iterdir(), key=lambda f: f.name == MANIFEST):  # the manifest last
                if file.suffix in (".npz", ".part") or file.name == MANIFEST:
                    file.unlink()
            self.folder.rmdir()

    def _file(self, number: int) -> Path:
        return self.folder / f"{number:06d}.npz"
