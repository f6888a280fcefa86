"""What a run of a line adds beside its outcomes: stations, sizes, speeds by limit, changes, scale-up, events."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.line_heat import heats, per_width
from thermokit.processes.line_scale import scale_block, scale_up
from thermokit.processes.line_sizes import sizes
from thermokit.processes.line_speed import SPEEDS, BySpeed, deciding
from thermokit.processes.line_track import table

if TYPE_CHECKING:
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess


def study(process: LineProcess, facts: Facts) -> dict[str, Any]:
    """Blocks of a result: the line station by station, its speed, changes, scale-up, events."""
    if facts.travel is None:
        return {}
    out: dict[str, Any] = {"line": {"stations": table(process, facts.travel.history, facts, _powers(process, facts))}}
    sized = sizes(process, facts)
    if sized:
        out["sizes"] = sized
    limits = process.speeds() if process.limits() else []
    if limits:
        out["speed"] = _speed_block(process, limits)
    limit = deciding(process, facts)
    if limit is not None:
        now = float(process.quantities(facts)[limit.quantity][0])
        unit = limit.margin_unit
        rows = process.changed(limit)
        out["changes"] = {
            "quantity": limit.quantity,
            "now": limit.shown(now),
            "unit": limit.unit,
            "effects": [f"{c.words}: {c.value:.1f} {limit.unit} ({c.by:+.1f} {unit})" for c in rows],
        }
        scaled = scale_up(process, limit, now)
        if scaled is not None:
            out["scale_up"] = scale_block(limit, scaled)
    happened = process.happened(facts)
    if happened:
        out["events"] = {event.name: list(event.words) for event in happened}
    return out


def _powers(process: LineProcess, facts: Facts) -> dict[int, str]:
    unit = "kW/m" if per_width(process) else "kW"
    return {number: f"; heat {1e-3 * heat.given:.3g} {unit}" for number, heat in heats(process, facts).items()}


def _speed_block(process: LineProcess, rows: list[BySpeed]) -> dict[str, Any]:
    now = process.pace

    def shown(value: float | None) -> float | None:
        return None if value is None or not np.isfinite(value) else 60.0 * value

    slow = max((x for x in rows if x.slowest is not None), key=lambda x: x.slowest or 0.0, default=None)
    fast = min((x for x in rows if x.fastest is not None), key=lambda x: x.fastest or 0.0, default=None)
    closed = [x.limit for x in rows if x.slowest is not None and np.isnan(x.slowest)]
    words = []
    for x in rows:
        ends = [
            f"{name} {60.0 * v:.3g}" for name, v in (("slowest", x.slowest), ("fastest", x.fastest)) if v is not None
        ]
        if x.limit in closed:
            words.append(
                f"{x.limit}: met at no speed from {60 * SPEEDS[0] * now:.3g} to {60 * SPEEDS[-1] * now:.3g} m/min"
            )
        else:
            words.append(f"{x.limit}: " + (", ".join(ends) + " m/min" if ends else "does not limit the speed"))
    return {
        "now": 60.0 * now,
        "slowest": None if closed else shown(slow.slowest if slow else None),
        "slowest_by": slow.limit if slow and not closed else None,
        "fastest": None if closed else shown(fast.fastest if fast else None),
        "fastest_by": fast.limit if fast and not closed else None,
        "unit": "m/min",
        "by_limit": words,
    }
