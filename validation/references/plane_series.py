"""Plane sheets with other faces than convection: prescribed flux, two wall temperatures, a sinusoidal face."""

from __future__ import annotations

import math

import numpy as np

_N = np.arange(1, 2001)


def constant_flux(x: float, t: float, thickness: float, k: float, rho_c: float, flux: float) -> float:
    """Rise of temperature [K] of a sheet with ``flux`` into the face x = thickness, x = 0 insulated.

    (qL/k) {Fo + [3(x/L)^2 - 1]/6 - (2/pi^2) sum (-1)^n/n^2 exp(-n^2 pi^2 Fo) cos(n pi x/L)}
    Source: Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., section 3.8.
    """
    fo = k / rho_c * t / thickness**2
    s = x / thickness
    series = np.sum((-1.0) ** _N / _N**2 * np.exp(-(_N**2) * math.pi**2 * fo) * np.cos(_N * math.pi * s))
    return flux * thickness / k * (fo + (3 * s**2 - 1) / 6 - 2 / math.pi**2 * float(series))


def two_walls(x: float, t: float, thickness: float, a: float, start: float, at_0: float, at_l: float) -> float:
    """Temperature of a sheet that starts uniform and whose faces are held at two temperatures.

    Source: sine series about the steady straight line (Carslaw & Jaeger, section 3.4).
    """
    s = x / thickness
    steady = at_0 + (at_l - at_0) * s
    b = 2 / (_N * math.pi) * ((start - at_0) - (-1.0) ** _N * (start - at_l))
    decay = np.exp(-(_N**2) * math.pi**2 * a * t / thickness**2)
    return steady + float(np.sum(b * decay * np.sin(_N * math.pi * s)))


def sinusoidal_face(x: float, t: float, thickness: float, a: float, amplitude: float, omega: float) -> float:
    """Temperature with T = 0 at x = 0 and T = amplitude sin(omega t) at x = thickness, start 0.

    Source: Duhamel's integral, term by term; the case is NAFEMS T3 (The Standard NAFEMS Benchmarks, Rev. 3, 1990).
    """
    s = x / thickness
    rate = _N**2 * math.pi**2 * a / thickness**2
    c = 2 * (-1.0) ** (_N + 1) / (_N * math.pi)
    b = rate * math.cos(omega * t) + omega * math.sin(omega * t) - rate * np.exp(-rate * t)
    b = -c * amplitude * omega * b / (rate**2 + omega**2)
    return amplitude * math.sin(omega * t) * s + float(np.sum(b * np.sin(_N * math.pi * s)))


def cooling_time_one_term(
    thickness: float, a: float, melt: float, wall: float, end: float, mean: bool = False
) -> float:
    """The trade's one-term cooling time: s^2/(pi^2 a) ln[C (Tm - Tw)/(Te - Tw)], C = 4/pi centre, 8/pi^2 mean.

    Wrong, and for the mean even negative, while (Te - Tw)/(Tm - Tw) is near or above C's reciprocal.
    Source: first term of the Fourier series; printed widely in the moulding trade.
    """
    c = 8 / math.pi**2 if mean else 4 / math.pi
    return thickness**2 / (math.pi**2 * a) * math.log(c * (melt - wall) / (end - wall))
