"""Reaction heat against conduction: G07 thermal runaway, G10 overshoot of a thick laminate."""

from __future__ import annotations

import math
from typing import Any

from validation import measure as see
from validation.checks import Check, Quantity, Tolerance
from validation.references import laminate, runaway

SCALE = 0.8  # K: R Tw^2/E of the case, by which temperatures are made theta
PER_CENT = Tolerance(share=0.01)


def _factor(delta: float) -> float:
    """Factor of the case's law [1/s] for a Frank-Kamenetskii number (the case's own makes it 1)."""
    return delta * 0.2 * SCALE / (1000 * 1e9 * 0.01**2) * math.exp(500)


def _theta(shape: str, delta: float) -> float:
    """Centre's theta at the end; infinite when the run ended early because the temperature ran away."""
    result = see.run(f"self_heating_{shape}", {"kinetics.resin.rate_1.factor": _factor(delta)})
    if result.history.ending.status != "finished":
        return math.inf
    return float((result.history.inner_face[-1] - 400.0) / SCALE)


def _steady(shape: str, delta: float, label: str, recorded: float | None) -> Check:
    return Check(
        "G07",
        f"self-heating {shape} below its critical size",
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
        long=True,
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
        long=True,
    )


CHECKS = (
    _steady("plane", 0.5, "0.5", 0.3289524),
    _steady("plane", 0.8, "0.8", 0.7464589),
    *(
        _steady(shape, 0.9 * runaway.critical(shape)[0], "0.9 of the critical", None)
        for shape in ("plane", "cylinder", "sphere")
    ),
    _critical("plane", 0.878, 0.8784577),
    _critical("cylinder", 2.0, 2.0),
    _critical("sphere", 3.32, 3.321992),
    _laminate(12.7, 6000, (93.27849, 3975, 0.3472497)),
    _laminate(25.4, 6500, (135.3801, 4713, 0.9898459)),
    _laminate(50.8, 11000, (153.194, 8965, 0.99449)),
)
