"""The section example: a platen with heater bores. Its heat balance and a lump's temperature need no solver."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq

from cases.plausible import SIGMA, case_file
from thermokit.studies.run import run


@cache
def ran() -> Any:
    return run(case_file("how_even_is_the_face_of_a_platen"))


def outcome(name: str) -> float:
    (value,) = [o.value for o in ran().outcomes if o.name == name]
    return float(value)


HEAT = np.pi * 0.016 * 7.6e3  # W/m of one bore


def lost(celsius: float) -> float:
    """Heat that a platen of one temperature loses [W/m]: face and sides to the room, the rest through contact and board."""
    room = 7.0 * (celsius - 25.0) + 0.8 * SIGMA * ((celsius + 273.15) ** 4 - 298.15**4)
    through = (celsius - 40.0) / (1.0 / 300.0 + 0.012 / 0.25)
    return (0.3 + 2 * 0.06) * room + 0.3 * through


def test_heat_goes_out_as_it_comes_in() -> None:
    result = ran()
    assert result.status == "finished"
    for number in (1, 2, 3, 4):
        assert abs(outcome(f"heater_{number}_heat_flow") - HEAT) < 1e-3 * HEAT
    out = sum(outcome(f"{name}_heat_flow") for name in ("face", "left_side", "right_side", "bolster"))
    assert abs(out + 4 * HEAT) < 1e-3 * HEAT
    assert result.history.heat.mismatch < 1e-9


def test_temperature_of_a_lump() -> None:
    """Steel hardly holds its own heat back: the whole platen is near the temperature at which a lump loses what it gets."""
    lump = brentq(lambda t: lost(t) - 4 * HEAT, 50.0, 300.0)
    assert abs(outcome("platen_mean_temperature") - lump) < 1.5
    assert outcome("edge_temperature") < lump < outcome("platen_hottest_temperature")


def test_how_uneven_it_can_be() -> None:
    """The bore lies above the face by less than q/(2 pi k) ln((2 p/(pi d)) sinh(2 pi z/p)), a row of thin wires under one face,
    all of a bore's heat going up; the edge lies below the middle by less than a half platen's side loss along 150 mm."""
    q, k, p, d, z = HEAT, 45.0, 0.073, 0.016, 0.030
    row = q / (2 * np.pi * k) * np.log(2 * p / (np.pi * d) * np.sinh(2 * np.pi * z / p))
    along = -outcome("left_side_heat_flow") * 0.150 / (k * 0.060)
    assert outcome("over_heater_1_temperature") < outcome("platen_hottest_temperature")
    assert 0.0 < outcome("middle_temperature") - outcome("edge_temperature") < along
    spread = outcome("platen_hottest_temperature") - outcome("platen_coldest_temperature")
    assert spread < row + along
    assert all(check.met for check in ran().limits)
