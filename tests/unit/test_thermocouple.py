"""Where one couple tells most: the linear part against Bayes by hand, the places against optima known in closed form."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import thermokit
from tests.cli.calling import call, one_object
from tests.unit.test_inverse import LUMP
from thermokit.case import parse_case
from thermokit.errors import CaseError, SolveError
from thermokit.studies.thermocouple import thermocouple
from thermokit.studies.thermocouple_linear import gathered, left_of, told_of

HELD = """\
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "slab"
material = "stuff"
thickness = "20 mm"
cells = 41
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
[[stations]]
name = "heat"
duration = "600 s"
[stations.outer]
temperature = "120 degC"
[stations.inner]
temperature = "120 degC"
[[output.probes]]
name = "middle"
at = "10 mm"
[limits.middle_temperature]
at_least = "60 degC"
[tolerances]
"materials.stuff.conductivity" = "± 10 %"
"""
TIME = 0.020**2 / (0.2 / 1e6)  # L^2/a [s]


def by_bayes(rows: np.ndarray, noise: float, weights: np.ndarray) -> float:
    """Posterior spread the other way round: var y - c' (cov r)^-1 c, covariance of the readings instead of information."""
    cov = rows @ rows.T + noise**2 * np.eye(len(rows))
    cross = rows @ weights
    return float(np.sqrt(weights @ weights - cross @ np.linalg.solve(cov, cross)))


def test_what_is_left_is_what_bayes_says() -> None:
    """Two forms of the same posterior: information form here, covariance form there (Gelb 1974, section 4.2)."""
    random = np.random.default_rng(1)
    signal = random.normal(size=(7, 3, 4))
    gradient = random.normal(size=(7, 3))
    weights = random.normal(size=4)
    sums = gathered(signal, gradient, noise=0.3, offset=0.5, place=0.2)
    left = left_of(sums[-1], weights)
    full = np.append(weights, [0.0, 0.0])
    for p in range(3):
        rows = np.column_stack([signal[:, p], np.full(7, 0.5), 0.2 * gradient[:, p]])
        assert left[p] == pytest.approx(by_bayes(rows, 0.3, full), rel=1e-9)
    # the stretch from the third to the fifth reading, by differences of running sums
    rows = np.column_stack([signal[2:5, 1], np.full(3, 0.5), 0.2 * gradient[2:5, 1]])
    assert left_of(sums[5, 1] - sums[2, 1], weights) == pytest.approx(by_bayes(rows, 0.3, full), rel=1e-9)


def test_readings_without_scatter_of_the_couple_tell_as_entropies() -> None:
    """One unknown, n readings of slope s: 1/2 ln(1 + n s^2/noise^2) (Lindley 1956, information of a normal experiment)."""
    sums = gathered(np.full((5, 1, 1), 2.0), np.zeros((5, 1)), noise=0.5, offset=0.0, place=0.0)
    assert told_of(sums[-1], 1)[0] == pytest.approx(0.5 * math.log(1.0 + 5 * 4.0 / 0.25))


def test_a_place_that_does_not_exist_yet_tells_nothing() -> None:
    signal = np.full((4, 1, 1), np.nan)
    sums = gathered(signal, np.zeros((4, 1)), noise=0.5, offset=0.1, place=0.0)
    assert left_of(sums[-1], np.array([3.0]))[0] == pytest.approx(3.0)


def test_the_middle_tells_most_of_conductivity_at_a_known_time() -> None:
    """With one term of the series dT/d ln k ~ sin(pi x/L) Fo exp(-pi^2 Fo): largest in the middle, at Fo = 1/pi^2.

    Carslaw & Jaeger, section 3.3; the second term is exp(-8) of it there.
    """
    found = thermocouple(parse_case(HELD), offset=0.0, place=0.0)
    assert found.of == "margin of middle_temperature"
    assert found.best.at[0] == pytest.approx(0.010, abs=0.0006)
    exact = TIME / math.pi**2
    assert found.best.first < exact < found.best.last
    assert found.surest.at[0] == pytest.approx(0.010, abs=0.0006)
    # a face that is held reads nothing of it
    assert found.faces[0].left == pytest.approx(found.spread, rel=1e-6)


def test_the_spread_of_the_outcome_is_that_of_the_formula() -> None:
    """T = Tw - (Tw - T0) 4/pi exp(-pi^2 Fo): dT/d ln k = (Tw - T0) 4 pi Fo exp(-pi^2 Fo), times 5 % for one deviation."""
    found = thermocouple(parse_case(HELD))
    fourier = 600.0 / TIME
    exact = 0.05 * 100.0 * 4.0 * math.pi * fourier * math.exp(-(math.pi**2) * fourier)
    assert found.spread == pytest.approx(exact, rel=5e-3)


def test_a_face_that_errs_is_best_read_at_the_face() -> None:
    """dT/dTw is 1 on the face at all times and less inside (without an offset of the couple, which looks alike there)."""
    text = HELD.replace('"materials.stuff.conductivity" = "± 10 %"', '"stations.heat.inner.temperature" = "± 4 K"')
    found = thermocouple(parse_case(text), offset=0.0, place=0.0)
    assert found.best.at[0] == 0.0
    # every reading there is the error itself: n of them leave 1/sqrt(1 + n (2 K)^2/noise^2) of it
    assert found.best.left / found.spread == pytest.approx(1.0 / math.sqrt(1.0 + 201 * 4.0 / 0.25), rel=0.01)


def test_a_wrong_depth_counts_where_it_is_steep() -> None:
    """With the depth 1 mm off a couple tells less wherever the gradient is not zero; in the middle it is."""
    sharp, blunt = (thermocouple(parse_case(HELD), place=place) for place in (0.0, 1e-3))
    quarter = int(np.argmin(np.abs(sharp.depths[:, 0] - 0.005)))
    middle = int(np.argmin(np.abs(sharp.depths[:, 0] - 0.010)))
    assert blunt.left[quarter] > 1.05 * sharp.left[quarter]
    assert blunt.left[middle] == pytest.approx(sharp.left[middle], rel=0.01)
    assert blunt.best.at[0] == pytest.approx(0.010, abs=0.0006)


def test_what_moves_nothing_is_said() -> None:
    with pytest.raises(SolveError, match="nothing to tell"):
        still = LUMP + '[materials.unused]\nconductivity = "1 W/m/K"\ndensity = "1 kg/m3"\nspecific_heat = "1 J/kg/K"\n'
        errs = '[tolerances]\n"materials.unused.conductivity" = "± 10 %"\n'
        thermocouple(parse_case(still + errs), of="mean_temperature")
    with pytest.raises(CaseError, match="how far its inputs"):
        thermocouple(parse_case(LUMP))
    with pytest.raises(CaseError, match="no outcome or limit"):
        thermocouple(parse_case(HELD), of="middle_temperatur")
    with pytest.raises(CaseError, match="only times vary"):
        thermocouple(
            parse_case(HELD.partition("[tolerances]")[0] + '[tolerances]\n"stations.heat.duration" = "± 5 s"\n')
        )


def test_a_section_is_asked_node_by_node() -> None:
    """A plate between a held and an insulated edge: a couple far from the held one tells of its conductivity."""
    text = """
process = "section"
[section]
start = "20 degC"
[[section.regions]]
name = "plate"
material = "stuff"
outline = [["0 mm", "0 mm"], ["4 mm", "0 mm"], ["4 mm", "10 mm"], ["0 mm", "10 mm"]]
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
[[section.edges]]
name = "bottom"
from = ["0 mm", "0 mm"]
to = ["4 mm", "0 mm"]
[[stations]]
name = "heat"
duration = "400 s"
[stations.faces.bottom]
temperature = "120 degC"
[[output.probes]]
name = "top"
at = ["2 mm", "10 mm"]
[accuracy]
temperature = "0.5 K"
[tolerances]
"materials.stuff.conductivity" = "± 10 %"
"""
    found = thermocouple(parse_case(text), of="top_temperature", offset=0.0)
    assert found.best.at[1] == pytest.approx(0.010, abs=0.0015)
    exact = 0.020**2 / 2e-7 / math.pi**2  # half of the slab that is held on both sides
    assert found.best.first < exact < found.best.last


def test_command_and_function_agree(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "slab.toml"
    file.write_text(HELD)
    done = call(capsys, "thermocouple", file, "--noise", "0.2 K", "--json")
    found = thermokit.thermocouple(file, noise=0.2)
    assert one_object(done.out) == found.as_json()
    np.testing.assert_array_equal(found.to_xarray()["left"].values, found.left)
    words = call(capsys, "thermocouple", file).out
    assert "BEST PLACE" in words and "isotherm" in words
    for wrong in ("0 K", "-1 K", "fast"):
        assert call(capsys, "thermocouple", file, "--noise", wrong).status == 2
