"""The weigh sheet of a batch: how much of each ingredient, from parts per hundred resin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError

if TYPE_CHECKING:
    from thermokit.materials.mix import Compound


@dataclass(frozen=True)
class Weighed:
    """One line: role, kind, name in words, parts as given, parts per hundred resin, share by mass, mass [kg].

    to_weigh : the mass in steps of the scale [kg]; all lines together make the batch to the step.
    """

    role: str
    kind: str
    name: str
    parts: float
    per_hundred: float
    share: float
    mass: float
    to_weigh: float


def weigh_sheet(compound: Compound, batch: float, step: float | None = None) -> tuple[Weighed, ...]:
    """How much of each ingredient makes a batch [kg]: mass_i = batch x parts_i/sum of parts.

    step : of the scale [kg], None for a ten-thousandth of the batch as a round 1, 2 or 5. The masses to weigh are rounded
    so that they add up to the batch as rounded: what is left over goes to the lines that lost most.
    Raises DataError for a batch or a step that is not above zero.

    >>> from thermokit.materials.mix import compound
    >>> lines = weigh_sheet(compound({"plasticiser": {"dop": 60}}), 16.0)
    >>> [(line.role, line.to_weigh) for line in lines]
    [('resin', 10.0), ('plasticiser', 6.0)]
    """
    if not np.isfinite(batch) or batch <= 0.0:
        raise DataError('a batch needs a mass above zero, such as "25 kg"')
    if step is None:
        step = scale_step(batch)
    if not np.isfinite(step) or step <= 0.0:
        raise DataError('a scale needs a step above zero, such as "1 g"')
    if compound.many:
        raise DataError("a weigh sheet is made for one recipe at a time")
    shares = np.array([float(share) for share in compound.shares])
    masses = batch * shares
    counts = np.floor(masses / step + 1e-9)
    missing = int(round(batch / step) - counts.sum())
    order = np.argsort(counts - masses / step, kind="stable")  # those that lost most by rounding down come first
    counts[order[: max(0, missing)]] += 1.0
    hundred = 100.0 / float(sum(float(item.parts) for item in compound.ingredients if item.role == "resin"))
    return tuple(
        Weighed(
            role=item.role,
            kind=item.kind,
            name=item.component.name,
            parts=float(item.parts),
            per_hundred=float(item.parts) * hundred,
            share=float(share),
            mass=float(mass),
            to_weigh=float(round(count * step, 12)),
        )
        for item, share, mass, count in zip(compound.ingredients, shares, masses, counts, strict=True)
    )


def scale_step(batch: float) -> float:
    """A round step of a scale for a batch [kg]: 1, 2 or 5 times a power of ten, at most a ten-thousandth of it.

    >>> scale_step(25.0), scale_step(0.8)
    (0.002, 5e-05)
    """
    power = 10.0 ** np.floor(np.log10(batch * 1e-4))
    best = max(n for n in (1, 2, 5) if n * power <= batch * 1e-4 * (1.0 + 1e-9))
    return float(f"{best * power:.3g}")
