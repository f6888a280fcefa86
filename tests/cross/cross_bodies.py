"""Small problems, each with one thing that the two engines do in different ways. SI and kelvin, 10 to 20 cells."""

from __future__ import annotations

import numpy as np

from thermokit.conduction.problem import (
    Curve,
    DepthSource,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Reaction,
    Series,
    Span,
    Transition,
)
from thermokit.kinetics.rates import TwoRate

K = 273.15
STEEL = Medium(7850.0, 50.0, 480.0)
PLASTIC = Medium(1100.0, 0.2, 1900.0)
HEATED = Curve(np.array([20.0, 120.0, 220.0]) + K, np.array([1400.0, 2000.0, 2500.0]))
WARM = Curve(np.array([20.0, 200.0]) + K, np.array([0.18, 0.30]))


def even(cells: int) -> np.ndarray:
    """Equal cells."""
    return np.linspace(0.0, 1.0, cells + 1)


def air(h: float, t: float) -> Face:
    """A face in air at t [degC]."""
    return Face(exchange=(Exchange(h, t + K),))


def layers_with_contact() -> Problem:
    """Two plane layers with a contact between them: a hot tool side, an air side, then both in air."""
    inner = Layer(STEEL, 4e-3, even(6), 20.0 + K, contact=400.0)
    outer = Layer(PLASTIC, 5e-3, even(10), 30.0 + K)
    spans = (Span(60.0, Face(temperature=120.0 + K), air(20.0, 25.0)), Span(40.0, air(30.0, 20.0), air(30.0, 20.0)))
    return Problem((inner, outer), spans)


def solid_cylinder() -> Problem:
    """A solid rod whose conductivity and heat capacity change with temperature, quenched."""
    rod = Layer(Medium(1000.0, WARM, HEATED), 4e-3, even(14), 200.0 + K)
    return Problem((rod,), (Span(30.0, outer=air(800.0, 20.0)),), shape="cylinder")


def hollow_sphere() -> Problem:
    """A hollow sphere of two layers with heat inside one of them, given by a time table."""
    core = Layer(PLASTIC, 3e-3, even(8), 20.0 + K, heat=Series((0.0, 20.0, 20.0), (4e5, 8e5, 0.0)))
    shell = Layer(STEEL, 1e-3, even(4), 20.0 + K)
    return Problem((core, shell), (Span(40.0, air(15.0, 20.0), air(40.0, 20.0)),), shape="sphere", inner_radius=5e-3)


def radiating_sheet() -> Problem:
    """A sheet between unlike panels, the upper one warming up, then in air."""
    sheet = Layer(Medium(1150.0, 0.19, HEATED), 3e-3, even(14), 20.0 + K)
    upper = Face(
        exchange=(Exchange(8.0, 60.0 + K),),
        radiation=(Radiation(0.6, Series((0.0, 30.0), (300.0 + K, 420.0 + K))), Radiation(0.3, 30.0 + K)),
    )  # fmt: skip
    lower = Face(exchange=(Exchange(8.0, 60.0 + K),), radiation=(Radiation(0.5, 350.0 + K),), heating=500.0)
    still = Face(exchange=(Exchange(6.0, 25.0 + K),), radiation=(Radiation(0.9, 25.0 + K),))
    return Problem((sheet,), (Span(60.0, upper, lower), Span(8.0, still, still)))


def absorbing_sheet() -> Problem:
    """Heat put in depth, switched on and off within a span."""
    depth = np.exp(-np.linspace(0.0, 4.0, 12)) * 5e6
    source = DepthSource(depth, Series((0.0, 10.0, 10.0), (1.0, 1.0, 0.0)))
    span = Span(20.0, air(10.0, 25.0), air(10.0, 25.0), sources=(source,))
    return Problem((Layer(PLASTIC, 3e-3, even(12), 25.0 + K),), (span,))


def curing_charge() -> Problem:
    """A charge that heats itself above its platens."""
    rate = TwoRate(1e4, 65e3, 5e5, 60e3, 0.7, 1.3)
    reaction = Reaction("cure_degree", rate, 150e3, 0.01)
    layer = Layer(Medium(1600.0, 0.5, 1600.0), 8e-3, even(12), 60.0 + K, reactions=(reaction,))
    return Problem((layer,), (Span(200.0, air(1000.0, 150.0), air(1000.0, 150.0)),))


def melting_slab(low: float = 95.0, high: float = 125.0, peak: float | None = 110.0) -> Problem:
    """A slab that melts from one side."""
    melting = Transition(150e3, low + K, high + K, None if peak is None else peak + K)
    slab = Layer(Medium(900.0, 0.25, 2200.0, melting), 3e-3, even(12), 30.0 + K)
    return Problem((slab,), (Span(60.0, air(500.0, 180.0), Face()),))


def narrow_melting() -> Problem:
    """Latent heat within 1 K."""
    return melting_slab(109.5, 110.5, None)


def melt_and_crystallise() -> Problem:
    """A slab that melts on one curve and crystallises on a cooler one."""
    medium = Medium(
        900.0, 0.25, 2200.0, Transition(100e3, 140.0 + K, 165.0 + K), Transition(100e3, 105.0 + K, 125.0 + K, 115.0 + K)
    )
    slab = Layer(medium, 2e-3, even(12), 30.0 + K)
    spans = (Span(40.0, air(800.0, 200.0), air(800.0, 200.0)), Span(40.0, air(400.0, 30.0), air(100.0, 30.0)))
    return Problem((slab,), spans)


BODIES = {
    "layers with contact": layers_with_contact,
    "solid cylinder, k(T) and cp(T)": solid_cylinder,
    "hollow sphere, heat inside": hollow_sphere,
    "radiating sheet": radiating_sheet,
    "heat in depth": absorbing_sheet,
    "curing charge": curing_charge,
    "melting slab": melting_slab,
    "melting within 1 K": narrow_melting,
    "melting and crystallising": melt_and_crystallise,
}


def rows(problem: Problem, count: int = 4) -> np.ndarray:
    """A few times over the run, the end among them."""
    total = sum(float(span.duration) for span in problem.spans)
    return np.linspace(0.0, total, count + 1)[1:]
