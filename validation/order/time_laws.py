"""Every rate law in time: alone on a body that warms steadily, and coupled with conduction and its own heat.

The laws are written out anew, as formulas of T and the degree, and integrated by scipy to 1e-12; Rodas4P
takes equal steps. Errors are the largest at the four quarters of the time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Reaction, Span
from thermokit.conduction.single import integrate_fixed
from thermokit.kinetics.along import Constants, Track, degrees_along
from thermokit.kinetics.branches import ByTemperature, SumOfRates
from thermokit.kinetics.held import Held
from thermokit.kinetics.limited import DiffusionLimited, Vitrified
from thermokit.kinetics.network import GlassTransition
from thermokit.kinetics.pvc import Fusion, Gelation, HeatDose
from thermokit.kinetics.rates import EpoxyAmine, NthOrder, TwoRate
from thermokit.kinetics.scaled import Scaled
from thermokit.kinetics.softening import Softening
from validation.order.bodies import Array, equal
from validation.order.lines import Edge, Lines, Slice
from validation.order.spectral import constant
from validation.order.study import Study

GROUP = "rate laws in time"
R = 8.314462618
exp = np.exp
SCIPY = "independent: the law written out, scipy at 1e-12"


@dataclass(frozen=True)
class Law:
    """A law, the same as formulas of (T, degrees...), and the states before it; ``heat`` [J/kg] of the last."""

    name: str
    laws: tuple[Any, ...]
    formulas: tuple[Callable[..., Array], ...]
    starts: tuple[float, ...] = (0.0,)
    begin: float = 380.0  # K, and what it warms to alone
    end: float = 430.0
    duration: float = 600.0
    heat: float = 60e3
    air: float | None = None  # K, round the slab; else the end
    steps: tuple[int, ...] = (32, 64, 128, 256)
    finer: int = 3  # times as many with conduction, whose cells are faster than the law
    least: float | None = None
    reason: str = ""
    last: int = 3


def _k(factor: float, energy: float) -> Callable[[Array], Array]:
    return lambda T: factor * exp(-energy / R / T)


def _about(rate: float, energy: float, reference: float) -> Callable[[Array], Array]:
    return lambda T: rate * exp(-energy / R * (1 / T - 1 / reference))


K1, K2 = (2e6, 72e3), (5e6, 70e3)
GLASS = GlassTransition(330.0, 480.0, 0.9)


def _tg(a: Array) -> Array:
    return np.asarray(330.0 + 150.0 * 0.9 * a / (1 - 0.1 * a))


def _vitrified(T: Array, a: Array) -> Array:
    chemical = _k(6e6, 72e3)(T) * (1 - a)
    diffusion = 5e-4 * exp(40.2 * (T - _tg(a)) / (51.6 + T - _tg(a)))
    return np.asarray(chemical * diffusion / (chemical + diffusion))


def _logistic(x: Array) -> Array:
    return np.asarray(1 / (1 + exp(-x)))


def _laws() -> list[Law]:
    first = NthOrder(*K1, 1.0)
    sums = NthOrder(1e6, 72e3, 1.0), TwoRate(0.0, 0.0, *K2, 1.0, 2.0)
    blend = NthOrder(*K1, 1.0), NthOrder(6e6, 72e3, 2.0)
    gel, g = Gelation(0.004, 80e3, 400.0), _about(0.004, 80e3, 400.0)
    f, dose, scale = _about(0.01, 60e3, 400.0), _about(1 / 900.0, 115e3, 410.0), 100.0
    epoxy = EpoxyAmine(3e5, 70e3, -2e5, 70e3, 1.2e6, 74e3, 0.47)
    return [
        Law("order 1", (first,), (lambda T, a: _k(*K1)(T) * (1 - a),)),
        Law("order 1.7", (NthOrder(*K1, 1.7),), (lambda T, a: _k(*K1)(T) * (1 - a) ** 1.7,), begin=390.0, end=450.0),
        Law(
            "two rates (combined), m = 1, n = 2",
            (TwoRate(*K1, *K2, 1.0, 2.0),),
            (lambda T, a: (_k(*K1)(T) + _k(*K2)(T) * a) * (1 - a) ** 2,),
        ),
        Law(
            "two rates, m = 0.7, n = 1.4 (in logarithms), seed 0.02",
            (TwoRate(*K1, *K2, 0.7, 1.4),),
            (lambda T, a: (_k(*K1)(T) + _k(*K2)(T) * a**0.7) * (1 - a) ** 1.4,),
            (0.02,),
        ),
        Law(
            "autocatalytic, m = 1, n = 1, seed 0.02",
            (TwoRate(0.0, 0.0, *K2, 1.0, 1.0),),
            (lambda T, a: _k(*K2)(T) * a * (1 - a),),
            (0.02,),
            end=410.0,
        ),
        Law(
            "autocatalytic, m = 0.5, n = 1.5, seed 0.02",
            (TwoRate(0.0, 0.0, *K2, 0.5, 1.5),),
            (lambda T, a: _k(*K2)(T) * a**0.5 * (1 - a) ** 1.5,),
            (0.02,),
            steps=(64, 128, 256, 512),
        ),
        Law(
            "epoxy and amine below its change of law",
            (epoxy,),
            (lambda T, a: (_k(3e5, 70e3)(T) + _k(-2e5, 70e3)(T) * a) * (1 - a) * (0.47 - a),),
            end=400.0,
        ),
        Law(
            "epoxy and amine through its change of law",
            (EpoxyAmine(2e6, 70e3, -2e5, 70e3, 1.2e6, 74e3, 0.47),),
            (
                lambda T, a: np.where(
                    a <= 0.3,
                    (_k(2e6, 70e3)(T) + _k(-2e5, 70e3)(T) * a) * (1 - a) * (0.47 - a),
                    _k(1.2e6, 74e3)(T) * (1 - a),
                ),
            ),
            steps=(40, 80, 160, 320, 640, 1280),
            finer=1,
            least=0.8,
            reason="the rate jumps at degree 0.3, inside a step that does not know it: order 1, and unsteady",
            last=6,
        ),
        Law(
            "two reactions side by side",
            (SumOfRates(*sums),),
            (lambda T, a: _k(1e6, 72e3)(T) * (1 - a) + _k(*K2)(T) * a * (1 - a) ** 2,),
        ),
        Law(
            "one law when cold, another when hot",
            (ByTemperature(*blend, 405.0, 6.0),),
            (
                lambda T, a: (
                    _logistic((405.0 - T) / 6.0) * _k(*K1)(T) * (1 - a)
                    + _logistic((T - 405.0) / 6.0) * _k(6e6, 72e3)(T) * (1 - a) ** 2
                ),
            ),
        ),
        Law(
            "vitrified: in series with diffusion at the glass transition",
            (Vitrified(NthOrder(6e6, 72e3, 1.0), GLASS, 5e-4),),
            (_vitrified,),
        ),
        Law(
            "diffusion limited by a degree",
            (DiffusionLimited(first, 20.0, 0.5, 0.002, 400.0),),
            (lambda T, a: _k(*K1)(T) * (1 - a) * _logistic(-20.0 * (a - 0.5 - 0.002 * (T - 400.0))),),
            begin=390.0,
            end=450.0,
            steps=(128, 256, 512, 1024),
            finer=1,
        ),
        Law("gelation", (gel,), (lambda T, a: g(T) * (1 - a),)),
        Law(
            "fusion behind gelation",
            (gel, Fusion(0.01, 60e3, 400.0, 410.0, 9.0)),
            (lambda T, a: g(T) * (1 - a), lambda T, a, b: f(T) * np.maximum(_logistic((T - 410.0) / 9.0) - b, 0.0) * a),
            (0.0, 0.0),
            heat=0.0,
        ),
        Law("heat dose", (HeatDose(900.0, 115e3, 410.0),), (lambda T, a: dose(T) + 0.0 * a,), heat=0.0),
        Law("scaled by a factor", (Scaled(first, 1.3),), (lambda T, a: 1.3 * _k(*K1)(T) * (1 - a),)),
        Law(
            "softening (logarithm of a sag)",
            (Softening(0.05, 400.0),),
            (lambda T, a: exp(0.05 * (T - 400.0) - a) / scale,),
            heat=0.0,
        ),
        Law(
            "time held above a temperature",
            (Held(405.0, 300.0),),
            (lambda T, a: _logistic((T - 405.0) / 0.25) / 300.0 + 0.0 * a,),
            end=405.3,
            heat=0.0,
            air=430.0,
            steps=(160, 320, 640),
        ),
    ]


def _reactions(law: Law, coupled: bool) -> tuple[Reaction, ...]:
    last = len(law.laws) - 1
    return tuple(
        Reaction(f"state_{i}", rate, law.heat if coupled and i == last else 0.0, start)
        for i, (rate, start) in enumerate(zip(law.laws, law.starts, strict=True))
    )


RHO_C = 1200.0 * 1500.0
CELLS = 6
QUARTERS = np.array([0.25, 0.5, 0.75, 1.0])


@cache
def _alone(law: Law) -> Array:
    slope = (law.end - law.begin) / law.duration
    one = Slice(
        1,
        0.001,
        constant(0.2),
        constant(RHO_C),
        law.begin,
        heat=lambda t: RHO_C * slope,
        rates=law.formulas,
        heats=(0.0,) * len(law.laws),
        degrees=law.starts,
    )
    return Lines((one,), Edge(), Edge()).states(law.duration * QUARTERS, "DOP853")


@cache
def _coupled(law: Law) -> Array:
    heats = (0.0,) * (len(law.laws) - 1) + (1200.0 * law.heat,)
    one = Slice(
        CELLS, 0.004, constant(0.2), constant(RHO_C), law.begin, rates=law.formulas, heats=heats, degrees=law.starts
    )
    air = Edge(h=lambda t: 60.0, air=lambda t: law.air or law.end)
    return Lines((one,), Edge(), air).states(law.duration * QUARTERS, "DOP853")


def alone_error(law: Law, steps: float) -> float:
    """A body that warms in a straight line: largest error of the degrees."""
    heat = RHO_C * (law.end - law.begin) / law.duration
    layer = Layer(Medium(1200.0, 0.2, 1500.0), 0.001, equal(3), law.begin, heat=heat, reactions=_reactions(law, False))
    found = integrate_fixed(Problem((layer,), (Span(law.duration),)), int(steps), law.duration * QUARTERS)
    degrees = np.column_stack([found.states[f"state_{i}"][:, 0] for i in range(len(law.laws))])
    return float(np.max(np.abs(degrees - _alone(law)[:, 1:])))


def coupled_error(law: Law, steps: float) -> float:
    """A slab in hot air that cures and gives off its heat: error of the degrees, and of the temperatures over 200 K."""
    layer = Layer(Medium(1200.0, 0.2, 1500.0), 0.004, equal(CELLS), law.begin, reactions=_reactions(law, True))
    air = Face(exchange=(Exchange(60.0, law.air or law.end),))
    found = integrate_fixed(Problem((layer,), (Span(law.duration, Face(), air),)), int(steps), law.duration * QUARTERS)
    all_states = np.column_stack([found.temperature, *(found.states[f"state_{i}"] for i in range(len(law.laws)))])
    gap = np.abs(all_states - _coupled(law))
    gap[:, :CELLS] /= 200.0
    return float(gap.max())


def along_error(m: float, n: float, steps: float) -> float:
    """The explicit scheme of fits: largest error of the degree at rows of a ramp, between the steps."""
    from scipy.integrate import solve_ivp

    reference = 410.0
    ln1, ln2 = (np.log(k(reference)) for k in (_k(*K1), _k(*K2)))
    constants = Constants(*(np.array([v]) for v in (ln1, K1[1], ln2, K2[1], m, n, 0.0)), reference)
    warm = lambda t: 380.0 + t / 12.0  # noqa: E731
    rows = np.linspace(7.0, 593.0, 23)
    exact = solve_ivp(
        lambda t, a: (_k(*K1)(warm(t)) + _k(*K2)(warm(t)) * np.maximum(a, 0.0) ** m) * (1 - a) ** n,
        (0.0, 600.0),
        [0.0],
        "DOP853",
        t_eval=rows,
        rtol=1e-12,
        atol=1e-14,
    ).y[0]
    edges = np.linspace(0.0, 600.0, int(steps) + 1)
    halves = np.linspace(0.0, 600.0, 2 * int(steps) + 1)
    at = np.clip(np.searchsorted(edges, rows, side="right") - 1, 0, int(steps) - 1)
    own = Track(edges, warm(halves), at, (rows - edges[at]) / np.diff(edges)[at], warm(rows))
    return float(np.max(np.abs(degrees_along(constants, [own])[0][0][:, 0] - exact)))


def studies() -> list[Study]:
    """All of this module."""
    out = []
    for law in _laws():
        heat = " and its heat" if law.heat else ""
        for words, error, finer in (("alone", alone_error, 1), (f"with conduction{heat}", coupled_error, law.finer)):
            steps = tuple(finer * n for n in law.steps)
            out.append(
                Study(
                    GROUP,
                    f"{law.name}, {words}",
                    SCIPY,
                    4.0,
                    steps,
                    lambda n, k=law, e=error: e(k, n),
                    "-",
                    "steps",
                    law.least,
                    law.reason,
                    last=law.last,
                    few=law.last if law.last > 3 else 3,
                )
            )
    for m, n in ((1.0, 1.3), (1.0, 2.0)):
        out.append(
            Study(
                GROUP,
                f"the explicit scheme of fits, m = {m:g}, n = {n:g}, at rows between steps",
                SCIPY,
                4.0,
                (40, 80, 160, 320),
                lambda k, m=m, n=n: along_error(m, n, k),
                "-",
                "steps",
            )
        )
    return out
