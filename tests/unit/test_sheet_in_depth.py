"""Clear sheet: what its cells take in and give off, against rays counted by hand, a lump, and the worked scenario."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from sheets import BLANK, CLEAR, SIGMA, K, air, case, checks, edges_of, many, panels, placed, plain, stuff, values

from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.mesh import equal_edges
from thermokit.processes import process_of
from thermokit.processes.run import run_case
from thermokit.studies.dwell import dwell

PETG = {"thickness": "1.5 mm", "absorption": "in_depth", "bands": [{"coefficient": "1 1/mm", "reflectance": 0.05}]}
OVEN = {"air": air(50.0, 8.0)}


def clear(*stations: Any, sheet: Any = None, **more: Any) -> Any:
    return case(*stations, sheet={**PETG, **(sheet or {})}, material=stuff(*CLEAR), **more)


def cloche(panel: float = 350.0, duration: Any = "69 s", sheet: Any = None, **more: Any) -> Any:
    return clear(panels(plain(panel), plain(panel), duration, **OVEN), sheet=sheet, **more)


def counted(kappa: float, length: float, r: float, behind: float = 0.0) -> tuple[float, float, float]:
    """(absorbed, reflected, passed) of a slab, ray by ray: to and fro until nothing is left.

    Every time a ray meets the far face, 1 - r of it goes out, of which ``behind`` comes back and 1 - r of that enters.
    """
    absorbed, reflected, passed = 0.0, r, 0.0
    ray, t = 1.0 - r, np.exp(-kappa * length)
    for _ in range(400):
        absorbed += ray * (1 - t)
        ray *= t
        out, ray = (1 - r) * ray, r * ray
        for _ in range(400):  # between the far face and what lies behind
            passed += (1 - behind) * out
            out *= behind
            ray, out = ray + (1 - r) * out, r * out
        absorbed += ray * (1 - t)
        ray *= t
        reflected += (1 - r) * ray
        ray *= r
    return absorbed, reflected, passed


# -- shares ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kappa", "behind"), [(1000.0, 0.0), (500.0, 0.0), (500.0, 0.7), (3e4, 0.3)])
def test_cells_together_take_what_rays_leave_in_the_sheet(kappa: float, behind: float) -> None:
    """One panel above, a reflector below; the sheet gives off through its upper face as much of its black radiation."""
    band = {"coefficient": f"{kappa} 1/m", "reflectance": 0.05}
    station = panels(plain(350.0), None, oven={"behind": behind, "surround": "0 K"}, **OVEN)
    given = clear(station, sheet={"bands": [band]})
    cut = equal_edges(40)
    span = process_of(given).course([cut]).spans[0]
    width = np.diff(cut) * 1.5e-3
    absorbed, reflected, passed = counted(kappa, 1.5e-3, 0.05, behind)
    assert absorbed + reflected + passed == pytest.approx(1.0)
    fallen = 0.6 * SIGMA * (350.0 + K) ** 4
    density = sum(source.density for source in span.sources)
    assert (density * width).sum() == pytest.approx(fallen * absorbed, rel=1e-9)
    assert span.emission is not None
    # the lower face sees all of the oven; what passes upwards meets the panel, which throws back 1 - 0.9 of its 0.6
    lower = counted(kappa, 1.5e-3, 0.05, 0.6 * (1 - 0.9))[0]
    assert (span.emission * width).sum() == pytest.approx(0.6 * absorbed + lower, rel=1e-9)


def test_a_band_takes_its_share_of_planck_s_law() -> None:
    """Opaque beyond 2.2 um, nearly clear below: the absorbed share of panels of two temperatures by quadrature."""
    bands = [
        {"from": "0.8 um", "to": "2.2 um", "coefficient": "20 1/m", "reflectance": 0.04},
        {"from": "2.2 um", "to": "20 um", "coefficient": "1e5 1/m", "reflectance": 0.06},
    ]
    for temperature in (350.0, 900.0):
        below = quad(lambda x: x**3 / np.expm1(x), 14387.77 / (2.2 * (temperature + K)), 60.0)[0] * 15 / np.pi**4
        wanted = below * counted(20.0, 1.5e-3, 0.04)[0] + (1 - below) * counted(1e5, 1.5e-3, 0.06)[0]
        result = run_case(cloche(temperature, "1 s", sheet={"bands": bands}))
        assert values(result)["heat_upper_absorbed"] == pytest.approx(wanted, rel=1e-6)
        parts = [values(result)[f"heat_upper_{name}"] for name in ("absorbed", "reflected", "passed")]
        assert sum(parts) == pytest.approx(1.0)


def test_a_thin_sheet_heats_as_a_lump() -> None:
    """rho cp L dT/dt = 2 A F sigma (Tp^4 - T^4) + 2 h (Ta - T), A the absorbed share of rays counted by hand."""
    sheet = {**PETG, "thickness": "0.3 mm", "bands": [{"coefficient": "800 1/m", "reflectance": 0.05}]}
    more = {"output": {"times": ["10 s", "20 s", "40 s"]}, "accuracy": {"temperature": "0.01 K"}}
    conducting = stuff(CLEAR[0], 20.0, CLEAR[2])
    result = run_case(
        case(panels(plain(350.0), plain(350.0), "40 s", **OVEN), sheet=sheet, material=conducting, **more)
    )
    # what passes meets the other panel, which throws back (1 - 0.9) of the exchange's 0.6
    share = counted(800.0, 0.3e-3, 0.05, 0.06)[0]

    def slope(t: float, y: np.ndarray) -> np.ndarray:
        heat = 2 * share * 0.6 * SIGMA * ((350.0 + K) ** 4 - y**4) + 2 * 8.0 * (50.0 + K - y)
        return heat / (CLEAR[0] * CLEAR[2] * 0.3e-3)

    wanted = solve_ivp(slope, (0, 40), [20.0 + K], t_eval=[10, 20, 40], rtol=1e-9, atol=1e-8).y[0]
    history = result.history
    mean = history.temperature @ np.diff(history.edges) / history.edges[-1]
    assert mean[-3:] == pytest.approx(wanted, abs=0.01)


# -- the worked scenario ---------------------------------------------------------------------------------------------


def reached(result: Any, target: float = 145.0) -> tuple[float, float, float]:
    """(time [s], face, core [degC]) when the mean is at the target."""
    history = result.history
    mean = history.temperature @ np.diff(history.edges) / history.edges[-1] - K
    time = float(np.interp(target, mean, history.time))
    middle = history.temperature[:, len(history.centres) // 2]
    return time, *(float(np.interp(time, history.time, row)) - K for row in (history.inner_face, middle))


@pytest.mark.parametrize(
    ("change", "panel", "rows", "low", "high"),
    [
        ({}, 350.0, "80 s", 62.0, 76.0),  # accepted band of the scenario
        ({"bands": [{"coefficient": "0.5 1/mm", "reflectance": 0.05}]}, 350.0, "120 s", 0.92 * 107, 1.08 * 107),
        ({"absorption": "at_face", "emissivity": 0.95}, 350.0, "60 s", 0.92 * 53, 1.08 * 53),
        ({}, 650.0, "14 s", 0.92 * 12, 1.08 * 12),
        ({"absorption": "at_face", "emissivity": 0.95}, 650.0, "14 s", 0.92 * 9, 1.08 * 9),
    ],
)
def test_time_to_the_target_of_a_clear_cloche(change: Any, panel: float, rows: str, low: float, high: float) -> None:
    """Bands of a rough 1-D calculation, 8 % about it where the scenario gives none."""
    sheet = {**PETG, **change}
    if sheet["absorption"] == "at_face":
        del sheet["bands"]
    station = panels(plain(panel), plain(panel), rows, **OVEN)
    given = case(station, sheet=sheet, material=stuff(*CLEAR), output={"every": "0.1 s"})
    time, face, core = reached(run_case(given))
    assert low <= time <= high
    if sheet["absorption"] == "in_depth":
        assert abs(face - core) < 3.0
    elif panel == 650.0:
        assert face == pytest.approx(172.0, abs=3.0)
        assert core == pytest.approx(132.0, abs=3.0)


def test_the_gradient_has_the_other_sign() -> None:
    """Clear sheet is hottest inside while its faces lose heat to the air; an opaque one at its faces."""
    found = values(run_case(cloche()))
    assert found["middle"] > found["upper_face"] + 0.5
    hidden = {"absorption": "at_face", "bands": None}
    sheet = {name: value for name, value in {**PETG, **hidden}.items() if value is not None}
    station = panels(plain(350.0), plain(350.0), "50 s", **OVEN)
    opaque = values(run_case(case(station, sheet=sheet, material=stuff(*CLEAR))))
    assert opaque["upper_face"] > opaque["middle"] + 5.0


def test_what_must_be_said_of_a_clear_sheet() -> None:
    said = " ".join(run_case(cloche()).remarks)
    assert "wrong in time and in the sign of the gradient" in said
    assert "panels and reflectors behind, which matter" in said
    assert "pyrometer" in said


def test_a_dwell_of_a_clear_sheet_and_what_its_hand_formula_leaves_out() -> None:
    """Window of the mean at 145 degC: coldest 140, hottest 150."""
    found = dwell(cloche(duration="find", limits={"coldest_point": "140 degC", "hottest_face": "150 degC"}))
    assert found.earliest is not None
    assert found.latest is not None
    assert 0.92 * 69 < (found.earliest + found.latest) / 2 < 1.08 * 69
    assert found.hand is not None
    assert "taken in over the depth" in found.hand.formula
    assert found.hand.value == pytest.approx(69.0, rel=0.08)  # the scenario's hand formula
    assert "absorption in the depth (as if opaque) it would be" in found.hand.why_different
    result = run_case(cloche(limits={"coldest_point": "140 degC", "hottest_face": "150 degC"}))
    assert all(check.met for check in checks(result).values())


# -- many at once ----------------------------------------------------------------------------------------------------

TWO = [
    {"from": "0.8 um", "to": "2.5 um", "coefficient": "100 1/m", "reflectance": 0.04},
    {"from": "2.5 um", "to": "20 um", "coefficient": "2e3 1/m", "reflectance": 0.05},
]
UPPER = "stations.heat.upper"


@pytest.mark.parametrize("places", [None, "all"])
@pytest.mark.parametrize(
    "change",
    [
        {"sheet.bands.0.coefficient": [100.0, 300.0, 1000.0]},
        {"sheet.bands.1.reflectance": [0.03, 0.05, 0.1]},
        {"sheet.path": [1.0, 1.5, 2.0]},
        {"sheet.thickness": [1e-3, 1.5e-3, 2e-3]},
        {"sheet.start": [280.0, 300.0, 330.0]},
        {f"{UPPER}.temperature": [600.0, 700.0, 900.0], "sheet.path": [1.0, 1.5, 2.0]},
        {f"{UPPER}.gap": [0.15, 0.1, 0.2]},
        {f"{UPPER}.initial": [300.0, 700.0, 500.0], "stations.heat.oven.behind": [0.0, 0.5, 0.9]},
    ],
)
def test_each_case_of_a_batch_is_as_by_itself(change: Any, places: Any) -> None:
    upper = placed(temperature="420 degC", initial="25 degC", time_constant="20 s")
    oven = {"behind": 0.3}
    given = clear(panels(upper, None, "30 s", oven=oven), sheet={**BLANK, "bands": TWO, "path": 1.2})
    whole, singles = many(given, change, places)
    cut, m = edges_of(given, 8), singles[0].places()
    together = follow_batch(whole.course(cut), m * len(singles), 0.1)
    for i, process in enumerate(singles):
        alone = follow_batch(process.course(cut), m, 0.1)
        own = together.end_temperature[:, :, i * m : (i + 1) * m]
        assert own == pytest.approx(alone.end_temperature, abs=1e-7)
