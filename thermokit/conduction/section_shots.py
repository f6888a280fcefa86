"""How many shots it takes until a section has settled, from the slope M of its cycle.

The deviation from the settled state after n shots is M^n of the first. It is read off the space that the first powers span
(Arnoldi, Quart. Appl. Math. 9 (1951) 17): what is slow is found there after few, and what is fast is gone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.problem import Array

POWERS, SPENT = 40, 1e-12  # powers that are looked at; length of one that holds nothing new
MANY = 1_000_000  # shots


def shots_until(slope: Callable[[Array], Array], deviation: Array, within: float) -> tuple[float | None, int | None]:
    """(slowest factor by which a deviation shrinks in a shot, shots until none of it is above ``within`` [K]).

    slope : deviation (n,) -> that one shot later; deviation : (n,) before the first shot [K]. The factor is None where the
    deviation is small from the start, the shots are None where they would be more than a million.

    >>> shots_until(lambda d: np.array([0.9, 0.5]) * d, np.array([1.0, 3.0]), 0.1)[1]
    22
    """
    if float(np.abs(deviation).max(initial=0.0)) <= within:
        return None, 0
    size = float(np.linalg.norm(deviation))
    basis, small = _powers(slope, deviation / size)
    factors, modes = np.linalg.eig(small)
    slowest = float(np.abs(factors).max())
    weights = np.linalg.solve(modes, np.eye(len(small))[0]) * size

    def left(shots: int) -> float:
        part = ((modes * factors**shots) @ weights).real
        return float(np.abs(part @ basis).max())

    few, many = 0, 1
    while left(many) > within:
        few, many = many, 2 * many
        if many > MANY:
            return slowest, None
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (middle, many) if left(middle) > within else (few, middle)
    return slowest, many


def _powers(slope: Callable[[Array], Array], first: Array) -> tuple[Array, Array]:
    """(orthonormal rows that span the powers of the slope on ``first``, the slope in that space)."""
    basis, small = np.zeros((POWERS + 1, len(first))), np.zeros((POWERS + 1, POWERS))
    basis[0] = first
    for j in range(POWERS):
        image = slope(basis[j])
        for _ in range(2):  # twice, so that round-off leaves the rows orthogonal
            share = basis[: j + 1] @ image
            small[: j + 1, j] += share
            image = image - share @ basis[: j + 1]
        small[j + 1, j] = np.linalg.norm(image)
        if small[j + 1, j] < SPENT:
            return basis[: j + 1], small[: j + 1, : j + 1]
        basis[j + 1] = image / small[j + 1, j]
    return basis[:POWERS], small[:POWERS, :POWERS]
