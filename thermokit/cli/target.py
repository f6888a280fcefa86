"""Where a result goes: looked at before anything is computed, so that no long run ends in a name that is no good."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from thermokit.errors import DataError

if TYPE_CHECKING:
    from pathlib import Path


def check_target(target: Path, case_file: Path, start_from: str | None = None) -> None:
    """Raise DataError where a result cannot be written to ``target``, or would take the place of a case file.

    start_from : result that the case begins from, by its path from the case's folder: it must stay as it is.
    """
    if target.suffix.lower() == ".toml" or (target.exists() and case_file.exists() and target.samefile(case_file)):
        raise DataError(f"cannot write the result to {target}: that is the name of a case file; give -o RESULT.h5")
    earlier = case_file.parent / start_from if start_from is not None else None
    if earlier is not None and target.exists() and earlier.exists() and target.samefile(earlier):
        raise DataError(f"cannot write the result to {target}: the case begins from it; give -o with another name")
    _check_place(target)


def check_new_case(target: Path, case_file: Path) -> None:
    """Raise DataError where a new case cannot be written to ``target``, or would take the place of the one it comes from."""
    if target.exists() and case_file.exists() and target.samefile(case_file):
        raise DataError(f"cannot write {target}: that is the case itself; give another name")
    if target.suffix.lower() != ".toml":
        raise DataError(f"cannot write {target}: the name of a case ends in .toml; give -o NEW_CASE.toml")
    _check_place(target)


def _check_place(target: Path) -> None:
    """Raise DataError where no file of that name can be written."""
    if target.is_dir():
        raise DataError(f"cannot write {target}: that is a folder; give a file name")
    if target.exists() and not target.is_file():
        raise DataError(f"cannot write {target}: that is not an ordinary file; give a file name")
    if not target.parent.is_dir():
        raise DataError(f"cannot write {target}: there is no such folder; make it first, or name another one")
    if not os.access(target.parent, os.W_OK):
        raise DataError(f"cannot write {target}: you may not write in that folder; name another one")
