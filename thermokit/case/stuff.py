"""Materials and kinetics of the user's own, written in the case: ``[materials.NAME]`` and ``[kinetics.NAME]``."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.case.declare import Section, declarations, key, known
from thermokit.case.recipe import RecipeEntry
from thermokit.case.structure import Sub
from thermokit.case.tables import Property
from thermokit.case.values import Choice, Number, Quantity, share
from thermokit.conduction.problem import Transition
from thermokit.kinetics.limited import DiffusionLimited, Vitrified
from thermokit.kinetics.network import GlassTransition
from thermokit.kinetics.rates import NthOrder, TwoRate

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Curve
    from thermokit.conduction.problem import Number as Numeric
    from thermokit.kinetics.rates import Law

TEMPERATURE = Quantity("temperature", low=0.0, high=20_273.15, example="127 degC")
_HEAT = Quantity("heat_per_mass", low=0.0, high=1e8, example="180 kJ/kg")
_UNLESS_MIXED = "must be given, unless recipe is"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class TransitionEntry(Section):
    """Latent heat spread over a temperature range: uniform, or a triangle when ``peak`` is given."""

    meaning = "latent heat spread over a temperature range"

    heat: Numeric = key(_HEAT, "Latent heat.")
    low: Numeric = key(TEMPERATURE, "Temperature at which it begins.", word="from")
    peak: Numeric | None = key(
        TEMPERATURE, "Temperature at its peak.", default=None, default_words="none: uniform over the range"
    )
    high: Numeric = key(TEMPERATURE, "Temperature at which it ends.", word="to")

    def check(self, at: At, given: frozenset[str]) -> None:
        """The range must ascend and hold the peak."""
        if known(self.low, self.high) and not self.low < self.high:
            (at / "to").mistake("does not lie above the beginning of the range", "from below to")
        elif known(self.low, self.high, self.peak) and self.peak is not None and not self.low <= self.peak <= self.high:
            (at / "peak").mistake("lies outside the range", "between from and to")

    @property
    def transition(self) -> Transition:
        """The same for the solver."""
        return Transition(self.heat, self.low, self.high, self.peak)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OwnMaterial(Section):
    """A material of the user's own; a name of the library is free to be used again, the case's own goes first."""

    meaning = "a material of your own"

    conductivity: Numeric | Curve = key(
        Property(Quantity("conductivity", above=0.0, high=1e5, example="0.2 W/m/K")),
        "Thermal conductivity.",
        default=None,
        default_words=_UNLESS_MIXED,
    )
    density: Numeric = key(
        Quantity("density", above=0.0, high=1e6, example="1200 kg/m3"),
        "Density, one number: mass is conserved on a fixed mesh.",
        default=None,
        default_words=_UNLESS_MIXED,
    )
    specific_heat: Numeric | Curve = key(
        Property(Quantity("specific_heat", above=0.0, high=1e8, example="1500 J/kg/K")),
        "Specific heat without the latent heat of melting.",
        default=None,
        default_words=_UNLESS_MIXED,
    )
    melting: TransitionEntry | None = key(
        Sub(TransitionEntry, inline=True),
        "Melting, read on heating; reversible unless crystallising is given too.",
        default=None,
        default_words="none",
    )
    crystallising: TransitionEntry | None = key(
        Sub(TransitionEntry, inline=True),
        "Crystallising, read on cooling: the same heat as melting at its own, cooler temperatures.",
        default=None,
        default_words="none: melting is reversible",
    )
    recipe: RecipeEntry | None = key(
        Sub(RecipeEntry),
        "A PVC compound by parts per hundred resin, in place of conductivity, density and specific heat.",
        default=None,
        default_words="none: the properties are given",
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """Properties or a recipe; what crystallises must have melted, and gives back the heat that melting took."""
        self._check_recipe(at, given)
        if not known(self.melting, self.crystallising) or self.crystallising is None:
            return
        if self.melting is None:
            (at / "crystallising").mistake("crystallising without melting", "both, or melting alone")
        elif known(self.melting.heat, self.crystallising.heat) and self.melting.heat != self.crystallising.heat:
            (at / "crystallising" / "heat").mistake("differs from the heat of melting", "the same heat in both")

    def _check_recipe(self, at: At, given: frozenset[str]) -> None:
        for word in ("conductivity", "density", "specific_heat"):
            if "recipe" in given and word in given:
                (at / word).mistake("stands beside a recipe, which gives it", "the recipe alone, or properties alone")
            elif "recipe" not in given and word not in given:
                (at / word).mistake("missing", declarations(type(self))[word].kind.words())


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RateEntry(Section):
    """A rate constant k = factor exp(-energy/RT)."""

    meaning = "rate constant: factor exp(-energy/RT)"

    factor: Numeric = key(Quantity("rate", low=0.0, high=1e60, example="6.17e20 1/s"), "Factor before the exponential.")
    energy: Numeric = key(Quantity("molar_energy", low=0.0, high=1e7, example="167.4 kJ/mol"), "Activation energy.")


NO_RATE = RateEntry(factor=0.0, energy=0.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class GlassEntry(Section):
    """Glass transition against degree of cure, after DiBenedetto."""

    meaning = "glass transition against degree: start + (full - start) lambda degree/(1 - (1 - lambda) degree)"

    start: Numeric = key(TEMPERATURE, "Glass transition of the fresh resin.")
    full: Numeric = key(TEMPERATURE, "Glass transition when fully cured.")
    ratio: Numeric = key(
        Number(above=0.0, high=10.0),
        "How it bends between the two: 1 is straight, 0.3 to 0.7 usual.",
        word="lambda",
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """It rises with cure."""
        if known(self.start, self.full) and not np.all(np.asarray(self.start) < self.full):
            (at / "full").mistake("does not lie above start", "a glass transition that rises with cure")

    @property
    def transition(self) -> GlassTransition:
        """The same for a rate law."""
        return GlassTransition(self.start, self.full, self.ratio)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class VitrificationEntry(Section):
    """Cure that stops where the glass transition has risen above the temperature."""

    meaning = "cure stops where its glass transition rises above the temperature (needs glass_transition)"

    rate: Numeric = key(
        Quantity("rate", above=0.0, high=1e30, example="0.01 1/s"),
        "Rate that diffusion allows at the glass transition; a factor of ten moves the limit by some 3 K.",
        default=0.01,
        default_words="0.01 1/s: assumed",
    )
    reach: Numeric = key(
        Quantity("temperature_difference", above=0.0, high=1000.0, example="51.6 K"),
        "How far the glass transition can at most rise above the temperature; 20 K is seldom passed.",
        default=51.6,
    )
    strength: Numeric = key(Number(above=0.0, high=1000.0), "How steeply diffusion freezes.", default=40.2)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DiffusionEntry(Section):
    """A fitted diffusion factor, 1/(1 + exp(sharpness (degree - a_c))) with a_c = critical + slope (T - at)."""

    meaning = "rate times 1/(1 + exp(sharpness (degree - a_c))), a_c = critical + slope (T - at)"

    sharpness: Numeric = key(Number(low=0.0, high=1e4), "How sharply the rate falls beyond a_c: 20 to 60 usual.")
    critical: Numeric = key(share(high=2.0), "Degree a_c at the temperature at: there the rate is halved.")
    at: Numeric = key(TEMPERATURE, "Temperature at which a_c is critical.")
    slope: Numeric = key(
        Quantity("inverse_temperature", low=-1.0, high=1.0, example="0.005 1/K"), "Rise of a_c with temperature."
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ValidEntry(Section):
    """Temperatures between which a set was fitted."""

    meaning = "temperatures between which a set was fitted"

    low: Numeric = key(TEMPERATURE, "Its lower end.", word="from")
    high: Numeric = key(TEMPERATURE, "Its upper end: a run that gets hotter says so.", word="to")

    def check(self, at: At, given: frozenset[str]) -> None:
        """It must ascend."""
        if known(self.low, self.high) and not np.all(np.asarray(self.low) < self.high):
            (at / "to").mistake("does not lie above the beginning of the range", "from below to")


_NONE = "none"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OwnKinetics(Section):
    """Kinetics of the user's own: d(degree)/dt = (k1 + k2 degree^m) (1 - degree)^n, or k1 (1 - degree)^n."""

    meaning = "kinetics of your own: d(degree)/dt = (k1 + k2 degree^m) (1 - degree)^n, ki = factor exp(-energy/RT)"

    form: str = key(
        Choice(("two_rate", "nth_order")),
        "Form of the rate law; nth_order is k1 (1 - degree)^n and takes neither rate_2 nor m.",
        default="two_rate",
    )
    state: str = key(
        Choice(("cure", "gel", "fusion")), "What grows: the result holds cure_degree, gel_degree or fusion_degree."
    )
    rate_1: RateEntry = key(Sub(RateEntry, inline=True), "Rate constant k1.", default=NO_RATE, default_words=_NONE)
    rate_2: RateEntry = key(Sub(RateEntry, inline=True), "Rate constant k2.", default=NO_RATE, default_words=_NONE)
    m: Numeric | None = key(
        Number(low=0.0, high=100.0),
        "Exponent of the degree.",
        default=None,
        default_words="must be given with two_rate",
    )
    n: Numeric = key(Number(low=0.0, high=100.0), "Exponent of what is left to react.")
    heat: Numeric = key(
        Quantity("heat_per_mass", low=-1e8, high=1e8, example="77.5 kJ/kg"),
        "Heat released at full degree, for each kg of the layer.",
        default=0.0,
    )
    start: Numeric = key(
        share(),
        "Degree at the beginning. Without k1 a set with m of 1 and more needs one above 0, such as 1e-4; with m below 1 "
        "it begins by itself.",
        default=0.0,
    )
    glass_transition: GlassEntry | None = key(
        Sub(GlassEntry, inline=True), "Glass transition against degree.", default=None, default_words=_NONE
    )
    vitrification: VitrificationEntry | None = key(
        Sub(VitrificationEntry, inline=True),
        "Limits the degree to what the glass transition allows; {} takes the defaults.",
        default=None,
        default_words="none: cure goes to its end at any temperature",
    )
    diffusion: DiffusionEntry | None = key(
        Sub(DiffusionEntry, inline=True),
        "Limits the rate by a fitted diffusion factor, instead of vitrification.",
        default=None,
        default_words=_NONE,
    )
    gel_degree: Numeric | None = key(
        share(above=0.0), "Degree at which it gels and no longer flows.", default=None, default_words="not known"
    )
    valid: ValidEntry | None = key(
        Sub(ValidEntry, inline=True), "Temperatures for which it holds.", default=None, default_words="not known"
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """Each form has its keys; there is one limit, and vitrification knows the glass transition."""
        if self.form == "two_rate" and "m" not in given:
            (at / "m").mistake("missing", "a number without a unit, from 0 up to 100")
        if self.form == "nth_order":
            for word in sorted(given & {"rate_2", "m"}):
                (at / word).mistake("does not go with form nth_order", 'rate_1 and n; or form = "two_rate"')
            if "rate_1" not in given:
                (at / "rate_1").mistake("missing", "a table with factor, energy")
        if known(self.vitrification, self.glass_transition, self.diffusion):
            if self.vitrification is not None and self.glass_transition is None:
                (at / "vitrification").mistake(
                    "needs the glass transition against degree",
                    'such as glass_transition = { start = "-20 degC", full = "180 degC", lambda = 0.5 }',
                )
            if self.vitrification is not None and self.diffusion is not None:
                (at / "diffusion").mistake("stands beside vitrification", "one limit of the two")

    def unwritten(self) -> frozenset[str]:
        """What an n-th order set does not have."""
        return frozenset({"rate_2", "m"}) if self.form == "nth_order" else frozenset()

    @property
    def law(self) -> Law:
        """The rate law, with its limit."""
        law: Law = NthOrder(self.factor_1, self.energy_1, self.n)
        if self.form == "two_rate":
            law = TwoRate(self.factor_1, self.energy_1, self.factor_2, self.energy_2, self._exponent, self.n)
        if self.vitrification is not None and self.glass_transition is not None:
            v = self.vitrification
            return Vitrified(law, self.glass_transition.transition, v.rate, v.strength, v.reach)
        if self.diffusion is not None:
            d = self.diffusion
            return DiffusionLimited(law, d.sharpness, d.critical, d.slope, d.at)
        return law

    @property
    def never_starts(self) -> bool:
        """Whether nothing begins: no first rate, degree 0, and m of 1 or more (below 1 it begins by itself)."""
        return bool(np.all(self.factor_1 == 0.0) and np.all(self.start == 0.0) and np.all(self._exponent >= 1.0))

    @property
    def _exponent(self) -> Numeric:
        return 0.0 if self.m is None else self.m

    @property
    def factor_1(self) -> Numeric:
        """Factor of k1 [1/s]."""
        return self.rate_1.factor

    @property
    def energy_1(self) -> Numeric:
        """Activation energy of k1 [J/mol]."""
        return self.rate_1.energy

    @property
    def factor_2(self) -> Numeric:
        """Factor of k2 [1/s]."""
        return self.rate_2.factor

    @property
    def energy_2(self) -> Numeric:
        """Activation energy of k2 [J/mol]."""
        return self.rate_2.energy
