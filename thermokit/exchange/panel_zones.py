"""A heater panel cut into zones over a sheet: who sees whom, and how much.

The sheet lies in the plane z = 0 with its middle at x = y = 0, x along its length, y across its width; the panel is
parallel to it at a gap. Zones and spots are counted row by row: row 1 lies at the lowest y, column 1 at the lowest x,
and zone (row, column) is number (row - 1) columns + column - 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.view_factors import view_element_corner_rectangle

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]


@dataclass(frozen=True)
class ZonedPanel:
    """A rectangular panel of equal zones, parallel to the sheet.

    length, width : along the sheet's length and across it [m]; gap : between panel and sheet [m]; rows, columns : of
    zones, across the width and along the length; offset : of the panel's middle from the sheet's (along, across) [m].
    """

    length: float
    width: float
    gap: float
    rows: int = 1
    columns: int = 1
    offset: tuple[float, float] = (0.0, 0.0)

    @property
    def zones(self) -> int:
        """How many zones there are."""
        return self.rows * self.columns

    @property
    def zone_area(self) -> float:
        """Area of one zone [m2]."""
        return self.length * self.width / self.zones

    def edges(self) -> tuple[Array, Array]:
        """Where the zones' borders lie: x (columns + 1,) and y (rows + 1,) [m]."""
        x = self.offset[0] + self.length * np.linspace(-0.5, 0.5, self.columns + 1)
        y = self.offset[1] + self.width * np.linspace(-0.5, 0.5, self.rows + 1)
        return x, y


def spot_grid(length: float, width: float, columns: int, rows: int) -> tuple[Array, Array, float]:
    """Middles of the equal rectangles into which a sheet is cut, row by row: x, y (rows columns,) and their area [m2].

    >>> x, y, area = spot_grid(0.6, 0.4, 3, 2)
    >>> [round(float(v), 3) for v in x], [round(float(v), 3) for v in y], round(area, 3)
    ([-0.2, 0.0, 0.2, -0.2, 0.0, 0.2], [-0.1, -0.1, -0.1, 0.1, 0.1, 0.1], 0.04)
    """
    along = length * ((np.arange(columns) + 0.5) / columns - 0.5)
    across = width * ((np.arange(rows) + 0.5) / rows - 0.5)
    x, y = np.meshgrid(along, across)
    return x.ravel(), y.ravel(), length * width / (columns * rows)


def zone_views(panel: ZonedPanel, x: ArrayLike, y: ArrayLike) -> Array:
    """View factor of each zone from each spot of the sheet: the share of what a spot sends out that the zone catches.

    With f the view factor of a rectangle from an element under its corner (odd in both sides), for a zone from x1 to x2
    and y1 to y2::

        F = f(x2 - x, y2 - y) - f(x1 - x, y2 - y) - f(x2 - x, y1 - y) + f(x1 - x, y1 - y)

    x, y : of the spots, (spots,) [m], also outside the panel. Returns (spots, zones) [-].
    Source: Howell, A Catalog of Radiation Heat Transfer Configuration Factors, entry B-3, with additivity.

    >>> panel = ZonedPanel(0.7, 0.5, 0.15, rows=2, columns=2)
    >>> round(float(zone_views(panel, 0.0, 0.0).sum()), 2)  # hand value for a 700 x 500 panel at 150 mm
    0.82
    """
    edge_x, edge_y = panel.edges()
    across = edge_x - np.atleast_1d(np.asarray(x, dtype=float))[:, None]
    along = edge_y - np.atleast_1d(np.asarray(y, dtype=float))[:, None]
    corner = view_element_corner_rectangle(across[:, None, :], along[:, :, None], panel.gap)
    views = np.diff(np.diff(corner, axis=1), axis=2)
    return np.asarray(np.clip(views, 0.0, 1.0).reshape(len(across), panel.zones))


def mean_zone_views(panel: ZonedPanel, edge_x: ArrayLike, edge_y: ArrayLike) -> Array:
    """View factor of each zone from each rectangle of a grid on the sheet, exact for the rectangle's whole area.

    With u, v the distances between two borders along and across, and z the gap::

        A F = sum of signs over the 16 pairs of corners of
              1/(2 pi) {v sqrt(u^2+z^2) atan[v/sqrt(u^2+z^2)] + u sqrt(v^2+z^2) atan[u/sqrt(v^2+z^2)]
                        - z^2/2 ln(u^2+v^2+z^2)}

    edge_x (columns + 1,), edge_y (rows + 1,) : borders of the grid, ascending [m]. Returns (rows columns, zones) [-].
    Source: Howell, A Catalog of Radiation Heat Transfer Configuration Factors, entry C-13 (parallel rectangles with
    parallel edges at any offset).

    >>> panel = ZonedPanel(0.6, 0.4, 0.15)
    >>> round(float(mean_zone_views(panel, [-0.3, 0.3], [-0.2, 0.2])[0, 0]), 5)  # squarely opposed: entry C-11
    0.56667
    """
    zone_x, zone_y = panel.edges()
    grid_x, grid_y = np.asarray(edge_x, dtype=float), np.asarray(edge_y, dtype=float)
    # in gaps: the logarithm and the squares then stay near one
    u = ((grid_x[:, None] - zone_x[None, :]) / panel.gap)[:, None, :, None]
    v = ((grid_y[:, None] - zone_y[None, :]) / panel.gap)[None, :, None, :]
    root_u, root_v = np.hypot(1.0, u), np.hypot(1.0, v)
    pair = v * root_u * np.arctan(v / root_u) + u * root_v * np.arctan(u / root_v)
    pair = pair - 0.5 * np.log1p(u * u + v * v)
    for axis in range(4):
        pair = np.diff(pair, axis=axis)
    area = np.outer(np.diff(grid_x), np.diff(grid_y))[:, :, None, None] / panel.gap**2
    # borders (along, across, zone along, zone across) to (rows, columns of the grid; rows, columns of zones)
    views = (pair / (2.0 * np.pi * area)).transpose(1, 0, 3, 2)
    return np.asarray(np.clip(views, 0.0, 1.0).reshape(-1, panel.zones))
