"""Gelling on a hot former and fusing a film, against an integration of its own: method of lines, BDF of scipy.

Everything but the properties and the rate laws is done anew here: mesh, conduction, the radiating face, the time scheme.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from thermokit.case import parse_case
from thermokit.conduction.follow_batch import follow_batch
from thermokit.kinetics import library as kinetics
from thermokit.materials import library as materials
from thermokit.processes.base import facts_of_batch
from thermokit.processes.dip import DipProcess
from thermokit.processes.run import run_case

AIR, START, H, SIGMA = 463.15, 333.15, 30.0, 5.670374419e-8
FORMER, FILM = 24, 12  # cells

CASE = """
title = "Film on a former"
process = "dip"
[former]
shape = "plane"
start = "60 degC"
layers = [{{ name = "wall", material = "{former}", thickness = "{wall} mm" }}]
[paste]
material = "pvc_paste_dip"
temperature = "60 degC"
kinetics = ["pvc_paste_gelation", "pvc_paste_fusion"]
viscosity = "2 Pa s"
[[stations]]
name = "dip"
kind = "dip"
duration = "0.01 s"
withdrawal = "5 mm/s"
[[stations]]
name = "fuse"
kind = "oven"
duration = "{minutes} min"
temperature = "190 degC"
coefficient = "30 W/m2/K"
"""


def by_lines(former: str, wall: float, film: float, minutes: float, emissivity: float) -> float:
    """Lowest degree of fusion in the film after so many minutes in the oven; wall and film [m]."""
    solid, paste = materials.load(former), materials.load("pvc_paste_dip")
    gelation, fusion = kinetics.load("pvc_paste_gelation").rate, kinetics.load("pvc_paste_fusion").rate
    width = np.concatenate([np.full(FORMER, wall / FORMER), np.full(FILM, film / FILM)])
    cells = FORMER + FILM

    def slope(_: float, y: Any) -> Any:
        T, gel, fused = y[:cells], y[cells : cells + FILM], y[cells + FILM :]
        k = np.concatenate([solid.conductivity.at(T[:FORMER]), paste.conductivity.at(T[FORMER:])])
        c = np.concatenate(
            [
                solid.reference_density * solid.specific_heat.at(T[:FORMER]),
                paste.reference_density * paste.specific_heat.at(T[FORMER:]),
            ]
        )
        half = width / 2.0 / k
        flow = np.diff(T) / (half[:-1] + half[1:])
        heat = np.zeros(cells)
        heat[:-1] += flow
        heat[1:] -= flow
        face = T[-1]
        for _ in range(30):
            h = H + emissivity * SIGMA * (face**2 + AIR**2) * (face + AIR)
            face = (T[-1] / half[-1] + h * AIR) / (1.0 / half[-1] + h)
        heat[-1] += (face - T[-1]) / half[-1]
        rates = [gelation.evaluate(T[FORMER:], (gel,)), fusion.evaluate(T[FORMER:], (gel, fused))]
        return np.concatenate([heat / (c * width), *rates])

    y0 = np.concatenate([np.full(cells, START), np.zeros(2 * FILM)])
    solved = solve_ivp(slope, (0.0, 60.0 * minutes), y0, method="BDF", rtol=1e-6, atol=1e-7)
    return float(solved.y[cells + FILM :, -1].min())


@pytest.mark.parametrize(
    ("film", "former", "wall", "minutes"),
    [(0.3, "porcelain_former", 4.0, 8.0), (0.3, "aluminium_wrought", 1.0, 3.6), (2.0, "porcelain_former", 4.0, 13.4)],
)
def test_film_fuses_as_by_lines(film: float, former: str, wall: float, minutes: float) -> None:
    process = DipProcess(parse_case(CASE.format(former=former, wall=wall, minutes=minutes)))
    process.clinging = lambda dip: 1e-3 * film  # type: ignore[method-assign]
    edges = [np.linspace(0.0, 1.0, 25) for _ in process.layers()]
    facts = facts_of_batch(follow_batch(process.course(edges), 1, 0.02))
    found = float(np.ravel(process.quantities(facts)["fusion_degree"])[0])
    emissivity = materials.load("pvc_paste_dip").emissivity or 0.9
    assert found == pytest.approx(by_lines(former, 1e-3 * wall, 1e-3 * film, minutes, emissivity), abs=0.01)


HOT = """
title = "Gel on a hot former"
process = "dip"
[former]
shape = "{shape}"
{radius}
start = "{start} degC"
layers = [{{ name = "wall", material = "{former}", thickness = "{wall} mm" }}]
[paste]
material = "pvc_paste_dip"
temperature = "24 degC"
kinetics = ["pvc_paste_gelation"]
viscosity = "2 Pa s"
[[stations]]
name = "dip"
kind = "dip"
duration = "{dwell} s"
withdrawal = "5 mm/s"
[[stations]]
name = "drain"
kind = "drain"
duration = "10 s"
[accuracy]
temperature = "0.2 K"
"""
STAYS = 0.4  # gel degree from which paste stays on a former: the library's set
DEEP = 20e-3  # m of paste that is followed here: nothing of the former's heat gets so far


def gel_by_lines(former: str, start: float, wall: float, dwell: float, inner: float | None) -> float:
    """Paste that has gelled [mm]; inner : inner radius of a round former [mm], None for a plane; wall [mm], start [degC]."""
    solid, paste = materials.load(former), materials.load("pvc_paste_dip")
    gelation = kinetics.load("pvc_paste_gelation").rate
    n, m = 30, 150
    x = np.concatenate(
        [np.linspace(0.0, 1e-3 * wall, n + 1), 1e-3 * wall + DEEP * np.linspace(0.0, 1.0, m + 1)[1:] ** 2]
    )
    r = x if inner is None else x + 1e-3 * inner
    centre = (r[1:] + r[:-1]) / 2.0
    area = np.ones(len(r)) if inner is None else r
    volume = np.diff(r) if inner is None else np.diff(r**2) / 2.0

    def resistance(a: Any, b: Any, k: Any) -> Any:
        if inner is None:
            return (b - a) / k
        # next to the axis of a solid rod the logarithm has no end, and no heat to carry
        return np.log(b / np.maximum(a, 1e-12)) / k

    def slope(_: float, y: Any) -> Any:
        T, gel = y[: n + m], y[n + m :]
        k = np.concatenate([solid.conductivity.at(T[:n]), paste.conductivity.at(T[n:])])
        c = np.concatenate(
            [
                solid.reference_density * solid.specific_heat.at(T[:n]),
                paste.reference_density * paste.specific_heat.at(T[n:]),
            ]
        )
        between = resistance(centre[:-1], r[1:-1], k[:-1]) + resistance(r[1:-1], centre[1:], k[1:])
        flow = np.diff(T) / between
        heat = np.zeros(n + m)
        heat[:-1] += flow
        heat[1:] -= flow
        heat[-1] += area[-1] * k[-1] * (297.15 - T[-1]) / (r[-1] - centre[-1])
        return np.concatenate([heat / (c * volume), gelation.evaluate(T[n:], (gel,))])

    y0 = np.concatenate([np.full(n, start + 273.15), np.full(m, 297.15), np.zeros(m)])
    solved = solve_ivp(slope, (0.0, dwell), y0, method="BDF", rtol=1e-5, atol=1e-6, t_eval=[dwell])
    gel, depth = solved.y[n + m :, -1], centre[n:] - r[n]
    return 1e3 * float(np.interp(-STAYS, -gel, depth))


@pytest.mark.parametrize(
    ("former", "start", "wall", "inner", "dwell"),
    [
        ("aluminium_wrought", 184.6, 1.2, 10.8, 120.0),  # the tube of the examples
        ("steel_mild", 172.0, 12.0, 0.0, 58.0),  # the rod of the examples
        ("porcelain_former", 130.0, 4.0, None, 60.0),
        ("porcelain_former", 160.0, 4.0, None, 30.0),
        ("porcelain_former", 160.0, 4.0, None, 60.0),
        ("porcelain_former", 200.0, 4.0, None, 30.0),
        ("porcelain_former", 200.0, 4.0, None, 60.0),
    ],
)
def test_gel_grows_as_by_lines(former: str, start: float, wall: float, inner: float | None, dwell: float) -> None:
    radius = "" if inner is None else f'inner_radius = "{inner} mm"'
    shape = "plane" if inner is None else "cylinder"
    text = HOT.format(former=former, start=start, wall=wall, radius=radius, shape=shape, dwell=dwell)
    (found,) = [o.value for o in run_case(parse_case(text)).outcomes if o.name == "gelled"]
    assert found == pytest.approx(gel_by_lines(former, start, wall, dwell, inner), rel=0.005)
