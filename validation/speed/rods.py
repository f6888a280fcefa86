"""The frame of the numpy right-hand sides: a rod of cells, and faces without heat capacity found to round-off.

Cell-centred finite volumes, temperatures in degC, many cases laid end to end as one long rod without coupling at the
joints (the layout in which a banded solver sees the narrowest band). One case is the rod of one case. With ``scaled``
the time of a stage runs from 0 to 1 in every case, so that cases whose stages differ in length fit in one system.

    rho V_i cp(T_i) dT_i/dt = sum_j G_ij (T_j - T_i) + boundary heat  (+ rho V_i Hr d alpha/dt)

A face has no heat capacity: its temperature Ts solves g (Ts - T_cell) = h (Ta - Ts) + sum_j eF_j sigma (Tj^4 - Ts^4).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

SIGMA = 5.670374419e-8  # W/m2/K4
GAS = 8.314462618  # J/mol/K
KELVIN = 273.15
Values = Mapping[str, Any]
Rhs = Callable[[float, np.ndarray, np.ndarray], None]


class Face:
    """Heat into the cell behind a zero-capacity face, found by Newton's method to round-off.

    conductance : of the outer half cell [W/m2/K]; exchange : [(h, air degC)]; radiation : [(factor, degC)].
    """

    def __init__(
        self, cases: int, conductance: float, exchange: list[tuple[Any, Any]], radiation: list[tuple[float, Any]]
    ):
        self.g = conductance
        self.single = cases == 1
        shape = () if self.single else (cases,)
        h = sum(np.broadcast_to(np.asarray(h, float), shape) for h, _ in exchange)
        a = sum(np.broadcast_to(np.asarray(h * (t + KELVIN), float), shape) for h, t in exchange)
        r = sum(f * SIGMA for f, _ in radiation)
        q = sum(f * SIGMA * (np.broadcast_to(np.asarray(t, float), shape) + KELVIN) ** 4 for f, t in radiation)
        self.slope, self.given, self.s = (h + conductance), a + q, float(r)
        self.guess: Any = None
        if self.single:
            self.slope, self.given = float(self.slope), float(self.given)

    def into(self, cell: Any) -> Any:
        """Heat flux into the cell [W/m2] at the cell's temperature [degC]."""
        cell_k = cell + KELVIN
        b = self.given + self.g * cell_k
        if self.s == 0.0:
            return self.g * (b / self.slope - cell_k)
        x = cell_k if self.guess is None else self.guess
        c, s = self.slope, self.s
        for _ in range(50):
            cube = s * x * x * x
            d = (b - (c + cube) * x) / (c + 4.0 * cube)
            x = x + d
            if (abs(d) if self.single else np.abs(d).max()) < 1e-9:
                break
        self.guess = x
        return self.g * (x - cell_k)


class Rod:
    """Grid, conductances and the part of the right-hand side that the three problems share."""

    cells: int
    stages: int

    def __init__(self, values: Values, cases: int = 1, scaled: bool = False):
        self.values, self.cases, self.scaled = values, cases, scaled
        self.size = self.cells * cases

    def value(self, name: str) -> Any:
        """An input: a float for one case, (cases,) otherwise."""
        v = np.asarray(self.values[name], float)
        return float(v.reshape(-1)[0]) if self.cases == 1 else np.broadcast_to(v, (self.cases,))

    def durations(self) -> list[Any]:
        """Length of each stage [s], float or (cases,)."""
        raise NotImplementedError

    def start(self) -> np.ndarray:
        """State at the beginning, flat."""
        return np.repeat(np.broadcast_to(np.asarray(self.value("start")), (self.cases,)), self.cells)

    def temperature(self, y: np.ndarray) -> np.ndarray:
        """Temperatures (rows, cases, cells) of stacked states (rows, unknowns)."""
        return y.reshape(len(y), self.cases, self.cells)

    def clock(self, stage: int) -> Any:
        """Factor on d/dt: 1, or the stage's length repeated for each cell when time is scaled."""
        if not self.scaled:
            return None
        d = np.broadcast_to(np.asarray(self.durations()[stage], float), (self.cases,))
        return np.repeat(d, self.cells)

    def joined(self, conductance: np.ndarray) -> np.ndarray:
        """Conductances between neighbours of the long rod, zero at the joints."""
        return np.tile(np.append(conductance, 0.0), self.cases)[:-1]

    def rhs(self, stage: int) -> Rhs:
        """f(t, y, dy) of a stage."""
        raise NotImplementedError
