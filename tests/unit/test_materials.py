"""The material library: plausible, sourced, ordered, nothing lost; and the arithmetic of Property and LatentHeat."""

from __future__ import annotations

import json
import tomllib
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

import thermokit.materials
from thermokit.errors import DataError
from thermokit.kinetics import library as kinetics
from thermokit.materials.library import headings, load, names
from thermokit.materials.material import LatentHeat, Material, Property

CONFIDENCES = {
    "published", "handbook", "common-practice", "from-memory", "computed", "estimated", "calibrated-to-practice"
}  # fmt: skip
EVERY = pytest.mark.parametrize("name", names())

# family -> bounds of conductivity [W/m/K], specific heat [J/kg/K], density [kg/m3] over the whole tables.
# Polymers: 0.1-0.6, 900-3000, 700-1500 (van Krevelen, Properties of Polymers, tables of chapters 4, 5 and 17);
# metals: Touloukian, Thermophysical Properties of Matter 1 and 4; the rest by what any handbook allows.
BOUNDS = {
    "amorphous thermoplastic": ((0.13, 0.30), (850, 2500), (900, 1420)),
    "amorphous thermoplastic (few % crystallinity)": ((0.13, 0.30), (850, 2500), (1250, 1420)),
    "crystallisable thermoplastic": ((0.15, 0.30), (950, 2300), (1100, 1400)),
    "semi-crystalline thermoplastic": ((0.15, 0.55), (1300, 3000), (700, 1450)),
    "plasticised thermoplastic": ((0.12, 0.25), (1100, 2300), (1100, 1500)),
    "plastisol": ((0.12, 0.25), (1100, 2300), (1000, 1350)),
    "thermoset moulding compound": ((0.18, 1.0), (850, 2000), (1100, 2000)),
    "tooling polymer": ((0.15, 1.5), (950, 1900), (1000, 1800)),
    "tooling natural": ((0.1, 0.3), (1200, 2500), (500, 900)),
    "tooling ceramic": ((1.0, 3.0), (700, 1200), (2200, 2600)),
    "tooling metal": ((10.0, 260.0), (380, 1100), (2600, 9000)),
    "conductor": ((200.0, 410.0), (370, 1050), (2600, 9000)),
    "porous textile": ((0.03, 0.12), (1100, 2000), (150, 800)),
    "fluid": ((0.02, 0.7), (1000, 4300), (0.5, 1100)),
}

# what the data must hold beside conductivity, specific_heat and density, so that nothing is lost unnoticed
SECTIONS = {
    "abs": "glass_transition expansion forming surface_limit drying mass_loss radiation checks",
    "acrylic_tool": "service radiation",
    "air": "viscosity prandtl expansion_coefficient",
    "aluminium_cast": "service radiation",
    "aluminium_conductor": "service radiation",
    "aluminium_plate": "service radiation checks",
    "aluminium_wrought": "service radiation checks",
    "beryllium_copper_conductive": "service radiation",
    "beryllium_copper_strong": "service radiation",
    "copper": "service radiation checks",
    "cotton_fabric": "surface_limit fibre fabric moisture radiation",
    "epoxy_casting": "kinetics moulding release surface_limit radiation checks",
    "epoxy_compound": "kinetics moulding release surface_limit radiation",
    "epoxy_tooling": "service radiation",
    "hardwood": "service radiation checks",
    "hdpe": "glass_transition melting crystallising expansion forming surface_limit mass_loss radiation checks",
    "hips": "glass_transition expansion forming surface_limit mass_loss radiation checks",
    "ldpe": "glass_transition melting crystallising expansion forming wire surface_limit mass_loss radiation checks",
    "mf_compound": "kinetics moulding release surface_limit powder radiation",
    "pa6": "glass_transition melting crystallising expansion moulding surface_limit drying mass_loss radiation checks",
    "pa66": "glass_transition melting crystallising expansion moulding surface_limit drying mass_loss radiation checks",
    "pc": "glass_transition expansion forming surface_limit drying mass_loss radiation checks",
    "pet": "glass_transition melting cold_crystallising expansion forming "
    "surface_limit drying mass_loss radiation checks",
    "petg": "glass_transition expansion forming surface_limit mass_loss radiation checks",
    "pf_compound": "kinetics moulding release surface_limit powder radiation checks",
    "phenolic_laminate": "service radiation",
    "pmma_cast": "glass_transition expansion forming surface_limit drying mass_loss radiation checks",
    "pom": "glass_transition melting crystallising expansion moulding surface_limit mass_loss radiation checks",
    "porcelain_former": "service radiation checks",
    "pp": "glass_transition melting crystallising expansion forming surface_limit mass_loss radiation checks",
    "ps": "glass_transition expansion forming surface_limit mass_loss radiation checks",
    "pvc_paste_dip": "glass_transition states oven strip surface_limit liquid recipe radiation checks",
    "pvc_paste_spread": "glass_transition states oven strip surface_limit liquid recipe radiation checks",
    "pvc_plasticised": "glass_transition melting forming milling surface_limit recipe radiation checks",
    "pvc_rigid": "glass_transition melting expansion forming milling surface_limit mass_loss radiation checks",
    "pvc_wire_covering": "glass_transition wire surface_limit recipe radiation checks",
    "silicone_rubber": "service radiation checks",
    "steel_h13": "service radiation",
    "steel_mild": "service radiation checks",
    "steel_p20": "service radiation",
    "steel_stainless": "service radiation checks",
    "thermal_oil": "viscosity prandtl expansion_coefficient service",
    "uf_compound": "kinetics moulding release surface_limit powder radiation",
    "up_compound": "kinetics moulding release surface_limit radiation checks",
    "water": "viscosity prandtl expansion_coefficient",
    "water_glycol_30": "viscosity prandtl",
    "water_glycol_50": "viscosity prandtl",
}
# temperatures that the example cases and the trade reach [degC]
REACHED = {"abs": 220, "hips": 220, "pp": 230, "hdpe": 230, "petg": 200, "pmma_cast": 210, "pc": 250, "pvc_rigid": 200}


@EVERY
def test_properties_lie_within_what_their_class_of_material_allows(name: str) -> None:
    material = load(name)
    for table, (low, high) in zip(
        (material.conductivity, material.specific_heat, material.density), BOUNDS[material.family], strict=True
    ):
        assert low <= table.value.min() and table.value.max() <= high, table.name


@EVERY
def test_tables_are_in_order_and_say_where_they_come_from(name: str) -> None:
    for table in load(name).properties.values():
        assert len(table.temperature) >= 2
        assert np.all(np.diff(table.temperature) > 0.0)
        assert np.all(np.isfinite(table.value)) and np.all(table.value > 0.0)
        assert table.confidence in CONFIDENCES
        assert table.source and all(table.source)
        assert table.uncertainty is not None and 0.0 < table.uncertainty < 0.5


@EVERY
def test_density_falls_and_conductivity_has_no_leap(name: str) -> None:
    material = load(name)
    assert np.all(np.diff(material.density.value) <= 0.0)
    assert np.all(np.abs(np.diff(np.log(material.conductivity.value))) < 0.25)


@EVERY
def test_every_section_has_confidence_and_sources(name: str) -> None:
    record = load(name).record
    for key, section in record.items():
        if not isinstance(section, dict) or key == "checks":
            continue
        if key == "radiation":
            if "emissivity" in section:
                assert section["emissivity_confidence"] in CONFIDENCES and section["emissivity_sources"]
                assert 0.0 < section["emissivity"] <= 1.0
            for band in section.get("bands", {}).get("each", ()):
                assert band["confidence"] in CONFIDENCES and band["sources"]
            continue
        assert section["confidence"] in CONFIDENCES, key
        assert section["sources"], key
    for check in record.get("checks", {}).get("each", ()):
        assert check["source"]


@EVERY
def test_every_reference_is_used(name: str) -> None:
    path = Path(thermokit.materials.__file__).parent / "data" / f"{name}.toml"
    raw = tomllib.loads(path.read_text(encoding="utf-8"))

    def numbers(entry: object, key: str = "") -> set[int]:
        if isinstance(entry, dict):
            return set().union(*(numbers(v, k) for k, v in entry.items()), set())
        if isinstance(entry, list):
            if key.endswith("sources"):
                return set(entry)
            return set().union(*(numbers(v) for v in entry), set())
        return {entry} if key == "source" and isinstance(entry, int) else set()

    assert numbers(raw) == set(range(1, len(raw["references"]) + 1))


@EVERY
def test_transitions_and_limits_are_in_order(name: str) -> None:
    material = load(name)
    for latent in (material.melting, material.crystallising, material.cold_crystallising):
        if latent is not None:
            assert latent.peak is not None and latent.low < latent.peak < latent.high
            assert 500.0 < latent.heat < 300e3
            if latent.heat_low is not None and latent.heat_high is not None:
                assert latent.heat_low <= latent.heat <= latent.heat_high
    if material.melting and material.crystallising:
        assert material.crystallising.peak < material.melting.peak  # type: ignore[operator]
        assert material.crystallising.heat == material.melting.heat
        assert material.melting.low < material.specific_heat.temperature[-1]
    if material.glass_transition:
        assert material.glass_transition.low < material.glass_transition.temperature < material.glass_transition.high
    if forming := material.forming:
        assert forming["lower"] <= forming["ideal_low"] < forming["ideal_high"] <= forming["upper"]
        assert forming["mould_low"] < forming["mould_high"] and forming["release_low"] < forming["release_high"]
        assert forming["release_high"] < forming["lower"]
    if limit := material.surface_limit:
        assert limit["caution"] < limit["scorch"]
        assert 10.0 <= limit["longest_at_scorch"] <= 1000.0


@EVERY
def test_shares_and_bands_of_radiation_are_consistent(name: str) -> None:
    radiation = load(name).record.get("radiation", {})
    for _, thickness, *shares in radiation.get("shares", {}).get("rows", ()):
        assert thickness > 0 and sum(shares) == pytest.approx(1.0, abs=0.021)  # given to two digits
    bands = radiation.get("bands", {}).get("each", ())
    assert all(a["wavelength"][1] == b["wavelength"][0] for a, b in pairwise(bands))
    for band in bands:
        by_depth = [
            band[k] for k in ("absorption", "effective_0p5_mm", "effective_1_mm", "effective_3_mm") if k in band
        ]
        assert by_depth == sorted(by_depth, reverse=True) and by_depth[-1] > 0.0


@EVERY
def test_checks_beside_the_tables_hold(name: str) -> None:
    material = load(name)
    for check in material.record.get("checks", {}).get("each", ()):
        here = float(material.properties[check["quantity"]].at(check["temperature"] + 273.15))
        assert check["table"] == pytest.approx(here, rel=5e-3)
        assert check["difference_percent"] == pytest.approx((check["table"] / check["reference"] - 1) * 100, abs=0.15)


def test_liquids_and_air_have_the_prandtl_number_of_their_own_tables() -> None:
    for name in ("air", "water", "thermal_oil", "water_glycol_30", "water_glycol_50"):
        fluid = load(name)
        at = fluid.properties["prandtl"].temperature
        own = fluid.properties["viscosity"].at(at) * fluid.specific_heat.at(at) / fluid.conductivity.at(at)
        assert fluid.properties["prandtl"].value == pytest.approx(own, rel=0.01)


@pytest.mark.parametrize("name", SECTIONS)
def test_nothing_is_lost(name: str) -> None:
    record = load(name).record
    assert set(SECTIONS[name].split()) == {k for k, v in record.items() if isinstance(v, dict)} - {
        "conductivity",
        "specific_heat",
        "density",
    }


def test_the_library_is_whole() -> None:
    assert len(names()) == 47
    assert sum(len(load(n).record.get("checks", {}).get("each", ())) for n in names()) == 125
    assert sum(len(load(n).record.get("radiation", {}).get("bands", {}).get("each", ())) for n in names()) == 116
    assert sum("shares" in load(n).record.get("radiation", {}) for n in names()) == 15
    assert sum(load(n).emissivity is not None for n in names()) == 42
    assert sum(bool(load(n).cautions) for n in names()) == 31
    assert [h[0] for h in headings()] == names()
    assert all(h == (load(h[0]).id, load(h[0]).name, load(h[0]).family) for h in headings())


@pytest.mark.parametrize(("name", "hottest"), REACHED.items())
def test_ranges_cover_what_the_trade_reaches(name: str, hottest: float) -> None:
    assert load(name).warnings_outside(293.15, hottest + 273.15) == []


def test_a_run_beyond_a_table_is_named() -> None:
    assert load("abs").warnings_outside(293.15, 534.15) == [
        "conductivity of abs: table covers 20 to 240 degC, the run reached 261 degC (the end value was held)",
        "specific heat of abs: table covers 0 to 240 degC, the run reached 261 degC (the end value was held)",
    ]


@EVERY
def test_default_kinetics_are_in_the_library(name: str) -> None:
    for one in load(name).kinetics:
        assert kinetics.load(one).status == "recommended"
    for one in load(name).record.get("kinetics", {}).get("related", ()):
        assert kinetics.load(one)


@pytest.mark.parametrize(
    ("name", "low", "high", "heat"),
    # kJ/kg that the trade reckons with, from general polymer engineering tables: PS, PC, PP and LDPE melts
    [
        ("ps", 20, 200, (290, 340)),
        ("pc", 20, 300, (460, 500)),
        ("pp", 20, 230, (560, 630)),
        ("ldpe", 20, 200, (490, 610)),
    ],
)
def test_heat_to_the_melt_is_what_the_trade_reckons_with(
    name: str, low: float, high: float, heat: tuple[float, float]
) -> None:
    material = load(name)
    rise = float(material.enthalpy(high + 273.15) - material.enthalpy(low + 273.15)) / 1e3
    assert heat[0] < rise < heat[1]


@pytest.mark.parametrize("name", ["abs", "hdpe", "pp", "steel_mild"])
@pytest.mark.parametrize("cooling", [False, True])
def test_enthalpy_is_the_integral_of_what_a_calorimeter_shows(name: str, cooling: bool) -> None:
    material = load(name)
    for celsius in (-20.0, 20.0, 108.0, 125.0, 131.0, 200.0, 300.0):
        kinks = sorted({*material.specific_heat.temperature, *_ends(material)})
        exact, _ = quad(
            lambda t: float(material.apparent_specific_heat(t, cooling)),
            293.15,
            celsius + 273.15,
            points=kinks,
            limit=400,
        )
        assert float(material.enthalpy(celsius + 273.15, cooling)) == pytest.approx(exact, rel=1e-8, abs=1e-6)


def _ends(material: Material) -> list[float]:
    found = [latent for latent in (material.melting, material.crystallising) if latent]
    return [t for latent in found for t in (latent.low, latent.peak or latent.low, latent.high)]


def test_latent_heat_is_spread_whole() -> None:
    for latent in (LatentHeat(2e5, 370.0, 390.0, 400.0), LatentHeat(2e5, 370.0, None, 400.0)):
        assert list(latent.share([300.0, 370.0, 400.0, 500.0])) == [0.0, 0.0, 1.0, 1.0]
        at = np.linspace(365.0, 405.0, 41) + 0.25
        slope = (latent.share(at + 1e-4) - latent.share(at - 1e-4)) / 2e-4
        assert latent.extra_specific_heat(at) == pytest.approx(2e5 * slope, rel=1e-6, abs=1e-3)
    edge = LatentHeat(1e5, 370.0, 370.0, 400.0)  # a peak at the end of the range
    assert np.all(np.isfinite(edge.share([370.0, 371.0, 400.0])))
    assert float(edge.share(400.0)) == 1.0


def test_a_property_is_linear_between_nodes_and_held_outside() -> None:
    table = Property("x", np.array([300.0, 400.0, 450.0]), np.array([1.0, 3.0, 2.0]), "", "", ())
    assert list(table.at([250.0, 350.0, 425.0, 500.0])) == [1.0, 2.0, 2.5, 2.0]
    for t in (250.0, 300.0, 333.0, 400.0, 440.0, 450.0, 600.0):
        exact, _ = quad(lambda u: float(table.at(u)), 300.0, t, points=[400.0, 450.0], limit=100)
        assert float(table.integral(t)) == pytest.approx(exact, rel=1e-9)
    assert float(Property("x", np.array([300.0]), np.array([2.0]), "", "", ()).integral(310.0)) == 20.0


@pytest.mark.parametrize(
    ("wrong", "near"), [("ab", "abs"), ("polypropylene", ""), ("steel", "steel_mild"), ("../abs", "")]
)
def test_an_unknown_material_is_a_plain_message(wrong: str, near: str) -> None:
    with pytest.raises(DataError, match="no material") as caught:
        load(wrong)
    assert near in str(caught.value)
    with pytest.raises(DataError):
        load("x" * 5000)


def test_only_the_file_asked_for_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    read, real = [], Path.read_text

    def noted(path: Path, *args: object, **options: object) -> str:
        read.append(path.name)
        return real(path, *args, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "read_text", noted)
    load("hdpe")
    assert read == ["hdpe.toml"]


def test_records_are_plain_data() -> None:
    for name in names():
        record = load(name).record
        assert json.loads(json.dumps(record, allow_nan=False)) == record


def test_recipes_hold_the_mixing_rules_and_reproduce_the_compounds() -> None:
    path = Path(thermokit.materials.__file__).parent / "recipes" / "pvc_compound.toml"
    recipes = tomllib.loads(path.read_text(encoding="utf-8"))
    assert len(recipes["components"]) == 12 and len(recipes["examples"]) == 6 and len(recipes["checks"]["each"]) == 5
    for example, name in (
        ("wire_covering", "pvc_wire_covering"),
        ("calendered_flexible_sheet", "pvc_plasticised"),
        ("dip_paste", "pvc_paste_dip"),
        ("fabric_spread_paste", "pvc_paste_spread"),
    ):
        mixed, made = recipes["examples"][example], load(name)
        assert mixed["parts"] == made.record["recipe"]["parts"]
        at = np.array(mixed["temperature"]) + 273.15
        assert mixed["specific_heat"] == pytest.approx(made.specific_heat.at(at), rel=2e-3)
        # rule of mixtures by volume, written out again
        weights = np.array(list(mixed["parts"].values())) / sum(mixed["parts"].values())
        densities = [
            np.interp(
                mixed["temperature"], recipes["components"][c]["temperature"], recipes["components"][c]["density"]
            )
            for c in mixed["parts"]
        ]
        assert mixed["density"] == pytest.approx(1.0 / (weights[:, None] / np.array(densities)).sum(axis=0), rel=1e-4)
        assert mixed["density"] == pytest.approx(made.density.at(at), rel=2e-3)
