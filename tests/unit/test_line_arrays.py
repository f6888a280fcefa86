"""Every number of a line case may be an array over cases: each case then is what it is alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from line_cases import CLOTH, TUBE, WEB, WIRE

from thermokit.case import numeric_paths, parse_case
from thermokit.processes import process_of
from thermokit.processes.line_speed import at_values

TEXT = (Path(__file__).parent / "case_texts" / "line.toml").read_text(encoding="utf-8")
NIP = """
[[stations]]
name = "nip"
kind = "nip"
face = "150 degC"
back = "150 degC"
gauge = "0.2 mm"
shear = { bowls = "300 mm", viscosity = "5000 Pa s", index = 0.5 }
[stations.limits]
mean_least = "100 degC"
"""
DIE = """
[[stations]]
name = "die"
kind = "die"
length = "100 mm"
draw = 1.2
[stations.limits]
face_most = "140 degC"
"""
BATH = '[[stations]]\nname = "bath"'
CASES = {
    "everything": TEXT,
    "rolled out": WEB.replace("[accuracy]", NIP + "[accuracy]"),
    "drawn pipe": TUBE.replace(BATH, '[line.bore]\nstate = "blown"\n' + DIE + BATH),
    "wire": WIRE,
    "cloth": CLOTH,
}  # fmt: skip


def changed(value: float, dimension: str) -> float:
    """A value a little off."""
    if dimension == "temperature":
        return value + 3.0
    return 0.01 if value == 0.0 else 0.98 if value == 1.0 else 1.02 * value  # of a share at most all


@pytest.mark.parametrize("name", CASES)
def test_each_case_is_what_it_is_alone(name: str) -> None:
    """All in one batch, one number off in each; every seventh of them again by itself."""
    case = parse_case(CASES[name])
    process: Any = process_of(case)
    process.edges = [np.linspace(0.0, 1.0, 9) for _ in process.layers()]
    paths = {
        path: (float(value), changed(float(value), dimension))
        for path, (value, dimension) in numeric_paths(case).items()
        if not path.startswith(("limits", "events")) and ".limits." not in path
    }
    count = len(paths) + 1
    values = {path: np.full(count, value) for path, (value, _) in paths.items()}
    for i, (path, (_, other)) in enumerate(paths.items()):
        values[path][i + 1] = other
    found, _ = at_values(process, values, count)
    base, _ = at_values(process, {}, 1)
    for quantity, row in found.items():
        assert np.all(np.isfinite(row)), quantity
        assert row[0] == pytest.approx(base[quantity][0], abs=0.15), quantity
    for i, (path, (_, other)) in enumerate(paths.items()):
        if i % 7 == 0:
            alone, _ = at_values(process, {path: other}, 1)
            for quantity, row in found.items():
                assert row[i + 1] == pytest.approx(alone[quantity][0], abs=0.15), (path, quantity)
