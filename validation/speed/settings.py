"""The settings of each peer, found by ``python -m validation.speed.tune``."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Setting:
    """Absolute tolerances of temperatures [K] and degrees [-], relative tolerance, and the highest order (CVODE)."""

    tolerance: float
    degree: float = 1.0
    relative: float = 1e-12
    order: int = 5


@dataclass(frozen=True)
class Stacking:
    """How many cases share a system, and the setting."""

    cases: int
    setting: Setting


# thermokit's tolerance [K] by the same rules: (the reference case within 0.1 K, the first 60 cases within 0.12 K)
THERMOKIT = {"P1": (0.1, 0.04), "P2": (0.15, 0.045), "P3": (0.12, 0.045)}

# the reference case: fastest found with an error of at most 0.1 K
CVODE = {
    "P1": Setting(0.03, order=4),
    "P2": Setting(0.02, 1e-8, relative=1e-5),
    "P3": Setting(0.01, relative=1e-5, order=3),
}
LSODA = {
    "P1": Setting(0.03, relative=1e-3, order=3),
    "P2": Setting(0.1, 1e-7, relative=1e-5),
    "P3": Setting(0.03, relative=1e-4, order=4),
}
VODE = {
    "P1": Setting(0.03, order=4),
    "P2": Setting(0.02, 1e-8, relative=1e-5),
    "P3": Setting(0.005, order=3),
}
BDF = {
    "P1": Setting(0.015, relative=1e-4),
    "P2": Setting(0.001, 1e-8, relative=1e-5),
    "P3": Setting(0.015, relative=1e-5),
}
RADAU = {
    "P1": Setting(0.005, relative=1e-3),
    "P2": Setting(0.003, 1e-6, relative=1e-3),
    "P3": Setting(0.001, relative=1e-4),
}
# cases of the sweep: fastest found with a worst error over 60 cases of at most 0.12 K
ONE_BY_ONE = {"P1": Setting(0.007, order=3), "P2": Setting(0.002, 1e-7), "P3": Setting(0.0015, order=4)}
STACKED = {
    "P1": Stacking(60, Setting(0.007, order=3)),
    "P2": Stacking(20, Setting(0.01, 1e-7)),
    "P3": Stacking(60, Setting(0.003, order=3)),
}
# the same with like cases stacked together, in the order of an input that a user could guess
ALIKE = {"P2": ("platen", Stacking(60, Setting(0.01, 3e-7)))}
