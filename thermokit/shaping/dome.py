"""A dome blown freely from a ring, or a bubble drawn by vacuum: height, pressure, thickness from ring to pole, burst.

The sheet is a rubber of one temperature, clamped at the ring; what cools while it is blown is not in it. See ``membrane``
for the equations and ``modulus`` for the shear modulus of hot sheet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError, SolveError
from thermokit.shaping.membrane import FLATTEST, FULLEST, Shape, at_height, inflate, limit_point
from thermokit.shaping.rubber import Rubber, neo_hookean

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Dome:
    """A blown dome in SI units.

    ring_radius, blank_thickness [m], modulus (shear, of the hot sheet) [Pa], law : what it is made of; shape : without
    dimensions; limit : the shape at the limit point, None where pressure only rises with height.
    """

    ring_radius: float
    blank_thickness: float
    modulus: float
    law: Rubber
    shape: Shape
    limit: Shape | None

    @property
    def _unit_pressure(self) -> float:
        return self.modulus * self.blank_thickness / self.ring_radius

    @property
    def pressure(self) -> float:
        """Pressure over that of the other face [Pa]."""
        return self.shape.pressure * self._unit_pressure

    @property
    def height(self) -> float:
        """Height of the pole over the ring's plane [m]."""
        return self.shape.height * self.ring_radius

    @property
    def pole_stretch(self) -> float:
        """Stretch at the pole, the same in all directions [-]."""
        return self.shape.pole_stretch

    @property
    def place(self) -> Array:
        """Where in the flat blank each point came from: distance from its middle [m], (points,) from pole to ring."""
        return np.asarray(self.shape.place * self.ring_radius)

    @property
    def r(self) -> Array:
        """Distance of each point from the axis [m], (points,) from pole to ring."""
        return np.asarray(self.shape.r * self.ring_radius)

    @property
    def z(self) -> Array:
        """Height of each point over the ring's plane [m], (points,) from pole to ring."""
        return np.asarray(self.shape.z * self.ring_radius)

    @property
    def thickness(self) -> Array:
        """Thickness at each point [m], (points,) from pole to ring."""
        return np.asarray(self.shape.thickness * self.blank_thickness)

    @property
    def area(self) -> float:
        """Area of the dome [m2]."""
        return self.shape.area * self.ring_radius**2

    @property
    def volume(self) -> float:
        """Volume between the dome and the ring's plane [m3]: the air it took."""
        return self.shape.volume * self.ring_radius**3

    @property
    def mean_thickness(self) -> float:
        """Thickness averaged over the area of the dome [m]: what weighing gives."""
        return float(np.pi) / self.shape.area * self.blank_thickness

    @property
    def stable(self) -> bool:
        """Whether it stays as high as it is under held pressure; past the limit point only a stop or a shut valve holds."""
        return self.limit is None or self.shape.pole_stretch <= self.limit.pole_stretch

    @property
    def limit_pressure(self) -> float:
        """Greatest pressure that a dome of this ring can carry [Pa]; NaN where pressure only rises."""
        return np.nan if self.limit is None else self.limit.pressure * self._unit_pressure

    @property
    def limit_height(self) -> float:
        """Height at that pressure [m]; NaN where pressure only rises."""
        return np.nan if self.limit is None else self.limit.height * self.ring_radius


def dome(
    ring_radius: float,
    blank_thickness: float,
    modulus: float,
    *,
    pressure: float | None = None,
    height: float | None = None,
    pole_thickness: float | None = None,
    law: Rubber | None = None,
    points: int = 101,
) -> Dome:
    """The dome that a pressure gives, or that has a height, or that leaves so much thickness at its pole.

    ring_radius, blank_thickness [m]; modulus : shear modulus of the hot sheet [Pa]; exactly one of pressure [Pa],
    height [m] (0.002 to 2 ring radii) and pole_thickness [m] (1/64 of the blank up to just below it); law : neo-Hookean
    unless another is given; points : along the meridian.

    Raises DataError where what is asked for cannot be, SolveError where the pressure is more than the sheet can carry.

    >>> ball = dome(0.1, 4e-3, 0.4e6, height=0.1)  # a hemisphere, 200 mm across
    >>> round(float(ball.thickness[0] / ball.blank_thickness), 2), ball.stable
    (0.3, True)
    """
    asked = {"pressure": pressure, "height": height, "pole_thickness": pole_thickness}
    given = {name: value for name, value in asked.items() if value is not None}
    sizes = {"ring_radius": ring_radius, "blank_thickness": blank_thickness, "modulus": modulus} | given
    wrong = [f"{name} {value:g}" for name, value in sizes.items() if not 0.0 < value < np.inf]
    if wrong:
        raise DataError(f"dome: {', '.join(wrong)} must be more than 0 and finite")
    if len(given) != 1:
        raise DataError("dome: give exactly one of pressure, height and pole_thickness")
    law = law or neo_hookean()
    limit = limit_point(law)
    unit = modulus * blank_thickness / ring_radius
    if height is not None:
        shape = at_height(law, height / ring_radius, points)
    elif pole_thickness is not None:
        left = pole_thickness / blank_thickness
        if not FULLEST**-2 <= left <= FLATTEST**-2:
            raise DataError(
                f"dome: {100 * left:.3g} % of the blank left at the pole; allowed: 1.6 % to just below 100 %"
            )
        shape = inflate(law, left**-0.5, points)
    else:
        shape = _under_pressure(law, (pressure or 0.0) / unit, unit, limit, points)
    return Dome(ring_radius, blank_thickness, modulus, law, shape, limit)


def vacuum_draw(
    ring_radius: float,
    blank_thickness: float,
    modulus: float,
    depth: float,
    vacuum: float = 85e3,
    law: Rubber | None = None,
    points: int = 101,
) -> Dome:
    """The bubble drawn down to a depth [m] by vacuum, as for snap-back: the dome upside down, if the vacuum is enough.

    vacuum : pressure below that of the air that the pump holds [Pa], 0 to 101 325; 85 kPa is common practice.
    Raises SolveError where more is needed, DataError as ``dome``.
    """
    if not 0.0 < vacuum <= 101325.0:
        raise DataError(f"a vacuum of {vacuum / 1e3:g} kPa below the air; allowed: above 0 and at most 101.325 kPa")
    drawn = dome(ring_radius, blank_thickness, modulus, height=depth, law=law, points=points)
    # on the way down the greatest pressure must be passed, not only the last one reached
    passed = drawn.pressure if drawn.stable else drawn.limit_pressure
    if passed > vacuum:
        raise SolveError(
            f"drawing {1e3 * depth:.4g} mm deep takes {passed / 1e3:.3g} kPa, the vacuum gives {vacuum / 1e3:.3g} kPa",
            "draw less deep, heat the sheet more, take thinner sheet, or help with air from above",
        )
    return drawn


def _under_pressure(law: Rubber, pressure: float, unit: float, limit: Shape | None, points: int) -> Shape:
    """The stable shape under a pressure P."""
    from scipy.optimize import brentq

    most = limit.pole_stretch if limit is not None else FULLEST
    top = limit.pressure if limit is not None else inflate(law, FULLEST, 2).pressure
    if pressure > top:
        if limit is None:
            raise DataError(f"dome: {pressure * unit / 1e3:.4g} kPa blows it beyond a pole stretch of {FULLEST:g}")
        raise SolveError(
            f"the dome bursts: {pressure * unit / 1e3:.4g} kPa is more than it can carry, {top * unit / 1e3:.4g} kPa at a "
            f"height of {limit.height:.3g} ring radii",
            "blow with less pressure and stop by height, not by pressure",
        )
    if pressure < inflate(law, FLATTEST, 2).pressure:
        raise DataError(f"dome: {pressure * unit:.3g} Pa leaves the sheet flat to a millionth")
    stretch = brentq(lambda x: inflate(law, x, 2).pressure - pressure, FLATTEST, most, xtol=1e-13, rtol=1e-12)
    return inflate(law, float(stretch), points)
