"""Finds of the siege of sections and drawings, each with its exact case."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from tests.siege.generated_drawing import box
from tests.siege.generated_section import Act, Piece, Side, Sketch, Stay
from tests.unit.moulds import SMALL, changed
from thermokit.case import load_case, parse_case
from thermokit.conduction.problem import Medium
from thermokit.conduction.section_geometry import MOST_CORNERS, mistakes_of
from thermokit.conduction.section_march import march
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_problem import Region
from thermokit.conduction.section_solve import solve_section
from thermokit.errors import CaseError
from thermokit.processes.run import failed, run_case
from thermokit.processes.section import SectionProcess

STEEL = Medium(7800.0, 29.0, 460.0)
SIDE = Side("side", (0, 0), (800, 0))


def block(start: int, air: int, milliseconds: int, steady: bool = False) -> str:
    """8 x 8 mm of steel in still air."""
    stay = Stay(milliseconds, {"side": (Act("convection", 100.0, air),)})
    return Sketch((Piece("host", "steel", box(0, 0, 800, 800)),), (), (), (SIDE,), (stay,), start, steady=steady).text()


def test_a_section_as_warm_as_its_surroundings_has_not_lost_its_heat() -> None:
    """Round-off over round-off was 100 per cent of the heat turned over: the run counted as failed."""
    result = run_case(parse_case(block(-20, -20, 500)))
    assert not failed(result) and not any("heat balance" in words for words in result.warnings)
    assert result.history.heat.mismatch < 1e-6


def test_so_has_a_steady_one() -> None:
    result = run_case(parse_case(block(60, -20, 500, steady=True)))
    assert not failed(result) and not any("heat balance" in words for words in result.warnings)


def test_a_station_as_long_as_may_be_is_solved() -> None:
    """1e10 s: the first step was bounded below by the station's length over 2^40, 9 ms, and `step_too_small` was the answer."""
    result = run_case(parse_case(block(-20, 176, 10_000_000_000_000)))
    assert result.status == "finished"
    assert result.history.temperature[-1] == pytest.approx(np.full(len(result.history.mesh.x), 176 + 273.15), abs=1e-6)


DRAWN = changed(SMALL, ('process = "mould"', 'process = "mould"\ndrawing = "it.dxf"'))


def test_an_unknown_entity_of_a_drawing_is_passed_over(tmp_path: Path) -> None:
    """An entity of no known type has no layer: that was a traceback."""
    document = ezdxf.new(units=4)
    document.modelspace().add_lwpolyline([(0, 0), (60, 0), (60, 3), (0, 3)], close=True, dxfattribs={"layer": "part"})
    document.modelspace().add_circle((1, 1), 1, dxfattribs={"layer": "unseen"})
    document.saveas(tmp_path / "it.dxf")
    text = (tmp_path / "it.dxf").read_text(encoding="utf-8")
    head, entities = text.split("ENTITIES", 1)
    (tmp_path / "it.dxf").write_text(head + "ENTITIES" + entities.replace("CIRCLE", "1e400", 1), encoding="utf-8")
    (tmp_path / "case.toml").write_text(DRAWN, encoding="utf-8")
    case = load_case(str(tmp_path / "case.toml"))
    assert case.drawn is not None and list(case.drawn.outlines) == ["part"]


def test_a_drawing_of_too_many_corners_is_refused(tmp_path: Path) -> None:
    """Every corner was held against every side at once: with 50 000 corners, 20 GB for each table of distances."""
    document = ezdxf.new(units=4)
    x = np.linspace(0.0, 60.0, 5500)
    ring = [*zip(x, 0.01 * (np.arange(5500) % 2), strict=True), (60.0, 3.0), (0.0, 3.0)]
    document.modelspace().add_lwpolyline(ring, close=True, dxfattribs={"layer": "part"})
    document.saveas(tmp_path / "it.dxf")
    (tmp_path / "case.toml").write_text(DRAWN, encoding="utf-8")
    with pytest.raises(CaseError, match="a polyline of 5502 corners"):
        load_case(str(tmp_path / "case.toml"))


def test_regions_with_too_many_corners_in_all_are_refused() -> None:
    angle = 2.0 * np.pi * np.arange(600) / 600
    rings = [
        Region(f"r{k}", 0.01 * (k + 1) * np.column_stack([np.cos(angle), np.sin(angle)]), STEEL, 300.0)
        for k in range(9)
    ]
    (found,) = mistakes_of(rings)
    assert f"the whole section 5400; a section may have {MOST_CORNERS}" in str(found)
    assert mistakes_of(rings[:2]) == []
    # corners that regions share count once: the halves of a mould follow the part
    assert mistakes_of([rings[0], rings[0]])[0].words.startswith("has the same outline")


NASTY = """
import json, resource, sys
resource.setrlimit(resource.RLIMIT_AS, (2_000_000_000, 2_000_000_000))
import numpy as np
from thermokit.conduction.problem import Medium
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_problem import Channel, Region, SectionProblem, SectionSpan
from thermokit.errors import DataError, SolveError
STEEL = Medium(7800.0, 29.0, 460.0)
def box(a, b, c, d):
    return np.array([[a, b], [c, b], [c, d], [a, d]], float)
def problem(outline, channels=()):
    return SectionProblem((Region("a", np.asarray(outline, float), STEEL, 300.0),), (SectionSpan(1.0),), tuple(channels))
x = np.linspace(0.0, 0.1, 900)
zigzag = [*zip(x, 1e-4 * (np.arange(900) % 2)), (0.1, 0.05), (0.0, 0.05)]
big, mid, far = 1e4, 5e3, 5e3 + 1e-2
notch = [(0, 0), (big, 0), (big, big), (far, big), (far, big - 1e-2), (mid, big - 1e-2), (mid, big), (0, big)]
cases = {
    "a zigzag of 900 corners": problem(zigzag),
    "a notch of 10 mm in 10 km": problem(notch),
    "a hole of 10 mm in 10 km": problem(box(0, 0, big, big), [Channel("c", (mid, mid), 0.01)]),
    "a nanometre of step": problem([(0, 0), (1, 0), (1, 1), (0.5, 1), (0.5, 1 - 1e-9), (0, 1 - 1e-9)]),
    "a strip of 10 mm in 10 km": problem(box(0, 0, big, 1e-2)),
    "holes that nearly touch": problem(
        box(0, 0, 0.11, 0.11),
        [Channel(f"c{i}_{j}", (0.01 * (i + 1), 0.01 * (j + 1)), 0.00997) for i in range(10) for j in range(10)],
    ),
}
for name, one in cases.items():
    try:
        mesh_section(one, 0.5)
        said = "meshed"
    except (DataError, SolveError) as wrong:
        said = str(wrong)
    with open("/proc/self/status") as status:  # ru_maxrss is inherited from whoever started this
        held = next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
    print(json.dumps([name, said, held]), flush=True)
"""


@pytest.mark.long
def test_small_details_in_large_outlines_are_meshed_or_refused_in_little_memory() -> None:
    """In two gigabytes of address space; none may end the process."""
    done = subprocess.run([sys.executable, "-c", NASTY], capture_output=True, text=True, timeout=900, check=False)
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    assert done.returncode == 0 and len(rows) == 6, done.stderr[-500:]
    for name, said, kilobytes in rows:
        assert said == "meshed" or "could not be meshed" in said or "same corner twice" in said or "touches" in said, (
            name,
            said,
        )
        assert kilobytes < 1_000_000, (name, kilobytes)


def test_a_corner_where_a_face_ends_that_no_mesh_resolves_is_told() -> None:
    """Foam (0.03 W/m/K) in a film of 500 W/m2/K for half a second: the film needs 0.06 mm, and where the face ends the corner
    moves by more and more from mesh to mesh (11.3, 16.1, 20.2 degC at fineness 1, 2, 4). It was taken to be right to 1.7 K and
    not told."""
    sides = Side("cold", (0, 0), (3000, 0)), Side("mild", (0, 2000), (3000, 2000))
    stay = Stay(500, {"cold": (Act("convection", 500.0, -5),), "mild": (Act("convection", 50.0, 186),)})
    outline = ((-800, 300), (0, 0), (3000, 0), (3800, 300), (3800, 1700), (3000, 2000), (0, 2000), (-800, 1700))
    problem = SectionProcess(
        parse_case(Sketch((Piece("host", "foam", outline),), (), (), sides, (stay,), 134).text())
    ).problem()
    found = solve_section(problem, 1.0)
    assert found.reached and any("temperatures may be off by" in words for words in found.history.warnings)
    mesh = found.history.mesh
    corner = int(np.argmin(np.hypot(mesh.x, mesh.y)))
    finer = march(problem, mesh_section(problem, 4.0 * found.fineness), None, found.tolerance)
    there = int(np.argmin(np.hypot(finer.mesh.x, finer.mesh.y)))
    off = abs(float(found.history.temperature[-1, corner] - finer.temperature[-1, there]))
    assert 1.0 < off < 2.0 * found.worst_error
