"""A PVC compound from parts per hundred resin: density, specific heat, conductivity, glass transition, shifts, heat life.

Rules and components stand in ``recipes/pvc_compound.toml`` with their sources. Parts are by mass; **every number of parts
may be one number or an array (cases,)**, and then so is what is computed from it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import DataError
from thermokit.materials.material import REFERENCE_TEMPERATURE, ZERO_CELSIUS
from thermokit.units import parse

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]
    Number = float | Array

RECIPE = Path(__file__).parent / "recipes" / "pvc_compound.toml"
RESIN = "pvc_resin"
GAS_CONSTANT = 8.314462618  # J/mol/K

#: role -> the words for what it may be; the first is meant where none is given
KINDS: Mapping[str, tuple[str, ...]] = {
    "plasticiser": ("dop", "dehp", "dinp", "didp", "bbp", "doa", "polymeric", "epoxidised_oil"),
    "stabiliser": ("calcium_zinc", "tin", "lead"),
    "lubricant": ("stearic_acid",),
    "filler": ("chalk",),
    "pigment": ("titanium_dioxide", "carbon_black"),
    "impact_modifier": ("acrylic",),
}
#: temperatures of the tables that a compound is given with [K]: every 10 K as far as its parts are known, and down to where
#: the glass transition of a soft compound lies
NODES = np.arange(20.0, 191.0, 10.0) + ZERO_CELSIUS
COLD_NODES = np.arange(-60.0, 191.0, 10.0) + ZERO_CELSIUS


@cache
def recipe_record() -> Mapping[str, Any]:
    """The file of rules and components as it stands."""
    return tomllib.loads(RECIPE.read_text(encoding="utf-8"))


@dataclass(frozen=True, eq=False)
class Component:
    """What one ingredient is: tables over temperature [K], SI; glass_transition [K] where it takes part in that of the resin."""

    id: str
    name: str
    temperature: Array
    density: Array
    specific_heat: Array
    conductivity: float
    soluble: bool
    glass_transition: float | None
    confidence: str
    sources: tuple[str, ...]

    def density_at(self, temperature: Array) -> Array:
        """Density [kg/m3], ends held."""
        return np.interp(temperature, self.temperature, self.density)

    def specific_heat_at(self, temperature: Array) -> Array:
        """Specific heat [J/kg/K], ends held."""
        return np.interp(temperature, self.temperature, self.specific_heat)


@cache
def component(name: str) -> Component:
    """A component of the file by its name."""
    record = recipe_record()
    references = record["references"]
    stand_in = record["stand_ins"].get(name)
    entry = record["components"][stand_in["like"] if stand_in else name]
    density = np.array(entry["density"], float)
    sure = entry
    if stand_in:
        density, sure = density * (stand_in["density"] / density[0]), record["stand_ins"]
    return Component(
        id=name,
        name=(stand_in or entry)["name"],
        temperature=np.array(entry["temperature"], float) + ZERO_CELSIUS,
        density=density,
        specific_heat=np.array(entry["specific_heat"], float),
        conductivity=float(entry["conductivity"]),
        soluble=bool(entry["soluble"]),
        glass_transition=parse(entry["glass_transition"], "temperature") if "glass_transition" in entry else None,
        confidence=sure["confidence"],
        sources=tuple(references[number - 1] for number in sure["sources"]),
    )


@dataclass(frozen=True, eq=False)
class Ingredient:
    """Parts of one thing: role (``plasticiser``, ...; ``resin``), kind in the words of ``KINDS``, parts by mass."""

    role: str
    kind: str
    parts: Number

    @property
    def component(self) -> Component:
        """What it is."""
        if self.role == "resin":
            return component(RESIN)
        return component(recipe_record()["kinds"][self.role][self.kind]["component"])


@dataclass(frozen=True, eq=False)
class HeatLife:
    """How long a compound stands heat: time [s] at temperature [K], energy [J/mol]; low, high [s], None where not known.

    measured : True where a stability time of the compound itself was given, False for the rule.
    """

    time: Number
    temperature: Number
    energy: Number
    low: Number | None
    high: Number | None
    measured: bool

    def at(self, temperature: float) -> Number:
        """Time that it stands at another temperature [K]: t = time exp[E/R (1/T - 1/T_ref)]."""
        found: Number = self.time * np.exp(self.energy / GAS_CONSTANT * (1.0 / temperature - 1.0 / self.temperature))
        return found


class Compound:
    """A compound of ingredients, the resin first.

    ingredients : as weighed, parts by mass (any resin above zero: all is counted per hundred of it); copolymer : resin with
    some vinyl acetate, which gels cooler; heat_life : a stability time that was measured, None for the rule.
    Raises DataError without resin, for negative parts and for unknown roles and kinds.

    >>> sheet = compound({"plasticiser": {"dop": 50}, "stabiliser": {"calcium_zinc": 2.5}})
    >>> round(float(sheet.glass_transition) - 273.15, 1)  # Fox: 1/Tg = (2/3)/355.15 + (1/3)/186.15
    -0.5
    >>> round(float(sheet.heat_life.time))  # (0.001 + 2.5 x 0.003)/2.5e-6 at 190 degC
    3400
    """

    def __init__(self, ingredients: Iterable[Ingredient], copolymer: bool = False, heat_life: HeatLife | None = None):
        self.ingredients = tuple(ingredients)
        self.copolymer = copolymer
        self._measured = heat_life
        _checked(self.ingredients)

    # -- parts and shares ------------------------------------------------------------------------------------------

    @cached_property
    def total(self) -> Number:
        """All parts as weighed."""
        return _sum(item.parts for item in self.ingredients)

    @cached_property
    def shares(self) -> tuple[Number, ...]:
        """Share of each ingredient by mass [-]."""
        return tuple(item.parts / self.total for item in self.ingredients)

    def parts_of(self, role: str) -> Number:
        """Parts per hundred resin of all kinds of a role."""
        return self._per_hundred(item.parts for item in self.ingredients if item.role == role)

    def _per_hundred(self, parts: Iterable[Number]) -> Number:
        resin = _sum(item.parts for item in self.ingredients if item.role == "resin")
        return 100.0 * _sum(parts) / resin

    @cached_property
    def plasticiser_share(self) -> Number:
        """Share of plasticiser in resin and plasticiser by mass [-]."""
        parts = self.parts_of("plasticiser")
        return parts / (100.0 + parts)

    @cached_property
    def many(self) -> bool:
        """Whether parts differ by case."""
        return any(np.ndim(item.parts) for item in self.ingredients)

    # -- properties ------------------------------------------------------------------------------------------------

    def density_at(self, temperature: ArrayLike) -> Array:
        """Density [kg/m3] without voids: 1/rho = sum(w_i/rho_i(T)); (...,) or (..., cases)."""
        t = self._temperatures(temperature)
        return np.asarray(1.0 / _sum(w * self._over(c.density_at(t)) ** -1.0 for w, c in self._pairs()))

    def specific_heat_at(self, temperature: ArrayLike) -> Array:
        """Specific heat [J/kg/K]: sum(w_i cp_i(T)), the step of the resin laid at the compound's glass transition.

        The resin's table has its step of 300 J/kg/K at its own glass transition, near 82 degC; where plasticiser has
        brought that down, the resin in the compound is on its upper branch from there on.
        """
        t = self._temperatures(temperature)
        resin = _sum(w for w, item in zip(self.shares, self.ingredients, strict=True) if item.role == "resin")
        step = recipe_record()["resin_step"]["height"]
        glass = component(RESIN).glass_transition
        assert glass is not None
        moved = self._step(t, self.glass_transition, self.plasticiser_share) - self._step(t, glass, 0.0)
        return np.asarray(_sum(w * self._over(c.specific_heat_at(t)) for w, c in self._pairs()) + resin * step * moved)

    def _step(self, temperature: Array, glass: Number, plasticised: Number) -> Array:
        """Share of the resin's step that lies below a temperature."""
        rule = recipe_record()["resin_step"]
        broad = np.minimum(plasticised / rule["broad_from"], 1.0)
        ends = {}
        for side in ("below", "above"):
            alone, wide = (parse(rule[name][side], "temperature_difference") for name in ("alone", "plasticised"))
            ends[side] = alone + broad * (wide - alone)
        t = self._over(temperature)
        return np.asarray(np.clip((t - glass + ends["below"]) / (ends["below"] + ends["above"]), 0.0, 1.0))

    def conductivity_at(self, temperature: ArrayLike) -> Array:
        """Conductivity [W/m/K]: what is soluble by the geometric mean over volumes, each filler then after Maxwell.

        k = km (kf + 2 km + 2 f (kf - km))/(kf + 2 km - f (kf - km)), f the filler's share in itself and what it lies in.
        """
        t = self._temperatures(temperature)
        volumes = [(w / self._over(c.density_at(t)), c) for w, c in self._pairs()]
        whole = _sum(v for v, c in volumes if c.soluble)
        k = np.exp(_sum(v / whole * np.log(c.conductivity) for v, c in volumes if c.soluble))
        for v, c in volumes:
            if c.soluble:
                continue
            whole = whole + v
            f, kf = v / whole, c.conductivity
            k = k * (kf + 2.0 * k + 2.0 * f * (kf - k)) / (kf + 2.0 * k - f * (kf - k))
        return np.asarray(k)

    def filler_volume(self, temperature: float = REFERENCE_TEMPERATURE) -> Number:
        """Share by volume of what does not dissolve [-]."""
        t = np.asarray(temperature)
        volumes = [(w / float(c.density_at(t)), c.soluble) for w, c in self._pairs()]
        return _sum(v for v, soluble in volumes if not soluble) / _sum(v for v, _ in volumes)

    @cached_property
    def density(self) -> Number:
        """Density at 20 degC [kg/m3]."""
        found = self.density_at(REFERENCE_TEMPERATURE)
        return found if self.many else float(found)

    @cached_property
    def glass_transition(self) -> Number:
        """Glass transition of resin and plasticiser after Fox [K]: 1/Tg = sum(w_i/Tg_i), its middle."""
        taking_part = [(w, c.glass_transition) for w, c in self._pairs() if c.glass_transition is not None]
        return _sum(w for w, _ in taking_part) / _sum(w / glass for w, glass in taking_part)

    # -- what heat does to it ----------------------------------------------------------------------------------------

    @cached_property
    def gel_shift(self) -> Number:
        """By how much gelation and fusion lie hotter than those of the library's sets [K] (negative: cooler)."""
        rule = recipe_record()["gel_shift"]
        kinds = recipe_record()["kinds"]["plasticiser"]
        used = [item for item in self.ingredients if item.role == "plasticiser"]
        parts = self.parts_of("plasticiser")
        ends = [parse(text, "temperature_difference") for text in rule["shift"]]
        level = np.interp(parts, rule["parts"], ends)
        whole = np.maximum(_sum(item.parts for item in used), 1e-300)
        kind = _sum(item.parts / whole * parse(kinds[item.kind]["shift"], "temperature_difference") for item in used)
        found = level + kind + (parse(rule["copolymer"], "temperature_difference") if self.copolymer else 0.0)
        return found if np.ndim(found) else float(found)

    @cached_property
    def heat_life(self) -> HeatLife:
        """How long it stands heat: the time that was measured, else by the parts of stabiliser."""
        if self._measured is not None:
            return self._measured
        rule = recipe_record()["heat_life"]
        release = rule["release_without"] + rule["release_per_part"] * self.parts_of("stabiliser")
        time = release / parse(rule["rate"], "rate")
        return HeatLife(
            time=time,
            temperature=parse(rule["reference_temperature"], "temperature"),
            energy=parse(rule["energy"], "molar_energy"),
            low=time * rule["factor_low"],
            high=time * rule["factor_high"],
            measured=False,
        )

    # -- helpers -----------------------------------------------------------------------------------------------------

    def _pairs(self) -> list[tuple[Number, Component]]:
        return [(w, item.component) for w, item in zip(self.shares, self.ingredients, strict=True)]

    @staticmethod
    def _temperatures(temperature: ArrayLike) -> Array:
        return np.asarray(temperature, dtype=float)

    def _over(self, values: Array) -> Array:
        """Values over temperature with an axis for the cases where there are any."""
        return values[..., None] if self.many else values


def compound(
    parts: Mapping[str, Mapping[str, Number]],
    resin: Number = 100.0,
    copolymer: bool = False,
    heat_life: HeatLife | None = None,
) -> Compound:
    """A compound from parts by role and kind: ``{"plasticiser": {"dop": 60}, "stabiliser": {"calcium_zinc": 3}}``.

    Raises DataError for what cannot be mixed.
    """
    items = [Ingredient("resin", "resin", resin)]
    items += [Ingredient(role, kind, amount) for role, kinds in parts.items() for kind, amount in kinds.items()]
    return Compound(items, copolymer, heat_life)


def _checked(ingredients: tuple[Ingredient, ...]) -> None:
    """Plain refusals."""
    for item in ingredients:
        if item.role != "resin" and item.role not in KINDS:
            raise DataError(f"{item.role[:40]!r} is no ingredient; a recipe holds resin, {', '.join(KINDS)}")
        if item.role != "resin" and item.kind not in KINDS[item.role]:
            raise DataError(f"no {item.role} {item.kind[:40]!r}; known are {', '.join(KINDS[item.role])}")
        parts = np.asarray(item.parts, float)
        if not np.all(np.isfinite(parts)) or np.any(parts < 0.0):
            name = item.role if item.role == "resin" else f"{item.role} {item.kind}"
            raise DataError(f"parts of {name}: a number from 0 up is needed")
    resin = _sum(item.parts for item in ingredients if item.role == "resin")
    if not np.all(np.asarray(resin) > 0.0):
        raise DataError("a recipe without resin: parts are counted per hundred of it; give resin = 100")


def _sum(values: Iterable[Any]) -> Number:
    """Sum of numbers and arrays over cases."""
    total: Number = 0.0
    for value in values:
        total = total + value
    return total
