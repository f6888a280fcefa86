"""A slab that is cooled between two layers again and again, settled: linear, so that the settled state is one solve.

Layers of constant properties on fine equal cells; each stage is dT/dt = A T + b, advanced by exp(A t) of its eigenvalues.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Tool:
    """thickness [m], conductivity, volumetric heat [J/m3/K]; film [W/m2/K] to a coolant of a temperature at its back; air film
    and temperature at its open face; contact with the slab while it is pressed, and after."""

    thickness: float
    k: float
    heat: float
    film: float
    coolant: float
    air_film: float
    air: float
    contact: float
    contact_after: float


class Cycle:
    """Slab of thickness s, conductivity k, volumetric heat, hot at first, between a first and a second tool."""

    def __init__(self, s: float, k: float, heat: float, hot: float, first: Tool, second: Tool, cells: int = 120):
        self.first, self.second, self.hot, self.n = first, second, hot, cells
        self.k = np.repeat([first.k, k, second.k], cells)
        self.width = np.repeat([first.thickness, s, second.thickness], cells) / cells
        self.c = np.repeat([first.heat, heat, second.heat], cells) * self.width

    def stage(self, duration: float, joints: tuple[float, float], shut: bool) -> tuple[np.ndarray, np.ndarray]:
        """(M, m) of a stage: T after = M T + m; joints : contacts of the slab (0: away), shut: tools' faces are covered."""
        n, half = self.n, self.width / 2 / self.k
        across = half[:-1] + half[1:]
        for place, contact in zip((n - 1, 2 * n - 1), joints, strict=True):
            across[place] += 1.0 / contact if contact > 0.0 else np.inf
        g = 1.0 / across
        matrix = np.diag(g, 1) + np.diag(g, -1)
        source = np.zeros(3 * n)
        ends = [(0, self.first.film, self.first.coolant), (3 * n - 1, self.second.film, self.second.coolant)]
        if not shut:
            ends += [(n - 1, self.first.air_film, self.first.air), (2 * n, self.second.air_film, self.second.air)]
        diagonal = -matrix.sum(axis=1)
        for cell, film, outside in ends:
            u = 1.0 / (half[cell] + 1.0 / film)
            diagonal[cell] -= u
            source[cell] += u * outside
        np.fill_diagonal(matrix, diagonal)
        root = np.sqrt(self.c)
        rates, modes = np.linalg.eigh(matrix / root[:, None] / root)
        fade = np.exp(rates * duration)
        with np.errstate(divide="ignore", invalid="ignore"):
            grown = np.where(rates < -1e-12, (fade - 1.0) / rates, duration)
        m = (modes * fade) @ modes.T / root[:, None] * root
        return m, (modes * grown) @ (modes.T @ (source / root)) / root

    def settled(self, hold: float, after: float, open_: float) -> np.ndarray:
        """Temperatures at opening, (3 cells,): the tools are as the shot before left them."""
        n = self.n
        m1, b1 = self.stage(hold, (self.first.contact, self.second.contact), True)
        m2, b2 = self.stage(after, (self.first.contact_after, self.second.contact_after), True)
        m3, b3 = self.stage(open_, (0.0, 0.0), False)
        tools = np.r_[0:n, 2 * n : 3 * n]
        whole, rest = m3 @ m2 @ m1, m3 @ (m2 @ b1 + b2) + b3
        hot = np.zeros(3 * n)
        hot[n : 2 * n] = self.hot
        rest = whole @ hot + rest
        touch = hot.copy()
        touch[tools] = np.linalg.solve(np.eye(2 * n) - whole[np.ix_(tools, tools)], rest[tools])
        self.touch = touch
        return np.asarray(m2 @ (m1 @ touch + b1) + b2)
