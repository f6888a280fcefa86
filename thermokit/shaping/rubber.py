"""How a hot sheet resists being stretched: incompressible rubber laws, scaled by the shear modulus.

Strain energy per volume, in the form of R. W. Ogden, Proc. R. Soc. A 326 (1972) 565::

    W / G = sum_i m_i / a_i (l1^a_i + l2^a_i + l3^a_i - 3),    l1 l2 l3 = 1,    sum_i m_i a_i = 2

with the stretches l1, l2 in the sheet and l3 through it, and the shear modulus at rest G. One term with a = 2 is the
neo-Hookean law, two terms with a = 2 and -2 are the law of Mooney and Rivlin.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from thermokit.errors import DataError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]


class Slopes(NamedTuple):
    """Derivatives of W / G by the two stretches in the sheet: first (nominal stress over G) and second."""

    first: float
    second: float
    first_first: float
    first_second: float
    second_second: float


@dataclass(frozen=True)
class Rubber:
    """An incompressible rubber law, scaled so that its shear modulus at rest is 1.

    terms : pairs (m_i, a_i) with sum m_i a_i = 2, each product m_i a_i >= 0 (else the sheet softens of itself).
    """

    name: str
    terms: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        products = [weight * power for weight, power in self.terms]
        if not self.terms or min(products) < 0.0 or abs(sum(products) - 2.0) > 1e-9:
            raise DataError(
                f"rubber law {self.name!r}: the products of weight and exponent must not be negative and must add up to 2, "
                f"they are {', '.join(f'{x:g}' for x in products) or 'none'}; use neo_hookean, mooney_rivlin or ogden"
            )

    def slopes(self, first: float, second: float) -> Slopes:
        """Derivatives of W / G at two stretches in the sheet, the third following from constant volume.

        dW/dl1 = sum m (l1^a - l3^a) / l1, and so on; numbers only (the membrane's inner loop).
        """
        through = 1.0 / (first * second)
        d1 = d2 = d11 = d12 = d22 = 0.0
        for weight, power in self.terms:
            a1, a2, a3 = first**power, second**power, through**power
            d1 += weight * (a1 - a3)
            d2 += weight * (a2 - a3)
            d11 += weight * ((power - 1.0) * a1 + (power + 1.0) * a3)
            d22 += weight * ((power - 1.0) * a2 + (power + 1.0) * a3)
            d12 += weight * power * a3
        return Slopes(d1 / first, d2 / second, d11 / first**2, d12 / (first * second), d22 / second**2)

    def stress(self, first: ArrayLike, second: ArrayLike) -> Array:
        """True stress over shear modulus along the first direction of a sheet stretched in two [-].

        s1 / G = sum m (l1^a - l3^a), l3 = 1/(l1 l2); nothing presses on the faces.

        first, second : stretches > 0, any shapes that broadcast.
        Source: R. W. Ogden (1972), equation (11), with the stress through the sheet zero.

        >>> round(float(neo_hookean().stress(2.0, 2.0)), 6)  # equibiaxial: l^2 - l^-4 = 4 - 1/16
        3.9375
        """
        one = np.asarray(first, dtype=float)
        through = 1.0 / (one * np.asarray(second, dtype=float))
        return np.asarray(sum(weight * (one**power - through**power) for weight, power in self.terms))


def neo_hookean() -> Rubber:
    """The law of an ideal network of chains, W = G/2 (I1 - 3): what a hot sheet is taken for unless more is known.

    Source: L. R. G. Treloar, Trans. Faraday Soc. 39 (1943) 241. Fair to stretches of about 1.5 to 2 (area 2 to 4); a real
    sheet stiffens beyond.

    >>> neo_hookean().terms
    ((1.0, 2.0),)
    """
    return Rubber("neo-Hookean", ((1.0, 2.0),))


def mooney_rivlin(ratio: float) -> Rubber:
    """The law of Mooney and Rivlin, W = C1 (I1 - 3) + C2 (I2 - 3), by the ratio C2/C1; G = 2 (C1 + C2).

    ratio : C2/C1 >= 0; 0 is neo-Hookean, rubber about 0.1 to 0.2.
    Source: M. Mooney, J. Appl. Phys. 11 (1940) 582; R. S. Rivlin, Phil. Trans. A 241 (1948) 379.
    Raises DataError where the ratio is negative.

    >>> mooney_rivlin(0.25).terms  # 2 C1/G = 0.8, 2 C2/G = 0.2
    ((0.8, 2.0), (-0.2, -2.0))
    """
    if not ratio >= 0.0:
        raise DataError(f"ratio C2/C1 of a Mooney-Rivlin rubber is {ratio:g}; allowed: 0 and above, rubber 0.1 to 0.2")
    if ratio == 0.0:
        return neo_hookean()
    return Rubber(f"Mooney-Rivlin, C2/C1 = {ratio:g}", ((1.0 / (1.0 + ratio), 2.0), (-ratio / (1.0 + ratio), -2.0)))


def ogden(moduli: tuple[float, ...], exponents: tuple[float, ...]) -> tuple[Rubber, float]:
    """The law of Ogden from its moduli mu_i [Pa] and exponents a_i: (law scaled to G = 1, shear modulus G [Pa]).

    G = 1/2 sum mu_i a_i.  Source: R. W. Ogden, Proc. R. Soc. A 326 (1972) 565, equation (15).
    Raises DataError where the two lists differ in length or a product mu_i a_i is negative.

    >>> law, modulus = ogden((0.63e6, 0.0012e6, -0.01e6), (1.3, 5.0, -2.0))  # vulcanised rubber, Ogden (1972)
    >>> round(modulus)
    422500
    """
    if len(moduli) != len(exponents):
        raise DataError(
            f"an Ogden rubber needs one exponent a modulus: {len(moduli)} moduli, {len(exponents)} exponents"
        )
    modulus = 0.5 * sum(mu * power for mu, power in zip(moduli, exponents, strict=True))
    if not modulus > 0.0:
        raise DataError(f"the shear modulus of the Ogden rubber comes out at {modulus:g} Pa; it must be positive")
    terms = tuple((mu / modulus, power) for mu, power in zip(moduli, exponents, strict=True))
    return Rubber(f"Ogden, {len(terms)} terms", terms), modulus
