"""Materials and kinetics of the user's own, written in the case: ``[materials.NAME]`` and ``[kinetics.NAME]``."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key, known
from thermokit.case.structure import Sub
from thermokit.case.tables import Property
from thermokit.case.values import Choice, Number, Quantity, share
from thermokit.conduction.problem import Transition

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Curve
    from thermokit.conduction.problem import Number as Numeric

TEMPERATURE = Quantity("temperature", low=0.0, high=20_273.15, example="127 degC")
_HEAT = Quantity("heat_per_mass", low=0.0, high=1e8, example="180 kJ/kg")


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
        Property(Quantity("conductivity", above=0.0, high=1e5, example="0.2 W/m/K")), "Thermal conductivity."
    )
    density: Numeric = key(
        Quantity("density", above=0.0, high=1e6, example="1200 kg/m3"),
        "Density, one number: mass is conserved on a fixed mesh.",
    )
    specific_heat: Numeric | Curve = key(
        Property(Quantity("specific_heat", above=0.0, high=1e8, example="1500 J/kg/K")),
        "Specific heat without the latent heat of melting.",
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

    def check(self, at: At, given: frozenset[str]) -> None:
        """What crystallises must have melted, and gives back the heat that melting took."""
        if not known(self.melting, self.crystallising) or self.crystallising is None:
            return
        if self.melting is None:
            (at / "crystallising").mistake("crystallising without melting", "both, or melting alone")
        elif known(self.melting.heat, self.crystallising.heat) and self.melting.heat != self.crystallising.heat:
            (at / "crystallising" / "heat").mistake("differs from the heat of melting", "the same heat in both")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RateEntry(Section):
    """A rate constant k = factor exp(-energy/RT)."""

    meaning = "rate constant: factor exp(-energy/RT)"

    factor: Numeric = key(Quantity("rate", low=0.0, high=1e60, example="6.17e20 1/s"), "Factor before the exponential.")
    energy: Numeric = key(Quantity("molar_energy", low=0.0, high=1e7, example="167.4 kJ/mol"), "Activation energy.")


NO_RATE = RateEntry(factor=0.0, energy=0.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OwnKinetics(Section):
    """Kinetics of the user's own: d(degree)/dt = (k1 + k2 degree^m) (1 - degree)^n."""

    meaning = "kinetics of your own: d(degree)/dt = (k1 + k2 degree^m) (1 - degree)^n, ki = factor exp(-energy/RT)"

    form: str = key(Choice(("two_rate",)), "Form of the rate law.", default="two_rate")
    state: str = key(
        Choice(("cure", "gel", "fusion")), "What grows: the result holds cure_degree, gel_degree or fusion_degree."
    )
    rate_1: RateEntry = key(Sub(RateEntry, inline=True), "Rate constant k1.", default=NO_RATE, default_words="none")
    rate_2: RateEntry = key(Sub(RateEntry, inline=True), "Rate constant k2.", default=NO_RATE, default_words="none")
    m: Numeric = key(Number(low=0.0, high=100.0), "Exponent of the degree.")
    n: Numeric = key(Number(low=0.0, high=100.0), "Exponent of what is left to react.")
    heat: Numeric = key(
        Quantity("heat_per_mass", low=-1e8, high=1e8, example="77.5 kJ/kg"),
        "Heat released at full degree, for each kg of the layer.",
        default=0.0,
    )
    start: Numeric = key(share(), "Degree at the beginning.", default=0.0)

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
