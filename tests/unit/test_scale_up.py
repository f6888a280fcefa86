"""Scale-up against laws whose exponent is known, and the numbers that explain it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import thermokit
from tests.cli.calling import call, one_object
from tests.unit.test_inverse import LUMP
from thermokit.case import parse_case
from thermokit.conduction.problem import Face, Radiation
from thermokit.errors import CaseError
from thermokit.studies.scale_up import part_paths, scale_up
from thermokit.studies.scale_up_reason import coefficient

SOUGHT = LUMP.replace('duration = "120 s"', 'duration = "find"')
WARM = '[limits.mean_temperature]\nat_least = "80 degC"\n'
# a slab between two faces that are held hot: the middle goes by a t/L^2 alone
HELD = (
    SOUGHT.replace('conductivity = "5000 W/m/K"', 'conductivity = "0.2 W/m/K"')
    .replace("cells = 6\n", "")
    .replace(
        'convection = { coefficient = "50 W/m2/K", air = "150 degC" }',
        'temperature = "150 degC"\n[stations.inner]\ntemperature = "150 degC"\n[[output.probes]]\nname = "middle"\nat = "5 mm"',
    )
    + '[limits.middle_temperature]\nat_least = "80 degC"\n'
)
# begins as hot as its surroundings: only the reaction takes time, (1 - degree) = exp(-k t)
CURING = (
    SOUGHT.replace('start = "20 degC"', 'start = "150 degC"')
    .replace('material = "stuff"', 'material = "stuff"\nkinetics = "resin"')
    + '[kinetics.resin]\nstate = "cure"\nrate_1 = { factor = "0.02 1/s", energy = "0 kJ/mol" }\n'
    'rate_2 = { factor = "0 1/s", energy = "0 kJ/mol" }\nm = 1\nn = 1\nheat = "0 J/kg"\n'
    '[limits.cure_degree]\nat_least = 0.9\n'
)  # fmt: skip


def test_a_lump_goes_with_its_mass() -> None:
    """t = rho cp L/h ln(130/70): exponent 1, Biot h L/k."""
    found = scale_up(parse_case(SOUGHT + WARM), factors=(0.5, 2.0, 3.0))
    exact = 1000.0 * 1500.0 * 0.010 / 50.0 * math.log(130.0 / 70.0)
    assert [row.factor for row in found.sizes] == [0.5, 1.0, 2.0, 3.0]
    answers = np.array([row.answer for row in found.sizes], float)
    np.testing.assert_allclose(answers, exact * np.array([0.5, 1.0, 2.0, 3.0]), rtol=2e-3)
    assert found.exponent == pytest.approx(1.0, abs=2e-3)
    assert found.regime == "flux-limited"
    assert found.reason is not None
    assert found.reason.biot == pytest.approx(50.0 * 0.010 / 5000.0, rel=1e-6)
    assert found.sizes[2].by_square == pytest.approx(4.0 * exact, rel=2e-3)


@pytest.mark.long
def test_a_slab_between_held_faces_goes_with_its_square() -> None:
    """Carslaw & Jaeger, section 3.3: the middle of a slab depends on a t/L^2 alone; places move with the layers."""
    found = scale_up(parse_case(HELD))
    assert found.exponent == pytest.approx(2.0, abs=0.01)
    assert found.regime == "conduction-limited"
    assert found.reason is not None and math.isinf(found.reason.biot)
    assert found.reason.depth == pytest.approx(0.005)
    # first term of the series: (T - Tw)/(T0 - Tw) = 4/pi exp(-pi^2 a t/L^2), off by some 1e-4 here
    a, length = 0.2 / (1000.0 * 1500.0), 0.010
    exact = length**2 / (math.pi**2 * a) * math.log(4.0 / math.pi * 130.0 / 70.0)
    assert found.sizes[0].answer == pytest.approx(exact, rel=3e-3)


def test_an_even_cure_takes_its_time_whatever_the_wall() -> None:
    """First order, isothermal: t = ln(10)/k for nine tenths."""
    found = scale_up(parse_case(CURING))
    assert found.exponent == pytest.approx(0.0, abs=2e-3)
    assert found.regime == "kinetics-limited"
    assert found.sizes[-1].answer == pytest.approx(math.log(10.0) / 0.02, rel=2e-3)


def test_another_material_of_a_lump_goes_with_its_heat_capacity() -> None:
    text = SOUGHT + WARM + '[materials.heavy]\nconductivity = "5000 W/m/K"\ndensity = "2000 kg/m3"\n'
    found = scale_up(parse_case(text + 'specific_heat = "1200 J/kg/K"\n'), material="heavy")
    assert found.material is not None
    assert found.material.ratio == pytest.approx(2000.0 * 1200.0 / (1000.0 * 1500.0), rel=2e-3)
    assert found.material.by_flux == pytest.approx(1.6, rel=1e-9)


def test_other_inputs_and_outcomes_scale_too() -> None:
    """Twice the coefficient, half the time; a temperature has no exponent."""
    path = "stations.heat.outer.convection.coefficient"
    found = scale_up(parse_case(SOUGHT + WARM), factors=(2.0,), paths=(path,))
    assert found.exponent == pytest.approx(-1.0, abs=2e-3)
    told = scale_up(parse_case(LUMP), of="mean_temperature")
    assert told.exponent is None
    share = math.exp(-50.0 * 120.0 / (2.0 * 1000.0 * 1500.0 * 0.010))
    assert told.sizes[-1].answer == pytest.approx(150.0 - 130.0 * share, abs=0.05)


def test_the_limit_that_decides_is_followed_where_the_window_is_shut() -> None:
    """At twice the wall another limit leaves no window; the time of the first one is told all the same."""
    shut = (
        SOUGHT
        + '[limits.mean_temperature]\nat_least = "80 degC"\n[limits.outer_face_temperature]\nat_most = "90 degC"\n'
    )
    shut = shut.replace('conductivity = "5000 W/m/K"', 'conductivity = "2 W/m/K"').replace("cells = 6\n", "")
    found = scale_up(parse_case(shut), factors=(3.0,))
    assert found.limit == "mean_temperature"
    assert found.sizes[-1].answer is not None
    from thermokit.studies.dwell import window_of

    thick = parse_case(shut).with_values({"body.layers.plate.thickness": 0.030})
    assert window_of(thick).earliest is None


def test_a_section_scales_by_any_input() -> None:
    """A bar under a flux: t = rho cp L dT/q, so that twice the density takes twice the time."""
    text = """
process = "section"
[section]
start = "20 degC"
[[section.regions]]
name = "bar"
material = "stuff"
outline = [["0 mm", "0 mm"], ["20 mm", "0 mm"], ["20 mm", "10 mm"], ["0 mm", "10 mm"]]
[materials.stuff]
conductivity = "4000 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
[[section.edges]]
name = "bottom"
from = ["0 mm", "0 mm"]
to = ["20 mm", "0 mm"]
[[stations]]
name = "warm"
duration = { find = ["5 s", "300 s"] }
[stations.faces.bottom]
heating = "5 kW/m2"
[[output.probes]]
name = "middle"
at = ["10 mm", "5 mm"]
[limits.middle_temperature]
at_least = "30 degC"
"""
    found = scale_up(parse_case(text), factors=(2.0,), paths=("materials.stuff.density",))
    assert found.sizes[0].answer == pytest.approx(20.0, rel=5e-3)
    assert found.sizes[1].answer == pytest.approx(40.0, rel=5e-3)
    assert found.reason is None
    with pytest.raises(CaseError, match="no thickness of a part"):
        scale_up(parse_case(text))


def test_radiation_counts_by_its_slope() -> None:
    """4 F sigma ((500 + 300)/2)^3 at F = 0.5."""
    face = Face(radiation=(Radiation(0.5, 500.0),))
    assert coefficient(face, 300.0) == pytest.approx(4 * 0.5 * 5.670374419e-8 * 400.0**3)


def test_mistakes_are_plain() -> None:
    with pytest.raises(CaseError, match="nothing is sought"):
        scale_up(parse_case(LUMP))
    with pytest.raises(CaseError, match="no such factors"):
        scale_up(parse_case(SOUGHT + WARM), factors=(-1.0,))
    with pytest.raises(CaseError, match="no such input"):
        scale_up(parse_case(SOUGHT + WARM), paths=("body.layers.plate.thicknes",))
    assert part_paths(parse_case(LUMP)) == ("body.layers.plate.thickness",)


def test_command_and_function_agree(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "lump.toml"
    file.write_text(SOUGHT + WARM)
    done = call(capsys, "scale", file, "--factor", "2", "--json")
    assert done.status == 0
    found = thermokit.scale(file, factors=(2.0,))
    assert one_object(done.out) == found.as_json()
    table = found.to_xarray()
    assert table["answer"].values[-1] == found.sizes[-1].answer
    words = call(capsys, "scale", file).out
    assert "flux-limited" in words and "t ~ L^2 would be wrong" in words
