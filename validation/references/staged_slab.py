"""A slab that passes through stages with equal faces: heated, carried over, drawn thinner, cooled; exact, stage by stage.

In each stage the profile about the temperature of what surrounds the slab is a sum of the modes cos(z_n s) of that stage,
z tan z = Bi, s from 0 in the middle to 1 at the face, each falling with exp(-z^2 Fo). Where the next stage begins, the sum
is spread over its modes: the integrals of products of cosines are elementary. Drawing keeps the profile over s.

Source: separation of variables, e.g. Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., section 3.10, as used for one
stage in ``convective_series``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from validation.references.convective_series import eigenvalues

TERMS = 120


@dataclass(frozen=True)
class Stage:
    """Duration [s], coefficient of both faces [W/m2/K] and the temperature behind it; ``thickness`` [m] of the whole slab."""

    duration: float
    coefficient: float
    temperature: float
    thickness: float


class StagedSlab:
    """The slab after any time, from a start of one temperature; k [W/m/K], a = k/(rho c) [m2/s]."""

    def __init__(self, k: float, a: float, start: float, stages: tuple[Stage, ...]):
        self.k, self.a, self.stages = k, a, stages
        self.modes = [eigenvalues("plane", stage.coefficient * stage.thickness / 2 / k, TERMS) for stage in stages]
        self.begins = [(start - stages[0].temperature) * self._of_one(self.modes[0])]
        for i in range(1, len(stages)):
            before, here = stages[i - 1], stages[i]
            shares = self._amplitudes(i - 1, before.duration)
            moved = self._spread(self.modes[i - 1], self.modes[i]) @ shares
            self.begins.append(moved + (before.temperature - here.temperature) * self._of_one(self.modes[i]))

    @staticmethod
    def _square(z: np.ndarray) -> np.ndarray:
        """Integral of cos^2(z s) over s from 0 to 1."""
        return np.asarray(0.5 + np.sin(2 * z) / (4 * z))

    def _of_one(self, z: np.ndarray) -> np.ndarray:
        """Amplitudes of the function 1."""
        return np.asarray(np.sin(z) / z / self._square(z))

    def _spread(self, old: np.ndarray, new: np.ndarray) -> np.ndarray:
        """(new, old): amplitudes in the new modes of each old one."""
        less, more = new[:, None] - old[None, :], new[:, None] + old[None, :]
        product = (np.sinc(less / np.pi) + np.sinc(more / np.pi)) / 2
        return np.asarray(product / self._square(new)[:, None])

    def _amplitudes(self, i: int, time: float) -> np.ndarray:
        half = self.stages[i].thickness / 2
        return np.asarray(self.begins[i] * np.exp(-(self.modes[i] ** 2) * self.a * time / half**2))

    def at(self, time: float, s: float) -> float:
        """Temperature at a time since the start of the first stage, s from 0 (middle) to 1 (face)."""
        i, inside = self._where(time)
        return float(self.stages[i].temperature + np.sum(self._amplitudes(i, inside) * np.cos(self.modes[i] * s)))

    def mean(self, time: float) -> float:
        """Mean temperature at a time."""
        i, inside = self._where(time)
        z = self.modes[i]
        return float(self.stages[i].temperature + np.sum(self._amplitudes(i, inside) * np.sin(z) / z))

    def _where(self, time: float) -> tuple[int, float]:
        """(stage, time since it began); the end of a stage belongs to the stage that ends."""
        for i, stage in enumerate(self.stages):
            if time <= stage.duration * (1 + 1e-12) or i == len(self.stages) - 1:
                return i, time
            time -= stage.duration
        raise ValueError("no stages")

    def time_to(self, stage: int, level: float, s: float) -> float:
        """Time since the start of a stage at which a place falls or rises to a level."""
        from scipy.optimize import brentq

        begin = sum(one.duration for one in self.stages[:stage])
        last = self.stages[stage].duration
        return float(brentq(lambda t: self.at(begin + t, s) - level, 1e-3 * last, last, xtol=1e-12))
