"""Places of a sheet that are solved side by side: spots of its plan, and regions that are drawn in their own way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.exchange.panel_zones import spot_grid

if TYPE_CHECKING:
    from thermokit.case.sheet import SheetCase
    from thermokit.conduction.problem import Array

MIDDLE = -1  # spot that stands for the middle of the sheet


@dataclass(frozen=True)
class Places:
    """Columns through the thickness, (m,) each.

    x, y : from the middle of the sheet along length and width [m]; edge : conduction to the clamp frame over conductivity
    times thickness [1/m2]; spot : index in the map (row by row), MIDDLE for the middle; region : index of the region.
    """

    x: Array
    y: Array
    edge: Array
    spot: Any
    region: Any

    def __len__(self) -> int:
        return len(self.x)

    def words(self, i: int, regions: tuple[str, ...]) -> str:
        """A place in words, such as ``in the corner region, 280 mm right and 190 mm up of the middle``; empty for one place."""
        found = []
        if regions and regions[int(self.region[i])]:
            found.append(f"region {regions[int(self.region[i])]}")
        if self.spot[i] != MIDDLE:
            across, along = 1e3 * self.x[i], 1e3 * self.y[i]
            found.append(f"{across:+.0f} mm along and {along:+.0f} mm across from the middle of the sheet")
        return ", ".join(found)


def middle(region: int = 0) -> Places:
    """The middle of the sheet."""
    one = np.zeros(1)
    return Places(one, one, one, np.full(1, MIDDLE), np.full(1, region))


def spots(case: SheetCase) -> Places | None:
    """Every spot of the map, in the first region; None where the sheet is not mapped."""
    if case.map_spots is None:
        return None
    columns, rows = case.map_spots
    assert case.sheet.length is not None and case.sheet.width is not None
    length, width = (float(np.ravel(side)[0]) for side in (case.sheet.length, case.sheet.width))
    x, y, _ = spot_grid(length, width, columns, rows)
    edge = np.zeros(len(x))
    if case.sheet.frame is not None:
        # a border spot is joined to the frame by conduction from its middle to its edge: k L / (half a pitch), per area
        for position, side, count in ((x, length, columns), (y, width, rows)):
            pitch = side / count
            at_edge = np.abs(position) > (side - 1.5 * pitch) / 2.0
            edge += np.where(at_edge, 2.0 / pitch**2, 0.0) * (2.0 if count == 1 else 1.0)
    return Places(x, y, edge, np.arange(len(x)), np.zeros(len(x), int))


def regions(case: SheetCase) -> tuple[str, ...]:
    """Names of the regions in the order of the case; none where the whole sheet is drawn alike."""
    return tuple(region.name for station in case.stations for region in getattr(station, "regions", ()))


def ratios(station: Any) -> list[Any]:
    """Draw ratio of every region at a station; one where the whole sheet is drawn alike."""
    own = getattr(station, "regions", ())
    return [region.draw_ratio for region in own] if own else [getattr(station, "draw_ratio", 1.0)]


def picked(case: SheetCase, picks: tuple[tuple[int, int], ...]) -> Places:
    """Some places, each (spot, region); spot MIDDLE for the middle."""
    whole = spots(case)
    spot = np.array([p[0] for p in picks])
    region = np.array([p[1] for p in picks])
    x, y, edge = (np.zeros(len(picks)) for _ in range(3))
    if whole is not None:
        here = spot != MIDDLE
        for target, source in ((x, whole.x), (y, whole.y), (edge, whole.edge)):
            target[here] = source[spot[here]]
    return Places(x, y, edge, spot, region)
