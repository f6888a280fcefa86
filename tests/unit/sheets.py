"""Sheet cases for tests, put together from dictionaries; and a slab solved by lines with a general integrator."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from thermokit.case import parse_case
from thermokit.case.writing import toml_text
from thermokit.conduction.mesh import graded_edges
from thermokit.conduction.problem import Series
from thermokit.processes import process_of
from thermokit.processes.run import run_case

SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018
K = 273.15
DENSITY, CONDUCTIVITY, HEAT = 1050.0, 0.18, 1900.0  # ABS of the worked scenarios, constant
ABS = DENSITY, CONDUCTIVITY, HEAT
CLEAR = 1270.0, 0.20, 1750.0  # PETG of the worked scenarios, constant
ALUMINIUM = 2700.0, 160.0, 900.0


def stuff(density: float = DENSITY, conductivity: float = CONDUCTIVITY, heat: float = HEAT) -> dict[str, str]:
    """A material of a case."""
    return {
        "density": f"{density} kg/m3", "conductivity": f"{conductivity} W/m/K", "specific_heat": f"{heat} J/kg/K",
    }  # fmt: skip


def air(temperature: float = 60.0, coefficient: float = 8.0) -> dict[str, str]:
    """Air [degC, W/m2/K]."""
    return {"temperature": f"{temperature} degC", "coefficient": f"{coefficient} W/m2/K"}


def plain(temperature: float = 420.0, exchange: float = 0.6, **more: Any) -> dict[str, Any]:
    """A panel of given exchange factor."""
    return {"temperature": f"{temperature} degC", "exchange": exchange, **more}


def placed(gap: float = 150.0, size: tuple[float, float] = (700.0, 500.0), **more: Any) -> dict[str, Any]:
    """A panel of given size and gap [mm]."""
    return {"size": [f"{side} mm" for side in size], "gap": f"{gap} mm", **more}


def panels(upper: Any = None, lower: Any = None, duration: Any = "60 s", name: str = "heat", **more: Any) -> Any:
    """A station between panels."""
    sides = {side: panel for side, panel in (("upper", upper), ("lower", lower)) if panel is not None}
    return {"name": name, "kind": "panels", "duration": duration, "air": air(), **sides, **more}


def transfer(duration: Any = "5 s", name: str = "transfer", **more: Any) -> dict[str, Any]:
    """A station in air."""
    return {"name": name, "kind": "air", "duration": duration, "air": air(25.0, 10.0), **more}


def tool(duration: Any = "20 s", name: str = "form", **more: Any) -> dict[str, Any]:
    """A station on a tool; sides as ``touch`` gives them."""
    return {"name": name, "kind": "tool", "duration": duration, **more}


def touch(contact: float = 250.0, name: str = "mould", **more: Any) -> dict[str, Any]:
    """What a side touches."""
    return {"tool": name, "contact": f"{contact} W/m2/K", **more}


def body(thickness: float = 12.0, start: float = 25.0, **more: Any) -> dict[str, Any]:
    """A tool of aluminium with a body [mm, degC]."""
    return {"material": "metal", "thickness": f"{thickness} mm", "start": f"{start} degC", **more}


def case(
    *stations: Any, sheet: Any = None, limits: Any = None, material: Any = None, materials: Any = None, **more: Any
) -> Any:
    """A case of a 4 mm sheet at 20 degC between the forming limits 127 and 182 degC."""
    own = {"material": "stock", "thickness": "4 mm", "start": "20 degC", "emissivity": 0.93, **(sheet or {})}
    bounds = {"coldest_point": "127 degC", "hottest_face": "182 degC", **(limits or {})}
    table = {
        "process": "sheet",
        "sheet": own,
        "materials": {"stock": material or stuff(), "metal": stuff(*ALUMINIUM), **(materials or {})},
        "stations": list(stations),
        "limits": {name: value for name, value in bounds.items() if value is not None},
        **more,
    }
    return parse_case(toml_text(table), "sheet.toml")


BLANK = {"length": "600 mm", "width": "400 mm", "spots": [3, 2]}


def values(result: Any) -> dict[str, Any]:
    """Outcomes of a result by name."""
    return {outcome.name: outcome.value for outcome in result.outcomes}


def fields(result: Any) -> dict[str, Any]:
    """Fields of a result by name."""
    return {field.name: np.asarray(field.values) for field in result.fields}


def found(given: Any) -> dict[str, Any]:
    """Outcomes of a case that is run."""
    return values(run_case(given))


def checks(result: Any) -> dict[str, Any]:
    """Limits of a result by name."""
    return {check.name: check for check in result.limits}


def edges_of(given: Any, cells: int = 16) -> list[np.ndarray]:
    """The same mesh in every layer."""
    return [graded_edges(cells) for _ in process_of(given).layers()]


def flat(value: Any, count: int) -> np.ndarray:
    """A number, an array over cases or a table over time, (count,) or (2 nodes, count)."""
    if isinstance(value, Series):
        return np.stack([np.broadcast_to(np.asarray(v, float), (count,)) for v in (*value.time, *value.value)])
    return np.broadcast_to(np.asarray(value, float), (count,))


def many(given: Any, changes: dict[str, Any], places: Any = None) -> tuple[Any, list[Any]]:
    """(the process of all changes at once, that of each by itself); changes : path -> values (cases,) [SI]."""
    count = process_of(given, places).places()
    cases = len(next(iter(changes.values())))
    whole = given.with_values({path: np.repeat(np.asarray(v, float), count) for path, v in changes.items()})
    singles = [given.with_values({path: float(v[i]) for path, v in changes.items()}) for i in range(cases)]
    return process_of(whole, places), [process_of(one, places) for one in singles]


class Lines:
    """A slab by the method of lines, nodes on both faces, integrated by scipy's LSODA: another scheme than the solver's.

    rho cp dT/dt = k d2T/dx2 + source(x) - emission(x) sigma T^4; into the faces inner(t, T) and outer(t, T) [W/m2].
    """

    def __init__(self, thickness: float, material: tuple[float, float, float], start: Any, nodes: int = 121):
        self.x = np.linspace(0.0, thickness, nodes)
        density, self.k, heat = material
        self.rho_cp, self.start = density * heat, np.broadcast_to(np.asarray(start, float), (nodes,))
        self.source = self.emission = np.zeros(nodes)

    def run(self, times: Any, inner: Callable[..., float], outer: Callable[..., float]) -> np.ndarray:
        """Temperatures (times, nodes) [K]."""
        dx = self.x[1] - self.x[0]
        width = np.full(len(self.x), dx)
        width[[0, -1]] = dx / 2

        def slope(t: float, temperature: np.ndarray) -> np.ndarray:
            flux = -self.k * np.diff(temperature) / dx
            flux = np.concatenate([[inner(t, temperature[0])], flux, [-outer(t, temperature[-1])]])
            return (-np.diff(flux) / width + self.source - self.emission * SIGMA * temperature**4) / self.rho_cp

        times = np.atleast_1d(np.asarray(times, float))
        out = solve_ivp(
            slope, (0.0, float(times[-1])), self.start, "LSODA", times, rtol=1e-7, atol=1e-5, lband=1, uband=1
        )
        assert out.success
        return np.asarray(out.y.T)
