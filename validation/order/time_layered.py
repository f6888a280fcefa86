"""The layered solver in time: Rodas4P with equal steps, faces, sources, media and joints; dense output; the step control; ovens."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.optimize import brentq

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.problem import (
    STEFAN_BOLTZMANN,
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
from thermokit.conduction.single import _Run, integrate_fixed, solve
from thermokit.conduction.watch import Watch
from thermokit.exchange.lumped_oven import Load, Oven, loaded_air
from thermokit.kinetics.rates import NthOrder
from validation.order.bodies import Array, equal
from validation.order.lines import Edge, Lines, Slice
from validation.order.spectral import constant, straight
from validation.order.study import Study
from validation.references.lumped import radiation_time

GROUP = "layered solver in time"
STEPS = (4, 8, 16, 32)
SCIPY = "independent: the same cells written out, Radau at 1e-12"
R = 8.314462618
THIN = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


# -- closed forms ------------------------------------------------------------------------------------------------------


def semi_discrete_error(steps: float) -> float:
    """On equal cells, insulated, cos(m pi (i + 1/2)/n) decays with 4 a/h^2 sin^2(m pi/2n), exactly."""
    n, m = 24, 2
    shape = np.cos(m * math.pi * (np.arange(n) + 0.5) / n)
    t = 2.0 / (4 * n**2 * math.sin(m * math.pi / (2 * n)) ** 2)
    layer = Layer(Medium(1.0, 1.0, 1.0), 1.0, equal(n), 300.0 + 100.0 * shape)
    found = integrate_fixed(Problem((layer,), (Span(t),)), int(steps), np.array([t])).temperature[-1]
    return float(np.max(np.abs(found - 300.0 - 100.0 * math.exp(-2.0) * shape)))


def thin_error(face: Face, exact: float, t: float, start: float, steps: float, rho_c: float = 1e6) -> float:
    """A body of one temperature (it conducts so well), 10 mm thick."""
    layer = Layer(Medium(1000.0, 1e9, rho_c / 1000.0), 0.01, THIN, start)
    found = integrate_fixed(Problem((layer,), (Span(t, Face(), face),)), int(steps), np.array([t]))
    return abs(float(found.temperature[-1, 0]) - exact)


def _thin() -> list[Study]:
    out = []
    tau, t, b = 1e6 * 0.01 / 100.0, 300.0, 2.0
    warming = Face(exchange=(Exchange(100.0, Series((0.0, t), (300.0, 300.0 + b * t))),))
    exact = 300.0 + b * (t - tau + tau * math.exp(-t / tau))
    out.append(("air that warms", warming, exact, 300.0, "exact: closed form", STEPS))
    blown = Face(exchange=(Exchange(Series((0.0, t), (0.0, 200.0)), 400.0),))
    out.append(
        (
            "a coefficient that grows from nothing",
            blown,
            400.0 - 100.0 * math.exp(-100.0 * t / 1e4),
            300.0,
            "exact: closed form",
            STEPS,
        )
    )
    seen = Face(radiation=(Radiation(0.9, 300.0),))
    span = radiation_time(0.9, STEFAN_BOLTZMANN, 1e6, 0.01, 900.0, 500.0, 300.0)
    end = float(
        brentq(lambda x: radiation_time(0.9, STEFAN_BOLTZMANN, 1e6, 0.01, 900.0, x, 300.0) - span, 310, 890, xtol=1e-12)
    )
    studies = [
        Study(
            GROUP,
            f"thin body: {name}",
            against,
            4.0,
            steps,
            lambda n, f=face, e=value, s=start: thin_error(f, e, t, s, n),
            size="steps",
        )
        for name, face, value, start, against, steps in out
    ]
    studies.append(
        Study(
            GROUP,
            "thin body: radiation",
            "exact: closed form (Bejan & Kraus, eq. 3.283)",
            4.0,
            (8, 16, 32, 64),
            lambda n: thin_error(seen, end, span, 900.0, n),
            size="steps",
        )
    )
    return studies


# -- the same cells, written out ---------------------------------------------------------------------------------------

MINUTE = 60.0
QUARTERS = MINUTE * np.array([0.25, 0.5, 0.75, 1.0])


def _line(a: float, b: float) -> tuple[Series, object]:
    """A value that goes straight from a to b within the minute, for the solver and for the equations written out."""
    return Series((0.0, MINUTE), (a, b)), lambda t: a + (b - a) * t / MINUTE


def _faces() -> dict[str, tuple[Face, Edge]]:
    warm, warm_of = _line(300.0, 400.0)
    blow, blow_of = _line(10.0, 80.0)
    panel, panel_of = _line(350.0, 700.0)
    flux, flux_of = _line(0.0, 4000.0)
    return {
        "insulated": (Face(), Edge()),
        "held": (Face(temperature=380.0), Edge(held=lambda t: 380.0)),
        "held, rising": (Face(temperature=warm), Edge(held=warm_of)),
        "convection": (Face(exchange=(Exchange(60.0, 400.0),)), Edge(lambda t: 60.0, lambda t: 400.0)),
        "convection, all of it moving": (Face(exchange=(Exchange(blow, warm),)), Edge(blow_of, warm_of)),
        "radiation": (Face(radiation=(Radiation(0.8, 600.0),)), Edge(factor=0.8, seen=lambda t: 600.0)),
        "radiation, panel rising": (Face(radiation=(Radiation(0.8, panel),)), Edge(factor=0.8, seen=panel_of)),
        "flux": (Face(heating=3000.0), Edge(flux=lambda t: 3000.0)),
        "flux, rising": (Face(heating=flux), Edge(flux=flux_of)),
    }


@cache
def _bodies() -> dict[str, tuple[Problem, Lines]]:
    """Everything that enters the Jacobian, each with its equations written out. 4 + 4 cells unless said."""
    faces, n = _faces(), 6
    warm = 1.8e6
    out: dict[str, tuple[Problem, Lines]] = {}

    def add(
        name: str,
        layers: tuple[Layer, ...],
        slices: tuple[Slice, ...],
        outer: str,
        inner: str = "insulated",
        shape: str = "plane",
        radius: float = 0.0,
        **span: object,
    ) -> None:
        (a, b), (c, d) = faces[inner], faces[outer]
        spans = (Span(MINUTE, a, c, **span),)  # type: ignore[arg-type]
        out[name] = (Problem(layers, spans, shape, radius), Lines(slices, b, d, shape, radius))  # type: ignore[arg-type]

    plain, flat = (
        Layer(Medium(1200.0, 0.2, 1500.0), 0.003, equal(n), 300.0),
        Slice(n, 0.003, constant(0.2), constant(warm)),
    )
    for name in faces:
        if name != "insulated":
            add(f"slab: {name}", (plain,), (flat,), name)
    pair = (
        Layer(Medium(3000.0, 20.0, 1000.0), 0.003, equal(n), 320.0, 500.0),
        Layer(Medium(2000.0, 0.3, 1000.0), 0.004, equal(n), 420.0),
    )
    twins = (
        Slice(n, 0.003, constant(20.0), constant(3e6), 320.0, 500.0),
        Slice(n, 0.004, constant(0.3), constant(2e6), 420.0),
    )
    for shape in ("plane", "cylinder", "sphere"):
        add(f"two layers with a contact, {shape}", pair, twins, "convection", "convection", shape, 0.002)
    lump = (
        Layer(plain.medium, 0.003, equal(n), 400.0, 300.0),
        Layer(Medium(2700.0, 1e4, 900.0), 0.004, equal(1), 300.0),
    )
    lumps = (
        Slice(n, 0.003, constant(0.2), constant(warm), 400.0, 300.0),
        Slice(1, 0.004, constant(1e4), constant(2.43e6), 300.0),
    )
    add("slab on a lumped tool behind a contact", lump, lumps, "convection")
    made, made_of = _line(0.0, 2e6)
    add(
        "uniform heat that grows",
        (Layer(plain.medium, 0.003, equal(n), 300.0, heat=made),),
        (Slice(n, 0.003, constant(0.2), constant(warm), heat=made_of),),
        "convection",
    )
    depth = 4e6 * np.exp(-np.arange(n) / 2.0)
    share, share_of = _line(0.0, 1.0)
    add(
        "heat in depth that grows",
        (plain,),
        (Slice(n, 0.003, constant(0.2), constant(warm), depth=depth, factor=share_of),),
        "convection",
        sources=(DepthSource(depth, share),),
    )
    emission = np.full(n, 100.0)
    add(
        "heat given off in depth",
        (Layer(plain.medium, 0.003, equal(n), 450.0),),
        (Slice(n, 0.003, constant(0.2), constant(warm), 450.0, emission=emission),),
        "convection",
        emission=emission,
    )
    curve = Curve(np.array([250.0, 900.0]), np.array([0.1, 0.6]))
    bent = (
        Layer(Medium(1200.0, curve, 1500.0), 0.003, equal(n), 300.0, 400.0),
        Layer(Medium(1500.0, 0.4, 1000.0), 0.002, equal(n), 300.0, heat=made),
    )
    bents = (
        Slice(n, 0.003, straight(250.0, 0.1, 900.0, 0.6), constant(warm), contact=400.0),
        Slice(n, 0.002, constant(0.4), constant(1.5e6), heat=made_of),
    )
    for shape in ("plane", "cylinder", "sphere"):
        radius = 0.0 if shape == "plane" else 0.004
        add(
            f"k(T), contact, heat and radiation that grow, {shape}",
            bent,
            bents,
            "radiation, panel rising",
            "convection",
            shape,
            radius,
        )
    cp = Curve(np.array([250.0, 900.0]), np.array([1000.0, 4000.0]))
    add(
        "cp(T), one straight line",
        (Layer(Medium(1200.0, 0.2, cp), 0.003, equal(n), 300.0),),
        (Slice(n, 0.003, constant(0.2), straight(250.0, 1.2e6, 900.0, 4.8e6)),),
        "radiation",
    )
    kinked = Curve(np.array([250.0, 350.0, 360.0, 900.0]), np.array([1400.0, 1500.0, 2100.0, 2400.0]))
    bent_cp = lambda T: 1200.0 * np.interp(T, kinked.temperature, kinked.value)  # noqa: E731
    add(
        "cp(T), with kinks",
        (Layer(Medium(1200.0, 0.2, kinked), 0.003, equal(n), 300.0),),
        (Slice(n, 0.003, constant(0.2), bent_cp),),
        "radiation",
    )

    def apparent(T: Array) -> Array:
        return np.asarray(1200.0 * (1500.0 + np.where((T > 330.0) & (T < 350.0), 4000.0, 0.0)))

    add(
        "latent heat over 20 K",
        (Layer(Medium(1200.0, 0.2, 1500.0, Transition(80e3, 330.0, 350.0)), 0.003, equal(n), 300.0),),
        (Slice(n, 0.003, constant(0.2), apparent),),
        "radiation",
    )
    two_curves = Medium(1200.0, 0.2, 1500.0, Transition(80e3, 330.0, 350.0), Transition(80e3, 305.0, 320.0))
    add(
        "two curves, melting",
        (Layer(two_curves, 0.003, equal(n), 300.0),),
        (Slice(n, 0.003, constant(0.2), apparent),),
        "radiation",
    )
    return out


@cache
def _states(name: str) -> Array:
    return _bodies()[name][1].states(tuple(QUARTERS), "Radau")


def cells_error(name: str, steps: float) -> float:
    """Largest error of the cells at the four quarters of a minute."""
    problem, exact = _bodies()[name][0], _states(name)
    found = integrate_fixed(problem, int(steps), QUARTERS).temperature
    return float(np.max(np.abs(found - exact[:, : found.shape[1]])))


LEAST = {
    "latent heat over 20 K": (
        1.0,
        "cells cross the jumps of the apparent heat capacity inside steps: order 1 to 2, and unsteady",
    ),
    "two curves, melting": (1.0, "as with one curve"),
}


def _cells() -> list[Study]:
    out = []
    for name in _bodies():
        least, reason = LEAST.get(name, (None, ""))
        sizes = (64, 128, 256, 512, 1024) if least else (48, 96, 192, 384)
        against = SCIPY
        if name.startswith("cp(T)"):
            sizes, against = (4, 8, 16, 32), SCIPY + "; below 4e-5 K the straight pieces of the energy table show"
        out.append(
            Study(
                GROUP,
                name,
                against,
                4.0,
                sizes,
                lambda n, k=name: cells_error(k, n),
                size="steps",
                least=least,
                reason=reason,
                last=4 if least else 3,
                few=4 if least else 3,
            )
        )
    return out


# -- dense output, crossings, step control -----------------------------------------------------------------------------


@cache
def _watched() -> tuple[Problem, Lines]:
    return _bodies()["slab: convection"]


ODD = MINUTE * np.array([0.2137, 0.4871, 0.7219, 0.9433])


@cache
def _odd_states() -> Array:
    return _watched()[1].states(tuple(ODD))


def rows_error(steps: float) -> float:
    """Rows that fall inside steps: temperatures of cells."""
    return float(np.max(np.abs(integrate_fixed(_watched()[0], int(steps), ODD).temperature - _odd_states())))


@cache
def _crossing_time(threshold: float) -> float:
    """When the innermost cell of the written-out equations is so warm [s], by Newton's method."""
    lines, t = _watched()[1], 40.0
    for _ in range(12):
        z = lines.states((t,))[0]
        step = (float(z[0]) - threshold) / float(lines.rate(t, z)[0])
        t -= step
        if abs(step) < 1e-11:
            break
    return t


def crossing_error(steps: float) -> float:
    """When the coldest cell reaches thresholds [s]; equal steps, the watch looks inside them."""
    problem, thresholds = _watched()[0], (311.3, 317.9)
    watches = [Watch(str(x), "coldest", x) for x in thresholds]
    found = _Run(problem, np.array([MINUTE]), 1.0, watches, None).go(int(steps)).crossings
    return max(abs((found[str(x)] or math.inf) - _crossing_time(x)) for x in thresholds)


@cache
def _controlled() -> tuple[Problem, Array]:
    reaction = (Reaction("cure_degree", NthOrder(2e6, 72e3, 1.0), 60e3),)
    layer = Layer(Medium(1200.0, 0.2, 1500.0), 0.004, equal(6), 380.0, reactions=reaction)
    face, edge = _faces()["convection"]
    law = lambda T, a: 2e6 * np.exp(-72e3 / R / T) * (1 - a)  # noqa: E731
    cured = Slice(6, 0.004, constant(0.2), constant(1.8e6), 380.0, rates=(law,), heats=(1200.0 * 60e3,), degrees=(0.0,))
    return Problem((layer,), (Span(400.0, Face(), face),)), Lines((cured,), Edge(), edge).states((200.0, 400.0))


@cache
def _with_control(batch: bool, level: int) -> tuple[float, float]:
    """(steps, error) at a tolerance of 16^-level times 0.01 K."""
    (problem, exact), tolerance = _controlled(), 0.01 * 16.0**-level
    at = np.array([200.0, 400.0])
    if batch:
        factor = np.array([1.0, 1.1])
        layer = problem.layers[0]
        many = (Layer(layer.medium, layer.thickness * factor, layer.edges, layer.start, reactions=layer.reactions),)
        run = solve_batch(problem.with_(layers=many), 2, at, tolerance)
        return float(run.steps[0]), float(np.max(np.abs(run.temperature[:, :, 0] - exact[:, :6])))
    one = solve(problem, at, tolerance)
    return float(one.accepted), float(np.max(np.abs(one.temperature - exact[:, :6])))


def _control() -> list[Study]:
    out = []
    for words, batch in (("single kernel", False), ("batch kernel", True)):
        sizes = tuple(_with_control(batch, level)[0] for level in range(6))
        errors = {n: _with_control(batch, level)[1] for level, n in enumerate(sizes)}
        out.append(
            Study(
                GROUP,
                f"steps as the control chooses, {words}, tolerance 16 times smaller each time",
                SCIPY,
                4.0,
                sizes,
                lambda n, e=errors: e[n],
                size="steps taken",
                few=6,
                last=6,
            )
        )
    return out


# -- ovens -------------------------------------------------------------------------------------------------------------


def oven_error(steps: float) -> float:
    """Air and stand-in of a loaded oven, closed form: heaters flat out, no radiation, two linear equations (expm)."""
    from scipy.linalg import expm

    oven = Oven(1000.0, 300.0, 2000.0, 10.0, 5000.0, 5.0)
    one = lambda v: np.array([[v]])  # noqa: E731
    load = Load(one(20.0), one(0.0), one(20000.0), one(300.0), 400.0)
    n = int(steps)
    time = np.linspace(0.0, 900.0, n + 1)
    air, face = loaded_air(oven, load, time, 320.0, np.zeros(n + 1), np.zeros((n + 1, 1, 1)))
    matrix = np.array([[-(10.0 + 20.0) / 5000.0, 20.0 / 5000.0], [20.0 / 20000.0, -20.0 / 20000.0]])
    source = np.array([(2000.0 + 10.0 * 300.0) / 5000.0, 0.0])
    steady = -np.linalg.solve(matrix, source)
    exact = steady + expm(matrix * 900.0) @ (np.array([320.0, 300.0]) - steady)
    return float(max(abs(air[-1, 0] - exact[0]), abs(face[-1, 0, 0] - exact[1])))


def studies() -> list[Study]:
    """All of this module."""
    conduction = Study(
        GROUP,
        "insulated slab, a mode of its cells",
        "exact: the cells' own mode",
        4.0,
        (8, 16, 32, 64),
        semi_discrete_error,
        size="steps",
    )
    dense = [
        Study(
            GROUP, "rows inside steps (dense output)", SCIPY, 4.0, (96, 192, 384, 768), rows_error, size="steps", few=4
        ),
        Study(
            GROUP,
            "times at which thresholds are crossed (watches)",
            SCIPY,
            4.0,
            (96, 192, 384, 768),
            crossing_error,
            "s",
            "steps",
        ),
    ]
    oven = Study(
        GROUP,
        "air of a loaded oven (backward steps)",
        "exact: matrix exponential",
        1.0,
        (48, 96, 192, 384),
        oven_error,
        size="steps",
    )
    return [conduction, *_thin(), *_cells(), *dense, *_control(), oven]
