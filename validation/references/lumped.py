"""Thin bodies of one temperature: convection, radiation, and both, through stages."""

from __future__ import annotations

import math


def convection_time(rho_c: float, volume_per_area: float, h: float, start: float, air: float, end: float) -> float:
    """Time [s] from start to end: (rho c V / h A) ln[(Ti - Ta)/(Te - Ta)]. Source: Holman, Example 4-1."""
    return rho_c * volume_per_area / h * math.log((start - air) / (end - air))


def convection_temperature(rho_c: float, volume_per_area: float, h: float, start: float, air: float, t: float) -> float:
    """Temperature after t seconds."""
    return air + (start - air) * math.exp(-h * t / (rho_c * volume_per_area))


def radiation_time(
    factor: float, sigma: float, rho_c: float, volume_per_area: float, start: float, end: float, s: float
) -> float:
    """Time [s] from start to end [K] by radiation alone to surroundings at ``s`` [K].

    4 e sigma A Ts^3 t/(rho V c) = [ln|(T + Ts)/(T - Ts)| + 2 atan(T/Ts)] from start to end
    Source: Bejan & Kraus, Heat Transfer Handbook (2003), eq. (3.283).
    """

    def part(t: float) -> float:
        return math.log(abs((t + s) / (t - s))) + 2 * math.atan(t / s)

    return (part(end) - part(start)) * rho_c * volume_per_area / (4 * factor * sigma * s**3)


def radiation_convection_time_to_zero(
    factor: float, sigma: float, h: float, rho_c: float, volume_per_area: float, start: float, end: float
) -> float:
    """The same with convection h too, both surroundings at 0 K.

    t = (rho c V/3hA) ln[Ti^3 (h + e s T^3)/(T^3 (h + e s Ti^3))]

    Source: Bejan & Kraus, Heat Transfer Handbook (2003), eq. (3.284).
    """
    b = factor * sigma
    inside = (start**3 * (h + b * end**3)) / (end**3 * (h + b * start**3))
    return rho_c * volume_per_area / (3 * h) * math.log(inside)


class Panel:
    """A thin panel, both faces in air and walls of one temperature: time between temperatures by exact quadrature.

    Source: Incropera et al., Example 5.3 (epoxy on an aluminium panel).
    """

    def __init__(self, thickness: float, rho_c: float, emissivity: float, sigma: float):
        """thickness [m], rho_c [J/m3/K]."""
        self.capacity = thickness * rho_c / 2  # per face
        self.factor = emissivity * sigma

    def _rate(self, t: float, h: float, surround: float) -> float:
        return (h * (surround - t) + self.factor * (surround**4 - t**4)) / self.capacity

    def time(self, start: float, end: float, h: float, surround: float) -> float:
        """Time [s] from start to end [K]."""
        from scipy.integrate import quad

        return float(quad(lambda t: 1 / self._rate(t, h, surround), start, end, epsabs=1e-11, epsrel=1e-12)[0])

    def temperature(self, start: float, duration: float, h: float, surround: float) -> float:
        """Temperature [K] after ``duration``."""
        from scipy.integrate import solve_ivp

        out = solve_ivp(
            lambda _, y: [self._rate(y[0], h, surround)],
            (0, duration),
            [start],
            method="DOP853",
            rtol=1e-12,
            atol=1e-10,
        )
        return float(out.y[0, -1])
