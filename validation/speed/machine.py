"""The machine while a part is measured: its pace by two bare yardsticks, who else used it, and the versions of the libraries."""

from __future__ import annotations

import os
import platform
import statistics
import time
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

LIBRARIES = ("numpy", "scipy", "h5py", "FiPy", "scikit-sundae", "scikit-fem", "matplotlib")
LU_SIZE, ADDITIONS, LENGTH = 800, 20_000, 60
#: share of the machine that others may use while it counts as quiet
QUIET = 0.1


def factorise() -> None:
    """Solve one dense system of 800 unknowns: what linear algebra runs at."""
    a = np.random.default_rng(0).standard_normal((LU_SIZE, LU_SIZE))
    np.linalg.solve(a, a[0])


def additions() -> None:
    """20 000 additions of 60 numbers: what the interpreter and numpy's calls run at."""
    a = np.ones(LENGTH)
    for _ in range(ADDITIONS):
        np.add(a, a, out=a)
        a[0] = 1.0


def yardsticks(repeats: int = 5) -> dict[str, float]:
    """Median CPU time [s] of both."""
    found: dict[str, list[float]] = {"lu": [], "additions": []}
    with np.errstate(over="ignore"):
        for _ in range(repeats):
            for name, work in (("lu", factorise), ("additions", additions)):
                begun = time.process_time()
                work()
                found[name].append(time.process_time() - begun)
    return {name: statistics.median(values) for name, values in found.items()}


def _busy() -> float | None:
    """CPU time [s] that all cores have spent, on whatever; None where the system does not say."""
    stat = Path("/proc/stat")
    if not stat.exists():
        return None
    user, nice, system, _, _, irq, soft, steal = (int(x) for x in stat.read_text().split("\n")[0].split()[1:9])
    return (user + nice + system + irq + soft + steal) / os.sysconf("SC_CLK_TCK")


def _own() -> float:
    """CPU time [s] of this process and of its children that ended."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


class Witness:
    """Watches the machine from its making until ``says``."""

    def __init__(self) -> None:
        self.load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
        self.first = yardsticks()
        self.busy, self.own, self.wall = _busy(), _own(), time.perf_counter()

    def says(self) -> dict[str, Any]:
        """What is kept with a part."""
        wall, own, busy = time.perf_counter() - self.wall, _own() - self.own, _busy()
        others = None
        if busy is not None and self.busy is not None:
            others = max(0.0, busy - self.busy - own) / (wall * (os.cpu_count() or 1))
        last = yardsticks()
        return {
            "when": time.strftime("%Y-%m-%d %H:%M", time.gmtime()),
            "seconds": {"cpu": own, "wall": wall},
            "load_before": self.load,
            "others": others,
            "yardsticks": {name: statistics.mean((self.first[name], last[name])) for name in last},
            "pace_changed": max(last[name] / self.first[name] for name in last),
            "processor": processor(),
            "cores": os.cpu_count(),
            "python": platform.python_version(),
            "versions": versions(),
        }


def processor() -> str:
    """What the machine calls its processor."""
    file = Path("/proc/cpuinfo")
    lines = file.read_text().split("\n") if file.exists() else []
    return next((line.split(":")[1].strip() for line in lines if line.startswith("model name")), platform.machine())


def versions() -> dict[str, str]:
    """Versions of the libraries that take part."""
    found = {}
    for name in LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found
