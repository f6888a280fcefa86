"""How many generated cases each property has been given: counted while the profile ``siege`` is on, added up over sessions."""

from __future__ import annotations

import datetime
import fcntl
import functools
import json
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from validation.siege import book

FILE = Path(__file__).parent / "measured" / "properties.json"
COUNTS: Counter[str] = Counter()  # of this session: "module test" -> cases that ran to the end of the test


def counted(test: Callable[..., Any]) -> Callable[..., Any]:
    """A test of hypothesis whose cases are counted as they end; those that its assumptions refuse are not."""
    inner = test.hypothesis.inner_test  # type: ignore[attr-defined]  # where hypothesis lets plug-ins wrap a test
    name = f"{test.__module__.rpartition('.')[2].removeprefix('test_')} {test.__name__.removeprefix('test_')}"

    @functools.wraps(inner)
    def run(*args: Any, **values: Any) -> None:
        inner(*args, **values)
        COUNTS[name] += 1

    test.hypothesis.inner_test = run  # type: ignore[attr-defined]
    return test


def keep(file: Path = FILE) -> None:
    """Add what this session has counted to the file; several processes may end at once."""
    if not COUNTS:
        return
    import hypothesis

    file.parent.mkdir(exist_ok=True)
    with file.open("a+", encoding="utf-8") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        handle.seek(0)
        held = json.loads(handle.read() or "{}")
        told = {
            "date": datetime.datetime.now(datetime.UTC).date().isoformat(),
            "versions": {"python": sys.version.split()[0], "hypothesis": hypothesis.__version__},
            "cases": dict(sorted((Counter(held.get("cases", {})) + COUNTS).items())),
        }
        handle.truncate(0)
        handle.write(json.dumps(told, indent=1) + "\n")
    if file == FILE:
        book.write()
    COUNTS.clear()
