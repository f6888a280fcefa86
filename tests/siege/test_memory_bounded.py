"""A case may ask for more than any machine holds: each such wish is refused in plain words, in little memory.

All of them run in one child process that may take 2 GB of addresses; what is refused must have needed a fraction of that.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from validation.siege.seeds import FITTED, ROOT, TEXTS

WALL = FITTED.split("[fit]")[0]
SHEET = (TEXTS / "sheet.toml").read_text(encoding="utf-8")
LAYER = '[[body.layers]]\nmaterial = "stuff"\nthickness = "1 mm"\n'
DAY = WALL.replace('"60 s"', '"1 day"')
WIDE = '{ from = "1 mm", to = "9 mm", count = 100000 }'
ADDRESSES = 2 * 2**30  # bytes
MOST = 500.0  # MB in use, of which about 100 are the libraries

#: what is asked for -> (case, command after the case, words of the refusal)
ASKED: dict[str, tuple[str, tuple[str, ...], str]] = {
    "rows every millisecond for a day": (DAY.replace('"10 s"', '"1 ms"'), ("run",), "up to 1000000 rows"),
    "a million layers": (WALL.replace("[materials.stuff]", LAYER * 60_000 + "[materials.stuff]"), ("check",), "from 1 to 1000"),
    "a million cells": (WALL.replace("cells = 10", "cells = 1000000"), ("run",), "up to 20000|from 1 to 20000"),
    "ten thousand million rows of a grid": (
        WALL + f'[sweep.inputs]\n"body.layers.0.thickness" = {WIDE}\n"body.start" = {WIDE.replace("mm", "degC")}\n',
        ("sweep", "--workers", "1"), "up to 2000000 rows",
    ),
    "a million million rows of draws": (
        WALL + '[sweep]\nplan = "sobol"\nrows = 1000000000000\n[sweep.inputs]\n"body.layers.0.thickness" = '
        + WIDE.replace(", count = 100000", "") + "\n",
        ("sweep", "--workers", "1"), "up to 2000000 rows",
    ),
    "a thousand million parts": (WALL, ("tolerance", "--draws", "1000000000"), "1048576"),
    "a map of 100 000 each way": (
        WALL, ("window", "--across", "body.layers.0.thickness=5mm..15mm", "--up", "body.start=10degC..30degC", "--points",
               "100000"), "400",
    ),
    "a chart of 100 000 points": (
        WALL, ("chart", "--against", "body.layers.0.thickness=5mm..15mm", "--points", "100000"), "50",
    ),
    "100 000 spots each way": (SHEET.replace("[sheet]", "[sheet]\nspots = [100000, 100000]", 1), ("run",), "from 1 to 200"),
    "100 000 zones each way": (
        SHEET.replace("[stations.upper]", "[stations.upper]\nrows = 100000\ncolumns = 100000", 1), ("run",), "from 1 to 100",
    ),
    "nine digits of shots": (SHEET + "\n[shots]\ncount = 999999999\n", ("run",), "mistake"),
    "20 million cells": (
        WALL.replace("[materials.stuff]", (LAYER + "cells = 20000\n") * 999
                     + "[materials.stuff]"), ("run",), "up to 200000 cells",
    ),
    "a million rows of 2000 cells": (
        DAY.replace('"10 s"', '"0.1 s"').replace("cells = 10", "cells = 2000"), ("run",), "up to 20000000 temperatures",
    ),
    "5 MB of case": (WALL + "# " + "x" * 5_000_000, ("check",), "up to 4 MB"),
}  # fmt: skip

CHILD = """
import contextlib, io, json, resource, sys, traceback
resource.setrlimit(resource.RLIMIT_AS, (%d, %d))
from thermokit.cli import main
def held():  # MB at most: not ru_maxrss, which a child inherits from the process that started it
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM")) / 1024.0
told = []
for words in json.load(sys.stdin):
    out, err = io.StringIO(), io.StringIO()
    status = None
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main(words)
    except SystemExit as left:
        status = left.code
    except BaseException:
        err.write(traceback.format_exc())
    told.append([status, err.getvalue()[-2000:], held()])
json.dump(told, sys.stdout)
""" % (ADDRESSES, ADDRESSES)  # noqa: UP031 -- the program holds braces


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Wish -> (status, message, most memory until then [MB])."""
    folder = tmp_path_factory.mktemp("asked")
    calls = []
    for i, (case, words, _) in enumerate(ASKED.values()):
        file = folder / f"case_{i}.toml"
        file.write_text(case, encoding="utf-8")
        calls.append([words[0], str(file), *words[1:]])
    done = subprocess.run(
        [sys.executable, "-c", CHILD], input=json.dumps(calls), capture_output=True, text=True, timeout=900, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr
    return dict(zip(ASKED, json.loads(done.stdout), strict=True))


@pytest.mark.parametrize("wish", ASKED)
def test_what_no_machine_holds_is_refused(wish: str, told: dict[str, Any]) -> None:
    status, message, most = told[wish]
    assert status == 2, message
    assert re.search(ASKED[wish][2], message), message
    assert "Traceback" not in message and most < MOST


def test_the_limit_on_memory_works() -> None:
    """The child's limit is real: what asks for more gets MemoryError."""
    program = CHILD.split("from thermokit")[0] + "bytearray(3 * 2**30)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, input="")
    assert done.returncode == 1 and "MemoryError" in done.stderr


def test_a_run_of_the_finest_mesh_stays_small(tmp_path: Path) -> None:
    """20 000 cells, the most that a layer may have, are solved in the child's memory."""
    file = tmp_path / "case.toml"
    file.write_text(WALL.replace("cells = 10", "cells = 20000"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", CHILD], input=json.dumps([["run", str(file)]]), capture_output=True, text=True,
        timeout=900, cwd=ROOT,
    )  # fmt: skip
    (status, message, most) = json.loads(done.stdout)[0]
    assert status == 0 and most < MOST, message


#: the most that may be asked for; each must be answered in the memory of the child
MOST_ASKED = {
    "a map of 400 each way": (
        "window", "--across", "body.layers.0.thickness=5mm..15mm", "--up", "body.start=10degC..30degC", "--points", "400",
    ),
    "2^20 parts": ("tolerance", "--draws", "1048576"),
}  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("wish", MOST_ASKED)
def test_the_most_that_may_be_asked_for_stays_within_two_gigabytes(wish: str, tmp_path: Path) -> None:
    """160 000 settings of a map, a million parts drawn."""
    file = tmp_path / "case.toml"
    file.write_text(WALL.replace("cells = 10", "cells = 4").replace('"10 s"', '"60 s"'), encoding="utf-8")
    words = MOST_ASKED[wish]
    done = subprocess.run(
        [sys.executable, "-c", CHILD], input=json.dumps([[words[0], str(file), *words[1:]]]), capture_output=True, text=True,
        timeout=3600, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (status, message, most) = json.loads(done.stdout)[0]
    assert status in (0, 1) and "memory" not in message, message
    assert most < ADDRESSES / 2**20
