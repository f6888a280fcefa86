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
