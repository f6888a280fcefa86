"""Fusing a film on a former, against an integration of its own: method of lines, BDF of scipy, rates and properties called.

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
