"""Units at the door: factors against NIST SP 811 (2008) appendix B.8, spellings, refusals, and the way back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermokit import units

# (text, dimension, SI value as printed in NIST SP 811 B.8, with its printed digits)
NIST = [
    ("1 in", "length", 2.54e-2),
    ("1 ft", "length", 3.048e-1),
    ("1 mil", "length", 2.54e-5),
    ("1 thou", "length", 2.54e-5),
    ("1 in2", "area", 6.4516e-4),
    ("1 gal", "volume", 3.785412e-3),
    ("1 gal_uk", "volume", 4.54609e-3),
    ("1 ft3", "volume", 2.831685e-2),
    ("1 ft/min", "speed", 5.08e-3),
    ("1 BTU in/h/ft2/degF", "conductivity", 1.442279e-1),
    ("1 BTU/h/ft/degF", "conductivity", 1.730735),
    ("1 cal/s/cm/K", "conductivity", 418.68),  # from cal(IT) = 4.1868 J
    ("1 lb/ft3", "density", 16.01846),
    ("1 lb/in3", "density", 2.767990e4),
    ("1 BTU/lb/degF", "specific_heat", 4186.8),
    ("1 BTU/lb", "heat_per_mass", 2326.0),
    ("1 kcal/kg", "heat_per_mass", 4186.8),
    ("1 BTU/h/ft2", "heat_flux", 3.154591),
    ("1 W/in2", "heat_flux", 1.550003e3),
    ("1 BTU/h/ft2/degF", "heat_transfer_coefficient", 5.678263),
    ("1 h ft2 degF/BTU", "contact_resistance", 1.761102e-1),
    ("1 BTU/h", "power", 2.930711e-1),
    ("1 kcal", "energy", 4186.8),
    ("1 BTU", "energy", 1055.056),
    ("1 kWh", "energy", 3.6e6),
    ("1 BTU/ft2", "energy_per_area", 1.135653e4),
    ("1 psi", "pressure", 6.894757e3),
    ("1 kgf/cm2", "pressure", 9.80665e4),
    ("1 lbf", "force", 4.448222),
    ("1 tonf_us", "force", 8.896443e3),
    ("1 gal/min", "flow", 6.309020e-5),
    ("1 ft3/min", "flow", 4.719474e-4),
    ("1 lb", "mass", 4.535924e-1),
    ("1 oz", "mass", 2.834952e-2),
    ("1 lb/h", "mass_flow", 1.259979e-4),
    ("1 oz/yd2", "mass_per_area", 3.390575e-2),
    ("1 lb/ft2", "mass_per_area", 4.882428),
    ("1 lb/ft", "mass_per_length", 1.488164),
    ("1 rev/min", "frequency", 1.666667e-2),
    ("1 cP", "viscosity", 1e-3),
    ("1 ft2/h", "diffusivity", 2.580640e-5),
    ("1 dyn/cm", "surface_tension", 1e-3),
    ("1 kcal/mol", "molar_energy", 4186.8),
]


@pytest.mark.parametrize(("text", "dimension", "expected"), NIST)
def test_factors_against_nist(text: str, dimension: str, expected: float) -> None:
    assert units.parse(text, dimension) == pytest.approx(expected, rel=5e-7)


def test_british_ton_force() -> None:
    # 2240 lb; 1 lbf/in2 = 6894.757 Pa (NIST SP 811)
    assert units.parse("1 tonf/in2", "pressure") == pytest.approx(2240 * 6894.757, rel=5e-7)


@pytest.mark.parametrize(
    ("text", "kelvin"),
    [("0 degC", 273.15), ("32 degF", 273.15), ("212 degF", 373.15), ("-40 degF", 233.15), ("-40 °C", 233.15)]
    + [("300 K", 300.0), ("0K", 0.0), ("-273.15 degC", 0.0), ("−5 degC", 268.15), ("1.5e2℃", 423.15)],
)
def test_temperatures(text: str, kelvin: float) -> None:
    assert units.parse(text, "temperature") == pytest.approx(kelvin, abs=1e-9)


@pytest.mark.parametrize("unit", ["W/m2/K", "W/m2K", "W/(m2 K)", "W/m²K", "W/(m^2·K)", "W / m2 / K", "W/m2/degC"])
def test_spellings_of_a_coefficient(unit: str) -> None:
    assert units.parse(f"8 {unit}", "heat_transfer_coefficient") == 8.0


def test_other_spellings() -> None:
    assert units.parse("5e-4 m2K/W", "contact_resistance") == 5e-4
    assert units.parse("2 l/min", "flow") == pytest.approx(2e-3 / 60)
    assert units.parse("25 µm", "length") == pytest.approx(25e-6)
    assert units.parse("10 degC/min", "heating_rate") == pytest.approx(10 / 60)
    assert units.parse("9 delta_degF", "temperature_difference") == pytest.approx(5.0)
    assert units.parse("5 %", "fraction") == units.parse("0.05", "fraction")


@pytest.mark.parametrize(
    ("text", "dimension", "says"),
    [
        ("1,5 mm", "length", "decimal comma: write 1.5 mm"),
        ("-0,5 degC", "temperature", "decimal comma: write -0.5 degC"),
        ("1,500 mm", "length", "or 1500 mm"),
        ("1 500 mm", "length", "more than one number"),
        ("1.5.2 mm", "length", "more than one number"),
        ("4", "length", "the unit is missing"),
        ("", "length", "does not begin with a number"),
        ("four mm", "length", "does not begin with a number"),
        ("nan mm", "length", "not a number that can be used"),
        ("-inf degC", "temperature", "not a number that can be used"),
        ("1e999 mm", "length", "too large"),
        ("1e308 km", "length", "too large"),
        ("4 kg", "length", "kg is a unit of mass, not of length"),
        ("4 MM", "length", "write mm"),
        ("20 C", "temperature", "write degC"),
        ("5 degC", "temperature_difference", "a difference is meant: write K"),
        ("-300 degC", "temperature", "absolute zero"),
        ("4 furlong", "length", "furlong is not a unit of length"),
        ("4 mm mm", "length", "not a unit of length"),
        ("4/ mm", "length", "not a unit"),
    ],
)
def test_refusals_say_what_is_wrong(text: str, dimension: str, says: str) -> None:
    with pytest.raises(units.UnitError) as caught:
        units.parse(text, dimension)
    assert says in str(caught.value)


@pytest.mark.parametrize("dimension", list(units.DIMENSIONS))
def test_every_refusal_names_the_units(dimension: str) -> None:
    with pytest.raises(units.UnitError) as caught:
        units.parse("4 parsnip", dimension)
    for unit in units.DIMENSIONS[dimension].units:
        assert unit in str(caught.value)


@pytest.mark.parametrize("dimension", list(units.DIMENSIONS))
def test_table_is_sound(dimension: str) -> None:
    row = units.DIMENSIONS[dimension]
    assert row.units[row.si] == (1.0, 0.0)
    assert row.shop in row.units
    keys = {units._spelling_key(unit) for unit in row.units}
    assert len(keys) == len(row.units), "two units of a dimension would be mistaken for each other"
    for unit in row.units:
        assert units.find_unit(unit, dimension) == unit


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("± 3 %", "length", (0.03, True)),
        ("+- 3 %", "length", (0.03, True)),
        ("+/- 0.5 mm", "length", (0.0005, False)),
        ("±5 K", "temperature", (5.0, False)),
        ("± 9 delta_degF", "temperature", (5.0, False)),
        ("3 %", "fraction", (0.03, True)),
        ("± 0.05", "fraction", (0.05, False)),
    ],
)
def test_plus_minus(text: str, dimension: str, expected: tuple[float, bool]) -> None:
    amount, relative = units.parse_plus_minus(text, dimension)
    assert amount == pytest.approx(expected[0])
    assert relative is expected[1]


@pytest.mark.parametrize("text", ["± 15 degC", "± -3 %", "±", "± 3", "± 1,5 K", "± nan %"])
def test_plus_minus_refusals(text: str) -> None:
    with pytest.raises(units.UnitError):
        units.parse_plus_minus(text, "temperature")


@given(
    value=st.floats(min_value=1e-6, max_value=1e6, allow_nan=False),
    dimension=st.sampled_from(list(units.DIMENSIONS)),
    data=st.data(),
)
@settings(derandomize=True, deadline=None, max_examples=300)
def test_text_is_read_back_exactly(value: float, dimension: str, data: st.DataObject) -> None:
    unit = data.draw(st.sampled_from(list(units.DIMENSIONS[dimension].units)))
    assert units.parse(units.format_(value, dimension, unit), dimension) == value


def test_short_text_for_what_was_short() -> None:
    for text in ("4 mm", "127 degC", "35 s", "8 W/m2/K", "12 m/min", "1.1 mm", "77.5 kJ/kg", "0.1 K"):
        number, unit = text.split(" ", 1)
        dimension = next(d for d, row in units.DIMENSIONS.items() if row.shop == unit)
        assert units.format_(units.parse(f"{number} {unit}", dimension), dimension) == text


def test_arrays_convert() -> None:
    celsius = units.to_unit(np.array([273.15, 373.15]), "degC", "temperature")
    np.testing.assert_allclose(celsius, [0.0, 100.0], atol=1e-12)
    np.testing.assert_allclose(units.from_unit(np.array([1.0, 2.0]), "mm", "length"), [1e-3, 2e-3])


@given(st.text(max_size=40), st.sampled_from(list(units.DIMENSIONS)))
@settings(derandomize=True, deadline=None, max_examples=200)
def test_any_text_gives_a_number_or_a_unit_error(text: str, dimension: str) -> None:
    try:
        assert np.isfinite(units.parse(text, dimension))
    except units.UnitError as wrong:
        assert wrong.what
