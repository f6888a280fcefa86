"""Radiation by quadrature and by resistances: Planck's shares, view factors from their integrals, grey plates."""

from __future__ import annotations

import math

C2 = 0.014387768775039337  # m K, h c/k, exact in the SI (CODATA 2018)


def planck_share(product: float) -> float:
    """Share of black radiation below a wavelength, product = wavelength x temperature [m K], by quadrature.

    15/pi^4 times the integral of x^3/(exp x - 1) from C2/product on.
    """
    from scipy.integrate import quad

    low = C2 / product
    value, _ = quad(lambda x: x**3 / math.expm1(x), low, low + 60.0, epsabs=0.0, epsrel=1e-12, limit=200)
    return 15.0 / math.pi**4 * value


def wien_product() -> float:
    """Wavelength x temperature at the peak [m K]: C2/x with x = 5 (1 - exp(-x))."""
    from scipy.optimize import brentq

    return C2 / float(brentq(lambda x: x - 5.0 * (1.0 - math.exp(-x)), 4.0, 6.0, xtol=1e-14))


def opposed(width: float, height: float, gap: float) -> float:
    """View factor of equal opposed rectangles: the integral over both, the two places only by their distance (u, v).

    F = 4/(pi a b) int int (a - u)(b - v) c^2/(u^2 + v^2 + c^2)^2 du dv over 0..a, 0..b.
    """
    from scipy.integrate import dblquad

    def kernel(v: float, u: float) -> float:
        return (width - u) * (height - v) * gap**2 / (u * u + v * v + gap**2) ** 2

    return 4.0 / (math.pi * width * height) * dblquad(kernel, 0.0, width, 0.0, height, epsabs=1e-12)[0]


def perpendicular(depth: float, height: float, edge: float) -> float:
    """View factor of a rectangle (depth x edge) to one that stands on its edge (height x edge), by one quadrature.

    Depth and height of the two places are integrated by hand, the distance u along the edge is left::

        F = 1/(2 pi depth edge) int (edge - u) ln[(u^2 + d^2)(u^2 + h^2)/(u^2 (u^2 + d^2 + h^2))] du over 0..edge
    """
    from scipy.integrate import quad

    d2, h2 = depth**2, height**2

    def kernel(u: float) -> float:
        return (edge - u) * math.log((u * u + d2) * (u * u + h2) / (u * u * (u * u + d2 + h2)))

    return quad(kernel, 0.0, edge, epsabs=1e-12, limit=200)[0] / (2.0 * math.pi * depth * edge)


def element(width: float, height: float, gap: float, x: float, y: float) -> float:
    """View factor of a parallel rectangle, one corner at (0, 0), from an element at (x, y) across the gap, by its integral."""
    from scipy.integrate import dblquad

    def kernel(b: float, a: float) -> float:
        return gap**2 / (math.pi * ((a - x) ** 2 + (b - y) ** 2 + gap**2) ** 2)

    return dblquad(kernel, 0.0, width, 0.0, height, epsabs=1e-12)[0]


def plates_in_series(
    emissivities: tuple[float, ...], hot: float, cold: float, sigma: float
) -> tuple[float, list[float]]:
    """Flux between wide grey plates with shields between them [W/m2], and the shields' temperatures [K].

    emissivities : of the faces in order, two to a gap. Each gap resists by 1/e + 1/e' - 1.
    """
    pairs = zip(emissivities[::2], emissivities[1::2], strict=True)
    gaps = [1.0 / a + 1.0 / b - 1.0 for a, b in pairs]
    flux = sigma * (hot**4 - cold**4) / sum(gaps)
    shields, fourth = [], hot**4
    for gap in gaps[:-1]:
        fourth -= flux * gap / sigma
        shields.append(fourth**0.25)
    return flux, shields
