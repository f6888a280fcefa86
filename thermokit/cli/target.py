"""Where a result goes: looked at before anything is computed, so that no long run ends in a name that is no good."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from thermokit.errors import DataError

if TYPE_CHECKING:
    from pathlib import Path


def check_target(target: Path, case_file: Path) -> None:
    """Raise DataError where a result cannot be written to ``target``, or would take the place of a case file."""
    if target.suffix.lower() == ".toml" or (target.exists() and case_file.exists() and target.samefile(case_file)):
        raise DataError(f"cannot write the result to {target}: that is the name of a case file; give -o RESULT.h5")
    if target.is_dir():
        raise DataError(f"cannot write {target}: that is a folder; give a file name")
    if not target.parent.is_dir():
        raise DataError(f"cannot write {target}: there is no such folder; make it first, or name another one")
    if not os.access(target.parent, os.W_OK):
        raise DataError(f"cannot write {target}: you may not write in that folder; name another one")
