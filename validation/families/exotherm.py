"""Reaction heat against conduction: G07 thermal runaway, G10 overshoot of a thick laminate."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import laminate, runaway

WALL, SCALE = 400.0, 0.8  # K: the surface, and R Tw^2/E by which temperatures are made theta
K, RHO, C, SIZE, HEAT = 0.2, 1000.0, 1000.0, 0.01, 1e8
PER_CENT = Tolerance(share=0.01)


class ExponentialRate:
    """Frank-Kamenetskii's limit of a zero-order Arrhenius law: rate = factor exp((T - Tw)/scale)."""

    def __init__(self, factor: float):
        self.factor = factor

    def evaluate(self, temperature: Any, degrees: Any) -> Any:
        """d(degree)/dt [1/s]."""
        return self.factor * np.exp((temperature - WALL) / SCALE)

    def linearise(self, temperature: Any, degrees: Any) -> Any:
        """(rate, d rate/dT, (d rate/d degree,))."""
        rate = self.evaluate(temperature, degrees)
        return rate, rate / SCALE, (np.zeros_like(rate),)


@lru_cache(maxsize=32)
def _theta(shape: str, delta: float) -> float:
    """Centre's theta in the end; infinite when the run ended early because the temperature ran away.

    delta = rho H factor a^2/(k scale); the body starts at the surface's temperature and is given 40 a^2/diffusivity.
    """
    from thermokit.conduction.problem import Face, Layer, Medium, Problem, Reaction, Span
    from thermokit.conduction.single import solve

    factor = delta * K * SCALE / (RHO * HEAT * SIZE**2)
    reaction = Reaction("cure_degree", ExponentialRate(factor), HEAT)
    layer = Layer(Medium(RHO, K, C), SIZE, np.linspace(0, 1, 81), WALL, reactions=(reaction,))
    duration = 40 * SIZE**2 * RHO * C / K
    problem = Problem((layer,), (Span(duration, Face(), Face(temperature=WALL)),), shape)
    history = solve(problem, np.array([duration]), 1e-4)
    if history.ending.status != "finished":
        return math.inf
    return float((history.inner_face[-1] - WALL) / SCALE)


def _steady(shape: str, delta: float, label: str, recorded: float | None) -> Check:
    return Check(
        "G07",
        f"self-heating {shape} below its critical size, delta {label}",
        "Frank-Kamenetskii (1938)",
        "verified",
        lambda: _theta(shape, delta),
        (
            Quantity(
                f"{shape}: centre theta at delta = {label}",
                "",
                lambda: runaway.centre(shape, delta),
                PER_CENT,
                lambda theta: theta,
                recorded,
            ),
        ),
    )


def _between(shape: str) -> float:
    """Critical delta of the solver: the middle of a bracket of 1 % either way in size, NaN if it does not hold."""
    critical = runaway.critical(shape)[0]
    below, above = critical * 0.99**2, critical * 1.01**2
    holds = _theta(shape, below) < 3 and _theta(shape, above) > 10
    return math.sqrt(below * above) if holds else math.nan


def _critical(shape: str, published: float, recorded: float) -> Check:
    return Check(
        "G07",
        f"critical size of a self-heating {shape}",
        "Frank-Kamenetskii (1938)",
        "verified",
        lambda: _between(shape),
        (
            Quantity(
                f"{shape}: critical delta (steady 1 % smaller, runs away 1 % larger)",
                "",
                lambda: runaway.critical(shape)[0],
                PER_CENT,
                lambda delta: delta,
                recorded,
                published,
            ),
        ),
    )


SHARES = (0.99, 0.96, 0.9)  # of the critical delta


def _turning(shape: str) -> float:
    """Centre's theta where the steady state ends, from steady states short of it.

    There delta is largest as a function of theta, so that theta = top - b s + c s^2 with s = sqrt(1 - delta/critical).
    """
    critical = runaway.critical(shape)[0]
    s = [math.sqrt(1.0 - share) for share in SHARES]
    return float(np.polyfit(s, [_theta(shape, share * critical) for share in SHARES], 2)[-1])


def _top(shape: str, published: float, recorded: float) -> Check:
    return Check(
        "G07",
        f"centre of a self-heating {shape} at its critical size",
        "Frank-Kamenetskii (1938)",
        "verified",
        lambda: _turning(shape),
        (
            Quantity(
                f"{shape}: critical centre theta (from steady states at 0.99, 0.96 and 0.9 of the critical delta)",
                "",
                lambda: runaway.critical(shape)[1],
                PER_CENT,
                lambda theta: theta,
                recorded,
                published,
            ),
        ),
    )


def _peak(thickness: float) -> tuple[float, float, float]:
    """(highest temperature [degC], time, degree) of the middle."""
    result = see.run("thick_laminate", {"body.layers.0.thickness": thickness / 2000})
    history = result.history
    when, top = see.peak(history.time, see.celsius(history.inner_face))
    return top, when, see.value_at(history.time, history.states["cure_degree"][:, 0], when)


def _laminate(thickness: float, end: float, recorded: tuple[float, float, float]) -> Check:
    def exact(name: str) -> Any:
        return lambda: getattr(laminate.peak(thickness / 1000, end), name)

    label = f"{thickness:g} mm"
    return Check(
        "G10",
        f"overshoot of a thick laminate, {label}",
        "Bogetti & Gillespie (1991) (parameters); cycle of this project; target by finite differences and LSODA",
        "verified (parameters), computed with two codes",
        lambda: _peak(thickness),
        (
            Quantity(
                f"{label}: peak of the middle",
                "degC",
                exact("temperature"),
                Tolerance(absolute=1.0),
                lambda peak: peak[0],
                recorded[0],
            ),
            Quantity(f"{label}: its time", "s", exact("time"), PER_CENT, lambda peak: peak[1], recorded[1]),
            Quantity(
                f"{label}: degree of the middle then",
                "",
                exact("degree"),
                Tolerance(absolute=0.01),
                lambda peak: peak[2],
                recorded[2],
            ),
        ),
    )


CHECKS = (
    _steady("plane", 0.5, "0.5", 0.3289524),
    _steady("plane", 0.8, "0.8", 0.7464589),
    _steady("plane", 0.9 * 0.8784577, "0.9 of the critical", None),
    _steady("cylinder", 0.9 * 2.0, "0.9 of the critical", None),
    _steady("sphere", 0.9 * 3.321992, "0.9 of the critical", None),
    _critical("plane", 0.878, 0.8784577),
    _critical("cylinder", 2.0, 2.0),
    _critical("sphere", 3.32, 3.321992),
    _top("plane", 1.19, 1.186842),
    _top("cylinder", 1.39, 1.386294),
    _top("sphere", 1.61, 1.607457),
    _laminate(12.7, 6000, (93.27849, 3975, 0.3472497)),
    _laminate(25.4, 6500, (135.3801, 4713, 0.9898459)),
    _laminate(50.8, 11000, (153.194, 8965, 0.99449)),
)
