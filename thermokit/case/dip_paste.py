"""The paste: what it is, how it gels, how it flows, and the bath of it over a shift."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import LibraryName, Number, Quantity, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

KINETICS = ("pvc_paste_gelation", "pvc_paste_fusion", "pvc_heat_dose")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BathEntry(Section):
    """The bath over a shift: hot formers warm it, fresh paste and the room cool it."""

    meaning = "the bath over a shift: hot formers warm it, fresh paste, room and jacket cool it"

    mass: Numeric = key(Quantity("mass", above=0.0, high=1e6, example="150 kg"), "Paste in the bath.")
    dips: Numeric = key(Quantity("rate", low=0.0, high=1e4, example="90 1/h"), "Formers dipped in a time.")
    shift: Numeric = key(Quantity("time", above=0.0, high=1e7, example="8 h"), "Length of the shift.", default=28_800.0)
    losses: Numeric = key(
        Quantity("thermal_conductance", low=0.0, high=1e6, example="15 W/K"),
        "Heat that bath and jacket give off for each kelvin above the room.", default=0.0,
    )  # fmt: skip
    room: Numeric = key(TEMPERATURE, "Temperature of the room or of the jacket's water.", default=295.15)
    fresh: Numeric | None = key(
        TEMPERATURE, "Temperature of the paste that replaces what formers take away.", default=None,
        default_words="the room's",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PasteSection(Section):
    """The paste."""

    meaning = "the paste"

    material: str = key(LibraryName("materials"), "What it is made of.", default="pvc_paste_dip")
    kinetics: tuple[str, ...] = key(
        ListOf(LibraryName("kinetics"), least=1, most=10, single=True),
        "How it gels, fuses and uses up its heat life: sets for gel_degree, fusion_degree and heat_dose.", default=KINETICS,
    )  # fmt: skip
    temperature: Numeric = key(TEMPERATURE, "Temperature of the bath.", default=297.15)
    stays: Numeric = key(
        share(above=0.0, high=0.99),
        "Gel degree from which it stays on the former: 0.3 to 0.5 is a tack-free dry gel.", default=0.4,
    )  # fmt: skip
    viscosity: Numeric = key(
        Quantity("viscosity", above=0.0, high=1e6, example="2 Pa s"),
        "Viscosity in the bath; with an index the consistency, the viscosity at a shear rate of 1 1/s less the yield stress.",
        default=2.0, default_words="2 Pa s: assumed",
    )  # fmt: skip
    yield_stress: Numeric = key(
        Quantity("pressure", low=0.0, high=1e5, example="5 Pa"), "Stress below which it does not flow.", default=0.0
    )
    index: Numeric = key(
        Number(low=0.1, high=2.0), "Flow index: 1 Newtonian or Bingham, below 1 thinner when sheared.", default=1.0
    )
    surface_tension: Numeric = key(
        Quantity("surface_tension", above=0.0, high=1.0, example="33 mN/m"), "Surface tension.", default=0.033,
        default_words="33 mN/m: assumed",
    )  # fmt: skip
    depth: Numeric | None = key(
        Quantity("length", above=0.0, high=1.0, example="8 mm"),
        "How far from the former the paste is followed; beyond it keeps the bath's temperature.", default=None,
        default_words="four times sqrt(diffusivity x dwell), 2 to 30 mm, and enough for what clings",
    )  # fmt: skip
    emissivity: Numeric | None = key(share(), "Emissivity of the coat.", default=None, default_words="the material's")
    bath: BathEntry | None = key(
        Sub(BathEntry), "The bath over a shift.", default=None, default_words="it keeps its temperature"
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """Two sets of the same kind would fight; found with the whole case, here only repeated names."""
        if known(self.kinetics) and known(*self.kinetics) and len(set(self.kinetics)) < len(self.kinetics):
            (at / "kinetics").mistake("a name stands twice", "each name once")
