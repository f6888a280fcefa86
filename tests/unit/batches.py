"""Random batches in which every kind of numeric leaf differs from case to case, and the single problem of one case."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from thermokit.conduction.problem import (
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
from thermokit.kinetics.rates import TwoRate

NODES = np.array([280.0, 350.0, 430.0, 520.0])


def one(leaf: Any, i: int) -> Any:
    """What a leaf of a batch holds for case i."""
    if isinstance(leaf, Curve):
        return replace(leaf, value=leaf.value[:, i]) if leaf.value.ndim == 2 else leaf
    if isinstance(leaf, DepthSource):
        density = leaf.density[:, i] if leaf.density.ndim == 2 else leaf.density
        return DepthSource(density, one(leaf.factor, i))
    if isinstance(leaf, Layer):
        changes = {f.name: one(getattr(leaf, f.name), i) for f in fields(leaf) if f.name != "edges"}
        return replace(leaf, **changes)
    if is_dataclass(leaf):
        return replace(leaf, **{f.name: one(getattr(leaf, f.name), i) for f in fields(leaf)})  # type: ignore[type-var]
    if isinstance(leaf, tuple):
        return tuple(one(x, i) for x in leaf)
    if isinstance(leaf, np.ndarray):
        if leaf.ndim == 2:
            return leaf[:, i if leaf.shape[1] > 1 else 0]
        return float(leaf[i])
    return leaf


class Draw:
    """Draws of one value a case."""

    def __init__(self, seed: int, cases: int):
        self.random, self.cases = np.random.default_rng(seed), cases

    def __call__(self, low: float, high: float) -> np.ndarray:
        return self.random.uniform(low, high, self.cases)

    def curve(self, low: float, high: float) -> Curve:
        """A property that rises with temperature, another one for each case."""
        start, gain = self(low, high), self(0.0, 0.4)
        return Curve(NODES, start * (1.0 + gain * ((NODES - NODES[0]) / 240.0)[:, None]))

    def table(self, low: float, high: float, end: float, jump: bool = False) -> Series:
        """Values that bend, and may jump, at times that differ from case to case."""
        first, second = self(0.2, 0.4) * end, self(0.5, 0.8) * end
        times = (first, second, second) if jump else (first, second)
        return Series(times, tuple(self(low, high) for _ in times))


def edges(cells: int) -> np.ndarray:
    """Cells that are not equal."""
    x = np.linspace(0.0, 1.0, cells + 1)
    return x + 0.08 * np.sin(2 * np.pi * x) / cells**0.5


def batch(shape: str, cells: int, cases: int, seed: int, solid: bool = False) -> Problem:
    """Two layers (one where there is but one cell) through three spans; the second one is empty for some cases."""
    d = Draw(seed, cases)
    inside = max(1, cells // 2)
    core = Layer(
        Medium(d(900, 1200), d(0.15, 0.4), d.curve(1200, 1700), Transition(d(2e4, 9e4), d(370, 380), d(400, 420))),
        d(1e-3, 3e-3),
        edges(inside),
        d(290, 310),
        contact=d(200, 2000),
        heat=d.table(0.0, 3e5, 30.0, jump=True),
    )
    rate = TwoRate(d(1e3, 1e4), d(5.5e4, 6e4), d(1e5, 5e5), d(5.5e4, 6e4), d(0.5, 0.9), d(1.1, 1.6))
    reaction = Reaction("cure_degree", rate, d(2e4, 9e4), d(0.005, 0.05))
    melting = Transition(d(2e4, 6e4), d(360, 365), d(400, 405), d(380, 390))
    shell = Layer(
        Medium(d(1000, 1800), d.curve(0.2, 0.5), d(1100, 1700), melting),
        d(1e-3, 3e-3),
        edges(cells - inside) if cells > 1 else edges(1),
        d.random.uniform(290, 310, (max(cells - inside, 1), cases)),
        heat=d(0.0, 2e5),
        reactions=(reaction,),
    )
    layers = (core, shell) if cells > 1 else (shell,)
    warm = Face(
        exchange=(Exchange(d.table(5, 30, 20.0), d.table(330, 420, 20.0, jump=True)), Exchange(d(5, 20), d(300, 350))),
        radiation=(Radiation(d(0.2, 0.6), d.table(450, 650, 20.0)), Radiation(d(0.05, 0.3), d(300, 330))),
        heating=d.table(-500, 2000, 20.0),
    )
    hot = Face(exchange=(Exchange(d(20, 90), d(350, 420)),), radiation=(Radiation(d(0.5, 0.9), d(500, 600)),))
    held = Face(temperature=d.table(330, 400, 15.0))
    middle = np.where(d.random.random(cases) < 0.3, 0.0, d(3.0, 8.0))
    total = cells if cells > 1 else 1
    source = DepthSource(d.random.uniform(0, 4e5, (total, cases)), d.table(0.3, 1.0, 10.0, jump=True))
    spans = (
        Span(d(15.0, 30.0), hot, warm),
        Span(middle, Face(), Face(heating=d(500, 1500)), sources=(source,)),
        Span(d(10.0, 20.0), Face(exchange=(Exchange(d(10, 30), d(290, 300)),)), held),
    )
    radius = 0.0 if shape == "plane" or solid else d(2e-3, 9e-3)
    return Problem(layers, spans, shape, radius)  # type: ignore[arg-type]


def two_curves(cells: int, cases: int, seed: int) -> Problem:
    """A polymer that melts, and crystallises on a cooler curve before all of it is molten in some cases."""
    d = Draw(seed, cases)
    heat = d(6e4, 1e5)
    medium = Medium(
        d(850, 950), d(0.2, 0.35), d(1800, 2300),
        Transition(heat, d(410, 414), d(430, 436)), Transition(heat, d(372, 378), d(392, 398), d(384, 388)),
    )  # fmt: skip
    layer = Layer(medium, d(1.5e-3, 2.5e-3), edges(cells), d(295, 305))
    hot, cold = (
        Face(exchange=(Exchange(d(300, 800), d(440, 480)),)),
        Face(exchange=(Exchange(d(100, 500), d(295, 310)),)),
    )
    return Problem((layer,), (Span(d(10.0, 40.0), hot, hot), Span(d(20.0, 40.0), cold, hot)))
