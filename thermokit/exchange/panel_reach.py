"""How the zones of a heater panel, the sheet and the walls of the gap between them exchange heat by radiation.

A grey diffuse enclosure on one side of the sheet: each zone i of the panel (emissivity e_i, black radiation E_i =
sigma T_i^4), the sheet (emissivity e_s, one temperature, E_s), and all that closes the gap: side walls, and what of the
two planes panel and sheet leave free (reflectance R_0, surroundings, E_0), in pieces w where it reflects. What leaves a
node is J = e E + (1 - e) H, what falls on it is H, with view factors F, each row closed to 1::

    H_s = sum_i F_si J_i + sum_w F_sw J_w                      each spot s of the sheet
    H_n = sum_s F_ns J_s + sum_i F_ni J_i + sum_w F_nw J_w     each zone and piece of wall, A_n F_ns = A_s F_sn

The J_s are put into the others, so that zones and walls alone are unknown. Walls that reflect nothing send E_0 and no
more: one node. Source: radiosity method, e.g. R. Siegel and J. R. Howell, Thermal Radiation Heat Transfer, chapter on
enclosures of diffuse grey surfaces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.gap_walls import Rectangles, element_views, exchange_area, rectangles, walls_of
from thermokit.exchange.panel_zones import ZonedPanel, mean_zone_views, zone_views
from thermokit.exchange.planck import emissive_power

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

_MOST_PATCHES = 16  # of the sheet along each side, for what it throws back


@dataclass(frozen=True, eq=False)
class PanelReach:
    """How a zoned panel reaches spots of a sheet, all reflections counted; exact for a sheet of one temperature.

    views : (spots, zones), share of what a spot sends out that falls on each zone directly [-];
    panel, surround : (spots, zones) and (spots,), share of each zone's and of the surroundings' black radiation that
    falls on a spot; sheet : (spots,), of the sheet's own that comes back; the three sum to 1;
    sheet_emissivity : e_s [-]; zone_area : [m2];
    loss, loss_sheet, loss_surround : (zones, zones), (zones,), (zones,): net radiation from each zone = loss E +
    loss_sheet E_s + loss_surround E_0 [W/m2 of zone]; rows sum to 0, loss is symmetric.
    """

    views: Array
    panel: Array
    surround: Array
    sheet: Array
    sheet_emissivity: float
    zone_area: float
    loss: Array
    loss_sheet: Array
    loss_surround: Array

    @property
    def factor(self) -> Array:
        """Exchange factor of each spot with the panel as a whole, e_s sum of ``panel``, (spots,) [-]."""
        return np.asarray(self.sheet_emissivity * self.panel.sum(axis=1))

    @property
    def surround_factor(self) -> Array:
        """Exchange factor of each spot with the surroundings, e_s ``surround``, (spots,) [-]."""
        return np.asarray(self.sheet_emissivity * self.surround)

    def seen_temperature(self, zone_temperature: ArrayLike) -> Array:
        """The one temperature of a panel that would do the same to each spot: (sum K E / sum K / sigma)^(1/4).

        zone_temperature : (zones,) or (times, zones) [K]. Returns (spots,) or (times, spots) [K].
        """
        fourth = np.asarray(zone_temperature, dtype=float) ** 4
        total = self.panel.sum(axis=1)
        seen = fourth @ self.panel.T / np.where(total > 0.0, total, 1.0)
        return np.asarray(np.where(total > 0.0, seen, fourth.mean(axis=-1, keepdims=True)) ** 0.25)

    def net_flux(
        self, zone_temperature: ArrayLike, sheet_temperature: ArrayLike, surround_temperature: ArrayLike
    ) -> Array:
        """Net radiation into each spot [W/m2]: e_s [sum K (E_z - E_s) + K_0 (E_0 - E_s)].

        zone_temperature : (zones,); sheet_temperature : number or (spots,); surround_temperature : number; all [K].
        """
        sent, own = emissive_power(zone_temperature), emissive_power(sheet_temperature)
        seen = self.panel @ sent - self.panel.sum(axis=1) * own
        return np.asarray(self.sheet_emissivity * (seen + self.surround * (emissive_power(surround_temperature) - own)))

    def zone_loss(
        self, zone_temperature: ArrayLike, sheet_temperature: ArrayLike, surround_temperature: ArrayLike
    ) -> Array:
        """Net radiation given off by each zone's face, (zones,) [W/m2]; temperatures as in ``net_flux`` [K]."""
        own, sheet, surround = (emissive_power(t) for t in (zone_temperature, sheet_temperature, surround_temperature))
        return np.asarray(self.loss @ own + self.loss_sheet * sheet + self.loss_surround * surround)


def panel_reach(
    panel: ZonedPanel,
    x: ArrayLike,
    y: ArrayLike,
    panel_emissivity: ArrayLike,
    sheet_emissivity: float,
    wall_reflectance: float = 0.0,
    sheet_size: tuple[float, float] | None = None,
) -> PanelReach:
    """How much of each zone's radiation reaches each spot of a sheet, and what each zone loses.

    x, y : of the spots from the sheet's middle, (spots,) [m]; panel_emissivity : over 0 to 1, one or (zones,);
    sheet_emissivity : over 0 to 1 (for clear sheet 1 - what it reflects); wall_reflectance : of the walls round the
    gap, 0 (open, or black) to 1 (they throw all back), diffuse; sheet_size : length and width of the sheet [m], None:
    as large as the panel.

    Reflecting walls are cut into pieces about as long as the gap; each zone and each piece sends evenly. Where panel and
    sheet differ in size, the box round both is closed by its sides and by what of its two ends is left free.

    >>> wide = panel_reach(ZonedPanel(1e3, 1e3, 1e-3), 0.0, 0.0, 0.9, 0.8)
    >>> round(float(wide.factor[0]), 5), round(1 / (1 / 0.9 + 1 / 0.8 - 1), 5)  # wide parallel plates
    (0.73469, 0.73469)
    """
    length, width = sheet_size if sheet_size is not None else (panel.length, panel.width)
    spots = np.atleast_1d(np.asarray(x, dtype=float)), np.atleast_1d(np.asarray(y, dtype=float))
    walls = walls_of(panel, length, width) if wall_reflectance > 0.0 else []
    falling, from_sheet = _falling(panel, length, width, sheet_emissivity, walls)
    zones, nodes = panel.zones, len(falling)
    emissivity = np.full(nodes, 1.0 - wall_reflectance)
    emissivity[:zones] = panel_emissivity
    # J = e E + (1 - e)(falling J + from_sheet E_s), for the black radiation of each zone, of the walls, of the sheet
    sent = np.zeros((nodes, zones + 2))
    sent[:zones, :zones], sent[zones:, zones] = np.eye(zones), 1.0
    reflectance = (1.0 - emissivity)[:, None]
    right = emissivity[:, None] * sent
    right[:, -1] += reflectance[:, 0] * from_sheet
    leaving = np.linalg.solve(np.eye(nodes) - reflectance * falling, right)
    arriving = falling @ leaving
    arriving[:, -1] += from_sheet
    loss = emissivity[:zones, None] * (sent - arriving)[:zones]

    views = zone_views(panel, *spots)
    beside = [element_views(*spots, wall) for wall in walls] or [np.clip(1.0 - views.sum(axis=1), 0.0, 1.0)[:, None]]
    reach = np.column_stack([views, *beside]) @ leaving
    return PanelReach(
        views,
        reach[:, :zones],
        reach[:, zones],
        reach[:, zones + 1],
        float(sheet_emissivity),
        panel.zone_area,
        loss[:, :zones],
        loss[:, zones + 1],
        loss[:, zones],
    )


def _falling(
    panel: ZonedPanel, length: float, width: float, sheet_emissivity: float, walls: list[Rectangles]
) -> tuple[Array, Array]:
    """What falls on zones and walls: (of their own J, reflections of the sheet in it; of the sheet's E_s).

    walls : pieces of reflecting walls; none where they throw nothing back: then they are one node, from which nothing
    comes but their own radiation. Returns (nodes, nodes) and (nodes,), zones first; together each row sums to 1 (that of
    the one node is not asked for).
    """
    patches = [min(_MOST_PATCHES, math.ceil(2.0 * side / panel.gap)) for side in (length, width)]
    edges = [side * np.linspace(-0.5, 0.5, count + 1) for side, count in zip((length, width), patches, strict=True)]
    views = mean_zone_views(panel, *edges)
    patch, zones = length * width / len(views), panel.zones
    back = views.T * (patch / panel.zone_area)
    if walls:
        sheet, face = rectangles(2, 0.0, *edges), rectangles(2, panel.gap, *panel.edges())
        pieces = [len(wall) for wall in walls]
        area = np.concatenate([wall.area for wall in walls])
        to_sheet = np.vstack([exchange_area(wall, sheet) for wall in walls])
        to_zones = np.vstack([exchange_area(wall, face) for wall in walls])
        to_walls = np.block([[exchange_area(one, two) for two in walls] for one in walls])
        beside, past = to_sheet.T / patch, to_zones.T / panel.zone_area
    else:
        pieces, area = [1], np.ones(1)
        beside = np.clip(1.0 - views.sum(axis=1), 0.0, 1.0)[:, None]
        past = np.clip(1.0 - back.sum(axis=1), 0.0, 1.0)[:, None]
        to_sheet, to_zones, to_walls = np.zeros((1, len(views))), np.zeros((1, zones)), np.zeros((1, 1))

    nodes = zones + sum(pieces)
    direct = np.zeros((nodes, nodes))
    direct[:zones, zones:] = past
    direct[zones:, :zones], direct[zones:, zones:] = to_zones / area[:, None], to_walls / area[:, None]
    seen = np.column_stack([views, beside])  # what each patch of the sheet sees
    sees = np.vstack([back, to_sheet / area[:, None]])  # what zones and walls see of each patch
    return direct + (1.0 - sheet_emissivity) * sees @ seen, sheet_emissivity * sees.sum(axis=1)
