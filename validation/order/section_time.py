"""The section solver in time: SDIRK2 with equal steps on small meshes; rows and crossings inside steps; step control; cycles."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from tests.unit.section_grids import box, convection, grid, sides_of, spaced
from thermokit.conduction.problem import (
    STEFAN_BOLTZMANN,
    Curve,
    Exchange,
    Face,
    Medium,
    Radiation,
    Series,
    Transition,
)
from thermokit.conduction.section_cycle import settled
from thermokit.conduction.section_march import SectionRun
from thermokit.conduction.section_problem import Region, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_record import SectionRecorder
from thermokit.conduction.section_step import SectionState
from thermokit.conduction.section_watch import SectionWatch
from validation.order.bodies import BASE, Array
from validation.order.study import Study

GROUP = "section solver in time"
LEVELS = (3, 4, 5, 6)  # steps of 2^-level of the span
STEPS = tuple(2**level for level in LEVELS)
SPAN = 2e5  # s
RADAU = "independent: scipy's Radau on the same matrices, heat capacities from the media"
MEDIUM = Medium(1000.0, 2.0, 1000.0)


def _run(
    faces: dict[str, Face], media: tuple[Medium, ...] = (MEDIUM,), touch: object = None, heat: object = 0.0
) -> SectionRun:
    """A square of one region, or of two side by side, on skewed triangles."""
    cut = np.linspace(0.0, 1.0, len(media) + 1)
    regions = tuple(
        Region(name, box(a, b, 0, 1), medium, BASE, heat)  # type: ignore[arg-type]
        for name, a, b, medium in zip("ab", cut, cut[1:], media, strict=False)
    )
    touches = (Touch(("a", "b"), touch),) if touch is not None else ()  # type: ignore[arg-type]
    case = SectionProblem(regions, (SectionSpan(SPAN, faces),), edges=sides_of(0, 1, 0, 1), touches=touches)
    return SectionRun(
        case,
        grid(case, spaced(*cut, cells=6 // len(media)), spaced(0, 1, cells=4), 0.2 if len(media) == 1 else 0.0),
        1e-6,
    )


def _end(run: SectionRun, steps: float, start: Array | None = None) -> Array:
    level = int(math.log2(steps))
    state, _ = run.shot(run.begin(start), [[level] * 2**level for _ in run.pieces])
    return run.temperature(state)


def _rise(a: float, b: float) -> Series:
    return Series((0.0, SPAN), (a, b))


@cache
def _cases() -> dict[str, SectionRun]:
    k = Medium(1000.0, Curve(np.array([250.0, 900.0]), np.array([1.0, 6.0])), 1000.0)
    cp = Medium(1000.0, 2.0, Curve(np.array([250.0, 900.0]), np.array([700.0, 2300.0])))
    latent = Medium(1000.0, 2.0, 1000.0, Transition(60e3, BASE + 30.0, BASE + 50.0))
    panel = Face(radiation=(Radiation(0.8, _rise(BASE, 800.0)),))
    air = Face(exchange=(Exchange(20.0, 420.0),))
    return {
        "convection": _run({"right": air}),
        "air and coefficient that grow": _run(
            {"right": Face(exchange=(Exchange(_rise(5.0, 60.0), _rise(BASE, 420.0)),))}
        ),
        "side held, rising": _run({"right": Face(temperature=_rise(BASE, 420.0))}),
        "flux that grows": _run({"right": Face(heating=_rise(0.0, 900.0))}),
        "radiation, panel rising": _run({"right": panel}),
        "uniform heat that grows": _run({"right": air}, heat=_rise(0.0, 2000.0)),
        "two materials, a touch that grows": _run(
            {"right": air}, (MEDIUM, Medium(2000.0, 20.0, 500.0)), _rise(2.0, 40.0)
        ),
        "k(T) and radiation": _run({"right": panel}, (k,)),
        "cp(T) and radiation": _run({"right": panel}, (cp,)),
        "latent heat over 20 K": _run({"right": air}, (latent,)),
    }


def _capacity(run: SectionRun, temperature: Array) -> Array:
    """Heat capacity of the nodes [J/K], from the media themselves: no table of energy stands between."""
    out = np.zeros(len(temperature))
    for region, volume in zip(run.problem.regions, run.body.volume, strict=True):
        cp, melting = region.medium.specific_heat, region.medium.melting
        c = np.interp(temperature, cp.temperature, cp.value) if isinstance(cp, Curve) else np.full(len(out), cp)
        if melting is not None:
            inside = (temperature > melting.low) & (temperature < melting.high)
            c = c + np.where(inside, melting.heat / (melting.high - melting.low), 0.0)
        out += float(region.medium.density) * c * volume
    return out


@cache
def _reference(name: str) -> Array:
    run = _cases()[name]
    stepper, n = run.stepper(0), len(run.starts)
    free, held = stepper.free, stepper.held
    shift = run.begin().shift
    tight = 1e-9 if name.startswith("latent") else 1e-11  # at jumps of the heat capacity Radau crawls

    def rate(t: float, free_t: Array) -> Array:
        full = run.starts.copy()
        full[free] = free_t
        if len(held):
            full[held] = stepper.entering(t)[3]
        state = SectionState(run.energy.coordinate(full, shift), np.zeros(n), shift)
        return np.asarray((stepper.rate(state, t) / _capacity(run, full))[free])

    found = solve_ivp(rate, (0.0, SPAN), run.starts[free], "Radau", rtol=tight, atol=100 * tight)
    out = run.starts.copy()
    out[free] = found.y[:, -1]
    if len(held):
        out[held] = stepper.entering(SPAN)[3]
    return out


def case_error(name: str, steps: float) -> float:
    """Largest error of all nodes at the end."""
    return float(np.abs(_end(_cases()[name], steps) - _reference(name)).max())


def smooth_error(steps: float) -> float:
    """From a smooth start, against the matrix exponential of the same matrices."""
    run = _cases()["convection"]
    mesh, system = run.body.mesh, run.stepper(0).system
    start = 420.0 + 100.0 * np.cos(2.0 * mesh.x) * np.cos(mesh.y)
    matrix = (system.base.toarray() + np.diag(system.lin)) / run.energy.capacity[:, None]
    exact = expm(-SPAN * matrix) @ (start - 420.0) + 420.0
    return float(np.abs(_end(run, steps, start) - exact).max())


def _thin(face: Face, duration: float, start: float, size: float, rho_c: float, k: float) -> SectionRun:
    case = SectionProblem(
        (Region("body", box(0, size, 0, size), Medium(1000.0, k, rho_c / 1000.0), start),),
        (SectionSpan(duration, {"left": face, "right": face}),),
        edges=sides_of(0, size, 0, size),
    )
    return SectionRun(case, grid(case, spaced(0, size, cells=2), spaced(0, size, cells=2)), 1e-6)


def thin_air_error(steps: float) -> float:
    """A body of one temperature in air that rises: T = BASE + b (t - tau (1 - exp(-t/tau)))."""
    tau, b, duration = 1e6 / (2 * 50.0), 0.01, 2e4
    air = Face(exchange=(Exchange(50.0, Series((0.0, duration), (BASE, BASE + b * duration))),))
    exact = BASE + b * (duration - tau * (1.0 - math.exp(-duration / tau)))
    return abs(float(_end(_thin(air, duration, BASE, 1.0, 1e6, 1e9), steps).mean()) - exact)


def thin_radiation_error(steps: float) -> float:
    """T^-3 grows in a straight line when a thin body radiates to 0 K."""
    seen, duration = Face(radiation=(Radiation(0.9, 0.0),)), 200.0
    exact = (500.0**-3 + 3 * 1.8 * STEFAN_BOLTZMANN * duration / (2.43e6 * 0.001)) ** (-1 / 3)
    return abs(float(_end(_thin(seen, duration, 500.0, 0.001, 2.43e6, 2e7), steps).mean()) - exact)


@cache
def _row_reference(share: float) -> Array:
    run = _cases()["convection"]
    system = run.stepper(0).system
    matrix = (system.base.toarray() + np.diag(system.lin)) / run.energy.capacity[:, None]
    start = 420.0 - 100.0 * np.cos(run.body.mesh.x) * np.cos(0.5 * run.body.mesh.y)
    return np.asarray(expm(-share * SPAN * matrix) @ (start - 420.0) + 420.0)


def _recorded(steps: float, rows: Array | None, watches: tuple[SectionWatch, ...]) -> SectionRecorder:
    run = _cases()["convection"]
    level = int(math.log2(steps))
    recorder = SectionRecorder(run.body, run.energy, rows, watches, run.tolerance)
    start = 420.0 - 100.0 * np.cos(run.body.mesh.x) * np.cos(0.5 * run.body.mesh.y)
    run.shot(run.begin(start), [[level] * 2**level], recorder)
    return recorder


def rows_error(steps: float) -> float:
    """Rows inside steps."""
    shares = (0.2137, 0.4871, 0.7219, 0.9433)
    recorder = _recorded(steps, SPAN * np.array(shares), ())
    return max(float(np.abs(row[2] - _row_reference(s)).max()) for row, s in zip(recorder.rows, shares, strict=True))


@cache
def _crossing_share(threshold: float) -> float:
    from scipy.optimize import brentq

    return float(brentq(lambda s: float(_row_reference(s).min()) - threshold, 0.05, 0.99, xtol=1e-13))


def crossing_error(steps: float) -> float:
    """When the coldest node reaches thresholds [s]."""
    thresholds = (332.7, 345.3, 351.1)
    recorder = _recorded(steps, None, tuple(SectionWatch(str(x), "coldest", x) for x in thresholds))
    found = [watcher.found or math.inf for watcher in recorder.watchers]
    return max(abs(t - SPAN * _crossing_share(x)) for t, x in zip(found, thresholds, strict=True))


@cache
def _cycle(level: int) -> tuple[float, float]:
    """(steps, error) of a settled cycle at a tolerance of 8^-level times 0.3 K, against the fixed point by matrix exponentials."""
    spans = tuple(SectionSpan(t, {"right": convection(20.0, air)}) for t, air in ((1e5, 420.0), (1.5e5, BASE)))
    case = SectionProblem((Region("body", box(0, 1, 0, 1), MEDIUM, BASE),), spans, edges=sides_of(0, 1, 0, 1))
    mesh = grid(case, spaced(0, 1, cells=6), spaced(0, 1, cells=4), 0.2)
    run = SectionRun(case, mesh)
    system = run.stepper(0).system
    matrix = (system.base.toarray() + np.diag(system.lin)) / run.energy.capacity[:, None]
    first, second = expm(-1e5 * matrix), expm(-1.5e5 * matrix)
    # deviations from BASE: after the first span 120 + first (u - 120), then second times that
    one = np.ones(len(mesh.x))
    fixed = BASE + np.linalg.solve(np.eye(len(one)) - second @ first, second @ (120.0 * (one - first @ one)))
    tolerance = 0.3 * 8.0**-level
    cycle = settled(case, mesh, tolerance=1e-7, step_tolerance=tolerance, most=20)
    return float(cycle.history.accepted), float(np.abs(cycle.start - fixed).max())


def studies() -> list[Study]:
    """All of this module."""
    out = [
        Study(
            GROUP,
            "convection, from a smooth start",
            "exact: matrix exponential",
            2.0,
            STEPS,
            smooth_error,
            size="steps",
        ),
        Study(
            GROUP, "thin body: air that warms", "exact: closed form", 2.0, (4, 8, 16, 32), thin_air_error, size="steps"
        ),
        Study(
            GROUP, "thin body: radiation", "exact: closed form", 2.0, (4, 8, 16, 32), thin_radiation_error, size="steps"
        ),
    ]
    for name in _cases():
        latent = name.startswith("latent")
        out.append(
            Study(
                GROUP,
                name,
                RADAU,
                2.0,
                (32, 64, 128, 256) if latent or name.startswith("cp(T)") else (16, 32, 64, 128),
                lambda n, k=name: case_error(k, n),
                size="steps",
                least=1.2 if latent else None,
                reason="nodes cross the jumps of the apparent heat capacity inside steps: order 1 to 2, and unsteady"
                if latent
                else "",
                last=4 if latent else 3,
                few=4 if latent else 3,
            )
        )
    out += [
        Study(GROUP, "rows inside steps", "exact: matrix exponential", 2.0, STEPS, rows_error, size="steps"),
        Study(
            GROUP,
            "times at which thresholds are crossed (watches)",
            "exact: matrix exponential",
            2.0,
            (16, 32, 64, 128),
            crossing_error,
            "s",
            "steps",
        ),
    ]
    sizes = tuple(_cycle(level)[0] for level in range(5))
    errors = {n: _cycle(level)[1] for level, n in enumerate(sizes)}
    out.append(
        Study(
            "courses and cycles",
            "section settled, steps as the control chooses, tolerance 8 times smaller each time",
            "exact: fixed point of matrix exponentials",
            2.0,
            sizes,
            lambda n, e=errors: e[n],
            size="steps taken",
            few=5,
            last=4,
        )
    )
    return out
