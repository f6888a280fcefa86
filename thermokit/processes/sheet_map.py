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
    """Maps over the sheet in its thickest region, and a table over the regions; nothing for one place alone."""
    if process.places() == 1:
        return []
    spread = (process.places(),)
    values = {name: np.broadcast_to(v, spread) for name, v in sheet_judgement.by_place(process, facts).items()}
    several = _of_regions(process, values) if len(set(process.at.region.tolist())) > 1 else []
    if process.at.spot[0] == sheet_places.MIDDLE:
        return several
    assert process.case.map_spots is not None
    then = "when the sheet reaches the tool" if process.release is not None else "at the end"
    columns, rows = process.case.map_spots
    x, y = (1e3 * at[: rows * columns].reshape(rows, columns) for at in (process.at.x, process.at.y))
    axes = (
        Axis("y", "mm", y[:, 0], "across the sheet, from its middle"),
        Axis("x", "mm", x[0], "along the sheet, from its middle"),
    )
    out = []
    for name, words in MEANINGS.items():
        if name in values:
            table = values[name][: rows * columns].reshape(rows, columns) - ZERO
            moment = "" if name in ("hottest_face", "release_temperature") else f" {then}"
            out.append(Field(f"map/{name}", axes, "degC", table, words + moment))
    return [*out, *several]


def _of_regions(process: SheetProcess, values: dict[str, Array]) -> list[Field]:
    """Thickness of every region, and the worst of its places."""
    axis = Axis("region", "1", process.regions, "region of the sheet")
    thickness = np.broadcast_to(process.case.sheet.thickness, (process.places(),))
    for station in process.case.stations:
        ratio = process.ratio(station)
        thickness = thickness if ratio is None else thickness / ratio
    of = [process.at.region == i for i in range(len(process.regions))]
    out = [
        Field(
            "regions/thickness", (axis,), "mm", 1e3 * np.array([thickness[m][0] for m in of]), "thickness after drawing"
        )
    ]
    for name in ("coldest_point", "hottest_face", "release_temperature"):
        if name in values:
            worst = np.min if name in sheet_judgement.SMALLEST else np.max
            table = np.array([worst(values[name][m]) for m in of]) - ZERO
            out.append(Field(f"regions/{name}", (axis,), "degC", table, MEANINGS[name]))
    return out


def worst_places(
    process: SheetProcess, edges: Sequence[Array], tolerance: float, settings: Sequence[float], path: str
) -> tuple[tuple[int, int], ...]:
    """Pairs (spot, region) that are worst for a limit at one of the settings: all that a window needs to follow.

    Extremes over all spots in all regions. Mirrored spots count once.
    """
    limited = [limit.quantity for limit in process.limits()]
    ends = {name: (name not in sheet_judgement.SMALLEST, name in sheet_judgement.SMALLEST) for name in limited}
    if "map_spread" in ends:
        ends["mean_temperature"] = (True, True)
    if "crown_difference" in ends:
        ends["mean_at_release"] = (True, True)
    found: list[tuple[int, int]] = []
    for setting in settings:
        whole = type(process)(process.case.with_values({path: setting})).everywhere()
        worst = _extremes(whole, edges, tolerance, ends)
        found += [(int(whole.at.spot[i]), int(whole.at.region[i])) for i in worst]
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
                # where no place could be computed one is as bad as the other
                near = np.flatnonzero(np.abs(spread - extreme) <= SAME) if np.isfinite(extreme) else [0]
                found.append(int(near[0]))
    return list(dict.fromkeys(found))
