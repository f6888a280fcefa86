"""How a quantity is read off a result: crossings, peaks, means, joints and fronts, from the stored rows."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

CASES = Path(__file__).parent / "cases"
ZERO_CELSIUS = 273.15

#: a case that was run: (kind, file under the project's folder or "", changes in words)
Used = tuple[str, str, str]
#: what the check that runs has used so far: ``checks.perform`` begins a new list with each check
used: list[Used] = []


def run(name: str, changes: Mapping[str, float] | None = None) -> Any:
    """Result of ``cases/<name>.toml``; ``changes``: path in the case -> SI value."""
    load(CASES / f"{name}.toml", changes)
    return _run(name, tuple(sorted((changes or {}).items())))


def load(path: Path, changes: Mapping[str, float] | None = None) -> Any:
    """A case file as it stands, noted as used, with these changes, by the check that runs."""
    import thermokit

    case = thermokit.load_case(path)
    words = ", ".join(f"{key} = {value:.6g}" for key, value in sorted((changes or {}).items()))
    used.append((case.process, path.relative_to(CASES.parents[1]).as_posix(), words))
    return case


@lru_cache(maxsize=64)
def _run(name: str, changes: tuple[tuple[str, Any], ...]) -> Any:
    import thermokit

    case = thermokit.load_case(CASES / f"{name}.toml")
    if changes:
        case = case.with_values(dict(changes))
    return thermokit.run(case)


def celsius(kelvin: Any) -> Any:
    """Kelvin to degC."""
    return kelvin - ZERO_CELSIUS


def at(result: Any, values: Any, time: float) -> float:
    """Value of a series at a stored row's time (the row is there: no interpolation)."""
    row = int(np.argmin(np.abs(result.history.time - time)))
    if abs(result.history.time[row] - time) > 1e-9 * max(time, 1.0):
        raise ValueError(f"no row at {time} s")
    return float(np.asarray(values)[row])


def last(values: Any) -> float:
    """The last row."""
    return float(np.asarray(values)[-1])


def inner(result: Any, time: float | None = None) -> float:
    """Inner face (axis, centre) [degC], at a time or at the end."""
    return face(result, "inner_face", time)


def outer(result: Any, time: float | None = None) -> float:
    """Outer face [degC], at a time or at the end."""
    return face(result, "outer_face", time)


def face(result: Any, name: str, time: float | None) -> float:
    """One of the two faces [degC]."""
    series = celsius(getattr(result.history, name))
    return last(series) if time is None else at(result, series, time)


def probe(result: Any, name: str, time: float | None = None) -> float:
    """A probe of the case [degC]."""
    series = celsius(np.asarray(result.probes[name]))
    return last(series) if time is None else at(result, series, time)


def cell_measure(result: Any) -> np.ndarray:
    """Volume of each cell, per unit of the shape's own angle."""
    power = {"plane": 1, "cylinder": 2, "sphere": 3}[result.shape]
    offset = 0.0 if result.shape == "plane" else result.inner_radius
    return np.diff((result.history.edges + offset) ** power) / power


def mean_temperature(result: Any) -> np.ndarray:
    """Volume mean of each row [degC]."""
    volume = cell_measure(result)
    return celsius(result.history.temperature @ volume / volume.sum())


def crossing(time: np.ndarray, values: np.ndarray, level: float) -> float:
    """Time at which a series first reaches ``level``: root of the cubic spline through the stored rows."""
    from scipy.interpolate import CubicSpline
    from scipy.optimize import brentq

    side = np.sign(values - level)
    rows = np.flatnonzero(side[1:] * side[0] <= 0)
    if len(rows) == 0:
        raise ValueError(f"{level} is not reached")
    i = int(rows[0])
    low, high = max(i - 4, 0), min(i + 6, len(time))
    spline = CubicSpline(time[low:high], values[low:high])
    return float(brentq(lambda t: spline(t) - level, time[i], time[i + 1], xtol=1e-12))


def value_at(time: np.ndarray, values: np.ndarray, when: float) -> float:
    """Value between rows, by a cubic spline."""
    from scipy.interpolate import CubicSpline

    return float(CubicSpline(time, values)(when))


def peak(time: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    """(time, value) of the highest point of the spline through the rows around the highest row."""
    from scipy.interpolate import CubicSpline
    from scipy.optimize import minimize_scalar

    i = int(np.argmax(values))
    low, high = max(i - 4, 0), min(i + 5, len(time))
    spline = CubicSpline(time[low:high], values[low:high])
    bounds = (time[max(i - 1, 0)], time[min(i + 1, len(time) - 1)])
    out = minimize_scalar(lambda t: -spline(t), bounds=bounds, method="bounded", options={"xatol": 1e-9})
    return float(out.x), float(-out.fun)


def depth_of(result: Any, level: float, row: int = -1) -> float:
    """Depth [m] nearest the inner face at which the profile passes ``level`` [degC]."""
    h = result.history
    x = np.concatenate([[h.edges[0]], h.centres])
    t = celsius(np.concatenate([[h.inner_face[row]], h.temperature[row]]))
    return crossing(x, t, level)


def joint(
    result: Any, number: int, k: tuple[float, float], contact: float | None, row: int
) -> tuple[float, float, float]:
    """(temperature before, after [degC], flux outwards [W/m2]) at the joint after layer ``number`` of a plane body.

    From the two cells beside it: flux = (T1 - T2)/(half cell/k1 + 1/contact + half cell/k2).
    """
    h = result.history
    j = int(np.argmin(np.abs(h.edges - result.layer_edges[number + 1])))
    r1 = (h.edges[j] - h.centres[j - 1]) / k[0]
    r2 = (h.centres[j] - h.edges[j]) / k[1]
    t1, t2 = celsius(h.temperature[row, j - 1]), celsius(h.temperature[row, j])
    flux = (t1 - t2) / (r1 + r2 + (0.0 if contact is None else 1 / contact))
    return float(t1 - flux * r1), float(t2 + flux * r2), float(flux)


def row_of(result: Any, time: float) -> int:
    """Number of the row at a time."""
    return int(np.argmin(np.abs(result.history.time - time)))


def inner_flux(result: Any, k: float, row: int) -> float:
    """Flux into the inner face of a plane body [W/m2], from the first half cell."""
    h = result.history
    return float(k * (h.inner_face[row] - h.temperature[row, 0]) / (h.centres[0] - h.edges[0]))


def frozen_depth(result: Any, low: float, high: float, row: int) -> float:
    """Depth [m] of a freezing front: sum of cell widths times the frozen share, 1 - (T - low)/(high - low) in 0..1."""
    h = result.history
    share = np.clip((high - celsius(h.temperature[row])) / (high - low), 0.0, 1.0)
    return float(np.sum(share * np.diff(h.edges)))
