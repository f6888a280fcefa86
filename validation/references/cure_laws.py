"""Cure in closed form: isothermal laws, the peak of a heating ramp, adiabatic times, glass transition and gel point."""

from __future__ import annotations

import math
from collections.abc import Callable

R = 8.314462618  # J/mol/K, CODATA 2018


def nth_order(k: float, n: float, t: float) -> float:
    """Degree after t of da/dt = k (1 - a)^n from 0: (1 - a)^(1-n) = 1 - (1 - n) k t."""
    if n == 1:
        return 1 - math.exp(-k * t)
    left = 1 - (1 - n) * k * t
    return 1.0 if left <= 0 else 1 - left ** (1 / (1 - n))


def autocatalytic(k1: float, k2: float, t: float) -> float:
    """Degree after t of da/dt = (k1 + k2 a)(1 - a) from 0."""
    e = math.exp((k1 + k2) * t)
    return (e - 1) / (e + k2 / k1)


def autocatalytic_peak(k1: float, k2: float) -> tuple[float, float]:
    """(time, degree) of its fastest rate: ln(k2/k1)/(k1 + k2), (k2 - k1)/(2 k2)."""
    return math.log(k2 / k1) / (k1 + k2), (k2 - k1) / (2 * k2)


def power_law_time(k: float, m: float, start: float, end: float) -> float:
    """Time of da/dt = k a^m (1 - a)^(2-m): with y = a/(1 - a), y^(1-m) = y0^(1-m) + (1 - m) k t."""

    def y(a: float) -> float:
        return (a / (1 - a)) ** (1 - m)

    return (y(end) - y(start)) / ((1 - m) * k)


def arrhenius(factor: float, energy: float, temperature: float, gas_constant: float = R) -> float:
    """factor exp(-E/RT) [1/s]; energy [J/mol], temperature [K]."""
    return factor * math.exp(-energy / (gas_constant * temperature))


def peak_temperature(factor: float, energy: float, heating_rate: float) -> float:
    """Temperature [K] of the fastest first-order rate on a heating ramp [K/s]: E b/(R T^2) = A exp(-E/RT).

    Source: Kissinger (1957).
    """
    from scipy.optimize import brentq

    def miss(t: float) -> float:
        return energy * heating_rate / (R * t**2) - arrhenius(factor, energy, t)

    return float(brentq(miss, 200.0, 900.0, xtol=1e-11))


def degree_at_peak(factor: float, energy: float, heating_rate: float) -> float:
    """Degree at that temperature, by quadrature of the rate along the ramp."""
    from scipy.integrate import quad

    top = peak_temperature(factor, energy, heating_rate)
    dose = quad(
        lambda t: arrhenius(factor, energy, t) / heating_rate, 0.4 * top, top, epsabs=0, epsrel=1e-12, limit=200
    )[0]
    return 1 - math.exp(-dose)


def first_order_ramp(
    factor: float, energy: float, heating_rate: float, start: float, temperatures: list[float]
) -> list[float]:
    """Degrees at temperatures [K] of a first-order reaction on a ramp [K/s] from ``start`` [K].

    -ln(1 - a) = A E/(R b) [p(x) - p(x0)], x = E/(R T), p(x) = integral from x of exp(-u)/u^2 du = E2(x)/x.
    """
    from scipy.special import expn

    def p(t: float) -> float:
        x = energy / (R * t)
        return float(expn(2, x)) / x

    scale = factor * energy / (R * heating_rate)
    return [1 - math.exp(-scale * (p(t) - p(start))) for t in temperatures]


def adiabatic_time(rate: Callable[[float, float], float], start: float, rise: float, degree: float) -> float:
    """Time [s] to ``degree`` of a body that keeps its heat: t = int da / rate(T0 + rise a, a)."""
    from scipy.integrate import quad

    return float(quad(lambda a: 1 / rate(start + rise * a, a), 0.0, degree, epsabs=1e-10, epsrel=1e-12, limit=400)[0])


def adiabatic_fastest_degree(factor: float, energy: float, start: float, rise: float) -> float:
    """Degree of the fastest rate of a first-order reaction that keeps its heat: rise E (1 - a) = R T^2."""
    from scipy.optimize import brentq

    def miss(a: float) -> float:
        t = start + rise * a
        return rise * energy * (1 - a) - R * t**2

    return float(brentq(miss, 1e-9, 1 - 1e-9, xtol=1e-14))


def glass_transition(degree: float, fresh: float, cured: float, ratio: float) -> float:
    """DiBenedetto: Tg = Tg0 + (Tginf - Tg0) lam a/[1 - (1 - lam) a] (Pascault & Williams' form)."""
    return fresh + (cured - fresh) * ratio * degree / (1 - (1 - ratio) * degree)


def degree_of_glass_transition(temperature: float, fresh: float, cured: float, ratio: float) -> float:
    """Degree at which Tg reaches ``temperature``."""
    y = (temperature - fresh) / (cured - fresh)
    return y / (ratio + (1 - ratio) * y)


def gel_degree(first: int, second: int) -> float:
    """Flory-Stockmayer gel degree of a stoichiometric A_f + B_g: 1/sqrt((f - 1)(g - 1))."""
    return 1 / math.sqrt((first - 1) * (second - 1))
