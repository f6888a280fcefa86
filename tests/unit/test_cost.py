"""Energy and money of a part against sums by hand, on a lump whose heat is known."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import thermokit
from tests.cli.calling import call, one_object
from tests.unit.test_inverse import LUMP
from thermokit.case import parse_case, resolved_text
from thermokit.errors import CaseError
from thermokit.studies.cost import cost

RATES = """
[cost]
currency = "crowns"
energy = 0.3
machine = 36
labour = 18
material = 2
parts = 2
between = "24 s"
area = "0.5 m2"
efficiency = 0.4
idle = "2 kW"
pump = "0.5 kW"
scrap = 0.1
"""
# the lump takes in rho cp L (T - T0): 15 000 J/m2/K times 130 K (1 - exp(-h t/(rho cp L)))
HEAT = 15_000.0 * 130.0 * (1.0 - math.exp(-50.0 * 120.0 / 15_000.0))
CYCLE = 120.0 + 24.0
EACH = 1.0 / 2.0 / 0.9  # two parts a cycle, of which one in ten is thrown away


def test_energy_and_money_of_a_lump() -> None:
    """Every item by hand."""
    found = cost(parse_case(LUMP + RATES))
    into = HEAT * 0.5 / 3.6e6 * EACH
    assert found.kwh("heat into the part") == pytest.approx(into, rel=1e-3)
    assert found.kwh("heaters") == pytest.approx(into / 0.4, rel=1e-3)
    assert found.kwh("losses of the heaters") == pytest.approx(into * 1.5, rel=1e-3)
    assert found.kwh("pumps") == pytest.approx(0.5 * CYCLE / 3600.0 * EACH)
    assert found.kwh("idle") == pytest.approx(2.0 * CYCLE / 3600.0 * EACH)
    drawn = into / 0.4 + 2.5 * CYCLE / 3600.0 * EACH
    assert found.drawn == pytest.approx(drawn, rel=1e-3)
    money = {m.name: m.amount for m in found.money}
    assert money["energy"] == pytest.approx(0.3 * drawn, rel=1e-3)
    assert money["machine"] == pytest.approx(36.0 * CYCLE / 3600.0 * EACH)
    assert money["labour"] == pytest.approx(18.0 * CYCLE / 3600.0 * EACH)
    mass = 1000.0 * 0.010 * 0.5 / 2.0
    assert found.mass == pytest.approx(mass)
    assert money["material"] == pytest.approx(2.0 * mass / 0.9)
    assert found.total == pytest.approx(sum(money.values()))
    assert found.currency == "crowns"


def test_what_is_assumed_is_said() -> None:
    """Without an efficiency 0.5 is assumed and named; without rates there is no money."""
    found = cost(parse_case(LUMP + '[cost]\narea = "1 m2"\n'))
    assert found.kwh("heaters") == pytest.approx(2.0 * HEAT / 3.6e6, rel=1e-3)
    assert found.total is None
    assert any("0.5 is assumed" in text for text in found.missing)
    assert any("tariff" in text for text in found.missing)


def test_a_part_without_a_size_is_a_plain_mistake() -> None:
    with pytest.raises(CaseError, match=r"cost\.area: missing"):
        cost(parse_case(LUMP))


def test_a_cooled_part_gives_its_heat_back() -> None:
    """The lump cools from 150 to the air of 20 degC: as much heat out as the other way in, and no heaters."""
    cold = LUMP.replace('start = "20 degC"', 'start = "150 degC"').replace('air = "150 degC"', 'air = "20 degC"')
    found = cost(parse_case(cold + '[cost]\narea = "0.5 m2"\n'))
    assert found.kwh("heat out of the part") == pytest.approx(0.5 * HEAT / 3.6e6, rel=1e-3)
    assert found.drawn == pytest.approx(0.0, abs=1e-12)


def test_the_table_reads_back() -> None:
    case = parse_case(LUMP + RATES)
    assert parse_case(resolved_text(case)) == case


def test_command_and_function_agree(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "lump.toml"
    file.write_text(LUMP + RATES)
    found = thermokit.cost(file)
    assert one_object(call(capsys, "cost", file, "--json").out) == found.as_json()
    table = found.to_xarray()
    assert float(table["total"]) == found.total
    assert table["money"].attrs["units"] == "crowns"
    words = call(capsys, "cost", file).out
    assert "crowns" in words and "heat balance of the run" in words
