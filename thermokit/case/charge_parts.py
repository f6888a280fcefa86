"""The charge itself: powder, preform or dough, alone or in layers with inserts, and how it lies before it is pressed."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.blank import DoseEntry
from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import LibraryName, Number, Quantity, Text, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

THICKNESS = Quantity("length", above=0.0, high=10.0, example="6 mm")
MASS = Quantity("mass", above=0.0, high=1e5, example="42 g")
CONDUCTIVITY = Quantity("conductivity", above=0.0, high=1e5, example="0.11 W/m/K")
_KINETICS = ListOf(LibraryName("kinetics"), most=10, single=True)
_MATERIALS_OWN = "the material's own sets; [] for none"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CuredEntry(Section):
    """Properties of the cured charge, where they differ from those of the fresh one."""

    meaning = (
        "properties of the cured charge; cure stations take the mean of fresh and cured, those after them the cured"
    )

    conductivity: Numeric | None = key(
        CONDUCTIVITY, "Thermal conductivity when cured.", default=None, default_words="as fresh"
    )
    specific_heat: Numeric | None = key(
        Quantity("specific_heat", above=0.0, high=1e8, example="1400 J/kg/K"), "Specific heat when cured.", default=None,
        default_words="as fresh",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LooseEntry(Section):
    """How the charge lies in the mould until the press begins to close: a heap of powder, a preform."""

    meaning = "how the charge lies in load stations: a heap of powder, a preform"

    thickness: Numeric = key(THICKNESS, "How thick it lies.")
    cover: Numeric = key(
        share(above=0.0), "Share of the projected area that it covers; its density follows from this.", default=1.0
    )
    conductivity: Numeric | None = key(
        CONDUCTIVITY, "Thermal conductivity of what lies there.", default=None,
        default_words="that of the material's powder; where none is known, that of the pressed charge",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ChargeLayer(Section):
    """One layer of a charge that is laid up, or an insert."""

    meaning = "one layer of the charge, from the upper face downwards; an insert is a layer that does not react"

    name: str = key(Text(100), "Its name.", default="", default_words="layer_1, ...")
    material: str = key(LibraryName("materials"), "What it is made of.")
    thickness: Numeric | None = key(THICKNESS, "Its thickness as pressed.", default=None, default_words="from its mass")
    mass: Numeric | None = key(
        MASS, "Its mass, flash not counted; needs the projected area.", default=None, default_words="thickness is given"
    )
    start: Numeric | None = key(
        TEMPERATURE, "Its temperature when it is loaded.", default=None, default_words="the charge's start"
    )
    kinetics: tuple[str, ...] | None = key(
        _KINETICS, "What reacts in it: one name or a list.", default=None, default_words=_MATERIALS_OWN
    )
    cured: CuredEntry | None = key(
        Sub(CuredEntry, inline=True), "Its properties when cured.", default=None, default_words="as fresh"
    )
    contact: Numeric | None = key(
        Quantity("heat_transfer_coefficient", above=0.0, high=1e12, example="2000 W/m2/K"),
        "Conductance of the contact to the layer below.", default=None, default_words="perfect contact",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """One of thickness and mass."""
        one_of_two(at, given, "thickness", "mass")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ChargeSection(Section):
    """The charge: one material, or layers."""

    meaning = "the charge"

    material: str | None = key(
        LibraryName("materials"), "What it is made of.", default=None, default_words="layers are given"
    )
    thickness: Numeric | None = key(
        THICKNESS, "Its thickness as pressed; where the moulding is thickest, that decides.", default=None,
        default_words="from its mass, or layers are given",
    )  # fmt: skip
    mass: Numeric | None = key(
        MASS, "Its mass with the flash; needs the projected area.", default=None, default_words="thickness is given"
    )
    start: Numeric | None = key(
        TEMPERATURE, "Its temperature when it is loaded: cold, or preheated.", default=None,
        default_words="each layer then needs its own",
    )  # fmt: skip
    kinetics: tuple[str, ...] | None = key(
        _KINETICS, "What reacts in it: one name or a list.", default=None, default_words=_MATERIALS_OWN
    )
    cured: CuredEntry | None = key(
        Sub(CuredEntry, inline=True), "Its properties when cured.", default=None, default_words="as fresh"
    )
    layers: tuple[ChargeLayer, ...] = key(
        ListOf(Sub(ChargeLayer), most=100, naming="layer"), "Layers from the upper face downwards, instead of material.",
        default=(), default_words="one material",
    )  # fmt: skip
    loose: LooseEntry | None = key(
        Sub(LooseEntry, inline=True), "How it lies in load stations.", default=None, default_words="as when pressed"
    )
    rate: Numeric = key(
        Number(above=0.0, high=1e6), "Factor on every rate of cure: for batches that differ, and for tolerances.",
        default=1.0,
    )  # fmt: skip
    gel_degree: Numeric | None = key(
        share(above=0.0), "Degree at which it gels and no longer flows.", default=None,
        default_words="that of the kinetics, where known",
    )  # fmt: skip
    dose: DoseEntry | None = key(
        Sub(DoseEntry), "Heat history for over-cure.", default=None, default_words="not followed"
    )
    area: Numeric | None = key(
        Quantity("area", above=0.0, high=1e4, example="30 cm2"), "Projected area of the moulding, for mass and force.",
        default=None, default_words="no mass, no force",
    )  # fmt: skip
    volume: Numeric | None = key(
        Quantity("volume", above=0.0, high=1e4, example="18 cm3"), "Volume of the moulding.", default=None,
        default_words="projected area times thickness",
    )  # fmt: skip
    flash: Numeric = key(share(), "Flash, as a share of the moulding: added to the charge.", default=0.0)
    pressure: Numeric | None = key(
        Quantity("pressure", above=0.0, high=1e10, example="30 MPa"), "Moulding pressure on the projected area.",
        default=None, default_words="no clamp force",
    )  # fmt: skip
    rating: Numeric | None = key(
        Quantity("force", above=0.0, high=1e12, example="50 tonf"), "Force that the press is rated for; more is refused.",
        default=None, default_words="not checked",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """A material or layers; what each needs."""
        alone = [word for word in ("material", "thickness", "mass", "kinetics", "cured", "loose") if word in given]
        if "layers" in given:
            if alone:
                (at / "layers").mistake(
                    f"stand together with {' and '.join(alone)}", "material and thickness (or mass), or layers"
                )
            if known(self.layers) and known(*self.layers) and not self.layers:
                (at / "layers").mistake(
                    "0 entries", "from 1 to 100 entries", "or material and thickness without layers"
                )
        elif "material" not in given:
            (at / "material").mistake(
                "missing: neither a material nor layers are given", "material, or [[charge.layers]]"
            )
        else:
            one_of_two(at, given, "thickness", "mass")
        if {"mass", "volume"} <= given:
            (at / "volume").mistake("stands together with mass", "mass, or volume from which the mass follows")
        if "rating" in given:
            for word in ("area", "pressure"):
                if word not in given:
                    (at / word).mistake(
                        "missing: a rating is held against area times pressure", "both area and pressure"
                    )
        self._check_area(at, given)
        if known(self.layers, self.start) and self.start is None and not at.report.starts_from:
            entries = self.layers or (None,)
            for i, layer in enumerate(entries):
                if layer is None:
                    (at / "start").mistake("missing", TEMPERATURE.words())
                elif known(layer) and known(layer.start) and layer.start is None:
                    (at / "layers" / i / "start").mistake(
                        "missing: neither the charge nor the layer has a start", TEMPERATURE.words()
                    )

    def _check_area(self, at: At, given: frozenset[str]) -> None:
        """A mass needs the area that it is spread over."""
        by_mass = "mass" in given
        if known(self.layers):
            by_mass = by_mass or any(known(e) and known(e.mass) and e.mass is not None for e in self.layers)
        if by_mass and "area" not in given:
            (at / "area").mistake("missing: a mass is spread over it", 'the projected area, such as "30 cm2"')


def one_of_two(at: At, given: frozenset[str], first: str, second: str) -> None:
    """Exactly one of two keys stands in the file."""
    if {first, second} <= given:
        (at / second).mistake(f"stands together with {first}", f"{first} or {second}")
    elif not {first, second} & given:
        (at / first).mistake(f"missing: neither {first} nor {second} is given", f"{first} or {second}")
