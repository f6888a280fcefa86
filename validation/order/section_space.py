"""The section solver in space on even and skewed triangles: faces, contacts, media, latent heat, cycles."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import j0, j1

from tests.unit.section_grids import box, convection, grid, held, sides_of, spaced
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
from thermokit.conduction.section_march import march
from thermokit.conduction.section_problem import Region, SectionMesh, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_steady import steady
from validation.order.bodies import BASE, Array
from validation.order.modes import HELD, Stack, mode
from validation.order.spectral import SIGMA, Element, Spectral, constant
from validation.order.study import Study
from validation.references.phase_change import SpreadLatentHeat

GROUP = "section solver in space"
CELLS = (8, 16, 32, 64)
FINENESS = (0.5, 1.0, 2.0, 4.0)
MODES = "exact: a decaying mode"
K, RHO_C, H = 2.0, 1.0e6, 6.0
MEDIUM = Medium(1000.0, K, RHO_C / 1000.0)
SKEW = 0.2


def _square(
    faces: dict[str, Face],
    duration: float = 1.0,
    axisymmetric: bool = False,
    medium: Medium = MEDIUM,
    heat: float = 0.0,
    start: float = BASE,
) -> SectionProblem:
    return SectionProblem(
        (Region("body", box(0, 1, 0, 1), medium, start, heat),),
        (SectionSpan(duration, faces),),
        edges=sides_of(0, 1, 0, 1),
        axisymmetric=axisymmetric,
    )


def _grid(problem: SectionProblem, cells: float, skew: float, rows: float | None = None) -> SectionMesh:
    n = int(cells)
    return grid(problem, spaced(0, 1, cells=n), spaced(0, 1, cells=int(rows or n)), skew)


def rms(gap: Array) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.mean(gap**2)))


# -- decaying modes on a square ------------------------------------------------------------------------------------------


def _root(h: float, bessel: bool) -> float:
    """First root of z tan z = h/k (Carslaw & Jaeger 3.10), or of z J1(z) = h/k J0(z) (7.7); held where h is infinite."""
    if math.isinf(h):
        return 2.404825557695773 if bessel else math.pi / 2
    if bessel:
        return float(brentq(lambda z: z * j1(z) - h / K * j0(z), 1e-6, 2.4048, xtol=1e-14))
    return float(brentq(lambda z: z * math.tan(z) - h / K, 1e-6, math.pi / 2 - 1e-9, xtol=1e-14))


def _condition(h: float) -> Face:
    return held(BASE) if math.isinf(h) else convection(h, BASE)


def mode_error(h: float, top: float, axisymmetric: bool, skew: float, cells: float, worst: bool = False) -> float:
    """cos or J0 of x times cos of y after it has fallen to exp(-1/2); root of the mean square over nodes, or the worst."""
    lx, ly = _root(h, axisymmetric), _root(top, False)
    duration = 0.5 * RHO_C / (K * (lx**2 + ly**2))
    case = _square({"right": _condition(h), "top": _condition(top)}, duration, axisymmetric)
    mesh = _grid(case, cells, skew)
    shape = (j0 if axisymmetric else np.cos)(lx * mesh.x) * np.cos(ly * mesh.y)
    history = march(case, mesh, np.array([duration]), 1e-5, BASE + 100.0 * shape)
    off = history.temperature[0] - BASE - 100.0 * math.exp(-0.5) * shape
    return float(np.abs(off).max()) if worst else rms(off)


def flux_error(axisymmetric: bool, cells: float) -> float:
    """Flux into the side at x = 1 on top of a mode: q x^2/2 + q t (plane), q r^2/2 + 2 q t (axisymmetric)."""
    d, q = (2 if axisymmetric else 1), 60.0
    duration = 0.15 * RHO_C / K
    lam = 3.831705970207512 if axisymmetric else math.pi
    case = _square({"right": Face(heating=K * q)}, duration, axisymmetric)
    mesh = _grid(case, cells, SKEW)
    phi = (j0 if axisymmetric else np.cos)(lam * mesh.x)
    at = lambda t: BASE + q * (mesh.x**2 / 2 + d * t) + 50.0 * math.exp(-(lam**2) * t) * phi  # noqa: E731
    history = march(case, mesh, np.array([duration]), 1e-5, at(0.0))
    return rms(history.temperature[0] - at(0.15))


def ramp_error(air: bool, cells: float) -> float:
    """A side, or its air, that warms by b a unit of time: b t + b (x^2 - 1)/2 - b K/h, on skewed triangles."""
    b, share = 80.0, 0.3
    duration = share * RHO_C / K
    series = Series((0.0, duration), (BASE, BASE + b * share))
    face = Face(exchange=(Exchange(H, series),)) if air else Face(temperature=series)
    lx, lag = (_root(H, False), b * K / H) if air else (math.pi / 2, 0.0)
    case = _square({"right": face}, duration)
    mesh = _grid(case, cells, SKEW)
    at = lambda t: BASE + b * t + b * (mesh.x**2 - 1) / 2 - lag + 50.0 * np.exp(-(lx**2) * t) * np.cos(lx * mesh.x)  # noqa: E731
    history = march(case, mesh, np.array([duration]), 1e-5, at(0.0))
    return rms(history.temperature[0] - at(share))


def layers_error(contact: float, cells: float) -> float:
    """Two materials side by side, perfect or with a conductance between: a mode of the layered body, on skewed triangles."""
    stack = Stack("plane", (0.0, 0.5, 1.0), (5.0, 0.8), (2.0, 1.0), (contact,), outer=6.0)
    lam, phi = mode(stack, 1)
    duration = 0.5 / lam**2
    case = SectionProblem(
        (
            Region("a", box(0, 0.5, 0, 1), Medium(2.0, 5.0, 1.0), BASE),
            Region("b", box(0.5, 1, 0, 1), Medium(1.0, 0.8, 1.0), BASE),
        ),
        (SectionSpan(duration, {"right": convection(6.0, BASE)}),),
        edges=sides_of(0, 1, 0, 1),
        touches=() if math.isinf(contact) else (Touch(("a", "b"), contact),),
    )
    n = int(cells)
    mesh = grid(case, spaced(0, 0.5, 1.0, cells=n // 2), spaced(0, 1, cells=n // 2), 0.0)
    mine = np.zeros(len(mesh.x), bool)
    mine[np.unique(mesh.triangles[mesh.region == 0])] = True
    rng = np.random.default_rng(2)  # nodes off the joint and the sides are moved about
    inner = (
        (np.abs(mesh.x - 0.5) > 1e-9) & (mesh.x > 1e-9) & (mesh.x < 1 - 1e-9) & (mesh.y > 1e-9) & (mesh.y < 1 - 1e-9)
    )
    moved = SKEW / n * rng.uniform(-1, 1, (2, len(mesh.x))) * inner
    mesh = SectionMesh(mesh.x + moved[0], mesh.y + moved[1], *list(vars(mesh).values())[2:])
    x = np.where(mine, np.minimum(mesh.x, 0.5 - 1e-15), mesh.x)
    shape = phi(x)
    history = march(case, mesh, np.array([duration]), 1e-5, BASE + 100.0 * shape)
    return rms(history.temperature[0] - BASE - 100.0 * math.exp(-0.5) * shape)


def _modes() -> list[Study]:
    out = []
    words = {False: "plane", True: "axisymmetric"}
    for axisymmetric in (False, True):
        for skew, mesh in ((0.0, "even"), (SKEW, "skewed")):
            for h, top, faces in ((H, 0.5 * H, "convection"), (HELD, HELD, "held")):
                out.append(
                    Study(
                        GROUP,
                        f"{words[axisymmetric]}, {faces}, {mesh} triangles",
                        MODES,
                        2.0,
                        CELLS,
                        lambda n, h=h, t=top, a=axisymmetric, s=skew: mode_error(h, t, a, s, n),
                    )
                )
        out.append(
            Study(
                GROUP,
                f"{words[axisymmetric]}, flux, skewed triangles",
                "exact: quasi-steady rise and a mode",
                2.0,
                CELLS,
                lambda n, a=axisymmetric: flux_error(a, n),
            )
        )
    out.append(
        Study(
            GROUP,
            "plane, convection, skewed triangles, worst node",
            MODES,
            2.0,
            CELLS,
            lambda n: mode_error(H, 0.5 * H, False, SKEW, n, True),
            least=1.7,
            reason="nodes are moved at random, anew on each mesh: the worst place is another each time (order 2 log n)",
        )
    )
    for word, air in (("air that warms", True), ("side that warms", False)):
        out.append(
            Study(
                GROUP,
                f"plane, {word} (series), skewed triangles",
                "exact: quasi-steady rise and a mode",
                2.0,
                CELLS,
                lambda n, a=air: ramp_error(a, n),
            )
        )
    for word, contact in (("perfect", HELD), ("a conductance", 4.0)):
        out.append(
            Study(
                GROUP,
                f"two materials, {word} between, skewed triangles",
                MODES,
                2.0,
                CELLS,
                lambda n, c=contact: layers_error(c, n),
            )
        )
    return out


# -- what is not linear, steady and in time ------------------------------------------------------------------------------


def kirchhoff_error(cells: float) -> float:
    """A cylinder with uniform heat, k = k0 (1 + b (T - T_s)), that radiates: T_s by its balance, inside by Kirchhoff."""
    heat, emissivity, surround, k0, beta = 4e4, 0.9, 300.0, 20.0, 0.002
    surface = (heat / (2 * emissivity * STEFAN_BOLTZMANN) + surround**4) ** 0.25
    curve = Curve(surface + np.array([-300.0, 900.0]), k0 * (1 + beta * np.array([-300.0, 900.0])))
    case = _square(
        {"right": Face(radiation=(Radiation(emissivity, surround),))}, 1.0, True, Medium(1000.0, curve, 1000.0), heat
    )
    mesh = _grid(case, cells, SKEW)
    f = heat * (1 - mesh.x**2) / (4 * k0)
    return rms(steady(case, mesh).temperature[0] - surface - (np.sqrt(1 + 2 * beta * f) - 1) / beta)


@cache
def _radiated() -> tuple[Spectral, Array]:
    element = Element(0.0, 1.0, constant(K), constant(RHO_C))
    body = Spectral((element,), lambda T, t: 0.0, lambda T, t: 0.8 * SIGMA * (700.0**4 - T**4) / 10.0)
    return body, body.run(body.projected([BASE]), 0.2 * RHO_C / K)


def radiation_error(cells: float) -> float:
    """A wall that is heated by radiation, in time, on skewed triangles."""
    body, z = _radiated()
    duration = 0.2 * RHO_C / K
    case = _square({"right": Face(radiation=(Radiation(0.08, 700.0),))}, duration)
    mesh = _grid(case, cells, SKEW, rows=cells / 2)
    history = march(case, mesh, np.array([duration]), 1e-3)
    return rms(history.temperature[0] - body.at(z, 0, mesh.x))


def latent_error(cells: float) -> float:
    """Freezing from the side x = 0 with latent heat over 20 K: similarity in three zones, even triangles, several moments."""
    exact = SpreadLatentHeat(1.0, 1.0, 4.0, 0.0, 40.0, 60.0, 100.0)
    medium = Medium(1.0, 1.0, 1.0, Transition(60.0, BASE + 40.0, BASE + 60.0))
    case = SectionProblem(
        (Region("body", box(0, 1.5, 0, 0.2), medium, BASE + 100.0),),
        (SectionSpan(0.03, {"left": held(BASE)}),),
        edges=sides_of(0, 1.5, 0, 0.2),
    )
    mesh = grid(case, spaced(0, 1.5, cells=int(cells)), spaced(0, 0.2, cells=3))
    moments = np.array([0.01, 0.015, 0.02, 0.025, 0.03])
    known: dict[tuple[float, float], float] = {}

    def at(t: float) -> Array:
        for x in set(mesh.x.tolist()):
            known.setdefault((x, t), exact.temperature(x, t))
        return np.array([BASE + known[x, t] for x in mesh.x.tolist()])

    history = march(case, mesh, moments, 3e-3, at(0.02))
    return rms(history.temperature - np.array([at(0.02 + float(t)) for t in moments]))


def settled_error(cells: float) -> float:
    """Air that changes for ever at a side, exact mode by mode (as for the layered solver), on skewed triangles."""
    on, off = 0.3, 0.5
    spans = tuple(SectionSpan(t, {"right": convection(3.0, air)}) for t, air in ((on, BASE + 80.0), (off, BASE)))
    case = SectionProblem(
        (Region("body", box(0, 1, 0, 1), Medium(1.0, 1.0, 1.0), BASE),), spans, edges=sides_of(0, 1, 0, 1)
    )
    mesh = _grid(case, cells, SKEW, rows=cells / 2)
    cycle = settled(case, mesh, tolerance=1e-6, step_tolerance=1e-5)
    exact = np.full(len(mesh.x), BASE)
    stack = Stack("plane", (0.0, 1.0), outer=3.0)
    for number in range(1, 9):
        lam, phi = mode(stack, number)
        points, weight = np.polynomial.legendre.leggauss(60)
        values = phi((points + 1) / 2)
        share = 80.0 * float(weight @ values) / float(weight @ values**2)
        a, b = math.exp(-(lam**2) * on), math.exp(-(lam**2) * off)
        exact += share * (1 - a) * b / (1 - a * b) * phi(mesh.x)
    return rms(cycle.start - exact)


def studies() -> list[Study]:
    """All of this module."""
    spectral = "independent: spectral elements in space, Radau in time"
    curved = [
        Study(
            GROUP,
            "axisymmetric, steady, heat, k(T), radiation, skewed triangles",
            "exact: Kirchhoff's transformation",
            2.0,
            CELLS,
            kirchhoff_error,
        ),
        Study(GROUP, "plane, radiation in time, skewed triangles", spectral, 2.0, CELLS, radiation_error),
        Study(
            GROUP,
            "latent heat over 20 K, in time",
            "exact: similarity solution in three zones",
            2.0,
            (24, 48, 96, 192),
            latent_error,
            last=4,
        ),
        Study(
            "courses and cycles",
            "section settled in air that changes for ever, skewed triangles",
            "exact: eigenfunctions, each settled",
            2.0,
            CELLS,
            settled_error,
        ),
    ]
    return [*_modes(), *curved]
