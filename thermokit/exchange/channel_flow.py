"""Flow through round channels: friction factors and mean Nusselt numbers, laminar, in transition and turbulent, without a jump.

Re = u d/nu by the (hydraulic) diameter, properties at the mean temperature of the liquid. Laminar up to Re = 2300,
turbulent from 4000; between them both the friction factor and Nu run straight from the one to the other (Gnielinski, Int. J.
Heat Mass Transfer 63 (2013) 134). Arguments may be numbers or arrays that broadcast. Scatter of the correlations: about
10 % turbulent, 20 % or more in transition.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

LAMINAR, TURBULENT = 2300.0, 4000.0  # Re
RANGES = {
    "Re": (0.0, 1e6),
    "Pr": (0.5, 2000.0),
    "roughness": (0.0, 0.05),  # over the diameter
}
ROUNDS = 6  # of Newton's method, which squares the error in each

# -- friction ----------------------------------------------------------------------------------------------------------


def friction_petukhov(reynolds: ArrayLike) -> Array:
    """Darcy friction factor of a smooth bore: f = (0.790 ln Re - 1.64)^-2, Re 3000 to 5e6.

    Petukhov (1970), as in Incropera et al., Fundamentals of Heat and Mass Transfer, eq. 8.21.

    >>> round(float(friction_petukhov(1e5)), 5)
    0.01799
    """
    return np.asarray((0.790 * np.log(reynolds) - 1.64) ** -2.0)


def friction_colebrook(reynolds: ArrayLike, roughness: ArrayLike = 0.0) -> Array:
    """Darcy friction factor of a rough bore: 1/sqrt(f) = -2 log10(e/3.7 + 2.51/(Re sqrt(f))), solved to round-off.

    reynolds from 4000; roughness e : height over diameter, 0 to 0.05. Colebrook (1939); begun from Haaland (1983).

    >>> round(float(friction_colebrook(122961.6, 0.002 / 50)), 4)  # Cengel, example 8-4
    0.0175
    """
    re, e = np.asarray(reynolds, float), np.asarray(roughness, float)
    x = -1.8 * np.log10((e / 3.7) ** 1.11 + 6.9 / re)
    for _ in range(ROUNDS):
        inside = e / 3.7 + 2.51 * x / re
        x = x - (x + 2.0 * np.log10(inside)) / (1.0 + 2.0 / np.log(10.0) * 2.51 / re / inside)
    return np.asarray(x**-2.0)


def friction_factor(reynolds: ArrayLike, roughness: ArrayLike = 0.0) -> Array:
    """Darcy friction factor at any Re > 0: 64/Re, in transition straight to Colebrook's at Re = 4000, beyond that Colebrook's."""
    re = np.asarray(reynolds, float)
    return _joined(re, lambda r: 64.0 / r, lambda r: friction_colebrook(r, roughness))


def _joined(re: Array, laminar: Callable[[Array], Array], turbulent: Callable[[Array], Array]) -> Array:
    """Two laws joined by a straight line between Re = 2300 and 4000."""
    share = np.clip((re - LAMINAR) / (TURBULENT - LAMINAR), 0.0, 1.0)
    below, above = laminar(np.minimum(re, LAMINAR)), turbulent(np.maximum(re, TURBULENT))
    return np.asarray((1.0 - share) * below + share * above)


# -- heat --------------------------------------------------------------------------------------------------------------


def nusselt_laminar(reynolds: ArrayLike, prandtl: ArrayLike, slenderness: ArrayLike = np.inf) -> Array:
    """Mean over a channel in developed laminar flow, wall of one temperature, the heat entering from its beginning on.

    Nu^3 = 3.66^3 + 0.7^3 + [1.615 (Re Pr/s)^(1/3) - 0.7]^3 (bracket not below 0), slenderness s = length/diameter (inf:
    the value far down the channel). Within 1 % of the Graetz series. Gnielinski (1989), as in VDI Heat Atlas, part G1
    (from memory). Natural convection, which adds to it in wide channels, is left out: the safe side.
    """
    graetz = np.asarray(reynolds, float) * np.asarray(prandtl) / np.asarray(slenderness, float)
    entry = np.maximum(1.615 * np.cbrt(graetz) - 0.7, -0.7)
    return np.asarray(np.cbrt(3.66**3 + 0.7**3 + entry**3))


def nusselt_gnielinski(reynolds: ArrayLike, prandtl: ArrayLike, friction: ArrayLike | None = None) -> Array:
    """Turbulent flow in a long channel: Nu = (f/8)(Re - 1000) Pr/[1 + 12.7 (f/8)^(1/2) (Pr^(2/3) - 1)].

    Re 3000 to 5e6, Pr 0.5 to 2000; friction : f, Petukhov's when None. Gnielinski, Int. Chem. Eng. 16 (1976) 359, as in
    Incropera et al., eq. 8.62.

    >>> round(float(nusselt_gnielinski(1e5, 1.2, 0.0185)), 4)  # documented with the library ht
    254.6268
    """
    re, pr = np.asarray(reynolds, float), np.asarray(prandtl, float)
    f = friction_petukhov(re) if friction is None else np.asarray(friction, float)
    return np.asarray(f / 8 * (re - 1000.0) * pr / (1.0 + 12.7 * np.sqrt(f / 8) * (np.cbrt(pr) ** 2 - 1.0)))


def nusselt_dittus_boelter(reynolds: ArrayLike, prandtl: ArrayLike, heated: bool = True) -> Array:
    """The hand formula of turbulent flow: Nu = 0.023 Re^0.8 Pr^0.4, exponent 0.3 where the liquid is cooled.

    Re from 1e4, Pr 0.6 to 160, long channels; up to 25 % off. As in Incropera et al., eq. 8.60.
    """
    return np.asarray(
        0.023 * np.asarray(reynolds, float) ** 0.8 * np.asarray(prandtl, float) ** (0.4 if heated else 0.3)
    )


def nusselt(
    reynolds: ArrayLike, prandtl: ArrayLike, slenderness: ArrayLike = np.inf, prandtl_wall: ArrayLike | None = None
) -> Array:
    """Mean Nusselt number of a channel at any Re, with its entrance and the wall's temperature.

    Laminar by :func:`nusselt_laminar`; turbulent by Gnielinski's formula with Petukhov's friction, times
    1 + (d/length)^(2/3) for the entrance (Hausen 1959); between Re = 2300 and 4000 straight from the one to the other; all
    times (Pr/Pr_wall)^0.11, Pr_wall at the temperature of the bore. Roughness is not counted: it helps the friction more
    than the heat. Ranges: ``RANGES``, see :func:`outside`; beyond them a number comes all the same.
    """
    re, pr = np.asarray(reynolds, float), np.asarray(prandtl, float)
    entrance = 1.0 + np.asarray(slenderness, float) ** (-2.0 / 3.0)
    mean = _joined(re, lambda r: nusselt_laminar(r, pr, slenderness), lambda r: nusselt_gnielinski(r, pr) * entrance)
    return mean if prandtl_wall is None else np.asarray(mean * (pr / np.asarray(prandtl_wall, float)) ** 0.11)


def annulus_factor(ratio: ArrayLike) -> Array:
    """Nu of the outer wall of an annulus over that of a round channel of the same hydraulic diameter, turbulent.

    1 - 0.14 ratio^0.6, ratio : inner over outer diameter; the inner wall insulated. Petukhov & Roizen (1964), as in VDI
    Heat Atlas, part G2 (from memory).
    """
    return np.asarray(1.0 - 0.14 * np.asarray(ratio, float) ** 0.6)


def regime(reynolds: float) -> str:
    """``laminar``, ``in transition`` or ``turbulent``."""
    return "laminar" if reynolds <= LAMINAR else "in transition" if reynolds < TURBULENT else "turbulent"


def outside(reynolds: ArrayLike, prandtl: ArrayLike, roughness: ArrayLike = 0.0) -> str:
    """In words that a flow lies outside the range of these correlations; empty where it does not."""
    for (name, (low, high)), value in zip(RANGES.items(), (reynolds, prandtl, roughness), strict=True):
        least, most = float(np.min(value)), float(np.max(value))
        if least < low or most > high:
            return f"channel flow: {name} from {least:.3g} to {most:.3g} lies outside its range, {low:g} to {high:g}"
    return ""
