"""A file under its final name is always whole: kills, full disks, folders that cannot be written."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from exact_results import same, sheet_result

from thermokit.errors import DataError
from thermokit.results.read import read
from thermokit.results.whole import write_whole
from thermokit.results.write import write

WRITER = """
import sys
sys.path.insert(0, sys.argv[2])
from exact_results import sheet_result
from thermokit.results.write import image
from thermokit.results.whole import write_whole
content = image(sheet_result())
print("ready", flush=True)
while True:
    write_whole(sys.argv[1], content)
"""


def left_over(folder):
    return [p.name for p in folder.iterdir() if p.name.endswith(".part")]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_killed_writer_leaves_a_whole_file(tmp_path):
    path, here = tmp_path / "a.h5", Path(__file__).parent
    expected = sheet_result()
    write(expected, path)
    instants = np.random.default_rng(4).uniform(0.0, 0.02, 20)
    environment = os.environ | {"PYTHONPATH": str(here.parents[1])}
    for start in range(0, 20, 4):  # four writers in their own folders at a time: most of a turn is starting Python
        folders = [tmp_path / str(i) for i in range(start, start + 4)]
        writers = []
        for folder in folders:
            folder.mkdir()
            os.link(path, folder / "a.h5")
            arguments = [sys.executable, "-c", WRITER, str(folder / "a.h5"), str(here)]
            writers.append(subprocess.Popen(arguments, stdout=subprocess.PIPE, env=environment))
        for folder, writer, instant in zip(folders, writers, instants[start:], strict=False):
            assert writer.stdout.readline() == b"ready\n"
            time.sleep(instant)
            writer.send_signal(signal.SIGKILL)
            assert writer.wait() == -signal.SIGKILL
            writer.stdout.close()
            same(expected, read(folder / "a.h5"))


@pytest.mark.parametrize("call", ["write", "fsync", "open", "replace"])
@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "disk is full"),
        (errno.EACCES, "may not write"),
        (errno.EROFS, "only be read"),
        (errno.EIO, "fault"),
    ],
)
def test_failed_write_keeps_the_old_file(call, number, words, tmp_path, monkeypatch):
    path = tmp_path / "a.h5"
    path.write_bytes(b"old")

    def fail(*args, **kwargs):
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr(os, call, fail)
        with pytest.raises(DataError, match=words) as caught:
            write_whole(path, b"new")
    assert str(path) in str(caught.value)
    assert path.read_bytes() == b"old"
    assert left_over(tmp_path) == []


def test_disk_that_fills_up_half_way(tmp_path, monkeypatch):
    path, real, calls = tmp_path / "a.h5", os.write, []

    def short(descriptor, view):
        calls.append(len(view))
        if len(calls) > 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(descriptor, view[:1000])

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", short)
        with pytest.raises(DataError, match="disk is full"):
            write(sheet_result(), path)
    assert not path.exists()
    assert left_over(tmp_path) == []


def test_write_in_pieces_is_complete(tmp_path, monkeypatch):
    real = os.write
    monkeypatch.setattr(os, "write", lambda descriptor, view: real(descriptor, view[:7]))
    write_whole(tmp_path / "a", bytes(range(200)))
    assert (tmp_path / "a").read_bytes() == bytes(range(200))


def test_interrupt_takes_the_unfinished_file_away(tmp_path, monkeypatch):
    def interrupt(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "a", b"new")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_devices_and_folders_are_refused(tmp_path):
    for target in ("/dev/full", "/dev/null"):
        with pytest.raises(DataError, match="not an ordinary file"):
            write_whole(target, b"x")
    with pytest.raises(DataError, match="folder"):
        write_whole(tmp_path, b"x")
    with pytest.raises(DataError, match="no such folder"):
        write_whole(tmp_path / "none" / "a", b"x")


def test_link_stays_a_link_and_mode_is_the_usual_one(tmp_path):
    (tmp_path / "real").write_bytes(b"old")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_whole(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"
    (tmp_path / "usual").write_bytes(b"")
    assert (tmp_path / "real").stat().st_mode == (tmp_path / "usual").stat().st_mode
