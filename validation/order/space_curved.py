"""Layered bodies in space where nothing is linear: radiation, k(T), cp(T), cure, emission, latent heat, courses, cycles."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.course import Course
from thermokit.conduction.cyclic import settled_profile
from thermokit.conduction.follow import follow
from thermokit.conduction.problem import (
    STEFAN_BOLTZMANN,
    Curve,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Reaction,
    Span,
    Transition,
)
from thermokit.conduction.remap import remapped
from thermokit.conduction.single import solve
from thermokit.conduction.slow_map import linear_map
from thermokit.kinetics.rates import TwoRate
from validation.order.bodies import BASE, CELLS, DIMENSION, TIGHT, WORDS, Array, body, equal, face
from validation.order.modes import Stack, mode
from validation.order.spectral import SIGMA, Element, Spectral, constant, straight
from validation.order.study import Study
from validation.references.phase_change import Neumann, SpreadLatentHeat

GROUP = "sources and media"
SPECTRAL = "independent: spectral elements in space, Radau in time"
R = 8.314462618


def _middle(cells: int) -> Array:
    return np.asarray((equal(cells)[1:] + equal(cells)[:-1]) / 2)


# -- radiation, k(T), cp(T), cure, emission ----------------------------------------------------------------------------

LENGTH, HOT, AIR = 0.004, 700.0, 350.0
K_CURVE = Curve(np.array([280.0, 700.0]), np.array([0.15, 0.30]))
CP_CURVE = Curve(np.array([280.0, 700.0]), np.array([1400.0, 2300.0]))
CURE = {"factor_1": 2e7, "energy_1": 70e3, "factor_2": 2e7, "energy_2": 68e3, "m": 1.0, "n": 2.0}
CURE_HEAT = 80e3  # J/kg
EMISSION = 60.0  # 1/m


def _cure_rate(T: Array, a: Array) -> Array:
    first, second = (
        CURE["factor_1"] * np.exp(-CURE["energy_1"] / R / T),
        CURE["factor_2"] * np.exp(-CURE["energy_2"] / R / T),
    )
    return np.asarray((first + second * a) * (1 - a) ** 2)


@cache
def _curved_reference(shape: str, what: str) -> tuple[Spectral, Array]:
    k, rho_c = constant(0.2), constant(1200.0 * 1500.0)
    if what == "media":
        k, rho_c = straight(280.0, 0.15, 700.0, 0.30), straight(280.0, 1200.0 * 1400.0, 700.0, 1200.0 * 2300.0)
    source = (lambda T, r, t: -EMISSION * SIGMA * T**4) if what == "emission" else None
    element = Element(
        0.0,
        LENGTH,
        k,
        rho_c,
        source=source,
        rate=_cure_rate if what == "cure" else None,
        heat=1200.0 * CURE_HEAT if what == "cure" else 0.0,
    )
    power = DIMENSION[shape] - 1

    def outer(T: float, t: float) -> float:
        return 0.8 * SIGMA * (HOT**4 - T**4) + 10.0 * (AIR - T)

    body = Spectral((element,), lambda T, t: 0.0, outer, power, nodes=20 if what != "cure" else 28)
    return body, body.run(body.projected([300.0]), 60.0)


def curved_error(shape: str, what: str, cells: float, batch: bool = False, state: bool = False) -> float:
    """A minute under radiation and air: largest error of cells and face, or of the degree of cure."""
    n = int(cells)
    exact, z = _curved_reference(shape, what)
    medium = Medium(1200.0, K_CURVE, CP_CURVE) if what == "media" else Medium(1200.0, 0.2, 1500.0)
    reactions = (Reaction("cure_degree", TwoRate(**CURE), CURE_HEAT),) if what == "cure" else ()
    layer = Layer(medium, LENGTH, equal(n), 300.0, reactions=reactions)
    condition = Face(radiation=(Radiation(0.8, HOT),), exchange=(Exchange(10.0, AIR),))
    emission = np.full(n, EMISSION) if what == "emission" else None
    problem = Problem((layer,), (Span(60.0, Face(), condition, emission=emission),), shape)  # type: ignore[arg-type]
    r = LENGTH * np.append(_middle(n), 1.0)
    if batch:
        many = solve_batch(problem.with_(inner_radius=np.zeros(2)), 2, tolerance=1e-4)
        found, degree = np.append(many.end_temperature[-1][:, 1], many.end_outer_face[-1][1]), many.end_states
        degrees = degree["cure_degree"][-1][:, 1] if degree else np.zeros(n)
    else:
        one = solve(problem, np.array([60.0]), 1e-5)
        found = np.append(one.temperature[-1], one.outer_face[-1])
        degrees = one.states["cure_degree"][-1] if one.states else np.zeros(n)
    if state:
        return float(np.max(np.abs(degrees - exact.degree_at(z, 0, r[:-1]))))
    return float(np.max(np.abs(found - exact.at(z, 0, r))))


def _curved() -> list[Study]:
    out = []
    names = {"radiation": "radiation and air outside", "media": "k(T) and cp(T), radiation and air outside"}
    for shape in DIMENSION:
        for what, words in names.items():
            out.append(
                Study(
                    GROUP,
                    f"{WORDS[shape]}: {words}",
                    SPECTRAL,
                    2.0,
                    CELLS,
                    lambda n, s=shape, w=what: curved_error(s, w, n),
                )
            )
    for words, what, batch, state in (
        ("radiation and air outside, batch kernel", "radiation", True, False),
        ("k(T) and cp(T), radiation outside, batch kernel", "media", True, False),
        ("heat given off in depth (emission)", "emission", False, False),
        ("heat given off in depth, batch kernel", "emission", True, False),
        ("heat of cure, temperature", "cure", False, False),
        ("heat of cure, degree", "cure", False, True),
        ("heat of cure, temperature, batch kernel", "cure", True, False),
    ):
        out.append(
            Study(
                GROUP,
                f"slab: {words}",
                SPECTRAL,
                2.0,
                CELLS,
                lambda n, w=what, b=batch, s=state: curved_error("plane", w, n, b, s),
                unit="-" if state else "K",
            )
        )
    return out


def kirchhoff_error(shape: str, cells: float) -> float:
    """Uniform heat leaves by radiation: T_s from q R/d = e s (T_s^4 - T_0^4), inside by Kirchhoff's transform.

    k = k0 (1 + b (T - T_s)): T - T_s = [sqrt(1 + 2 b F) - 1]/b, F = q (R^2 - r^2)/(2 d k0).
    """
    d = DIMENSION[shape]
    radius, heat, emissivity, surround, k0, beta = 0.01, 8e5, 0.9, 300.0, 0.25, 0.001
    surface = (heat * radius / (d * emissivity * STEFAN_BOLTZMANN) + surround**4) ** 0.25
    curve = Curve(surface + np.array([-200.0, 400.0]), k0 * (1 + beta * np.array([-200.0, 400.0])))
    layer = Layer(Medium(1000.0, curve, 1000.0), radius, equal(int(cells)), surface, heat=heat)
    seen = Face(radiation=(Radiation(0.6, surround), Radiation(emissivity - 0.6, surround)))
    history = solve(Problem((layer,), (Span(40000.0, Face(), seen),), shape), np.array([40000.0]), 1e-4)  # type: ignore[arg-type]
    f = heat * (radius**2 - history.centres**2) / (2 * d * k0)
    exact = surface + (np.sqrt(1 + 2 * beta * f) - 1) / beta
    inside = float(np.max(np.abs(history.temperature[-1] - exact)))
    return max(inside, abs(float(history.outer_face[-1]) - surface))


# -- latent heat -------------------------------------------------------------------------------------------------------

LATENT = {"k": 1.0, "outside": 1.0, "inside": 4.0, "wall": 0.0, "low": 40.0, "high": 60.0, "start": 100.0}
DEEP = 2.0
MOMENTS = np.linspace(0.03, 0.06, 7)


def latent_error(kind: str, cells: float, batch: bool = False) -> float:
    """A thick body that freezes from its wall, or melts (the mirror image): largest error over cells and moments.

    Latent heat spread evenly over 20 K is a heat capacity of steps, so that the solution is one of similarity in three zones.
    """
    n, begin = int(cells), 0.02
    exact = SpreadLatentHeat(**LATENT)
    at = lambda t: np.array([exact.temperature(float(x), t) for x in DEEP * _middle(n)])  # noqa: E731
    sign, shift = (1.0, BASE) if kind != "melting" else (-1.0, BASE + 100.0)
    low, high = sorted((shift + sign * 40.0, shift + sign * 60.0))
    here = Transition(60.0, low, high)
    media = {
        "one curve": Medium(1.0, 1.0, 1.0, here),
        "crystallising": Medium(1.0, 1.0, 1.0, Transition(60.0, low + 25.0, high + 25.0), here),
        "melting": Medium(1.0, 1.0, 1.0, here, Transition(60.0, low - 25.0, high - 25.0)),
    }
    start = shift + sign * at(begin)
    two = {"crystallising": exact, "melting": exact}
    share = None
    if kind in two:  # the share that has crystallised where the body is on its curve
        frozen = np.clip((60.0 - at(begin)) / 20.0, 0.0, 1.0)
        share = frozen if kind == "crystallising" else 1.0 - np.clip((60.0 - at(begin)) / 20.0, 0.0, 1.0)
    if batch:
        start, share = start[:, None], None if share is None else share[:, None]
    layer = Layer(media[kind], DEEP, equal(n), start, crystalline_start=share)
    problem = Problem((layer,), (Span(0.04, Face(temperature=shift), Face()),))
    if batch:
        found = solve_batch(problem, 2, MOMENTS - begin, 3e-4).temperature[:, :, 1]
    else:
        found = solve(problem, MOMENTS - begin, 3e-4).temperature
    wanted = shift + sign * np.array([at(float(t)) for t in MOMENTS])
    return float(np.sqrt(np.mean((found - wanted) ** 2)))


def front_error(cells: float) -> float:
    """Neumann's freezing with the latent heat within 0.2 K of the front: mean error of the cells over many moments."""
    n, begin = int(cells), 0.05
    exact = Neumann(1.0, 1.0, 1.0, 1.0, 150.0, 0.0, 50.0, 80.0)
    at = lambda t: np.array([exact.temperature(float(x), t) for x in DEEP * _middle(n)])  # noqa: E731
    medium = Medium(1.0, 1.0, 1.0, Transition(150.0, BASE + 49.9, BASE + 50.1))
    layer = Layer(medium, DEEP, equal(n), BASE + at(begin))
    moments = np.linspace(0.06, 0.12, 31)
    found = solve(Problem((layer,), (Span(0.07, Face(temperature=BASE), Face()),)), moments - begin, 1e-2).temperature
    return float(np.mean(np.abs(found - BASE - np.array([at(float(t)) for t in moments]))))


def _latent() -> list[Study]:
    sizes = (25, 50, 100, 200)
    similarity = "exact: similarity solution in three zones, root of the mean square over cells and moments"
    out = [
        Study(GROUP, f"slab: {words}", similarity, 2.0, sizes, lambda n, k=kind, b=batch: latent_error(k, n, b), last=4)
        for words, kind, batch in (
            ("latent heat over 20 K, one curve", "one curve", False),
            ("latent heat over 20 K, batch kernel", "one curve", True),
            ("two curves, crystallising", "crystallising", False),
            ("two curves, melting", "melting", False),
            ("two curves, crystallising, batch kernel", "crystallising", True),
        )
    ]
    out.append(
        Study(
            GROUP,
            "slab: latent heat in a front 0.2 K wide",
            "exact: Neumann's solution, mean over cells and moments",
            2.0,
            (25, 50, 100, 200, 400),
            front_error,
            last=4,
            few=4,
            least=0.8,
            reason="the front is thinner than a cell and stands somewhere in it: one cell's place is not known, order 1",
        )
    )
    return out


# -- courses -----------------------------------------------------------------------------------------------------------


def drawn_mode_error(number: int, cells: float) -> float:
    """Two layers with a contact, both drawn: thickness/r, exchange and contact r times as large is the same body on a
    scale of 1/r, so the mode keeps its shape over the mass and fades r^2 times as fast (dimensional analysis)."""
    ratio = 1.8
    stack = Stack("plane", (0.0, 0.4, 1.0), (0.3, 1.0), (1.0, 2.0), (1.5,), outer=4.0)
    thin = Stack("plane", (0.0, 0.4 / ratio, 1.0 / ratio), (0.3, 1.0), (1.0, 2.0), (1.5 * ratio,), outer=4.0 * ratio)
    lam, phi = mode(stack, number)
    first, second = 0.6 / lam**2, 0.5 / (lam * ratio) ** 2
    legs = tuple(
        body(own, int(cells), t, lambda r: BASE + 100.0 * phi(r), face(0.0), face(own.outer))
        for own, t in ((stack, first), (thin, second))
    )
    history = follow(Course(legs), np.array([first, first + second]), TIGHT).history
    wanted = BASE + 100.0 * np.exp(-np.array([[0.6], [1.1]])) * phi(np.append(history.centres, 1.0))
    found = np.column_stack([history.temperature, history.outer_face])
    return float(np.max(np.abs(found - wanted)))


@cache
def _on_tool_reference(contact: float | None) -> tuple[tuple[Spectral, Array], ...]:
    k = straight(300.0, 0.18, 500.0, 0.26)
    flat = Element(0.0, 0.004, k, constant(1.8e6))
    thin = Element(0.0, 0.002, k, constant(1.8e6), contact)
    tool = Element(0.002, 0.008, constant(1.5), constant(1.8e6))

    def panel(T: float, t: float) -> float:
        return 0.8 * SIGMA * (700.0**4 - T**4) + 10.0 * (350.0 - T)

    def cool(T: float, t: float) -> float:
        return 15.0 * (300.0 - T)

    first = Spectral((flat,), panel, panel)
    hot = first.run(first.projected([300.0]), 40.0)
    second = Spectral((thin, tool), cool, lambda T, t: 300.0 * (300.0 - T))
    touched = second.run(second.projected([lambda r: first.at(hot, 0, 2 * r), 320.0]), 25.0)
    third = Spectral((Element(0.0, 0.002, k, constant(1.8e6)),), cool, cool)
    free = third.run(third.projected([lambda r: second.at(touched, 0, r)]), 4.0)
    return (second, touched), (third, free)


def on_tool_error(contact: float | None, cells: float) -> float:
    """Heated by radiation, drawn, laid on a tool, taken off: sheet, tool and faces a while after the touch and at the end."""
    n = int(cells)
    curve = Curve(np.array([300.0, 500.0]), np.array([0.18, 0.26]))
    panel = Face(radiation=(Radiation(0.8, 700.0),), exchange=(Exchange(10.0, 350.0),))
    cool = Face(exchange=(Exchange(15.0, 300.0),))
    flat = Layer(Medium(1200.0, curve, 1500.0), 0.004, equal(n), 300.0, name="sheet")
    drawn = Layer(Medium(1200.0, curve, 1500.0), 0.002, equal(n), 300.0, contact=contact, name="sheet")
    tool = Layer(Medium(2000.0, 1.5, 900.0), 0.006, equal(n), 320.0, name="tool", counts=False)
    legs = (
        Problem((flat,), (Span(40.0, panel, panel),)),
        Problem((drawn, tool), (Span(25.0, cool, Face(exchange=(Exchange(300.0, 300.0),))),)),
        Problem((drawn,), (Span(4.0, cool, cool),)),
    )
    found = follow(Course(legs, ("sheet",), (1.0, 2.0, 2.0)), np.array([65.0, 69.0]), 1e-5)
    (second, touched), (third, free) = _on_tool_reference(contact)
    x = np.concatenate([[0.0], _middle(n), [1.0]])
    gaps = [
        found.companions["tool"].end - second.at(touched, 1, 0.002 + 0.006 * x[1:-1]),
        found.history.temperature - np.array([second.at(touched, 0, 0.002 * x), third.at(free, 0, 0.002 * x)])[:, 1:-1],
        found.history.inner_face - np.array([second.at(touched, 0, 0.002 * x), third.at(free, 0, 0.002 * x)])[:, 0],
        found.history.outer_face - np.array([second.at(touched, 0, 0.002 * x), third.at(free, 0, 0.002 * x)])[:, -1],
    ]
    return max(float(np.max(np.abs(gap))) for gap in gaps)


def settled_error(cells: float) -> float:
    """A slab (k = rho c = 1, h = 3 outside) whose air changes between 380 K and BASE for ever: every mode by itself.

    c' = -lam^2 (c - s) with s the share of what the air is at: c(0) = s1 e + s2-terms, a geometric series summed.
    """
    n, h, on, off = int(cells), 3.0, 0.3, 0.5
    stack = Stack("plane", (0.0, 1.0), outer=h)

    def legs(start: Array) -> tuple[Problem, Problem]:
        layer = Layer(Medium(1.0, 1.0, 1.0), 1.0, equal(n), start, name="tool")
        return tuple(
            Problem((layer,), (Span(t, Face(), Face(exchange=(Exchange(h, air),))),))
            for t, air in ((on, 380.0), (off, BASE))
        )  # type: ignore[return-value]

    def shot(start: Array) -> Array:
        for leg in range(2):
            problem = legs(start)[leg]
            start = solve(problem, np.array([problem.spans[0].duration]), TIGHT).temperature[-1]
        return start

    begin = np.full(n, BASE)
    found = settled_profile(shot, begin, linear_map(legs(begin), ["tool"]), 1e-7).profile
    x = _middle(n)
    exact = np.full(n, BASE)
    for number in range(1, 9):
        lam, phi = mode(stack, number)
        grid, weight = np.polynomial.legendre.leggauss(60)
        values = phi((grid + 1) / 2)
        share = 80.0 * float(weight @ values) / float(weight @ values**2)
        a, b = math.exp(-(lam**2) * on), math.exp(-(lam**2) * off)
        exact += share * (1 - a) * b / (1 - a * b) * phi(x)
    return float(np.max(np.abs(found - exact)))


def remap_error(power: int, cells: float) -> float:
    """Averages over even cells brought to a mesh of 7/5 as many graded ones, against the averages themselves."""
    n = int(cells)
    old, grown = np.linspace(1.0, 2.0, n + 1), np.linspace(0.0, 1.0, n * 7 // 5 + 1)
    new = 1.0 + grown * (0.6 + 0.4 * grown)

    def averages(edges: Array) -> Array:
        grid, weight = np.polynomial.legendre.leggauss(8)
        a, b = edges[:-1, None], edges[1:, None]
        r = (a + b) / 2 + (b - a) / 2 * grid
        w = weight * r ** (power - 1)
        return np.asarray((w * (400.0 + 50.0 * np.cos(4.0 * r))).sum(axis=1) / w.sum(axis=1))

    ends = tuple(float(400.0 + 50.0 * math.cos(4.0 * r)) for r in (1.0, 2.0))
    return float(np.sqrt(np.mean((remapped(averages(old), old, new, power, ends) - averages(new)) ** 2)))  # type: ignore[arg-type]


def _courses() -> list[Study]:
    group = "courses and cycles"
    out = [
        Study(
            group,
            f"two layers with a contact, drawn 1.8 times, mode {number}",
            "exact: a mode on the scale of the draw",
            2.0,
            CELLS,
            lambda n, m=number: drawn_mode_error(m, n),
        )
        for number in (1, 2)
    ]
    out += [
        Study(
            group,
            f"sheet heated, drawn, laid on a tool and taken off, {words}",
            SPECTRAL,
            2.0,
            CELLS,
            lambda n, c=contact: on_tool_error(c, n),
        )
        for words, contact in (("perfect touch", None), ("contact resistance", 600.0))
    ]
    out.append(
        Study(
            group,
            "slab settled in air that changes for ever",
            "exact: eigenfunctions, each settled",
            2.0,
            CELLS,
            settled_error,
        )
    )
    for power, word in ((1, "plane"), (2, "cylinder"), (3, "sphere")):
        out.append(
            Study(
                group,
                f"state carried to another mesh, {word}",
                "exact: averages over the new cells",
                2.0,
                CELLS,
                lambda n, p=power: remap_error(p, n),
                few=4,
                last=4,
            )
        )
    return out


def studies() -> list[Study]:
    """All of this module."""
    steady = [
        Study(
            GROUP,
            f"{WORDS[shape]}: steady, uniform heat, k(T), radiation outside",
            "exact: Kirchhoff's transformation",
            2.0,
            CELLS,
            lambda n, s=shape: kirchhoff_error(s, n),
        )
        for shape in DIMENSION
    ]
    return [*_curved(), *steady, *_latent(), *_courses()]
