"""What the siege by kills has found: how each fault showed, and what must come of it now."""

from __future__ import annotations

import ast
import os
import signal
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest

import thermokit
from thermokit.cli.target import check_new_case, check_target
from thermokit.errors import DataError
from thermokit.results import whole
from thermokit.results.sweep_table import image as image_of_table
from thermokit.results.whole import write_whole
from thermokit.results.write import image
from thermokit.studies.sweep import sweep
from thermokit.studies.sweep_pool import without_ctrl_c
from thermokit.studies.sweep_shards import Shards
from validation.siege.kills_works import SWEPT, WALL

ROOT = Path(__file__).parents[2]
FOLDERS_OF_THEIR_OWN = {  # write into a temporary folder, which nobody reads after them, or to a name they hold a lock of
    "validation/speed/commands.py",
    "validation/speed/rows.py",
    "validation/siege/counting.py",
    "validation/siege/fuzz.py",
    "validation/siege/trying.py",
    "validation/siege/kills.py",
    "validation/siege/kills_works.py",
}


def listing(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def writes_at_once(text: str) -> list[int]:
    """Lines that write under a final name: write_text, write_bytes, open for writing, a picture saved to a name."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.Call):
            continue
        method = isinstance(node.func, ast.Attribute)
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        mode = [*node.args[0 if method else 1 :][:1], *(k.value for k in node.keywords if k.arg == "mode")]
        writing = any(
            isinstance(m, ast.Constant) and isinstance(m.value, str) and set(m.value) & set("wxa") for m in mode
        )
        if name in ("write_text", "write_bytes") or (name == "open" and writing):
            found.append(node.lineno)
    return found


def test_all_files_are_written_whole() -> None:
    """`methods`, `zones`, `new` and the books of the project wrote straight under the final name: a kill left half of it."""
    assert writes_at_once('Path("a").write_text("b")\nopen("a", "wb")\npath.open("x")\nopen("a")\n') == [1, 2, 3]
    wrong = []
    for room in ("thermokit", "validation"):
        for file in (ROOT / room).rglob("*.py"):
            name = file.relative_to(ROOT).as_posix()
            text = file.read_text(encoding="utf-8")
            if name not in FOLDERS_OF_THEIR_OWN and any(word in text for word in ("write_", "open(")):
                wrong += [f"{name}:{line}" for line in writes_at_once(text)]
    assert not wrong


class TestUnfinishedFiles:
    """Each kill left one more `.NAME.PID.part` that nothing ever took away."""

    def test_one_that_is_left_is_taken_over(self, tmp_path: Path) -> None:
        (tmp_path / ".a.h5.part").write_bytes(b"left by a writer that was killed" * 10)
        write_whole(tmp_path / "a.h5", b"new")
        assert listing(tmp_path) == ["a.h5"]
        assert (tmp_path / "a.h5").read_bytes() == b"new"

    def test_that_of_a_live_writer_is_not(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        fcntl = pytest.importorskip("fcntl")
        monkeypatch.setattr(whole, "PATIENCE", 0.05)
        with (tmp_path / ".a.h5.part").open("wb") as other:
            other.write(b"half")
            other.flush()
            fcntl.flock(other, fcntl.LOCK_EX)
            with pytest.raises(DataError, match="another process has been writing"):
                write_whole(tmp_path / "a.h5", b"new")
            assert (tmp_path / ".a.h5.part").read_bytes() == b"half"
        write_whole(tmp_path / "a.h5", b"new")
        assert listing(tmp_path) == ["a.h5"]

    def test_a_link_put_in_its_place_is_not_written_through(self, tmp_path: Path) -> None:
        (tmp_path / "kept").write_bytes(b"kept")
        (tmp_path / ".a.h5.part").symlink_to(tmp_path / "kept")
        write_whole(tmp_path / "a.h5", b"new")
        assert (tmp_path / "kept").read_bytes() == b"kept"
        assert (tmp_path / "a.h5").read_bytes() == b"new"

    def test_where_there_are_no_locks(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(whole, "fcntl", None)
        write_whole(tmp_path / "a.h5", b"new")
        assert listing(tmp_path) == ["a.h5"]

    def test_of_a_long_name_in_letters_of_two_bytes(self, tmp_path: Path) -> None:
        """The name was cut at 200 letters, which may be 400 bytes: a name that the disk takes was refused as too long."""
        name = "é" * 124 + ".h5"
        write_whole(tmp_path / name, b"new")
        assert listing(tmp_path) == [name]


def test_writers_of_one_name_at_once(tmp_path: Path) -> None:
    """Two threads, or two processes of one number (containers), wrote into one unfinished file: bytes of both in the end."""
    contents = [bytes([65 + i]) * (100_000 + 1000 * i) for i in range(4)]
    seen = set()

    def write(content: bytes) -> None:
        for _ in range(10):
            write_whole(tmp_path / "a", content)
            seen.add((tmp_path / "a").read_bytes())

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(write, contents))
    assert seen <= set(contents)
    assert listing(tmp_path) == ["a"]


def test_results_made_in_two_threads_at_once(tmp_path: Path) -> None:
    """Both files were built in memory under one name: the second writer ended in h5py's traceback."""
    (tmp_path / "wall.toml").write_text(WALL, encoding="utf-8")
    result = thermokit.run(thermokit.load_case(tmp_path / "wall.toml"))
    with ThreadPoolExecutor(3) as pool:
        images = list(pool.map(image, [result] * 6))
    assert set(images) == {image(result)}


def blocks_ctrl_c() -> bool:
    """Whether this process lets no Ctrl-C through."""
    return signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, set())


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="needs masks of signals")
def test_a_worker_sees_no_ctrl_c_while_it_starts() -> None:
    """Ctrl-C in a terminal goes to the workers too: one that was still loading Python ended in a traceback."""
    with without_ctrl_c(), ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        future = pool.submit(blocks_ctrl_c)
        assert blocks_ctrl_c()
        assert future.result()
    assert not blocks_ctrl_c()


def few_rows() -> str:
    return SWEPT.replace("count = 12", "count = 2").replace("count = 8", "count = 2")


class TestSweep:
    def test_killed_over_its_first_file(self, tmp_path: Path) -> None:
        """The folder held an unfinished manifest and nothing else: it was `no folder of a sweep` for ever after."""
        (tmp_path / "case.toml").write_text(few_rows(), encoding="utf-8")
        (tmp_path / "out.h5.parts").mkdir()
        (tmp_path / "out.h5.parts" / ".sweep.json.part").write_bytes(b'{"identity":')
        table, before = sweep(tmp_path / "case.toml", tmp_path / "out.h5", workers=1)
        assert not before and (table.status == 0).all()
        assert listing(tmp_path) == ["case.toml", "out.h5"]

    def test_a_folder_of_something_else_stays(self, tmp_path: Path) -> None:
        (tmp_path / "case.toml").write_text(few_rows(), encoding="utf-8")
        (tmp_path / "out.h5.parts").mkdir()
        (tmp_path / "out.h5.parts" / "mine").write_bytes(b"kept")
        with pytest.raises(DataError, match="no folder of a sweep"):
            sweep(tmp_path / "case.toml", tmp_path / "out.h5", workers=1)
        assert listing(tmp_path / "out.h5.parts") == ["mine"]

    def test_two_at_once(self, tmp_path: Path) -> None:
        """The second took away the first one's unfinished files and, when it was done, its folder: `no such folder`."""
        pytest.importorskip("fcntl")
        first, second = Shards(tmp_path / "out.h5"), Shards(tmp_path / "out.h5")
        first.begin({"identity": "a"})
        with pytest.raises(DataError, match="another process is at this sweep now"):
            second.begin({"identity": "a"})
        first.end()
        second.begin({"identity": "a"})
        second.end()

    def test_a_clock_that_jumps_is_no_matter(self, tmp_path: Path) -> None:
        (tmp_path / "case.toml").write_text(few_rows(), encoding="utf-8")
        whole_table, _ = sweep(tmp_path / "case.toml", tmp_path / "whole.h5", workers=1)
        assert (tmp_path / "whole.h5").read_bytes() == image_of_table(whole_table)
        for year in (0, 4_000_000_000):  # 1970, 2096
            os.utime(tmp_path / "case.toml", (year, year))
            os.utime(tmp_path / "whole.h5", (year, year))
            assert sweep(tmp_path / "case.toml", tmp_path / "whole.h5", workers=1)[1], "it was finished before"
            sweep(tmp_path / "case.toml", tmp_path / "again.h5", workers=1)
            assert (tmp_path / "again.h5").read_bytes() == (tmp_path / "whole.h5").read_bytes()
            (tmp_path / "again.h5").unlink()
        assert np.isfinite(whole_table.columns[0].values).all()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_is_no_place_for_a_result(tmp_path: Path) -> None:
    """`sweep -o PIPE` waited for ever; `run -o PIPE` computed first and refused then."""
    os.mkfifo(tmp_path / "pipe.h5")
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(DataError, match="not an ordinary file"):
        check_target(tmp_path / "pipe.h5", tmp_path / "case.toml")
    with pytest.raises(DataError, match="not an ordinary file"):
        check_new_case(tmp_path / "pipe.toml", tmp_path / "case.toml")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
@pytest.mark.parametrize("words", [["new", "sheet"], ["--version"]])
def test_standard_output_on_a_full_disk(words: list[str]) -> None:
    """It ended in a traceback."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "thermokit", *words], cwd=ROOT, stdout=full, stderr=subprocess.PIPE, check=False
        )
    assert done.returncode == 2
    assert (
        done.stderr.startswith(b"cannot write the answer to where standard output goes")
        and done.stderr.count(b"\n") == 1
    )


def test_ctrl_c_while_the_command_line_is_loaded() -> None:
    """Before the command line was there to say so, it ended in a traceback of the import."""
    code = """
import runpy, sys
class Interrupt:
    def find_spec(self, name, path=None, target=None):
        if name == "click":
            raise KeyboardInterrupt
sys.meta_path.insert(0, Interrupt())
runpy.run_module("thermokit", run_name="__main__")
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (130, b"stopped\n")
