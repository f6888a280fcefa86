"""The example case of the heating cylinder against closed forms that need no solver."""

from __future__ import annotations

import math

import pytest

from cases.plausible import case_file
from thermokit.case import load_case
from thermokit.processes.run import run_case
from thermokit.studies.dwell import dwell


@pytest.mark.long
def test_cycle_for_cleat_bodies() -> None:
    case = load_case(case_file("how_long_must_the_cycle"))
    found = dwell(case)
    assert (found.earliest_limit, found.latest_limit) == ("spread", "heat_dose")
    assert found.earliest is not None and found.latest is not None and found.recommended is not None
    # a ring of 7 mm warmed on one face takes (4 s^2/(pi^2 a)) ln(4/pi 189/10) to be even within 10 K of the bore, a quarter of that
    # when the spreader is as warm; a is 0.075 to 0.13 mm2/s by the record; the cylinder holds pi (30^2 - 23^2) 430 mm3
    shots = math.pi * (0.030**2 - 0.023**2) * 0.43 * 970.0 / 0.055
    one_face = [4.0 * 0.007**2 / (math.pi**2 * a) * math.log(4.0 / math.pi * 18.9) / shots for a in (0.13e-6, 0.075e-6)]
    assert one_face[0] / 4.0 < found.earliest < one_face[1]
    # heat life: three passes (0.2^3 < 1 %) at the bore's 220 degC would use 0.3 of 3 h in 1080 s; the rear is colder
    assert 1080.0 / shots < found.latest < 3.0 * 1080.0 / shots
    # common practice, no source: plunger machines of this size run half a minute to two minutes
    assert 25.0 < found.recommended < 150.0
    result = run_case(case.with_values({"shot.cycle": found.recommended}))
    assert result.status == "finished"
    assert all(check.met for check in result.limits)
