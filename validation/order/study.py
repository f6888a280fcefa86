"""What a study of convergence is, and how its order is measured.

A study gives the error of one scheme at each of its sizes (cells, steps, fineness) against a solution from elsewhere. From two
sizes n < m with errors e > f the order is ln(e/f)/ln(m/n); the order that is judged is the least-squares slope of
ln(error) against ln(size) over the last sizes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

SLACK = 0.1  # by which a measured order may stay below the promised one
LAST = 3  # sizes over which the judged order is fitted
SETTLED = 0.08  # by which an order on the first sizes may stay below that: they are not yet fine


@dataclass(frozen=True)
class Study:
    """One scheme under one condition.

    error : size -> largest error; sizes : ascending; promised : by the theory of the scheme; against : what the error is measured
    against; least : the order that is asked for where something takes the promised one away, with its ``reason``; few : leading
    sizes that tests run; last : sizes of the fit.
    """

    group: str
    name: str
    against: str
    promised: float
    sizes: tuple[float, ...]
    error: Callable[[float], float]
    unit: str = "K"
    size: str = "cells"
    least: float | None = None
    reason: str = ""
    few: int = 3
    last: int = LAST

    def __post_init__(self) -> None:
        if (self.least is None) != (not self.reason):
            raise ValueError(f"{self.name}: an order below the promised one needs its reason, and the other way round")

    @property
    def wanted(self) -> float:
        """The order below which the study fails."""
        return self.promised - SLACK if self.least is None else self.least

    @property
    def key(self) -> str:
        """Group and name."""
        return f"{self.group}: {self.name}"


@dataclass(frozen=True)
class Measured:
    """A study that was run: errors at its sizes, orders from size to size, the fitted order and whether it is enough."""

    study: Study
    sizes: tuple[float, ...]
    errors: tuple[float, ...]
    pairs: tuple[float, ...]
    order: float
    passed: bool


def order_of(sizes: tuple[float, ...], errors: tuple[float, ...]) -> float:
    """Least-squares order; not-a-number where an error is zero or not finite.

    >>> round(order_of((10, 20, 40), (1.0, 0.25, 0.0625)), 9)
    2.0
    """
    if not all(0.0 < e < math.inf for e in errors):
        return math.nan
    return -float(np.polyfit(np.log(sizes), np.log(errors), 1)[0])


def measure(study: Study, sizes: tuple[float, ...] | None = None) -> Measured:
    """Run a study at its sizes, or at some of them."""
    few = sizes is not None
    chosen = study.sizes if sizes is None else sizes
    errors = tuple(float(study.error(size)) for size in chosen)
    pairs = tuple(order_of((a, b), (e, f)) for (a, e), (b, f) in pairwise(zip(chosen, errors, strict=True)))
    order = order_of(chosen[-study.last :], errors[-study.last :])
    return Measured(study, chosen, errors, pairs, order, order >= study.wanted - (SETTLED if few else 0.0))
