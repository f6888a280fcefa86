"""Layered bodies in space against decaying modes: every geometry with every linear face, layers, graded meshes, sources."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.mesh import graded_edges, halved
from thermokit.conduction.problem import DepthSource, Exchange, Face, Layer, Medium, Problem, Series, Span
from thermokit.conduction.single import solve
from thermokit.exchange.absorption import share_in_cells
from thermokit.exchange.bands import grey_bands
from validation.order.bodies import BASE, CELLS, DIMENSION, SPANS, TIGHT, WORDS, Array, Mesh, body, equal, face
from validation.order.modes import HELD, Stack, mode
from validation.order.study import Study

MODES = "exact: a decaying mode (separation of variables)"
Profile = Callable[[Array], Array]


def mode_error(stack: Stack, number: int, cells: float, mesh: Mesh = equal, batch: bool = False) -> float:
    """Largest error of cells and of faces in exchange after a mode has fallen to 1/e."""
    lam, phi = mode(stack, number)
    duration = 1.0 / lam**2
    problem = body(
        stack, int(cells), duration, lambda r: BASE + 100.0 * phi(r), face(stack.inner), face(stack.outer), mesh
    )
    if batch:  # three cases side by side that differ by a factor on density and conductivity: the same mode
        factor = np.array([0.5, 1.0, 2.0])
        layers = tuple(
            Layer(
                Medium(x.medium.density * factor, x.medium.conductivity * factor, 1.0),
                x.thickness,
                x.edges,
                np.asarray(x.start)[:, None],
                None if x.contact is None else x.contact * factor,
            )
            for x in problem.layers
        )
        faces = [
            Face(
                exchange=tuple(Exchange(e.coefficient * factor, e.temperature) for e in f.exchange),
                temperature=f.temperature,
            )
            for f in (face(stack.inner), face(stack.outer))
        ]
        history = solve_batch(problem.with_(layers=layers, spans=(Span(duration, *faces),)), 3, tolerance=TIGHT)
        found, out, centres = history.end_temperature[-1].T, history.end_outer_face[-1], history.centres[:, 0]
        inn = history.end_inner_face[-1]
    else:
        single = solve(problem, np.array([duration]), TIGHT)
        found, out, centres = single.temperature, single.outer_face, single.centres
        inn = single.inner_face
    exact = BASE + 100.0 * math.exp(-1.0) * phi(
        np.concatenate([[stack.edges[0]], stack.edges[0] + centres, [stack.edges[-1]]])
    )
    error = float(np.max(np.abs(found - exact[1:-1])))
    if math.isfinite(stack.outer):
        error = max(error, float(np.max(np.abs(out - exact[-1]))))
    if math.isfinite(stack.inner) and (stack.inner or stack.shape == "plane" or stack.edges[0]):
        error = max(error, float(np.max(np.abs(inn - exact[0]))))
    return error


def _geometry() -> list[Study]:
    out = []
    words = {0.0: "insulated", 2.0: "convection", HELD: "held", 3.0: "convection and contact"}
    for name, span in SPANS.items():
        for inner in (0.0, HELD, 2.0) if name == "plane" or "hollow" in name else (0.0,):
            for outer in (HELD, 3.0):
                stack = Stack(name.split()[-1], span, inner=inner, outer=outer)
                number = 2 if inner == 0.0 else 1
                at = "axis" if "cyl" in name else "centre"
                inside = words[inner] if name == "plane" or "hollow" in name else at
                out.append(
                    Study(
                        "geometry and faces",
                        f"{WORDS[name]}: inside {inside}, outside {words[outer]}",
                        MODES,
                        2.0,
                        CELLS,
                        lambda n, s=stack, m=number: mode_error(s, m, n),
                    )
                )
    return out


def _layers() -> list[Study]:
    out = []
    for name, (a, b) in SPANS.items():
        for contact in (math.inf, 4.0):
            edges = (a, a + 0.3 * (b - a), a + 0.7 * (b - a), b)
            stack = Stack(name.split()[-1], edges, (5.0, 0.2, 1.0), (2.0, 1.0, 3.0), (contact, math.inf), outer=6.0)
            joint = "perfect joints" if math.isinf(contact) else "a contact resistance"
            out.append(
                Study(
                    "layers, meshes, batch",
                    f"{WORDS[name]}: three layers, k 25 apart, {joint}",
                    MODES,
                    2.0,
                    CELLS,
                    lambda n, s=stack: mode_error(s, 2, n),
                )
            )
    return out


def graded(cells: float) -> Array:
    """A mesh of 10 cells that grow by 1.12 from both faces, halved until there are so many."""
    edges = graded_edges(10)
    while len(edges) - 1 < cells:
        edges = halved(edges)
    return edges


def _meshes() -> list[Study]:
    out = []
    for name, span in SPANS.items():
        stack = Stack(name.split()[-1], span, inner=0.0, outer=3.0)
        out.append(
            Study(
                "layers, meshes, batch",
                f"{WORDS[name]}: graded mesh, halved",
                MODES,
                2.0,
                CELLS,
                lambda n, s=stack: mode_error(s, 2, n, graded),
            )
        )
    for name in ("plane", "hollow cylinder", "sphere"):
        a, b = SPANS[name]
        stack = Stack(name.split()[-1], (a, (a + b) / 2, b), (1.0, 0.3), (1.0, 2.0), (4.0,), outer=3.0)
        out.append(
            Study(
                "layers, meshes, batch",
                f"{WORDS[name]}: batch kernel, two layers with a contact, convection",
                MODES,
                2.0,
                CELLS,
                lambda n, s=stack: mode_error(s, 2, n, equal, True),
            )
        )
    stack = Stack("plane", (0.0, 1.0), inner=HELD, outer=HELD)
    out.append(
        Study(
            "layers, meshes, batch",
            "slab: batch kernel, both faces held",
            MODES,
            2.0,
            CELLS,
            lambda n: mode_error(stack, 1, n, equal, True),
        )
    )
    return out


def on_top_error(
    stack: Stack, cells: float, faces: tuple[Face, Face], steady: Callable[[Array, float], Array], **layer: object
) -> float:
    """A mode on top of an exact solution ``steady(r, t)`` (without BASE) of the same body under other faces or sources.

    layer : fields of the one layer, or ``source`` : edges [m] -> its heat in depth.
    """
    lam, phi = mode(stack, 2)
    t = 1.0 / lam**2
    problem = body(stack, int(cells), t, lambda r: BASE + 50.0 * phi(r) + steady(r, 0.0), *faces)
    source = layer.pop("source", None)
    spans = problem.spans
    if source is not None:
        edges = stack.edges[0] + (stack.edges[-1] - stack.edges[0]) * equal(int(cells))
        spans = (Span(t, *faces, sources=(DepthSource(source(edges)),)),)  # type: ignore[operator]
    first = problem.layers[0]
    problem = problem.with_(
        layers=(Layer(first.medium, first.thickness, first.edges, first.start, **layer),), spans=spans
    )  # type: ignore[arg-type]
    history = solve(problem, np.array([t]), TIGHT)
    r = np.concatenate([stack.edges[0] + history.centres, [stack.edges[-1]]])
    exact = BASE + 50.0 * math.exp(-1.0) * phi(r) + steady(r, t)
    return float(np.max(np.abs(np.append(history.temperature[-1], history.outer_face[-1]) - exact)))


def _flux(name: str) -> Study:
    """Flux q into the outer face: q x^2/2L + q t/L; round c (r^2/2 - a^2 ln r) + 2 c t and c (r^2/2 + a^3/r) + 3 c t."""
    shape, (a, b) = name.split()[-1], SPANS[name]
    d, q = DIMENSION[shape], 40.0
    c = q / (b - a**d / b ** (d - 1))

    def rise(r: Array, t: float) -> Array:
        if shape == "cylinder" and a:
            parabola = r**2 / 2 - a**2 * np.log(r)
        else:
            parabola = r**2 / 2 + (a**3 / r if shape == "sphere" and a else 0.0)
        return np.asarray(c * (parabola + d * t))

    stack = Stack(shape, (a, b), outer=0.0)
    return Study(
        "geometry and faces",
        f"{WORDS[name]}: inside insulated, outside a flux",
        "exact: quasi-steady rise and a mode",
        2.0,
        CELLS,
        lambda n: on_top_error(stack, n, (Face(), Face(heating=q)), rise),
    )


def _ramps(shape: str) -> list[Study]:
    """A face or its air that warms by b a second: b t + b (r^2 - 1)/2d, and b/(d h) behind the air."""
    d, b, h = DIMENSION[shape], 60.0, 3.0
    series = Series((0.0, 10.0), (BASE, BASE + 10.0 * b))
    held, air = Face(temperature=series), Face(exchange=(Exchange(h, series),))
    out = []
    for words, outer, condition, lag in (("temperature", HELD, held, 0.0), ("air", h, air, b / (d * h))):
        stack = Stack(shape, (0.0, 1.0), outer=outer)
        out.append(
            Study(
                "geometry and faces",
                f"{WORDS[shape]}: outside {words} that rises (series)",
                "exact: quasi-steady rise and a mode",
                2.0,
                CELLS,
                lambda n, s=stack, c=condition, g=lag: on_top_error(
                    s, n, (Face(), c), lambda r, t: b * t + b * (r**2 - 1) / (2 * d) - g
                ),
            )
        )
    return out


def _sources() -> list[Study]:
    out = []
    exact = "exact: steady solution and a mode"
    s = 300.0
    for shape, d in DIMENSION.items():
        stack = Stack(shape, (0.0, 1.0), outer=HELD)
        out.append(
            Study(
                "sources and media",
                f"{WORDS[shape]}: uniform heat (viscous heat of a sheared layer)",
                exact,
                2.0,
                CELLS,
                lambda n, k=stack, d=d: on_top_error(
                    k, n, (Face(), Face(temperature=BASE)), lambda r, t: s * (1 - r**2) / (2 * d), heat=s
                ),
            )
        )
    stack = Stack("plane", (0.0, 1.0), outer=HELD)
    q, kappa, shear = 300.0, 4.0, 900.0
    bands = grey_bands(coefficient=kappa, reflectance=0.0)

    def absorbed(edges: Array) -> Array:
        return np.asarray(q * share_in_cells(bands, edges, np.ones(1)) / np.diff(edges))

    out.append(
        Study(
            "sources and media",
            "slab: radiation absorbed in depth (Beer-Lambert)",
            exact,
            2.0,
            CELLS,
            lambda n: on_top_error(
                stack,
                n,
                (Face(), Face(temperature=BASE)),
                lambda x, t: q * ((1 - x) - (np.exp(-kappa * x) - math.exp(-kappa)) / kappa),
                source=absorbed,
            ),
        )
    )

    def sheared(edges: Array) -> Array:  # of a melt that flows in a slot: the square of a shear rate that grows with x
        return np.asarray(shear * np.diff(edges**3) / 3 / np.diff(edges))

    out.append(
        Study(
            "sources and media",
            "slab: viscous heat of flow in a slot, as the square of depth",
            exact,
            2.0,
            CELLS,
            lambda n: on_top_error(
                stack, n, (Face(), Face(temperature=BASE)), lambda x, t: shear * (1 - x**4) / 12, source=sheared
            ),
        )
    )
    return out


def _lumped() -> list[Study]:
    """A slab (k = rho c = 1) that gives its heat to a lumped body of capacity M through a contact h.

    -phi'(1) = h (phi - psi) and M psi' = h (phi - psi) with both as exp(-lam^2 t): psi = h phi/(h - M lam^2).
    """
    h, capacity = 5.0, 0.7

    def miss(z: float) -> float:
        return z * math.sin(z) * (h - capacity * z**2) + h * capacity * z**2 * math.cos(z)

    lam = float(brentq(miss, 0.5, math.pi, xtol=1e-14))

    def error(cells: float, batch: bool) -> float:
        n, t = int(cells), 1.0 / lam**2
        centres = (equal(n)[1:] + equal(n)[:-1]) / 2
        tool = 100.0 * h * math.cos(lam) / (h - capacity * lam**2)
        one = np.array([0.0, 1.0])
        slab = Layer(Medium(1.0, 1.0, 1.0), 1.0, equal(n), (BASE + 100.0 * np.cos(lam * centres)), contact=h)
        lump = Layer(Medium(capacity / 0.01, 1e6, 1.0), 0.01, one, BASE + tool)
        if batch:
            slab = Layer(slab.medium, 1.0, slab.edges, np.asarray(slab.start)[:, None], contact=np.array([h, h]))
            found = solve_batch(Problem((slab, lump), (Span(t),)), 2, tolerance=TIGHT).end_temperature[-1][:, 1]
        else:
            found = solve(Problem((slab, lump), (Span(t),)), np.array([t]), TIGHT).temperature[-1]
        exact = BASE + math.exp(-1.0) * np.append(100.0 * np.cos(lam * centres), tool)
        return float(np.max(np.abs(found - exact)))

    return [
        Study(
            "geometry and faces",
            f"slab: contact with a lumped body{words}",
            MODES,
            2.0,
            CELLS,
            lambda n, b=b: error(n, b),
        )
        for words, b in (("", False), (", batch kernel", True))
    ]


def studies() -> list[Study]:
    """All of this module."""
    flux = [_flux(name) for name in SPANS]
    ramps = [study for shape in DIMENSION for study in _ramps(shape)]
    return [*_geometry(), *flux, *ramps, *_lumped(), *_layers(), *_meshes(), *_sources()]
