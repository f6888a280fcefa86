"""The example with a compound by recipe: its window against isothermal times, worked by hand from the records."""

from __future__ import annotations

import numpy as np

from cases.plausible import case_file
from thermokit.case import load_case
from thermokit.studies.dwell import dwell

R = 8.314462618


def relative(celsius: float) -> float:
    """Rate of the heat dose over that at 190 degC, 115 kJ/mol."""
    return float(np.exp(-115e3 / R * (1.0 / (celsius + 273.15) - 1.0 / 463.15)))


def test_milled_and_pressed_mat() -> None:
    """From fused to half the heat life used up."""
    answer = dwell(load_case(case_file("how_long_to_press_a_6mm_mat")))
    assert (answer.earliest_limit, answer.latest_limit) == ("fusion_degree", "heat_dose")
    # heat life of 2.5 parts 3400 s at 190 degC; half of it at 180 degC, less at most ten minutes at 162 degC on the mill, and
    # at most three minutes of warming in the press that hardly count
    life = (0.001 + 2.5 * 0.003) / 2.5e-6
    plain = 0.5 * life / relative(180.0)
    milled = 600.0 * relative(162.0) / relative(180.0)
    assert answer.latest is not None and answer.earliest is not None
    assert plain - milled < answer.latest < plain + 180.0
    # fused to 0.9 within 2 min at 180 degC (0.798 after 1 min, 0.931 after 2), after the middle has come within some kelvin:
    # L^2/a = (3 mm)^2/(1.2e-7 m2/s) = 75 s for half of the mat, one to three times that
    assert 60.0 + 75.0 < answer.earliest < 120.0 + 3 * 75.0
