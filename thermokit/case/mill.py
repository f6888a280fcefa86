"""A band of compound on a two-roll mill, ``process = "mill"``. Depth counts from the front roll, on which the band runs."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.common import DURATION, Case, StartKey, total
from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Named, OneOf, Sub
from thermokit.case.stuff import TEMPERATURE, OwnKinetics
from thermokit.case.tables import Sought, Varying
from thermokit.case.values import Choice, LibraryName, Number, Quantity, Text, Whole, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number as Numeric
    from thermokit.conduction.problem import Varying as Changing

MOST_FOLDS = 60
STIFFEST = 12.0  # e-folds of viscosity from the reference to the feed: beyond it the law says nothing
_LENGTH = Quantity("length", above=0.0, high=100.0, example="600 mm")
_COEFFICIENT = Quantity("heat_transfer_coefficient", low=0.0, high=1e6, example="400 W/m2/K")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BandSection(Section):
    """The band of compound."""

    meaning = "the band of compound"

    material: str = key(LibraryName("materials"), "What it is made of; [materials.NAME.recipe] mixes a PVC compound.")
    thickness: Numeric = key(Quantity("length", above=0.0, high=0.1, example="3 mm"), "Its thickness: the nip.")
    start: Numeric = key(
        TEMPERATURE, "Temperature of the compound as it is fed.", default=None,
        default_words="must be given, unless start_from gives it",
    )  # fmt: skip
    width: Numeric | None = key(
        _LENGTH, "Width of the band, for mass and power.", default=None, default_words="power by m2 of band only"
    )
    kinetics: tuple[str, ...] = key(
        ListOf(LibraryName("kinetics"), most=10, single=True),
        "What goes on in it: gelation, fusion, heat life; one name or a list.", default=(),
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """It begins somewhere."""
        if "start" not in given and not at.report.starts_from:
            (at / "start").mistake("missing", TEMPERATURE.words())


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FrictionEntry(Section):
    """Viscosity of the compound in the nip, from which the friction heat follows."""

    meaning = "viscosity in the nip, by which the rolls' difference in speed makes heat"

    viscosity: Numeric = key(
        Quantity("viscosity", low=0.0, high=1e9, example="20000 Pa s"),
        "Viscosity of the compound at the reference temperature and the shear rate of the nip.",
    )
    reference: Numeric = key(
        Quantity("temperature", low=200.0, high=800.0, example="170 degC"), "Temperature of that viscosity."
    )
    softening: Numeric = key(
        Quantity("inverse_temperature", low=0.0, high=1.0, example="0.02 1/K"),
        "How fast it falls: viscosity exp[-softening (T - reference)].", default=0.02, default_words="0.02 1/K: assumed",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RollsSection(Section):
    """The rolls."""

    meaning = "the rolls"

    diameter: Numeric = key(_LENGTH, "Diameter of the rolls.")
    front: Numeric = key(TEMPERATURE, "Face of the front roll, on which the band runs.")
    back: Numeric = key(TEMPERATURE, "Face of the back roll.")
    speed: Numeric = key(
        Quantity("speed", above=0.0, high=100.0, example="20 m/min"), "Surface speed of the front roll."
    )
    friction: Numeric = key(
        Number(low=1.0, high=10.0), "Surface speed of the faster roll over that of the slower one.", default=1.2
    )
    contact: Numeric = key(
        _COEFFICIENT, "Conductance between band and front roll.", default=400.0,
        default_words="400 W/m2/K: a web held by its tension, from memory 150 to 1000",
    )  # fmt: skip
    nip_contact: Numeric = key(
        _COEFFICIENT, "Conductance between band and back roll in the nip.", default=2500.0,
        default_words="2500 W/m2/K: a pressed bank, from memory 1000 to 6000",
    )  # fmt: skip
    heat: FrictionEntry | None = key(
        Sub(FrictionEntry), "Friction heat by viscosity.", default=None, default_words="none, or power"
    )
    power: Numeric | None = key(
        Quantity("power", low=0.0, high=1e8, example="4 kW"),
        "Power that goes into the compound, motor under load less motor running empty: instead of heat.", default=None,
        default_words="none, or heat",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """Friction heat comes from one place."""
        if {"heat", "power"} <= given:
            (at / "power").mistake("stands together with heat", "power as measured, or heat by viscosity")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MillAir(Section):
    """The air on the band."""

    meaning = "the air on the band"

    temperature: Changing = key(Varying(TEMPERATURE), "Temperature of the air.")
    coefficient: Changing = key(Varying(_COEFFICIENT), "Heat transfer coefficient, radiation counted with it.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MillStation(Section):
    """The band on the mill."""

    meaning = "the band on the mill"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    kind: str = key(Choice(("mill",)), "Kind of station.", default="mill", stated=True)
    duration: Numeric | Find = key(Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.')
    folds: int = key(
        Whole(0, MOST_FOLDS), "How often the band is cut and folded, at equal distances of time, which evens it out.", default=0,
        physical=False,
    )  # fmt: skip
    air: MillAir = key(Sub(MillAir), "Air on the band.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OffStation(Section):
    """The sheet off the mill, in the air."""

    meaning = "the sheet off the mill, air on both faces"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    kind: str = key(Choice(("air",)), "Kind of station.", default="air", stated=True)
    duration: Numeric | Find = key(Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.')
    air: MillAir = key(Sub(MillAir), "The air.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MillLimits(Section):
    """What the band must keep to when it is sheeted off."""

    meaning = "what the band must keep to when it is sheeted off"

    gel_degree: Numeric | None = key(
        share(), "Lowest degree of gelation at sheet-off: at least this.", default=None,
        default_words="0.95 (common practice) where the band gels",
    )  # fmt: skip
    fusion_degree: Numeric | None = key(
        share(), "Lowest degree of fusion at sheet-off: at least this.", default=None, default_words="none"
    )
    hottest: Numeric | None = key(
        TEMPERATURE, "Hottest place at any time: at most this.", default=None,
        default_words="the material's caution temperature, where it has one",
    )  # fmt: skip
    heat_dose: Numeric | None = key(
        Number(above=0.0, high=1e6), "Share of the heat life used up: at most this.", default=None,
        default_words="0.3 (common practice) where the band has a set for it",
    )  # fmt: skip
    spread: Numeric | None = key(
        Quantity("temperature_difference", above=0.0, high=1e4, example="10 K"),
        "Hottest less coldest place at sheet-off: at most this.", default=None, default_words="none",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MillCase(Case):
    """A band of compound on a two-roll mill."""

    meaning = "a band of compound on a two-roll mill until it has gelled"

    process: str = key(Choice(("mill",)), "Kind of case.", default="mill", stated=True)
    band: BandSection = key(Sub(BandSection), "The band.")
    rolls: RollsSection = key(Sub(RollsSection), "The rolls.")
    kinetics: Mapping[str, OwnKinetics] = key(Named(Sub(OwnKinetics)), "Kinetics of your own, by name.", default={})
    stations: tuple[MillStation | OffStation, ...] = key(
        ListOf(OneOf("kind", (("mill", MillStation), ("air", OffStation))), least=1, most=100, naming="station"),
        "What the band passes through, in order.",
    )
    limits: MillLimits = key(Sub(MillLimits), "What the band must keep to.", default=MillLimits())

    def depth(self) -> Any:
        """Thickness of the band [m]."""
        return total([self.band.thickness]) if known(self.band) else None

    def starts(self) -> list[StartKey]:
        """The band."""
        return [StartKey("band", ("band", "start"), self.band.start)]

    def check(self, at: At, given: frozenset[str]) -> None:
        """On the mill first, then off it; power needs a width; limits need what they look at."""
        super().check(at, given)
        if known(self.stations) and known(*self.stations):
            kinds = [station.kind for station in self.stations]
            if kinds[0] != "mill":
                (at / "stations" / "0" / "kind").mistake("the band is not on the mill yet", '"mill" first')
            for i in range(1, len(kinds)):
                if kinds[i] == "mill" and kinds[i - 1] == "air":
                    (at / "stations" / str(i) / "kind").mistake(
                        "the band is off the mill already", "mill stations before air"
                    )
        if known(self.band, self.rolls) and self.rolls.power is not None and self.band.width is None:
            (at / "band" / "width").mistake("missing: power is spread over the band", _LENGTH.words())
        if known(self.band, self.rolls):
            self._check_friction(at / "rolls" / "heat" / "softening")
        if known(self.band, self.limits) and known(self.band.kinetics) and known(*self.band.kinetics):
            self._check_limits(at / "limits")

    def _check_friction(self, at: At) -> None:
        """The law of the viscosity must reach to the temperature at which the compound is fed."""
        heat, start = self.rolls.heat, self.band.start
        if not known(heat, start) or heat is None or start is None or not known(heat.softening, heat.reference):
            return
        stiffer = np.max(np.multiply(heat.softening, np.subtract(heat.reference, start)))
        if stiffer > STIFFEST:
            at.mistake(
                f"as it is fed the compound would be {np.exp(min(float(stiffer), 99.0)):.1g} times as stiff",
                f"softening (reference - band.start) up to {STIFFEST:g}",
                "a viscosity measured nearer to the temperature of the feed",
            )

    def _check_limits(self, at: At) -> None:
        """A limit needs what it looks at; a recipe may bring its own."""
        from thermokit.case.dip_checks import states_of

        if not known(self.kinetics, self.materials):
            return
        own = self.materials.get(self.band.material) if known(self.band.material) else None
        if own is not None and getattr(own, "recipe", None) is not None:
            return
        states = states_of(self.band.kinetics, self.kinetics)
        for word in ("gel_degree", "fusion_degree", "heat_dose"):
            if getattr(self.limits, word) is not None and word not in states:
                (at / word).mistake("the case does not follow what this limits", f"a set for {word} in band.kinetics")


TEMPLATE = """\
# A PVC compound on a two-roll mill. `thermokit explain KEY` tells what a key means, `thermokit dwell FILE` answers.
title = "How long to mill a plasticised PVC compound"
process = "mill"

[band]                          # depth counts from the front roll
material = "pvc_plasticised"    # or a recipe of your own: [materials.NAME.recipe]
thickness = "3 mm"
start = "60 degC"               # as it is fed
width = "600 mm"
kinetics = ["milling", "pvc_heat_dose"]

[kinetics.milling]              # assumed: set it so that a trial of yours comes out
state = "gel"
rate_1 = { factor = "2e10 1/s", energy = "105 kJ/mol" }
rate_2 = { factor = "0 1/s", energy = "0 kJ/mol" }
m = 0
n = 1
heat = "0 kJ/kg"

[rolls]
diameter = "300 mm"
front = "155 degC"
back = "152 degC"
speed = "18 m/min"
friction = 1.2                  # faster over slower roll
power = "3 kW"                  # motor under load less motor running empty

[[stations]]
name = "mill"
kind = "mill"
duration = "find"
folds = 9                       # how often it is cut and folded, which evens the band out
[stations.air]
temperature = "35 degC"
coefficient = "12 W/m2/K"

[limits]
gel_degree = 0.95
"""
