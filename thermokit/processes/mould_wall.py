"""A moulding between two cooled mould halves, shot after shot, as one wall: when can it be taken out?

Through the thickness: cavity steel, contact, part, contact, core steel; each steel is cooled by a row of round channels.
While the mould is shut the part gives its heat to both; while it is open each steel stands alone in air. Repeated until
shot after shot is alike (:mod:`thermokit.conduction.cyclic`), with the length of the shot found at the same time.

A row of channels enters as a layer of steel and a film behind it,

    R = d/k + p/(pi D h),        R from :func:`thermokit.exchange.channel_row.channel_row` (even heat at the face)

so that the steady resistance is exact, and what stands between face and water has the heat capacity of its depth d, about
that of the channels' axes: z + p/(2 pi) ln(p/(pi D)) for thin ones. Metal behind the channels is left out, so that a mould
warms up more slowly than is said here. Held against the whole section (finite elements), the swing of the face's mean over a
cycle of 10 to 100 s is within 4 % for steel and good water; for copper alloys, or where the water hardly cools, it is 10 to
60 % off, and a section is to be asked. All numbers may be arrays over cases; all cases run in one batch.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.mesh import equal_edges
from thermokit.conduction.problem import Curve, Exchange, Face, Layer, Medium, Problem, Span
from thermokit.exchange.channel_row import channel_row

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array, Number
    from thermokit.exchange.channel_row import ChannelRow

PART_CELLS, STEEL_CELLS = 32, 14
STEEL_RATIO = 1.3  # growth from cell to cell, away from the face that touches
SHORTEST = 1e-3  # s
HELD = 1e6  # W/m2/K, in place of a film that is perfect
CAVITY, PART, CORE = "cavity", "part", "core"


@dataclass(frozen=True)
class MouldSide:
    """One half of the mould.

    conductivity [W/m/K], density [kg/m3], specific_heat [J/kg/K] of its metal; diameter, depth (face to axes), pitch [m] of
    its channels; block [m] from the face to its back; coefficient [W/m2/K] from the bore to the coolant, scale included;
    coolant [K]; contact [W/m2/K] of the part while the pressure is held, contact_after : once it is off; air [K] and
    air_coefficient [W/m2/K] of the open face.
    """

    conductivity: Number
    density: Number
    specific_heat: Number
    diameter: Number
    depth: Number
    pitch: Number
    coefficient: Number
    coolant: Number
    contact: Number
    contact_after: Number
    block: Number = np.inf
    air: Number = 298.15
    air_coefficient: Number = 10.0

    @cached_property
    def row(self) -> ChannelRow:
        """Its row of channels, even heat at the face."""
        return channel_row(
            self.conductivity, self.diameter, self.depth, self.pitch, self.coefficient, "flux", self.block
        )

    def resistance(self) -> tuple[Array, Array]:
        """(steel, film) [m2 K/W] by area of the face, in series what the row of channels is worth."""
        film = np.asarray(self.pitch) / (np.pi * np.asarray(self.diameter) * np.minimum(self.coefficient, HELD))
        return np.asarray(self.row.resistance - film), np.asarray(film)

    def layer(self, name: str) -> Layer:
        """The steel between face and coolant; the cavity's from its back to its face, the core's the other way."""
        steel, _ = self.resistance()
        thickness = steel * self.conductivity
        edges = one_sided_edges(STEEL_CELLS, STEEL_RATIO)
        if name == CAVITY:
            edges = 1.0 - edges[::-1]
        medium = Medium(self.density, self.conductivity, self.specific_heat)
        return Layer(medium, thickness, edges, self.coolant, name=name, counts=False)

    def back(self) -> Face:
        """The cooled side of the steel."""
        return Face(exchange=(Exchange(1.0 / self.resistance()[1], self.coolant),))

    def open_face(self) -> Face:
        """The other one while the mould is open."""
        return Face(exchange=(Exchange(self.air_coefficient, self.air),))


@dataclass(frozen=True)
class MouldWall:
    """The wall and its shot.

    part : its stuff; thickness [m]; melt, ejection [K]; hold [s] from filling to the end of the held pressure; open [s]
    from opening to the next filling; criterion : ``hottest`` (no place of the part above the ejection temperature) or
    ``mean``; cooling [s] after the hold, None to find the shortest that meets the criterion.
    """

    part: Medium
    thickness: Number
    melt: Number
    ejection: Number
    hold: Number
    open: Number
    cavity: MouldSide
    core: MouldSide
    criterion: str = "hottest"
    cooling: Number | None = None

    def legs(self, shut: Array, refined: int = 1) -> tuple[Problem, Problem, Problem, Problem]:
        """(pressed, after the pressure, cavity alone, core alone); shut [s] : from filling to opening.

        refined : cells of the part are cut into as many.
        """
        cavity, core = self.cavity.layer(CAVITY), self.core.layer(CORE)
        part = Layer(cooling_only(self.part), self.thickness, equal_edges(PART_CELLS * refined), self.melt, name=PART)

        def together(hot: Number, cold: Number, duration: Any, name: str) -> Problem:
            layers = (replace(cavity, contact=hot), replace(part, contact=cold), core)
            return Problem(layers, (Span(duration, self.cavity.back(), self.core.back(), name=name),))

        return (
            together(self.cavity.contact, self.core.contact, self.held, "pressed"),
            together(
                self.cavity.contact_after, self.core.contact_after, np.maximum(shut - self.held, SHORTEST), "shut"
            ),
            Problem((cavity,), (Span(self.open, self.cavity.back(), self.cavity.open_face(), name="open"),)),
            Problem((core,), (Span(self.open, self.core.open_face(), self.core.back(), name="open"),)),
        )

    @property
    def held(self) -> Array:
        """The hold, never quite nothing [s]."""
        return np.asarray(np.maximum(np.asarray(self.hold, float), SHORTEST))

    @property
    def diffusivity(self) -> Array:
        """k/(rho cp) of the part half-way between melt and ejection, without latent heat [m2/s]."""
        T = (np.asarray(self.melt, float) + np.asarray(self.ejection)) / 2
        k, cp = at_temperature(self.part.conductivity, T), at_temperature(self.part.specific_heat, T)
        return np.asarray(k / (np.asarray(self.part.density) * cp))

    def heat(self) -> Array:
        """Heat of one shot, from melt to ejection temperature [J/m2], properties in between: for first guesses."""
        T = (np.asarray(self.melt, float) + np.asarray(self.ejection)) / 2
        fall = np.asarray(self.melt, float) - np.asarray(self.ejection)
        per_mass = at_temperature(self.part.specific_heat, T) * fall
        curve = self.part.crystallising or self.part.melting
        if curve is not None:
            per_mass = per_mass + np.asarray(curve.heat) * np.clip(
                (np.asarray(curve.high) - self.ejection) / (np.asarray(curve.high) - np.asarray(curve.low)), 0.0, 1.0
            )
        return np.asarray(np.asarray(self.part.density) * np.asarray(self.thickness) * per_mass)


def cooling_only(medium: Medium) -> Medium:
    """A stuff that only ever cools: its crystallising curve alone, which is solved in half of the time of two curves."""
    if medium.crystallising is None:
        return medium
    return replace(medium, melting=medium.crystallising, crystallising=None)


def one_sided_edges(cells: int, ratio: float) -> Array:
    """Edges of cells that grow by ``ratio`` from the first face on, as shares of the thickness, (cells + 1,)."""
    edges = np.concatenate([[0.0], np.cumsum(ratio ** np.arange(cells))])
    return np.asarray(edges / edges[-1])


def at_temperature(value: Number | Curve, temperature: Array) -> Array:
    """A property at temperatures [K], one a case (or one for all)."""
    if not isinstance(value, Curve):
        return np.asarray(value, float)
    if np.ndim(value.value) == 1:
        return np.asarray(np.interp(temperature, value.temperature, value.value))
    columns = np.broadcast_to(temperature, (value.value.shape[1],))
    found = [np.interp(t, value.temperature, v) for t, v in zip(columns, value.value.T, strict=True)]
    return np.asarray(found)


def cases_of(part: Any) -> int:
    """How many cases stand in the leaves of a wall (or any frozen record of numbers): 1 where all are numbers."""
    if isinstance(part, Curve):
        return part.value.shape[1] if np.ndim(part.value) == 2 else 1
    if is_dataclass(part) and not isinstance(part, type):
        return max((cases_of(getattr(part, item.name)) for item in fields(part)), default=1)
    return int(np.size(part)) if isinstance(part, np.ndarray) else 1


def one_of(part: Any, case: int) -> Any:
    """One case of such a record, all leaves numbers."""
    if isinstance(part, Curve):
        return replace(part, value=part.value[:, case]) if np.ndim(part.value) == 2 else part
    if is_dataclass(part) and not isinstance(part, type):
        return replace(part, **{item.name: one_of(getattr(part, item.name), case) for item in fields(part)})
    if isinstance(part, np.ndarray):
        return float(part[case if part.size > 1 else 0]) if part.ndim else float(part)
    return part


# -- hand formula ------------------------------------------------------------------------------------------------------


def cooling_time_by_hand(
    thickness: Any, diffusivity: Any, melt: Any, wall: Any, ejection: Any, criterion: str = "hottest"
) -> Array:
    """The hand formula of a slab between faces of one temperature: t = s^2/(pi^2 a) ln[C (T_melt - T_wall)/(T_eject - T_wall)].

    C = 4/pi for its middle (``hottest``), 8/pi^2 for its mean. thickness s [m]; diffusivity a [m2/s]; temperatures [K];
    arrays broadcast. First term of the Fourier series, widely printed in the trade. NaN where one term says nothing: where
    more than 0.81 of the difference may be left for the mean (0.9 for the middle, 3 % off there), or where the part cannot
    get as cold as that.

    >>> t = cooling_time_by_hand(0.003, 1e-7, 230.0, 50.0, 90.0)
    >>> round(float(t), 5)  # the full series gives 15.91834 s
    15.91835
    """
    left = (np.asarray(ejection, float) - wall) / (np.asarray(melt, float) - wall)
    factor, most = (8 / np.pi**2, 8 / np.pi**2) if criterion == "mean" else (4 / np.pi, 0.9)
    good = (left > 0.0) & (left < most)
    time = np.asarray(thickness, float) ** 2 / (np.pi**2 * np.asarray(diffusivity))
    return np.asarray(np.where(good, time * np.log(factor / np.where(good, left, 1.0)), np.nan))
