"""Face temperatures of a panel's zones from their power, and the power that holds them: open-loop and controlled panels.

Each zone gives off what it is supplied with, by radiation (coupled over the zones, the sheet and the walls: ``loss`` of a
``PanelReach``) and to the air::

    P_i = sum_j loss_ij sigma T_j^4 + loss_sheet_i E_s + loss_surround_i E_0 + h (T_i - T_air)

    P = installed x setting x (actual/rated volts)^2 x (1 - back loss)      a resistance at another voltage

in the steady state, which a panel reaches within some of its time constants.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import SolveError
from thermokit.exchange.planck import STEFAN_BOLTZMANN, emissive_power

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from thermokit.exchange.panel_reach import PanelReach

    Array = NDArray[np.float64]

_ROUNDS = 100  # of Newton
_AT_ONCE = 50  # rounds of the search for which zones are held, before they change one by one
_ENOUGH = 1e-11  # of a temperature


def supplied(
    installed: ArrayLike, setting: ArrayLike = 1.0, mains: ArrayLike = 1.0, back_loss: ArrayLike = 0.0
) -> Array:
    """Power that a zone has for its face: installed setting mains^2 (1 - back_loss) [W/m2].

    installed : at rated voltage [W/m2]; setting : share of it that is on; mains : actual over rated voltage; back_loss :
    share that is lost at the back. They broadcast.

    >>> round(float(supplied(25e3, 0.6, 380 / 400)))  # 15 kW/m2, less 9.75 % for 5 % of voltage
    13538
    """
    on, volts, lost = (np.asarray(a, dtype=float) for a in (setting, mains, back_loss))
    return np.asarray(np.asarray(installed, dtype=float) * on * volts**2 * (1.0 - lost))


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What a panel's zones exchange heat with.

    reach : of the panel; sheet : mean temperature of the sheet's face while it is heated [K]; walls : temperature of the
    surroundings of the gap [K]; air : [K]; coefficient : from the zones' faces to the air [W/m2/K], >= 0.
    """

    reach: PanelReach
    sheet: float
    walls: float
    air: float
    coefficient: float = 0.0

    def needed(self, temperature: ArrayLike) -> Array:
        """Power that holds the zones at temperatures, (zones,) [K]; below 0 where a zone takes heat up [W/m2]."""
        t = np.asarray(temperature, dtype=float)
        return np.asarray(self.reach.loss @ emissive_power(t) + self._constant() + self.coefficient * t)

    def _constant(self) -> Array:
        """What of the balance does not change with the zones' temperatures."""
        reach = self.reach
        seen = reach.loss_sheet * emissive_power(self.sheet) + reach.loss_surround * emissive_power(self.walls)
        return np.asarray(seen - self.coefficient * self.air)


def zone_temperatures(around: Surroundings, power: ArrayLike) -> Array:
    """Face temperatures at which zones of given power come to rest, (zones,) [K]; a dead zone has power 0.

    power : (zones,), >= 0 (``supplied``) [W/m2]. Newton's method from a temperature too high for every zone, from where
    it comes down without overshooting: the balance is convex, and no zone cools another by being hotter.

    >>> from thermokit.exchange.panel_reach import panel_reach
    >>> from thermokit.exchange.panel_zones import ZonedPanel
    >>> wide = panel_reach(ZonedPanel(1e3, 1e3, 1e-3), 0.0, 0.0, 0.9, 0.9)
    >>> t = zone_temperatures(Surroundings(wide, sheet=383.15, walls=333.15, air=333.15), 8e3)
    >>> round(float(t[0]), 3) == round((383.15**4 + 8e3 * (2 / 0.9 - 1) / 5.670374419e-8) ** 0.25, 3)  # wide plates
    True
    """
    given = np.broadcast_to(np.asarray(power, dtype=float), around.reach.loss_sheet.shape)
    return _balance(around, given, np.zeros(len(given), dtype=bool), np.zeros(len(given)))


@dataclass(frozen=True, eq=False)
class Held:
    """Zones of a controlled panel: temperature [K], power on their faces [W/m2], and which are at their set temperature.

    A zone that is not held either has its full power on and stays below, or is off and stays above.
    """

    temperature: Array
    power: Array
    held: NDArray[np.bool_]


def held_temperatures(around: Surroundings, wanted: ArrayLike, most: ArrayLike) -> Held:
    """What a controlled panel comes to: each zone at its set temperature, as far as its power goes.

    wanted : set temperatures, (zones,) [K]; most : power with all on, (zones,) (``supplied`` with setting 1), 0 for a
    dead zone [W/m2]. A zone that would need more falls to its own balance with all on; one that its neighbours and the
    sheet keep hotter than it is set rises to its own balance with nothing on. Raises SolveError where none is found.
    """
    reach = around.reach
    target, full = (np.array(np.broadcast_to(np.asarray(a, float), reach.loss_sheet.shape)) for a in (wanted, most))
    held, power = full > 0.0, np.zeros(len(full))
    for turn in range(_AT_ONCE + 20 * len(full)):
        temperature = _balance(around, power, held, target)
        needed = around.needed(temperature)
        slack = 1e-9 * (np.abs(needed) + full)
        over, under = held & (needed > full + slack), held & (needed < -slack)
        warm = 1e-9 * target
        back = ~held & (full > 0.0)
        back &= np.where(power > 0.0, temperature > target + warm, temperature < target - warm)
        changes = np.flatnonzero(over | under | back)
        if len(changes) == 0:
            return Held(temperature, np.where(held, needed, power), held)
        # all at once as a rule; one at a time, the first first, cannot go round in a circle (Murty's rule)
        chosen = changes if turn < _AT_ONCE else changes[:1]
        power[chosen] = np.where(over[chosen], full[chosen], 0.0)
        held[chosen] = back[chosen]
    raise SolveError("the zones of the panel found no balance", "check the installed power and the set temperatures")


def _balance(around: Surroundings, power: Array, fixed: NDArray[np.bool_], wanted: Array) -> Array:
    """Temperatures of the zones: those fixed as wanted, the others at the balance of their power."""
    reach, free = around.reach, ~fixed
    temperature = np.where(fixed, wanted, 0.0)
    if not free.any():
        return temperature
    inner = reach.loss[np.ix_(free, free)]
    outside = reach.loss[np.ix_(free, fixed)] @ emissive_power(temperature[fixed]) + around._constant()[free]
    # a start too hot for every free zone: black radiation that alone would carry the greatest power off
    lets_go = -(reach.loss_sheet + reach.loss_surround)[free]
    boundary = reach.loss_sheet * emissive_power(around.sheet) + reach.loss_surround * emissive_power(around.walls)
    hot = float(np.max((power - boundary)[free] / lets_go))
    start = max((max(hot, 0.0) / STEFAN_BOLTZMANN) ** 0.25, around.air, *temperature[fixed].tolist(), 1.0)
    t = np.full(int(free.sum()), start)
    for _ in range(_ROUNDS):
        excess = inner @ emissive_power(t) + outside + around.coefficient * t - power[free]
        slope = inner * (4.0 * STEFAN_BOLTZMANN * t**3) + around.coefficient * np.eye(len(t))
        step = np.linalg.solve(slope, excess)
        t = t - step
        if np.max(np.abs(step)) <= _ENOUGH * start:
            break
    temperature[free] = t
    return temperature
