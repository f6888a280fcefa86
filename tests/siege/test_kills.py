"""A dozen kills of real commands, what full disks and vanished folders do, and that the judge of the kills can say no."""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

import thermokit
from thermokit.cli import main as command_line
from thermokit.studies.sweep import sweep
from validation.siege.kills import shares, siege, table
from validation.siege.kills_judge import broken, faults, left_over
from validation.siege.kills_watch import gone
from validation.siege.kills_works import SWEPT, WALL, WORKS

ROOT = Path(__file__).parents[2]
QUICK = ("run of a body over", "show --csv", "new")
pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="kills are watched through /proc")


def begun(folder: Path, *words: str, most: int | None = None, before: Sequence[str] = ()) -> subprocess.Popen[bytes]:
    """The command; most : bytes that a file may have; before : a command that runs it."""

    def limit() -> None:
        if most is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    environment = os.environ | {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.Popen(
        [*before, sys.executable, "-m", "thermokit", *words],
        cwd=folder, env=environment, preexec_fn=limit, start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip


@pytest.fixture(scope="module")
def wall(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a case and its result."""
    folder = tmp_path_factory.mktemp("wall")
    (folder / "wall.toml").write_text(WALL, encoding="utf-8")
    thermokit.write_result(thermokit.run(thermokit.load_case(folder / "wall.toml")), folder / "wall.h5")
    return folder


def test_a_dozen_kills() -> None:
    found = siege(12, seed=3, only=QUICK)
    assert [find for one in found for find in one.finds] == []
    measured = table(found)
    assert measured["kills"] == 12
    assert all(sum(row[name] for row in measured["rows"]) >= 2 for name in ("SIGKILL", "SIGTERM", "SIGINT"))


@pytest.mark.long
def test_kills_of_sweeps() -> None:
    found = siege(12, seed=3, only=("sweep",))
    assert [find for one in found for find in one.finds] == []
    assert table(found)["kills"] == 12


def test_kills_are_shared_out_whole() -> None:
    assert sum(shares(200)) == 200 and min(shares(200)) >= 2
    assert sum(shares(7, WORKS[:3])) == 7


class TestTheJudge:
    @pytest.mark.parametrize(("name", "words"), [("out.h5", ()), ("out.csv", ("--csv",)), ("out.vtk", ("--vtk",))])
    def test_half_a_file(self, name: str, words: tuple[str, ...], wall: Path, tmp_path: Path) -> None:
        if words:
            with pytest.raises(SystemExit):
                command_line(["show", str(wall / "wall.h5"), *words, str(tmp_path / name)])
        else:
            shutil.copy(wall / "wall.h5", tmp_path / name)
        data = (tmp_path / name).read_bytes()
        assert not broken(tmp_path / name)
        allowed: dict[str, tuple[bytes | None, ...]] = {name: (data, None)}
        assert not list(faults(tmp_path, {}, allowed, False))
        (tmp_path / name).write_bytes(data[: len(data) // 2 + 7])
        assert len(list(faults(tmp_path, {}, allowed, False))) == 1

    @pytest.mark.parametrize(
        ("name", "data"),
        [
            ("a.pdf", b"%PDF-1.4 half"),
            ("a.html", b"<html><body>"),
            ("a.png", b"\x89PNG\r\n\x1a\n"),
            ("a.toml", b'a = "b'),
            ("a.npz", b"PK\x03\x04"),
            ("a.json", b'{"a":'),
            ("a.csv", b"a,b\n1,2\n3,"),
        ],
    )
    def test_half_of_another_file(self, name: str, data: bytes, tmp_path: Path) -> None:
        (tmp_path / name).write_bytes(data)
        assert broken(tmp_path / name)

    def test_what_is_gone_strange_or_changed(self, tmp_path: Path) -> None:
        for name in ("strange", "known", ".a.part", ".b.part"):
            (tmp_path / name).write_bytes(b"x")
        said = list(faults(tmp_path, {"known": b"y"}, {"out.h5": (b"new", b"old")}, False))
        for words in ("strange was left", "known was changed", "out.h5 is gone", "more than one unfinished file"):
            assert any(fault.startswith(words) for fault in said), words
        assert len(said) == 4 and len(left_over(tmp_path)) == 2

    def test_a_process_that_lives_on(self) -> None:
        process = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE, start_new_session=True)
        try:
            assert gone(process.pid, 0.1) == [process.pid]
        finally:
            process.kill()
            process.communicate()
        assert gone(process.pid, 5.0) == []


class TestDisks:
    def test_a_file_that_may_not_be_that_large(self, wall: Path, tmp_path: Path) -> None:
        shutil.copy(wall / "wall.toml", tmp_path)
        (tmp_path / "out.h5").write_bytes(b"earlier")
        process = begun(tmp_path, "run", "wall.toml", "-o", "out.h5", most=20_000)
        _, said = process.communicate()
        assert process.returncode == 2 and b"larger than that disk allows" in said and said.count(b"\n") == 1
        assert (tmp_path / "out.h5").read_bytes() == b"earlier" and not left_over(tmp_path)

    def test_a_disk_that_is_full(self, wall: Path, tmp_path: Path) -> None:
        """A real one of 60 kB, seen by a shell of its own; a result takes 109 kB, and the disk is enlarged in the end."""
        can = shutil.which("unshare") and subprocess.run(
            ["unshare", "-Urm", "true"], capture_output=True, check=False
        ).returncode == 0  # fmt: skip
        if not can:
            pytest.skip("needs name spaces of users")
        (tmp_path / "disk").mkdir()
        command = f"{sys.executable} -m thermokit run {wall / 'wall.toml'} -o {tmp_path}/disk/out.h5"
        script = f"""
mount -t tmpfs -o size=60k none {tmp_path}/disk || exit 99
echo earlier > {tmp_path}/disk/out.h5
{command} > /dev/null; echo status $? >&2
ls -A {tmp_path}/disk; cat {tmp_path}/disk/out.h5
mount -o remount,ro {tmp_path}/disk
{command} > /dev/null; echo status $? >&2
mount -o remount,rw,size=1m {tmp_path}/disk
{command} > /dev/null; echo status $? >&2
ls -A {tmp_path}/disk; cat {tmp_path}/disk/out.h5 > {tmp_path}/kept.h5
"""
        environment = os.environ | {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        done = subprocess.run(
            ["unshare", "-Urm", "sh", "-c", script],
            env=environment, cwd=tmp_path, capture_output=True, text=True, check=False,
        )  # fmt: skip
        if done.returncode == 99:
            pytest.skip("needs leave to mount")
        full, first, read_only, second, third = done.stderr.splitlines()
        assert "the disk is full" in full and first == second == "status 2" and third == "status 0"
        assert "you may not write in that folder" in read_only or "can only be read" in read_only
        assert done.stdout == "out.h5\nearlier\nout.h5\n"
        assert (tmp_path / "kept.h5").read_bytes() == (wall / "wall.h5").read_bytes()

    def test_a_folder_that_is_closed(self, wall: Path, tmp_path: Path) -> None:
        """Said before anything is computed. To root no folder is closed, but it is in a name space where root is nobody."""
        before = ["unshare", "-U"] if os.geteuid() == 0 else []
        if before and (not shutil.which("unshare") or subprocess.run([*before, "true"], check=False).returncode != 0):
            pytest.skip("needs name spaces of users")
        shutil.copy(wall / "wall.toml", tmp_path)
        tmp_path.chmod(0o555)
        process = begun(tmp_path, "run", "wall.toml", "-o", "out.h5", before=before)
        _, said = process.communicate()
        tmp_path.chmod(0o755)
        assert process.returncode == 2, said
        assert said == b"cannot write out.h5: you may not write in that folder; name another one\n"
        assert [path.name for path in tmp_path.iterdir()] == ["wall.toml"]

    def test_a_folder_that_vanishes_meanwhile(
        self, wall: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        import thermokit.studies.run as module

        run = module.run
        (tmp_path / "there").mkdir()

        def gone_after(*words: object) -> object:
            result = run(*words)  # type: ignore[arg-type]
            (tmp_path / "there").rmdir()
            return result

        monkeypatch.setattr(module, "run", gone_after)
        with pytest.raises(SystemExit) as left:
            command_line(["run", str(wall / "wall.toml"), "-o", str(tmp_path / "there" / "out.h5")])
        assert left.value.code == 2 and "there is no such folder" in capsys.readouterr().err


class TestAtOnce:
    def test_two_commands_with_one_output(self, wall: Path, tmp_path: Path) -> None:
        both = [begun(wall, "show", "wall.h5", "--csv", str(tmp_path / "out.csv")) for _ in range(2)]
        said = [process.communicate() for process in both]
        assert [process.returncode for process in both] == [0, 0], said
        assert not broken(tmp_path / "out.csv")
        assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]

    @pytest.mark.long
    def test_two_sweeps_with_one_table(self, tmp_path: Path) -> None:
        (tmp_path / "swept.toml").write_text(SWEPT, encoding="utf-8")
        both = [begun(tmp_path, "sweep", "swept.toml", "-o", "out.h5", "--workers", "1") for _ in range(2)]
        said = [process.communicate()[1] for process in both]
        assert sorted(process.returncode for process in both) in ([0, 2], [0, 0])
        for process, words in zip(both, said, strict=True):
            assert process.returncode == 0 or b"another process is at this sweep now" in words
        sweep(tmp_path / "swept.toml", tmp_path / "whole.h5", workers=1)
        assert (tmp_path / "out.h5").read_bytes() == (tmp_path / "whole.h5").read_bytes()

    @pytest.mark.long
    def test_a_sweep_whose_folder_vanishes(self, tmp_path: Path) -> None:
        folder = tmp_path / "there"
        folder.mkdir()
        (tmp_path / "swept.toml").write_text(SWEPT, encoding="utf-8")
        process = begun(tmp_path, "sweep", "swept.toml", "-o", "there/out.h5", "--workers", "2")
        until = time.monotonic() + 120.0
        while process.poll() is None and not list(folder.glob("*.parts/*.npz")):
            assert time.monotonic() < until
            time.sleep(0.005)
        folder.rename(tmp_path / "elsewhere")
        _, said = process.communicate()
        assert process.returncode == 2 and b"there is no such folder" in said and b"Traceback" not in said
        assert gone(process.pid, 20.0) == []
