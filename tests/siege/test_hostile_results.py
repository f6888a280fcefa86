"""Result files made to hurt whoever reads them: sizes that no memory holds, links to devices, wrong types, parts that are missing.

Every one is begun from (``start_from``) and shown, in a child process that may take 2 GB of addresses.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random
from typing import Any

import h5py
import numpy as np
import pytest

from validation.siege.judge import call
from validation.siege.seeds import FITTED, ROOT

from .test_memory_bounded import CHILD, MOST

WALL = FITTED.split("[fit]")[0]
LATER = 'start_from = "earlier.h5"\n' + WALL.replace('start = "20 degC"\n', "")
Change = Callable[[h5py.File], None]


def _instead(name: str, **made: Any) -> Change:
    """The dataset of that name made anew, its attributes kept."""

    def change(file: h5py.File) -> None:
        kept = dict(file[name].attrs) if name in file else {}
        if name in file:
            del file[name]
        new = file.create_dataset(name, **made)
        for key, value in kept.items():
            if key not in ("DIMENSION_LIST", "REFERENCE_LIST", "CLASS", "NAME"):
                new.attrs[key] = value

    return change


def _virtual(file: h5py.File) -> None:
    layout = h5py.VirtualLayout(shape=(3, 10), dtype="f8")
    layout[:] = h5py.VirtualSource("/dev/zero", "x", shape=(3, 10))
    del file["station_ends/temperature"]
    file["station_ends"].create_virtual_dataset("temperature", layout)


def _linked(link: Any) -> Change:
    def change(file: h5py.File) -> None:
        del file["depth_edge"]
        file["depth_edge"] = link

    return change


def _ring(file: h5py.File) -> None:
    file["station_ends/ring"] = file["station_ends"]


def _group_for_dataset(file: h5py.File) -> None:
    del file["depth_edge"]
    file.create_group("depth_edge")


def _dataset_for_group(file: h5py.File) -> None:
    del file["station_ends"]
    file["station_ends"] = np.arange(3.0)


def _attribute(where: str, name: str, value: Any) -> Change:
    def change(file: h5py.File) -> None:
        if value is None:
            del file[where].attrs[name]
        else:
            file[where].attrs[name] = value

    return change


#: what is done to a right file; each ends in one plain message
HURT: dict[str, Change] = {
    "8 TB declared": _instead("depth_edge", shape=(10**12,), dtype="f8", chunks=(1000,)),
    "1 GB declared in one row": _instead("station_ends/temperature", shape=(1, 125_000_001), dtype="f8", chunks=(1, 1000)),
    "a text of 1 GB": _instead("layers/name", shape=(1,), dtype="S1000000000", chunks=(1,)),
    "packed zeros": _instead("depth_edge", shape=(110_000_000,), dtype="f8", chunks=(10**6,), compression="gzip"),
    "data of a device": _instead("depth_edge", shape=(11,), dtype="f8", external=[("/dev/zero", 0, 88)]),
    "data of a pipe": _instead("depth_edge", shape=(11,), dtype="f8", external=[("pipe", 0, 88)]),
    "a virtual dataset": _virtual,
    "a link to another file": _linked(h5py.ExternalLink("/dev/zero", "x")),
    "a link to itself": _linked(h5py.SoftLink("/depth_edge")),
    "a group that holds itself": _ring,
    "a group for a dataset": _group_for_dataset,
    "a dataset for a group": _dataset_for_group,
    "texts for numbers": _instead("depth_edge", data=["x"] * 11),
    "no numbers at all": _instead("depth_edge", data=h5py.Empty("f8")),
    "one number for many": _instead("depth_edge", data=3.0),
    "no cells": _instead("depth_edge", data=np.zeros(0)),
    "cells that do not fit": _instead("depth_edge", data=np.linspace(0, 0.01, 5)),
    "cells in three dimensions": _instead("station_ends/temperature", data=np.full((1, 10, 2), 30.0)),
    "complex numbers": _instead("station_ends/temperature", data=np.full((1, 10), 30.0 + 1j)),
    "records": _instead("station_ends/temperature", data=np.zeros((1, 10), [("a", "f8"), ("b", "S3")])),
    "edges that go back": _instead("depth_edge", data=np.linspace(0.01, 0.0, 11)),
    "edges that are no numbers": _instead("depth_edge", data=np.full(11, np.nan)),
    "temperatures that are no numbers": _instead("station_ends/temperature", data=np.full((1, 10), np.nan)),
    "colder than nothing": _instead("station_ends/temperature", data=np.full((1, 10), -1e9)),
    "hotter than anything": _instead("station_ends/temperature", data=np.full((1, 10), 1e300)),
    "no layout": _attribute("/", "layout", None),
    "a layout that is a number": _attribute("/", "layout", 3.0),
    "an endless version": _attribute("/", "layout_version", np.inf),
    "a version in words": _attribute("/", "layout_version", "one"),
    "a list of versions": _attribute("/", "layout_version", [1, 2]),
    "no status": _attribute("/", "status", None),
    "an unknown shape": _attribute("/", "body_shape", "torus\x1b[31m"),
    "no shape": _attribute("/", "body_shape", None),
    "a radius that is no number": _attribute("/", "inner_radius_m", np.nan),
    "no provenance": lambda file: file.__delitem__("provenance"),
    "no station": lambda file: file.__delitem__("station_ends"),
}  # fmt: skip


def _files(right: bytes) -> Iterator[tuple[str, bytes]]:
    """What is no HDF5 any more."""
    yield "a text", b"title = 3\n" * 100
    yield "nothing", b""
    yield "the signature alone", right[:8]
    for share in (0.02, 0.3, 0.7, 0.999):
        yield f"{share:g} of it", right[: int(len(right) * share)]
    random = Random(3)
    for i in range(12):
        bytes_ = bytearray(right)
        for _ in range(random.choice((1, 10, 300))):
            bytes_[random.randrange(8, len(bytes_))] = random.randrange(256)
        yield f"bytes changed {i}", bytes(bytes_)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[tuple[int, str, float]]]:
    """What was done to the file -> (status, message, memory [MB]) of ``check`` of a case that begins from it and of ``show``."""
    folder = tmp_path_factory.mktemp("hostile")
    (folder / "earlier.toml").write_text(WALL, encoding="utf-8")
    assert call(("run", str(folder / "earlier.toml")), ("earlier.toml",)).status == 0
    right = (folder / "earlier.h5").read_bytes()
    made: dict[str, Path] = {}

    def place(name: str, content: bytes) -> Path:
        made[name] = folder / str(len(made))
        made[name].mkdir()
        (made[name] / "case.toml").write_text(LATER, encoding="utf-8")
        (made[name] / "earlier.h5").write_bytes(content)
        os.mkfifo(made[name] / "pipe")
        return made[name] / "earlier.h5"

    place("as it was", right)
    for name, change in HURT.items():
        path = place(name, right)
        with h5py.File(path, "r+") as file:
            change(file)
    for name, content in _files(right):
        place(name, content)
    calls = [words for at in made.values()
             for words in (["check", str(at / "case.toml")], ["show", str(at / "earlier.h5")])]  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", CHILD], input=json.dumps(calls), capture_output=True, text=True, timeout=300, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr
    answers = [tuple(one) for one in json.loads(done.stdout)]
    return {name: answers[2 * i : 2 * i + 2] for i, name in enumerate(made)}


def test_the_right_file_is_begun_from_and_shown(told: dict[str, Any]) -> None:
    assert [status for status, *_ in told["as it was"]] == [0, 0], told["as it was"]


@pytest.mark.parametrize("hurt", HURT)
def test_a_hostile_file_is_refused_or_read_in_little_memory(hurt: str, told: dict[str, Any]) -> None:
    for status, message, most in told[hurt]:
        assert "Traceback" not in message and most < MOST, message
        assert status == 0 or (status == 2 and "earlier.h5" in message), (status, message)
        assert all(c.isprintable() or c == "\n" for c in message)
    assert told[hurt][0][0] == 2 or told[hurt][1][0] == 2, told[hurt]


def test_what_is_no_result_is_refused(told: dict[str, Any]) -> None:
    names = [name for name in told if name not in HURT and name != "as it was"]
    assert len(names) == 19
    for name in names:
        for status, message, most in told[name]:
            changed = name.startswith("bytes changed")  # of a title, say: still a file that can be read
            assert status == 2 or (changed and status == 0), (name, status, message)
            assert most < MOST and (status == 0 or "earlier.h5" in message)


def test_memory_that_gives_out_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(WALL, encoding="utf-8")

    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr("thermokit.processes.run.settled", full)
    said = call(("run", str(tmp_path / "case.toml")), ("case.toml",))
    assert said.status == 1 and not said.finds
    assert re.fullmatch(r"not enough memory.*\n", said.err)
