"""Clear sheet against closed forms of k T'' = -q0 mu exp(-mu x), through a sheet case.

The panels are as hot as a star and reach the sheet by a tiny exchange factor, so that what the sheet itself gives off is
nothing beside what it takes in, as in the closed forms.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.unit.sheets import SIGMA, K, air, case, panels, plain, stuff
from thermokit.processes.run import run_case
from validation.references.in_depth import SteadyAbsorption, insulated

LENGTH, CONDUCTIVITY, DENSITY, HEAT, MU, FLUX = 0.006, 0.19, 1180.0, 1470.0, 400.0, 6000.0
STAR = 15_000.0  # K
SHEET = {
    "thickness": "6 mm", "start": "25 degC", "absorption": "in_depth",
    "bands": [{"coefficient": f"{MU} 1/m", "reflectance": 0.0}],
}  # fmt: skip


def shone(duration: float, lower: bool, h: float, times: tuple[float, ...], **more: Any) -> Any:
    """History of the sheet under 6 kW/m2 on the upper face, or on both."""
    star = plain(STAR - K, FLUX / (SIGMA * STAR**4), emissivity=1.0)
    dark = {**star, "exchange": 0.0}
    station = panels(star, star if lower else dark, f"{duration} s", air=air(25.0, h))
    output = {"times": [f"{t} s" for t in times]}
    material = stuff(DENSITY, CONDUCTIVITY, HEAT)
    given = case(station, sheet={**SHEET, **more}, material=material, output=output, accuracy={"temperature": "0.02 K"})
    return run_case(given).history


def test_steady_with_cooled_faces() -> None:
    """Faces, and how hot it is inside: 311.4066, 284.1626 and 322.3194 degC at 1.622 mm."""
    history = shone(30_000.0, False, 10.0, (30_000.0,))
    exact = SteadyAbsorption(LENGTH, CONDUCTIVITY, MU, FLUX, 10.0, 25.0)
    assert [exact.at(0.0), exact.at(LENGTH)] == pytest.approx([311.4066, 284.1626], abs=1e-3)
    assert history.inner_face[0] - K == pytest.approx(exact.at(0.0), abs=0.1)
    assert history.outer_face[0] - K == pytest.approx(exact.at(LENGTH), abs=0.1)
    profile = np.array([exact.at(x) for x in history.centres])
    assert history.temperature[0] - K == pytest.approx(profile, abs=0.1)
    assert history.centres[np.argmax(history.temperature[0])] == pytest.approx(exact.hottest_depth, abs=1e-4)


@pytest.mark.parametrize("both", [False, True])
def test_transient_between_insulated_faces(both: bool) -> None:
    """Cosine series; at 60 s 70.89, 55.41 and 44.44 degC from one side, 90.33 and 85.81 degC from both."""
    times = (30.0, 60.0)
    history = shone(60.0, both, 0.0, times)
    for i, t in enumerate(times):
        own = np.concatenate([[history.inner_face[i]], history.temperature[i], [history.outer_face[i]]]) - K
        depths = [0.0, *history.centres, LENGTH]
        exact = [insulated(x, t, LENGTH, CONDUCTIVITY, DENSITY * HEAT, MU, FLUX, 25.0, both) for x in depths]
        assert own == pytest.approx(np.array(exact), abs=0.03)
    recorded = [90.32872, 90.32872] if both else [70.89063, 44.43809]
    assert [history.inner_face[1] - K, history.outer_face[1] - K] == pytest.approx(recorded, abs=0.03)


def test_longer_rays_are_absorbed_as_by_a_stronger_colour() -> None:
    """A path of 1.5 times the depth stands for 1.5 times the coefficient."""
    slanting = shone(30.0, False, 0.0, (30.0,), path=1.5)
    exact = [insulated(x, 30.0, LENGTH, CONDUCTIVITY, DENSITY * HEAT, 1.5 * MU, FLUX, 25.0) for x in (0.0, LENGTH)]
    assert [slanting.inner_face[0] - K, slanting.outer_face[0] - K] == pytest.approx(exact, abs=0.03)


def test_the_lower_panel_shines_from_below() -> None:
    """Mirrored: the sheet under a lower panel is the sheet under an upper one, turned over."""
    star = plain(STAR - K, FLUX / (SIGMA * STAR**4), emissivity=1.0)
    dark = {**star, "exchange": 0.0}
    material = stuff(DENSITY, CONDUCTIVITY, HEAT)
    histories = [
        run_case(case(panels(*pair, "40 s", air=air(25.0, 10.0)), sheet=SHEET, material=material)).history
        for pair in ((star, dark), (dark, star))
    ]
    assert histories[1].temperature[:, ::-1] == pytest.approx(histories[0].temperature, abs=1e-8)
    assert histories[1].outer_face == pytest.approx(histories[0].inner_face, abs=1e-8)
