"""Invented calorimeter runs: the generator of the example files in ``cases/`` and of the data sets that fits are tested on.

    d(a)/dt = (k1 + k2 a^m)(1 - a)^n        ki = factor exp(-energy/RT)
    signal  = level + drift (t - t_middle) + heat d(a)/dt + noise

integrated by scipy's LSODA to 1e-10, which knows nothing of thermokit. The noise is white, or an autoregression of first
order, e_i = memory e_(i-1) + sqrt(1 - memory^2) w_i, with the standard deviation asked for. Nothing here was measured; the
resin does not exist.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

from thermokit.kinetics.dsc import Run

GAS = 8.314462618
MIDDLE = 415.0  # K, where k1 and k2 are given


@dataclass(frozen=True)
class Resin:
    """Constants of an invented resin; k1, k2 [1/s] at ``MIDDLE``; energies [J/mol]; heat [J/kg]."""

    k1: float = 3.0e-4
    energy_1: float = 88e3
    k2: float = 4.0e-3
    energy_2: float = 68e3
    m: float = 0.85
    n: float = 1.45
    heat: float = 310e3
    start: float = 0.0

    def factor(self, which: int) -> float:
        """Factor before the exponential [1/s]."""
        k, energy = (self.k1, self.energy_1) if which == 1 else (self.k2, self.energy_2)
        return k * float(np.exp(energy / (GAS * MIDDLE)))

    def rate(self, temperature: np.ndarray, degree: np.ndarray) -> np.ndarray:
        """d(a)/dt [1/s]."""
        colder = (1.0 / temperature - 1.0 / MIDDLE) / GAS
        growth = (
            self.k1 * np.exp(-self.energy_1 * colder)
            + self.k2 * np.exp(-self.energy_2 * colder) * np.maximum(degree, 0.0) ** self.m
        )
        return growth * np.clip(1.0 - degree, 0.0, 1.0) ** self.n

    def degrees(self, time: np.ndarray, temperature: np.ndarray) -> np.ndarray:
        """Degree at times [s] along temperatures [K]."""
        done = solve_ivp(
            lambda t, a: self.rate(np.interp(t, time, temperature), a),
            (time[0], time[-1]), [self.start], method="LSODA", rtol=1e-10, atol=1e-13, t_eval=time,
            max_step=(time[-1] - time[0]) / 200,
        )  # fmt: skip
        return np.asarray(done.y[0])


RESIN = Resin()
RAMPS = (2.5, 5.0, 10.0, 20.0)  # K/min
HELD = 130.0  # degC


def noise(rng: np.random.Generator, rows: int, size: float, memory: float) -> np.ndarray:
    """Noise of a standard deviation, white or with a memory."""
    white = rng.normal(size=rows)
    out = np.empty(rows)
    out[0] = white[0]
    for i in range(1, rows):
        out[i] = memory * out[i - 1] + np.sqrt(1.0 - memory * memory) * white[i]
    return size * out


def ramp(per_minute: float, rows: int, low: float = 40.0, high: float = 260.0) -> tuple[np.ndarray, np.ndarray]:
    """(time [s], temperature [K]) of a heating ramp."""
    temperature = np.linspace(low, high, rows) + 273.15
    return (temperature - temperature[0]) / (per_minute / 60.0), temperature


def hold(celsius: float, rows: int, minutes: float) -> tuple[np.ndarray, np.ndarray]:
    """(time [s], temperature [K]) of a hold."""
    return np.linspace(0.0, 60.0 * minutes, rows), np.full(rows, celsius + 273.15)


@dataclass(frozen=True)
class Exact:
    """The runs of a resin without noise, from which any number of noisy ones can be made."""

    resin: Resin
    runs: tuple[tuple[str, np.ndarray, np.ndarray, np.ndarray], ...]  # name, time, temperature, degree

    def noisy(self, rng: np.random.Generator, size: float, memory: float = 0.0, conversion: bool = False) -> list[Run]:
        """The runs with noise of ``size`` [W/kg or -] and a baseline, as if they had been read from files."""
        out = []
        for name, time, temperature, degree in self.runs:
            ramped = float(np.ptp(temperature)) > 1.0
            exact = degree if conversion else self.resin.heat * self.resin.rate(temperature, degree)
            drift = 0.0 if conversion or not ramped else 20.0 * (time / time[-1] - 0.5)
            level = 0.0 if conversion else 35.0
            signal = exact + level + drift + noise(rng, len(time), size, memory)
            rate = (temperature[-1] - temperature[0]) / time[-1]
            out.append(
                Run(
                    name, "ramp" if ramped else "hold", time, temperature, signal,
                    "conversion" if conversion else "heat_flow", np.ones(len(time), dtype=bool), rate,
                )
            )  # fmt: skip
        return out


def exact_runs(resin: Resin = RESIN, rows: int = 240, held: bool = True) -> Exact:
    """Four ramps, and a hold where wanted."""
    runs = [(f"{b:g} K/min", *ramp(b, rows)) for b in RAMPS]
    if held:
        runs.append((f"{HELD:g} degC", *hold(HELD, rows, 60.0)))
    return Exact(resin, tuple((name, t, at, resin.degrees(t, at)) for name, t, at in runs))


# -- the example files ---------------------------------------------------------------------------------------------

EXAMPLES = {f"dsc_winch_block_resin_{b:g}K_min.csv".replace(".5K", "_5K"): b for b in RAMPS}
EXAMPLE_HOLD = "dsc_winch_block_resin_held_at_130C.csv"
_ABOUT = """\
# invented resin for a winch block, not measured: made by tests/unit/made_dsc.py
# heat flow for each gram, exotherm upwards
"""


def write_examples(folder: Path) -> None:
    """The files in ``cases/``: four ramps and a hold, white noise of 4 mW/g."""
    rng = np.random.default_rng(20)
    runs = exact_runs(rows=321).noisy(rng, 4.0)
    for run, name in zip(runs, [*EXAMPLES, EXAMPLE_HOLD], strict=True):
        lines = [_ABOUT + "time [s];temperature [degC];heat flow [W/g]"]
        lines += [
            f"{t:.1f};{T - 273.15:.2f};{q / 1e3:.4f}"
            for t, T, q in zip(run.time, run.temperature, run.signal, strict=True)
        ]
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write_examples(Path(__file__).parents[2] / "cases")
