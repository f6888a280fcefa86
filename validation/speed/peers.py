"""General-purpose solvers on the reference problems: CVODE (one case, or many stacked), and all of scipy's that are implicit.

Every one restarts at each stage, so none is asked to step over a switch. A run returns temperatures (rows, cases,
cells) in degC at the output times of each stage (given as shares of its length), stages one after another.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from validation.speed.equations import Charge, Rod, output_shares
from validation.speed.rods import Rhs
from validation.speed.settings import Setting

Solver = Callable[[Rod, str, Setting], np.ndarray]


class Failed(RuntimeError):
    """A peer gave up at this tolerance."""


def absolute_tolerance(rod: Rod, setting: Setting) -> np.ndarray:
    """Absolute tolerance of every unknown: kelvin for temperatures, a share for degrees."""
    y = np.full(len(rod.start()), setting.tolerance)
    if isinstance(rod, Charge):
        y[1::2] = setting.degree
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


def cvode(rod: Rod, name: str, setting: Setting) -> np.ndarray:
    """CVODE, banded, with its own difference-quotient Jacobian (three or five right-hand sides a time)."""
    from sksundae.cvode import CVODE

    atol = absolute_tolerance(rod, setting)
    width = band_width(rod)

    def solve(stage: int, times: np.ndarray, y0: np.ndarray) -> np.ndarray:
        solver = CVODE(
            rod.rhs(stage),
            linsolver="band",
            lband=width,
            uband=width,
            rtol=setting.relative,
            atol=atol,
            max_num_steps=1_000_000,
            max_order=setting.order,
        )
        out = solver.solve(times, y0)
        if not out.success:
            raise Failed(out.message)
        return np.asarray(out.y[1:])

    return run_stages(rod, name, solve)


def ivp(rod: Rod, name: str, method: str, setting: Setting, sparse: bool = False) -> np.ndarray:
    """scipy's solve_ivp with BDF or Radau; Jacobian by difference quotients, dense or on the band's sparsity."""
    from scipy.integrate import solve_ivp
    from scipy.sparse import diags_array

    atol, width, size = absolute_tolerance(rod, setting), band_width(rod), len(rod.start())
    options: dict[str, Any] = {}
    if sparse:
        offsets = range(-width, width + 1)
        options["jac_sparsity"] = diags_array([np.ones(size - abs(k)) for k in offsets], offsets=offsets)

    def solve(stage: int, times: np.ndarray, y0: np.ndarray) -> np.ndarray:
        rhs = returning(rod.rhs(stage))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # it raises a relative tolerance of 1e-12 to its least one
            out = solve_ivp(
                rhs,
                (times[0], times[-1]),
                y0,
                method=method,
                t_eval=times[1:],
                rtol=setting.relative,
                atol=atol,
                **options,
            )
        if not out.success:
            raise Failed(out.message)
        return np.asarray(out.y.T)

    return run_stages(rod, name, solve)


def lsoda(rod: Rod, name: str, setting: Setting) -> np.ndarray:
    """LSODA as scipy's ``odeint``, banded, Jacobian by difference quotients."""
    from scipy.integrate import ODEintWarning, odeint

    atol, width = absolute_tolerance(rod, setting), band_width(rod)

    def solve(stage: int, times: np.ndarray, y0: np.ndarray) -> np.ndarray:
        rhs = returning(rod.rhs(stage))
        with warnings.catch_warnings():
            warnings.simplefilter("error", ODEintWarning)
            try:
                out = odeint(
                    rhs, y0, times, ml=width, mu=width, rtol=setting.relative, atol=atol, tfirst=True,
                    mxords=setting.order, mxstep=1_000_000,
                )  # fmt: skip
            except ODEintWarning as said:
                raise Failed(str(said)) from said
        return np.asarray(out[1:])

    return run_stages(rod, name, solve)


def vode(rod: Rod, name: str, setting: Setting) -> np.ndarray:
    """VODE's BDF as scipy's ``ode('vode')``, banded, Jacobian by difference quotients."""
    from scipy.integrate import ode

    atol, width = absolute_tolerance(rod, setting), band_width(rod)

    def solve(stage: int, times: np.ndarray, y0: np.ndarray) -> np.ndarray:
        solver = ode(returning(rod.rhs(stage))).set_integrator(
            "vode", method="bdf", lband=width, uband=width, rtol=setting.relative, atol=atol,
            order=setting.order, nsteps=1_000_000,
        )  # fmt: skip
        solver.set_initial_value(y0, times[0])
        rows = []
        for t in times[1:]:
            rows.append(solver.integrate(t).copy())
            if not solver.successful():
                raise Failed(f"vode returned {solver.get_return_code()}")
        return np.array(rows)

    return run_stages(rod, name, solve)


def returning(f: Rhs) -> Callable[[float, np.ndarray], np.ndarray]:
    """A right-hand side that returns a new array, as scipy wants it."""

    def rhs(t: float, y: np.ndarray) -> np.ndarray:
        dy = np.empty_like(y)
        f(t, y, dy)
        return dy

    return rhs


def stack(kind: type[Rod], name: str, inputs: dict[str, np.ndarray], picked: Sequence[int] | np.ndarray) -> Rod:
    """The cases ``picked`` from a sweep as one system in scaled time (a lone case keeps its own time)."""
    return kind({key: column[picked] for key, column in inputs.items()}, cases=len(picked), scaled=len(picked) > 1)
