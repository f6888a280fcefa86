"""A sweep that is stopped in whatever way goes on to the same bytes; a killed worker costs nothing; none outlives its driver.

Stops at random instants: `python -m validation.siege kills`.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "unit"))

from sweep_cases import GRID, sweep

from thermokit.studies import sweep as study

ROOT = Path(__file__).parents[2]
#: 160 rows in 16 chunks, run one by one so that a chunk takes a noticeable time
SLOW = sweep(GRID, outcomes='["mean_temperature", "hottest_time", "hottest_depth"]')


def written(folder: Path, text: str, name: str = "plate.toml") -> Path:
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


def command(case: Path, table: Path, *more: str) -> list[str]:
    return [sys.executable, "-m", "thermokit", "sweep", str(case), "-o", str(table), *more]


def begun(case: Path, table: Path, *more: str) -> subprocess.Popen[bytes]:
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE}
    return subprocess.Popen(command(case, table, *more), cwd=ROOT, **quiet)  # type: ignore[call-overload,no-any-return]


def shards(table: Path) -> int:
    return len(list(table.with_name(table.name + ".parts").glob("*.npz")))


def wait_for_shards(process: subprocess.Popen[bytes], table: Path, count: int) -> None:
    """Until so many chunks are kept, and a moment more."""
    until = time.monotonic() + 120.0
    while shards(table) < count and process.poll() is None:
        assert time.monotonic() < until, "no chunk in two minutes"
        time.sleep(0.01)
    time.sleep(random.uniform(0.0, 0.1))


@pytest.fixture(scope="module")
def uninterrupted(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, bytes]:
    """(case, bytes of its table) of a sweep that nothing disturbed."""
    folder = tmp_path_factory.mktemp("sweep")
    case = written(folder, SLOW)
    study.sweep(case, folder / "whole.h5", workers=1)
    return case, (folder / "whole.h5").read_bytes()


@pytest.mark.long
def test_killed_at_any_instant_it_goes_on_to_the_same_bytes(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    case, whole = uninterrupted
    table = tmp_path / "table.h5"
    kept = 0
    for count in (1, 5, 10):
        process = begun(case, table, "--workers", "2")
        wait_for_shards(process, table, count)
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert shards(table) >= kept, "what was finished is never lost"
        kept = shards(table)
        assert not table.exists() or table.read_bytes() == whole
    last = subprocess.run(command(case, table, "--workers", "2"), cwd=ROOT, capture_output=True, text=True, check=False)
    assert last.returncode == 0, last.stderr
    assert table.read_bytes() == whole
    assert not table.with_name("table.h5.parts").exists()


@pytest.mark.long
@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="children are looked up in /proc")
def test_workers_end_with_the_driver(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    case, _ = uninterrupted
    process = begun(case, tmp_path / "table.h5", "--workers", "2")
    wait_for_shards(process, tmp_path / "table.h5", 1)
    own = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    children = own.read_text().split() if own.exists() else []
    process.send_signal(signal.SIGKILL)
    process.wait()
    until = time.monotonic() + 20.0
    while any(alive(pid) for pid in children):
        assert time.monotonic() < until, "a worker outlives its driver"
        time.sleep(0.05)


def alive(pid: str) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.long
@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="children are looked up in /proc")
def test_a_worker_that_is_killed_costs_nothing(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    case, whole = uninterrupted
    table = tmp_path / "table.h5"
    process = begun(case, table, "--workers", "2")
    wait_for_shards(process, table, 2)
    own = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    workers = [pid for pid in own.read_text().split() if b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes()]
    if workers and process.poll() is None:
        os.kill(int(workers[0]), signal.SIGKILL)
    _, said = process.communicate()
    assert process.returncode == 0, said
    assert table.read_bytes() == whole


@pytest.mark.long
def test_ctrl_c_keeps_what_is_finished(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    case, whole = uninterrupted
    table = tmp_path / "table.h5"
    process = begun(case, table, "--workers", "2")
    wait_for_shards(process, table, 2)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate()
    assert process.returncode == 130
    assert b"rows are kept; the same command goes on" in said and b"Traceback" not in said
    assert shards(table) >= 2
    study.sweep(case, table, workers=1)
    assert table.read_bytes() == whole


@pytest.mark.long
def test_a_cluster_gives_the_same_bytes(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    case, whole = uninterrupted
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        study.sweep(case, tmp_path / "table.h5", scheduler=cluster.scheduler_address)
    assert (tmp_path / "table.h5").read_bytes() == whole
