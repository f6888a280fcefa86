"""A water circuit: film, scale, pressure drop and rise of a flow in a bore, the flow that a wish needs, how branches share it.

Bores are drilled straight, end to end (series) or side by side (parallel). Every field may be an array over cases.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.channel_flow import annulus_factor, friction_factor, nusselt
from thermokit.exchange.coolants import liquid

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from thermokit.exchange.coolants import Liquid

    Array = NDArray[np.float64]
    Number = float | Array

SHARP_BEND = (
    1.1  # of a sharp 90 degree turn, drilled into each other: White, Fluid Mechanics, section 6.9 (from memory)
)
TURN_ROUND = 2.2  # over the edge of a baffle: two sharp turns
ENTRY, EXIT = 0.5, 1.0  # sharp-edged: the same source
LIMESCALE = 1.0  # W/m/K, 0.5 to 2; handbook order of magnitude, from memory
ROUNDS = 50  # of going round for a flow; each leaves half of the error in laminar flow, less elsewhere


@dataclass(frozen=True)
class Bore:
    """A drilled channel.

    diameter, length [m]; roughness [m] (drilled steel 5 to 25 um, scaled 0.1 to 0.5 mm: common practice, no source);
    scale [m] : thickness of lime or rust on the wall, scale_conductivity [W/m/K]; losses : sum of the loss coefficients of
    its bends, entries and fittings, over rho u^2/2; heated : length over which the thermal entrance counts [m], None for
    the whole. kind : ``plain``, ``baffle`` (a plate of thickness ``insert`` [m] halves the bore, up one side and down the
    other: length counts both ways) or ``bubbler`` (a tube of outer diameter ``insert`` [m] in the bore, the return is
    between).
    """

    diameter: Number
    length: Number
    roughness: Number = 10e-6
    scale: Number = 0.0
    scale_conductivity: Number = LIMESCALE
    losses: Number = 0.0
    heated: Number | None = None
    kind: str = "plain"
    insert: Number = 0.0

    @property
    def clear(self) -> Array:
        """Diameter that the scale leaves open [m]. Raises ValueError where it leaves none."""
        open_ = np.asarray(self.diameter, float) - 2.0 * np.asarray(self.scale, float)
        least = np.where(np.asarray(self.kind == "plain"), 0.0, self.insert)
        if np.any(open_ <= least):
            raise ValueError("scale (and insert) leave no opening in the bore")
        return np.asarray(open_)

    def section(self) -> tuple[Array, Array]:
        """(area of flow [m2], hydraulic diameter [m]): 4 area/wetted perimeter where the bore is not plain."""
        d = self.clear
        if self.kind == "plain":
            return np.pi / 4 * d**2, d
        if self.kind == "baffle":  # half of the bore without half of the plate's strip
            half = np.asarray(self.insert, float) / 2
            angle = np.arccos(2 * half / d)
            area = d**2 / 4 * (angle - np.sin(angle) * np.cos(angle))
            return area, 4 * area / (d * (angle + np.sin(angle)))
        if self.kind == "bubbler":
            return np.pi / 4 * (d**2 - np.asarray(self.insert, float) ** 2), d - np.asarray(self.insert, float)
        raise ValueError(f"no bore of kind {self.kind!r}: plain, baffle or bubbler")


@dataclass(frozen=True)
class BoreFlow:
    """What a flow does in a bore.

    reynolds, velocity [m/s], friction (Darcy), nusselt; film : coefficient at the liquid's side [W/m2/K]; coefficient :
    from the drilled wall to the liquid, scale included, by the drilled area [W/m2/K]; pressure_drop [Pa], pumping [W]
    (hydraulic); rise_per_watt [K/W] of the stream.
    """

    reynolds: Array
    velocity: Array
    friction: Array
    nusselt: Array
    film: Array
    coefficient: Array
    pressure_drop: Array
    pumping: Array
    rise_per_watt: Array
    liquid: Liquid


def bore_flow(
    bore: Bore,
    flow: ArrayLike,
    coolant: str = "water",
    temperature: ArrayLike = 293.15,
    wall: ArrayLike | None = None,
    glycol: ArrayLike = 0.3,
) -> BoreFlow:
    """A flow [m3/s] of a coolant of a mean temperature [K] through a bore.

    wall : temperature of the bore [K] for (Pr/Pr_wall)^0.11, None to leave it out. Scale is a shell of its own,
    1/(h d) = 1/(film d_clear) + ln(d/d_clear)/(2 k_scale), and narrows the bore. Baffles and bubblers go by their
    hydraulic diameter (Incropera et al., section 8.6; good to 10 to 20 %).

    >>> at = bore_flow(Bore(0.010, 1.0), 4.71e-6 * 10, temperature=293.15)  # 2.8 L/min of water at 20 degC in 10 mm
    >>> round(float(at.velocity), 2), bool(4000 < at.reynolds < 10000)
    (0.6, True)
    """
    at = liquid(coolant, temperature, glycol)
    area, hydraulic = bore.section()
    d, clear = np.asarray(bore.diameter, float), bore.clear
    speed = np.asarray(flow, float) / area
    re = at.density * speed * hydraulic / at.viscosity
    f = friction_factor(re, np.asarray(bore.roughness) / hydraulic)
    heated = bore.length if bore.heated is None else bore.heated
    pr_wall = None if wall is None else liquid(coolant, wall, glycol).prandtl
    nu = nusselt(re, at.prandtl, np.asarray(heated, float) / hydraulic, pr_wall)
    if bore.kind == "bubbler":
        nu = nu * annulus_factor(np.asarray(bore.insert) / clear)
    film = nu * at.conductivity / hydraulic
    resistance = 1.0 / (film * clear) + np.log(d / clear) / (2.0 * np.asarray(bore.scale_conductivity))
    drop = (f * np.asarray(bore.length) / hydraulic + np.asarray(bore.losses)) * at.density * speed**2 / 2
    return BoreFlow(
        reynolds=np.asarray(re),
        velocity=np.asarray(speed),
        friction=f,
        nusselt=nu,
        film=np.asarray(film),
        coefficient=np.asarray(1.0 / (d * resistance)),
        pressure_drop=np.asarray(drop),
        pumping=np.asarray(drop * np.asarray(flow, float)),
        rise_per_watt=np.asarray(1.0 / (at.density * np.asarray(flow, float) * at.specific_heat)),
        liquid=at,
    )


# -- how much flow -----------------------------------------------------------------------------------------------------


def flow_for_reynolds(
    bore: Bore, reynolds: ArrayLike, coolant: str = "water", temperature: ArrayLike = 293.15, glycol: ArrayLike = 0.3
) -> Array:
    """Flow [m3/s] at which a bore has a Reynolds number."""
    at = liquid(coolant, temperature, glycol)
    area, hydraulic = bore.section()
    return np.asarray(np.asarray(reynolds) * at.viscosity / (at.density * hydraulic) * area)


def flow_for_rise(
    heat: ArrayLike,
    rise: ArrayLike,
    coolant: str = "water",
    temperature: ArrayLike = 293.15,
    glycol: ArrayLike = 0.3,
) -> Array:
    """Flow [m3/s] that carries a heat [W] away with a rise [K] from inlet to outlet."""
    at = liquid(coolant, temperature, glycol)
    return np.asarray(np.asarray(heat, float) / (np.asarray(rise, float) * at.density * at.specific_heat))


def flow_for_pressure(
    bores: Sequence[Bore],
    pressure: ArrayLike,
    coolant: str = "water",
    temperature: ArrayLike = 293.15,
    glycol: ArrayLike = 0.3,
) -> Array:
    """Flow [m3/s] that a pressure difference [Pa] drives through bores one after another."""
    at = liquid(coolant, temperature, glycol)
    wanted = np.asarray(pressure, float)
    flow = np.asarray(sum(bore.section()[0] for bore in bores) / len(bores), float)  # 1 m/s
    for _ in range(ROUNDS):
        flow = np.sqrt(wanted / _drop_over_square(bores, flow, at))
    return np.asarray(flow)


def _drop_over_square(bores: Sequence[Bore], flow: Array, at: Liquid) -> Array:
    """Pressure drop over the square of the flow: it hardly changes with the flow, so that going round settles it."""
    total: Array | float = 0.0
    for bore in bores:
        area, hydraulic = bore.section()
        re = at.density * flow / area * hydraulic / at.viscosity
        f = friction_factor(re, np.asarray(bore.roughness) / hydraulic)
        loss = f * np.asarray(bore.length) / hydraulic + np.asarray(bore.losses)
        total = total + loss * at.density / (2.0 * area**2)
    return np.asarray(total)


# -- along and across --------------------------------------------------------------------------------------------------


def along_given_heat(inlet: ArrayLike, heat: ArrayLike, share: ArrayLike, rise_per_watt: ArrayLike) -> Array:
    """Temperature [K] of the stream at a share (0 to 1) of a circuit that takes up a heat [W] evenly along its length."""
    return np.asarray(np.asarray(inlet, float) + np.asarray(heat) * np.asarray(share) * np.asarray(rise_per_watt))


def along_given_wall(
    inlet: ArrayLike, wall: ArrayLike, conductance: ArrayLike, share: ArrayLike, rise_per_watt: ArrayLike
) -> Array:
    """The same where the mould has one temperature: T = T_wall - (T_wall - T_inlet) exp(-share conductance/(m cp)).

    wall [K] : what the conductance [W/K] of the whole circuit leads to; rise_per_watt : 1/(m cp) [K/W].
    """
    left = np.exp(-np.asarray(share) * np.asarray(conductance) * np.asarray(rise_per_watt))
    return np.asarray(np.asarray(wall, float) - (np.asarray(wall, float) - np.asarray(inlet)) * left)


@dataclass(frozen=True)
class Split:
    """How branches side by side share a flow: pressure_drop [Pa] of all, flows [m3/s] one a branch."""

    pressure_drop: Array
    flows: tuple[Array, ...]


def split_flow(
    branches: Sequence[Sequence[Bore]],
    flow: ArrayLike,
    coolant: str = "water",
    temperature: ArrayLike = 293.15,
    glycol: ArrayLike = 0.3,
) -> Split:
    """Branches between two manifolds, each of bores in series: the pressure drop is the same, the flows [m3/s] add up.

    Manifolds without losses; liquid of one temperature [K] in all.
    """
    at = liquid(coolant, temperature, glycol)
    total = np.asarray(flow, float)
    flows = [total / len(branches)] * len(branches)
    for _ in range(ROUNDS):
        eased = [_drop_over_square(branch, own, at) ** -0.5 for branch, own in zip(branches, flows, strict=True)]
        flows = [total * own / sum(eased) for own in eased]
    drop = (total / sum(_drop_over_square(b, f, at) ** -0.5 for b, f in zip(branches, flows, strict=True))) ** 2
    return Split(np.asarray(drop), tuple(np.asarray(own) for own in flows))
