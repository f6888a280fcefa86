"""General-purpose solvers on the reference problems: CVODE (one case, or many stacked), and scipy's BDF and Radau.

Every one restarts at each stage, so none is asked to step over a switch. A run returns temperatures (rows, cases, cells)
in degC at the output times of each stage (given as shares of its length), stages one after another.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from validation.speed.equations import Charge, Rod, output_shares


class Failed(RuntimeError):
    """A peer gave up at this tolerance."""


def absolute_tolerance(rod: Rod, tolerance: float, degree_tolerance: float) -> np.ndarray:
    """Absolute tolerance of every unknown: kelvin for temperatures, a share for degrees."""
    y = np.full(len(rod.start()), tolerance)
    if isinstance(rod, Charge):
        y[1::2] = degree_tolerance
    return y


def band_width(rod: Rod) -> int:
    """Half width of the Jacobian's band."""
    return 2 if isinstance(rod, Charge) else 1


def run_stages(rod: Rod, name: str, stage_solver: Callable[[int, np.ndarray, np.ndarray], np.ndarray]) -> np.ndarray:
    """Chain the stages: ``stage_solver(stage, times, y0)`` gives states at times[1:]."""
    y, rows, begin = rod.start(), [], 0.0
    for stage, shares in enumerate(output_shares(name)):
        length = 1.0 if rod.scaled else float(rod.durations()[stage])
        offset = 0.0 if rod.scaled else begin
        states = stage_solver(stage, np.append(offset, offset + shares * length), y)
        rows.append(rod.temperature(states))
        y, begin = states[-1].copy(), begin + length
    return np.concatenate(rows)


def cvode(rod: Rod, name: str, tolerance: float, degree_tolerance: float = 1e-4, rtol: float = 1e-12,
          linsolver: str = "band", max_order: int = 5) -> np.ndarray:  # fmt: skip
    """CVODE, banded, difference-quotient Jacobian (its own, three or five right-hand sides a time)."""
    from sksundae.cvode import CVODE

    atol = absolute_tolerance(rod, tolerance, degree_tolerance)
    width = band_width(rod)

    def solve(stage: int, times: np.ndarray, y0: np.ndarray) -> np.ndarray:
        solver = CVODE(rod.rhs(stage), linsolver=linsolver, lband=width, uband=width, rtol=rtol, atol=atol,
                       max_num_steps=1_000_000, max_order=max_order)  # fmt: skip
        out = solver.solve(times, y0)
        if not out.success:
            raise Failed(out.message)
        return out.y[1:]

    return run_stages(rod, name, solve)


def ivp(rod: Rod, name: str, method: str, tolerance: float, degree_tolerance: float = 1e-4, rtol: float = 1e-12,
        sparse: bool = False) -> np.ndarray:  # fmt: skip
    """scipy's solve_ivp with BDF or Radau; Jacobian by difference quotients, dense or on the band's sparsity."""
    from scipy.integrate import solve_ivp
    from scipy.sparse import diags_array

    atol, width, size = absolute_tolerance(rod, tolerance, degree_tolerance), band_width(rod), len(rod.start())
    pattern = (
        diags_array([np.ones(size - abs(k)) for k in range(-width, width + 1)], offsets=range(-width, width + 1))
        if sparse
        else None
    )

    def solve(stage: int, times: np.ndarray, y0: np.ndarray) -> np.ndarray:
        f = rod.rhs(stage)

        def rhs(t: float, y: np.ndarray) -> np.ndarray:
            dy = np.empty_like(y)
            f(t, y, dy)
            return dy

        options: dict[str, Any] = {"jac_sparsity": pattern} if sparse else {}
        out = solve_ivp(
            rhs, (times[0], times[-1]), y0, method=method, t_eval=times[1:], rtol=rtol, atol=atol, **options
        )
        if not out.success:
            raise Failed(out.message)
        return out.y.T

    return run_stages(rod, name, solve)


def stack(kind: type[Rod], name: str, inputs: dict[str, np.ndarray], picked: Sequence[int] | np.ndarray) -> Rod:
    """The cases ``picked`` from a sweep as one system in scaled time (a lone case keeps its own time)."""
    return kind({key: column[picked] for key, column in inputs.items()}, cases=len(picked), scaled=len(picked) > 1)
