"""The air of an oven as one body: heaters, walls, air change, doors, and what its load takes.

    C dT/dt = P - (G + D(t)) (T - T_room) - sum_i [H_i (T - T_i) + R_i sigma (T^4 - T_i^4)]

P heaters, from nothing to all they give, in proportion within a band below the set temperature; G [W/K] walls and steady air
change, D [W/K] open doors; H_i = n A h [W/K] and R_i = n A eF [m2] of load i, whose faces T_i(t) come from elsewhere. To find
them together, a lumped stand-in of each load, M dS/dt = (H + 4 R sigma Tm^3)(T - S), follows the air within the step, and
what the true face is off it (T_i - S, from the round before) is added: so few rounds are enough even where the load has
much more heat than the oven. Backward steps, Newton's rule, many ovens at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

STEFAN_BOLTZMANN = 5.670374419e-8  # W/m2/K4, CODATA 2018
ROUNDS = 40  # of Newton's rule in a step
ENOUGH = 1e-8  # K


@dataclass(frozen=True)
class Oven:
    """An oven without its load; numbers, or arrays over ovens (ovens,).

    set_point, room [K]; power [W] at most; losses [W/K] through walls and steady air change; capacity [J/K]; band [K].
    """

    set_point: Any
    room: Any
    power: Any
    losses: Any
    capacity: Any
    band: Any

    @property
    def idle(self) -> Any:
        """Power that holds the set temperature without a load [W]; the controller knows it, so that nothing is left over."""
        return self.losses * (self.set_point - self.room)

    def wanted(self, temperature: Array) -> Array:
        """Power that proportional control asks for [W], whether the heaters have it or not."""
        return np.asarray(self.idle + self.power * (self.set_point - temperature) / self.band)

    def heaters(self, temperature: Array) -> Array:
        """Power of the heaters [W] at an air temperature [K]."""
        return np.clip(self.wanted(temperature), 0.0, self.power)

    def gain(self, temperature: Array) -> Array:
        """d heaters/dT [W/K]."""
        wanted = self.wanted(temperature)
        inside = (wanted > 0.0) & (wanted < self.power)
        return np.where(inside, -self.power / self.band, 0.0)


@dataclass(frozen=True)
class Load:
    """What stands in the oven, (loads, ovens) each: H = n A h [W/K], R = n A eF [m2], M = n A times heat capacity [J/K].

    mean : temperature that its radiation is made straight at for the stand-in [K]; start : of its face [K].
    """

    convection: Array
    radiation: Array
    capacity: Array
    start: Array
    mean: float

    @property
    def exchange(self) -> Array:
        """Convection and straightened radiation [W/K]."""
        return np.asarray(self.convection + 4.0 * self.radiation * STEFAN_BOLTZMANN * self.mean**3)

    def share(self, step: float) -> Array:
        """a/(1 + a) of a backward step: how far the stand-in follows the air."""
        a = self.exchange * step / self.capacity
        return np.asarray(a / (1.0 + a))

    def taken(self, air: Array, face: Array) -> Array:
        """Heat into each load [W], (loads, ovens)."""
        return np.asarray(self.convection * (air - face) + self.radiation * STEFAN_BOLTZMANN * (air**4 - face**4))

    def stand_in(self, time: Array, air: Array) -> Array:
        """Faces of the stand-ins under a given air, (times, loads, ovens) [K]; air (times, ovens)."""
        s = np.empty((len(time), *self.start.shape))
        s[0] = self.start
        for k in range(1, len(time)):
            s[k] = s[k - 1] + self.share(time[k] - time[k - 1]) * (air[k] - s[k - 1])
        return s


def loaded_air(oven: Oven, load: Load, time: Array, start: Any, doors: Array, off: Array) -> tuple[Array, Array]:
    """(air (times, ovens), faces (times, loads, ovens)) [K] of an oven with its load.

    time (times,) [s]; start of the air [K]; doors (times,) [W/K] in the step that ends there; off (times, loads, ovens) [K] :
    true face less that of the stand-in.
    """
    ovens = off.shape[2]
    t, s = np.empty((len(time), ovens)), np.empty(off.shape)
    t[0], s[0] = start, load.start
    for k in range(1, len(time)):
        step = float(time[k] - time[k - 1])
        own, loss, share = oven.capacity / step, oven.losses + doors[k], load.share(step)
        x = t[k - 1].copy()
        for _ in range(ROUNDS):
            face = s[k - 1] + share * (x - s[k - 1]) + off[k]
            residual = own * (x - t[k - 1]) - oven.heaters(x) + loss * (x - oven.room) + load.taken(x, face).sum(axis=0)
            radiant = 4.0 * load.radiation * STEFAN_BOLTZMANN
            slope = own - oven.gain(x) + loss
            slope = slope + (load.convection * (1.0 - share) + radiant * (x**3 - face**3 * share)).sum(axis=0)
            change = residual / slope
            x = x - np.clip(change, -50.0, 50.0)
            if np.max(np.abs(change)) < ENOUGH:
                break
        t[k] = x
        s[k] = s[k - 1] + share * (x - s[k - 1])
    return t, s + off
