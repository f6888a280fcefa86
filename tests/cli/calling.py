"""The command called as a user calls it, in this process through ``main`` or as a program of its own."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from thermokit.cli import main

ROOT = Path(__file__).parents[2]
CASES = ROOT / "cases"

WALL = """\
title = "Wall ± 1"
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
material = "stuff"
thickness = "10 mm"
cells = 20
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "heat"
duration = "60 s"
[stations.outer]
convection = { coefficient = "50 W/m2/K", air = "150 degC" }
[[output.probes]]
name = "core"
at = "5 mm"
[limits.core_temperature]
at_least = "40 degC"
"""
SOUGHT = WALL.replace('"60 s"', '{ find = ["5 s", "2000 s"] }')
CLOSED = SOUGHT + '[limits.outer_face_temperature]\nat_most = "50 degC"\n'


class Called(NamedTuple):
    """What a command left behind."""

    status: int
    out: str
    err: str


def call(capsys: pytest.CaptureFixture[str], *arguments: object) -> Called:
    """``thermokit arguments`` in this process."""
    capsys.readouterr()
    with pytest.raises(SystemExit) as leaving:
        main([str(a) for a in arguments])
    said = capsys.readouterr()
    assert "Traceback" not in said.err
    assert "\x1b" not in said.out + said.err, "no escape codes anywhere"
    return Called(int(leaving.value.code or 0), said.out, said.err)


def program(*arguments: object, **options: Any) -> subprocess.CompletedProcess[str]:
    """``thermokit arguments`` as a program; standard input is closed."""
    words = [sys.executable, "-m", "thermokit", *map(str, arguments)]
    return subprocess.run(
        words,
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=300,
        **options,
    )


def one_object(text: str) -> dict[str, Any]:
    """The one JSON object that standard output holds: nothing before or after it, no NaN in it."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in JSON")

    found, end = json.JSONDecoder(parse_constant=refuse).raw_decode(text)
    assert text[end:].strip() == ""
    assert isinstance(found, dict)
    _finite(found)
    return found


def _finite(value: Any) -> None:
    if isinstance(value, float):
        assert math.isfinite(value)
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        _finite(inner)
