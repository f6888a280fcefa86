"""How the speed of a line goes with the wall, by running the model over speeds and walls in one batch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.line_speed import at_values, wall_sizes, zero

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Limit
    from thermokit.processes.line import LineProcess

WALLS = (1.0, 1.5, 2.0)


@dataclass(frozen=True)
class ScaleUp:
    """Walls as multiples of the present one; speed at which the deciding quantity is as it is now [m/s]; exponent of the time."""

    walls: tuple[float, ...]
    speeds: tuple[float | None, ...]
    exponents: tuple[float | None, ...]


def scale_up(process: LineProcess, limit: Limit, now: float) -> ScaleUp | None:
    """How the speed goes with the wall, by the quantity of a limit kept at its present value.

    now : that value [SI]. Time goes as wall^n: n = -ln(speed ratio)/ln(wall ratio).
    """
    sizes, speed = wall_sizes(process), process.pace
    if process.line.product == "pipe":
        wall = sum(sizes.values())
        if 2.0 * WALLS[-1] * wall >= 2.0 * (float(np.ravel(process.inner_radius)[0]) + wall):
            return None
    if any(getattr(s, "gauge", None) is not None for s in process.case.stations):
        return None
    speeds = speed * np.geomspace(0.15, 1.4, 11)
    many = len(speeds)
    values: dict[str, Any] = {"line.speed": np.tile(speeds, len(WALLS))}
    for path, value in sizes.items():
        values[path] = np.repeat(value * np.array(WALLS), many)
    found, _ = at_values(process, values, many * len(WALLS))
    rows = found[limit.quantity].reshape(len(WALLS), many)
    met = [_crossing(speeds, row - now, speed) for row in rows]
    if met[0] is None:
        return None
    exponents = [
        None if v is None or wall == 1.0 else float(-np.log(v / met[0]) / np.log(wall))
        for wall, v in zip(WALLS, met, strict=True)
    ]
    return ScaleUp(WALLS, tuple(met), tuple(exponents))


def _crossing(speeds: Array, row: Array, near: float) -> float | None:
    turns = np.flatnonzero(np.sign(row[1:]) != np.sign(row[:-1]))
    found = [int(i) for i in turns if np.isfinite(row[i]) and np.isfinite(row[i + 1])]
    return zero(speeds, row, min(found, key=lambda k: abs(np.log(speeds[k] / near)))) if found else None


def regime(exponent: float) -> str:
    """An exponent of the time over the wall in words."""
    if exponent < 1.25:
        return "flux-limited: heat comes or goes no faster whatever the wall (1)"
    if exponent < 1.7:
        return "between flux-limited (1) and conduction-limited (2)"
    return "conduction-limited: the wall itself holds the heat (2)"


def scale_block(limit: Limit, scaled: ScaleUp) -> dict[str, Any]:
    """The block of a result: walls with their speeds and exponents, the last exponent in words."""
    rows = []
    for wall, speed, exponent in zip(scaled.walls, scaled.speeds, scaled.exponents, strict=True):
        text = f"wall x {wall:g}: " + (
            "not at 0.15 to 1.4 of the speed" if speed is None else f"{60.0 * speed:.3g} m/min"
        )
        rows.append(text + ("" if exponent is None else f", time goes as wall^{exponent:.2f}"))
    last = next((n for n in reversed(scaled.exponents) if n is not None), None)
    return {
        "kept": limit.quantity,
        "rows": rows,
        "exponent": last,
        "regime": None if last is None else regime(last),
    }
