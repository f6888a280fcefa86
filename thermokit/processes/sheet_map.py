"""The plan of the sheet: maps over its spots, and the few places that decide a window."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.processes import sheet_judgement, sheet_places
from thermokit.results.model import Axis, Field

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
SAME = 1e-3  # K, places nearer than that to each other are one (mirrored spots)

MEANINGS = {
    "coldest_point": "coldest point through the thickness",
    "mean_temperature": "mean through the thickness",
    "upper_face": "upper face",
    "lower_face": "lower face",
    "hottest_face": "hottest point of the column at any time",
    "release_temperature": "hottest plane at release",
}


def fields(process: SheetProcess, facts: Facts) -> list[Field]:
    """Maps over the sheet, or a table over the regions; nothing for one place alone."""
    if process.places() == 1:
        return []
    values = sheet_judgement.by_place(process, facts)
    then = "when the sheet reaches the tool" if process.release is not None else "at the end"
    if process.at.spot[0] == sheet_places.MIDDLE:
        axis = Axis("region", "1", process.regions, "region of the sheet")
        names = ("coldest_point", "hottest_face", "release_temperature")
        found = {name: values[name] - ZERO for name in names if name in values}
        ratios = [process.ratio(s) for s in process.case.stations]
        thickness = np.broadcast_to(process.case.sheet.thickness, (process.places(),))
        for ratio in ratios:
            thickness = thickness if ratio is None else thickness / ratio
        return [
            Field("regions/thickness", (axis,), "mm", 1e3 * thickness, "thickness after drawing"),
            *(Field(f"regions/{name}", (axis,), "degC", value, MEANINGS[name]) for name, value in found.items()),
        ]
    assert process.case.map_spots is not None
    columns, rows = process.case.map_spots
    axes = (
        Axis("y", "mm", 1e3 * process.at.y.reshape(rows, columns)[:, 0], "across the sheet, from its middle"),
        Axis("x", "mm", 1e3 * process.at.x.reshape(rows, columns)[0], "along the sheet, from its middle"),
    )
    out = []
    for name, words in MEANINGS.items():
        if name in values:
            table = np.broadcast_to(values[name], (rows * columns,)).reshape(rows, columns) - ZERO
            moment = "" if name in ("hottest_face", "release_temperature") else f" {then}"
            out.append(Field(f"map/{name}", axes, "degC", table, words + moment))
    return out


def worst_places(
    process: SheetProcess, edges: Sequence[Array], tolerance: float, settings: Sequence[float], path: str
) -> tuple[tuple[int, int], ...]:
    """Pairs (spot, region) that are worst for a limit at one of the settings: all that a window needs to follow.

    Extremes over the map in the thickest region, and then over the regions at those spots. Mirrored spots count once.
    """
    limited = [limit.quantity for limit in process.limits()]
    ends = {name: (name not in sheet_judgement.SMALLEST, name in sheet_judgement.SMALLEST) for name in limited}
    if "map_spread" in ends:
        ends["mean_temperature"] = (True, True)
    thickest = process.thickest_region()
    whole = sheet_places.spots(process.case)
    found: list[tuple[int, int]] = []
    for setting in settings:
        case = process.case.with_values({path: setting})
        spots = [sheet_places.MIDDLE]
        if whole is not None and process.touch >= 0:
            spots = sorted(set(_extremes(type(process)(case, "all"), edges, tolerance, ends)))
        if len(process.regions) < 2:
            found += [(spot, thickest) for spot in spots]
            continue
        pairs = tuple((spot, region) for spot in spots for region in range(len(process.regions)))
        found += [pairs[i] for i in _extremes(type(process)(case, pairs), edges, tolerance, ends)]
    return tuple(dict.fromkeys(found))


def _extremes(
    process: SheetProcess, edges: Sequence[Array], tolerance: float, ends: dict[str, tuple[bool, bool]]
) -> list[int]:
    """Indices of the places with the largest (first flag) and the smallest (second) value of some quantities."""
    from thermokit.conduction.follow_batch import follow_batch
    from thermokit.processes.base import facts_of_batch

    cases = process.places()
    memory = process.memory(edges, cases, tolerance)
    facts = facts_of_batch(follow_batch(process.course(edges), cases, tolerance, memory))
    values = sheet_judgement.by_place(process, facts)
    found = []
    for name, (largest, smallest) in ends.items():
        if name not in values:
            continue
        spread = np.where(np.isfinite(values[name]), values[name], -np.inf if largest else np.inf)
        spread = np.broadcast_to(spread, (cases,))
        for wanted, extreme in ((largest, spread.max()), (smallest, spread.min())):
            if wanted:
                found.append(int(np.flatnonzero(np.abs(spread - extreme) <= SAME)[0]))
    return list(dict.fromkeys(found))
