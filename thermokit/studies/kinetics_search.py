"""The search for the constants of a rate law: many starts, least squares, and the simpler laws that might do as well."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import SolveError
from thermokit.kinetics.conversion import smoothed
from thermokit.kinetics.guards import GAS_CONSTANT
from thermokit.studies.kinetics_confidence import Confidence, confidence, simpler_fits_as_well
from thermokit.studies.kinetics_model import FORMS, SEED, Model

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from thermokit.kinetics.conversion import Cure
    from thermokit.studies.kinetics_model import Rows

    Array = NDArray[np.float64]

_REFINED = 3  # starting sets that are refined
_QUICK, _FINAL = (1e-6, 30), (1e-9, 40)  # (change of the sum of squares, evaluations) at which a search ends
_EXPLAINED = 0.8  # share of the signal that a law must follow to be an answer
_SIMPLER = ("nth_order", "autocatalytic", "one_energy")  # from the simplest


@dataclass(frozen=True)
class FittedSet:
    """Constants of one form of the law.

    form; values : by name, SI (``factor_1``, ``energy_1``, ``factor_2``, ``energy_2``, ``m``, ``n``, and ``k1``, ``k2`` at the
    reference temperature); those that the form lacks are missing. ends : the same names -> (low, high), 95 % confidence, not
    finite where the data do not say. reference [K]; misfit : weighted sum of squares; confidence : errors and correlations
    of the free constants; start : degree at the beginning.
    """

    form: str
    values: dict[str, float]
    ends: dict[str, tuple[float, float]]
    reference: float
    misfit: float
    confidence: Confidence
    start: float
    vector: Array


def _starts(model: Model, cures: Sequence[Cure], energy: float) -> Array:
    """Scaled starting sets: shapes of every kind, each with the rate that brings the runs to degree 0.5 in their time."""
    from scipy.integrate import quad

    thermal = []
    for cure in cures:
        half = float(np.interp(0.5, np.maximum.accumulate(cure.degree), cure.run.time))
        time = np.linspace(0.0, half, 200)
        at = np.interp(time, cure.run.time, cure.run.temperature)
        thermal.append(np.log(np.trapezoid(np.exp(-energy / GAS_CONSTANT * (1 / at - 1 / model.reference)), time)))
    found = []
    first = (-np.inf,) if model.form == "autocatalytic" else (0.0,) if model.form == "nth_order" else (-1.5, -3.5, -6.0)
    for m in (1.0,) if model.form == "nth_order" else (0.4, 0.9, 1.5):
        for n in (0.8, 1.2, 2.0):
            for ln_ratio in first:
                ratio = np.exp(ln_ratio)
                second = 0.0 if model.form == "nth_order" else 1.0
                whole = quad(lambda a, r=ratio, s=second: 1 / ((r + s * a**m) * (1 - a) ** n), SEED, 0.5)[0]  # noqa: B023
                ln_k2 = float(np.log(whole) - np.mean(thermal))
                values = {
                    "ln_k1": ln_k2 + ln_ratio,
                    "energy_1": energy,
                    "ln_k2": ln_k2,
                    "energy_2": energy,
                    "m": m,
                    "n": n,
                }
                found.append(model.vector(values))
    return np.array(found)


def search(model: Model, rough: Model, cures: Sequence[Cure], energy: float) -> Array:
    """The best scaled constants from many starts about an energy [J/mol]; runs are weighed by the noise that the first pass
    leaves. rough : the same model in fewer steps, by which starts are told apart.
    """
    rough.noise = np.array([0.02 * np.ptp(rows.signal) for rows in model.runs])
    starts = _starts(rough, cures, energy)
    costs = np.sum([np.sum(left * left, axis=0) for left in rough.residuals(starts)], axis=0)
    order = np.argsort(np.where(np.isfinite(costs), costs, np.inf))
    best = min((_least(rough, start, _QUICK) for start in starts[order[:_REFINED]]), key=lambda found: found[1])[0]
    model.noise = rough.noise
    for _ in range(2):
        model.noise = model.noise * _noise_of(model, best)
        best = _least(model, best)[0]
    return best


def _noise_of(model: Model, vector: Array) -> Array:
    """Root mean square of each run's residuals, over the noise it is weighed with; (runs,)."""
    lost = len(model.free) / len(model.runs)
    return np.array(
        [
            np.sqrt(max(np.sum(left * left) / max(1.0, len(left) - rows.straight.shape[1] - 1 - lost), 1e-18))
            for left, rows in zip(model.residuals(vector[None]), model.runs, strict=True)
        ]
    )


def _least(model: Model, start: Array, ending: tuple[float, int] = _FINAL) -> tuple[Array, float]:
    """(vector, sum of squares) of the nearest minimum."""
    from scipy.optimize import least_squares

    last: dict[bytes, tuple[Array, Array]] = {}

    def both(vector: Array) -> tuple[Array, Array]:
        """Residuals and derivatives: one pass of the law costs as much as two."""
        name = vector.tobytes()
        if name not in last:
            last.clear()
            left, by = model.derivatives(vector)
            last[name] = (np.concatenate(left), np.concatenate(by))
        return last[name]

    def residual(vector: Array) -> Array:
        return both(vector)[0]

    def jacobian(vector: Array) -> Array:
        return both(vector)[1]

    low, high = model.bounds()
    found = least_squares(
        residual, np.clip(start, low + 1e-6, high - 1e-6), jac=jacobian, bounds=(low, high), x_scale="jac",
        max_nfev=ending[1], ftol=ending[0], xtol=1e-8, gtol=1e-9,
    )  # fmt: skip
    return found.x, 2.0 * float(found.cost)


def set_of(model: Model, vector: Array) -> FittedSet:
    """The constants at a minimum, with their confidence."""
    sure = confidence(model, vector)
    one = model.constants(vector[None])
    values: dict[str, float] = {}
    ends: dict[str, tuple[float, float]] = {}
    places = {name: i for i, names in enumerate(model.free) for name in names}
    for i in ("1", "2"):
        if f"ln_k{i}" not in places:
            continue
        k, e = places[f"ln_k{i}"], places[f"energy_{i}"]
        ln_k, energy = float(getattr(one, f"ln_k{i}")[0]), float(getattr(one, f"energy_{i}")[0])
        unit = np.zeros(len(vector))
        for name, at, by in (
            (f"k{i}", ln_k, {k: 1.0}),
            (f"factor_{i}", ln_k + energy / model.thermal, {k: 1.0, e: 1.0}),
        ):
            half = sure.half_width(_direction(unit, by))
            values[name] = float(np.exp(at))
            ends[name] = (float(np.exp(max(at - half, -745.0))), float(np.exp(min(at + half, 709.0))))
        half = sure.half_width(_direction(unit, {e: model.thermal}))
        values[f"energy_{i}"], ends[f"energy_{i}"] = energy, (energy - half, energy + half)
    for name in ("m", "n"):
        if name in places:
            half = sure.half_width(_direction(np.zeros(len(vector)), {places[name]: 1.0}))
            values[name] = float(vector[places[name]])
            ends[name] = (values[name] - half, values[name] + half)
    return FittedSet(model.form, values, ends, model.reference, model.misfit(vector), sure, float(one.start[0]), vector)


def _direction(zeros: Array, by: dict[int, float]) -> Array:
    out = zeros.copy()
    for place, size in by.items():
        out[place] += size
    return out


def simpler_set(fitted: FittedSet, model: Model, rough: Sequence[Rows]) -> FittedSet | None:
    """The simplest set that fits as well, weighed by the same noise; None where every constant is needed."""
    values = fitted.values
    k1, k2 = values.get("k1", 0.0), values.get("k2", 0.0)
    for form in _SIMPLER:
        if len(FORMS[form]) >= len(FORMS[fitted.form]) or (fitted.form, form) == ("autocatalytic", "nth_order"):
            continue
        first = k1 if form == "one_energy" else max(k1, 0.2 * k2)
        begin = {
            "ln_k1": np.log(max(first, 1e-3 * k2, 1e-300)),
            "energy_1": values.get("energy_2" if form == "one_energy" else "energy_1", 8e4),
            "ln_k2": np.log(max(k2, 1e-300)),
            "energy_2": values.get("energy_2", 8e4),
            "m": values.get("m", 1.0),
            "n": values["n"],
        }
        quick, other = Model(form, rough, model.reference), Model(form, model.runs, model.reference)
        quick.noise = other.noise = model.noise
        vector, misfit = _least(quick, other.vector(begin), _QUICK)
        if misfit > 3.0 * fitted.misfit:  # far from it: not worth a finer look
            continue
        vector, _ = _least(other, vector)
        if simpler_fits_as_well(model, fitted.vector, other, vector):
            return set_of(other, vector)
    return None


def check_explained(model: Model, vector: Array) -> None:
    """A law that does not follow the runs is no answer; noise is no fault of it."""
    for left, rows, noise in zip(model.residuals(vector[None]), model.runs, model.noise, strict=True):
        straight = rows.straight if rows.heat_flow else np.full((len(rows.time), 1), len(rows.time) ** -0.5)
        signal = rows.signal - straight @ (straight.T @ rows.signal)
        width = max(1, len(rows.time) // 20) | 1
        lost = float(np.sum(smoothed(left[:, 0] * noise, width) ** 2) / np.sum(smoothed(signal, width) ** 2))
        if not lost <= 1.0 - _EXPLAINED:
            raise SolveError(
                f"no set of the form {model.form} follows these runs: it explains {100 * max(1 - lost, 0.0):.0f} % of one",
                "look at the runs for a second reaction, a wrong unit or heating rate, or a temperature that is not the "
                "sample's; leave out runs that do not belong together",
            )
