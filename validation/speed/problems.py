"""The three reference problems and their sweeps as thermokit problems (kelvin, SI), one case or many."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import (
    ZERO_CELSIUS,
    Curve,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Reaction,
    Span,
)
from thermokit.kinetics.rates import TwoRate
from validation.speed.equations import PROBLEMS, Charge, Sheet, Wire, output_shares, sweep

if TYPE_CHECKING:
    from collections.abc import Mapping

NODES = 2001  # of a heat capacity's table: its own error in temperature stays far below 1e-3 K
K = ZERO_CELSIUS


def _curve(heat_capacity: Any, low: float, high: float) -> Curve:
    """A heat capacity [J/kg/K], given for degC, as a table between two temperatures [degC]."""
    t = np.linspace(low, high, NODES)
    return Curve(t + K, heat_capacity(t))


def _even(cells: int) -> np.ndarray:
    return np.linspace(0.0, 1.0, cells + 1)


def sheet(v: Mapping[str, Any]) -> Problem:
    """P1: a 4 mm sheet between panels, in air, then on a tool."""
    medium = Medium(Sheet.density, Sheet.conductivity, _curve(Sheet.specific_heat, 0.0, 420.0))
    layer = Layer(medium, Sheet.thickness, _even(Sheet.cells), v["start"] + K)
    panels = Face(
        exchange=(Exchange(v["panel_h"], v["air"] + K),),
        radiation=(Radiation(0.85 * 0.7, v["heater"] + K), Radiation(0.85 * 0.3, 30.0 + K)),
    )
    still = Face(exchange=(Exchange(6.0, 25.0 + K),), radiation=(Radiation(0.85, 25.0 + K),))
    spans = (
        Span(v["heat"], panels, panels, name="heat"),
        Span(v["transfer"], still, still, name="transfer"),
        Span(
            v["cool"],
            Face(exchange=(Exchange(40.0, 25.0 + K),)),
            Face(exchange=(Exchange(v["tool_h"], v["tool"] + K),)),
            name="cool",
        ),
    )
    return Problem((layer,), spans)


def charge(v: Mapping[str, Any]) -> Problem:
    """P2: a 10 mm charge that reacts between platens."""
    rate = TwoRate(Charge.factors[0], Charge.energies[0], Charge.factors[1], Charge.energies[1], Charge.m, Charge.n)
    layer = Layer(
        Medium(Charge.density, Charge.conductivity, Charge.capacity),
        Charge.thickness,
        _even(Charge.cells),
        v["start"] + K,
        reactions=(Reaction("cure_degree", rate, v["released"], Charge.degree_start),),
    )
    platen = Face(exchange=(Exchange(v["h"], v["platen"] + K),))
    return Problem((layer,), (Span(600.0, platen, platen, name="cure"),))


def wire(v: Mapping[str, Any]) -> Problem:
    """P3: a copper wire in polyethylene, in air and then in water."""
    copper = Layer(Medium(Wire.core[1], Wire.core[0], Wire.core[2]), 1e-3, _even(Wire.core_cells), v["start"] + K)
    shell = Layer(
        Medium(Wire.shell[1], Wire.shell[0], _curve(Wire.specific_heat, 0.0, 240.0)),
        1e-3,
        _even(Wire.shell_cells),
        v["start"] + K,
    )
    spans = (
        Span(v["air_time"], outer=Face(exchange=(Exchange(20.0, 25.0 + K),)), name="air"),
        Span(v["water_time"], outer=Face(exchange=(Exchange(v["water_h"], v["water"] + K),)), name="water"),
    )
    return Problem((copper, shell), spans, shape="cylinder")


BUILD = {"P1": sheet, "P2": charge, "P3": wire}


def reference(name: str) -> Problem:
    """The reference case."""
    return BUILD[name](PROBLEMS[name].reference)  # type: ignore[attr-defined]


def batch(name: str, cases: int) -> Problem:
    """The first cases of the sweep in one problem, inputs as (cases,) arrays."""
    return BUILD[name](sweep(name, cases))


def one(name: str, case: int) -> Problem:
    """One case of the sweep."""
    return BUILD[name]({key: float(column[case]) for key, column in sweep(name).items()})


def output_times(name: str, cases: int | None = None) -> np.ndarray:
    """Absolute output times [s]: (rows,) of the reference, (rows, cases) of the sweep; alike as shares of a stage."""
    kind = PROBLEMS[name]
    values = kind.reference if cases is None else sweep(name, cases)  # type: ignore[attr-defined]
    lengths = kind(values, cases=cases or 1).durations()
    begin: Any = 0.0 if cases is None else np.zeros(cases)
    rows: list[Any] = []
    for shares, length in zip(output_shares(name), lengths, strict=True):
        rows += [begin + share * length for share in shares[:-1]] + [begin + length]
        begin = begin + length
    return np.array(rows)
