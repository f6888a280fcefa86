"""A PVC compound written as a recipe, ``[materials.NAME.recipe]``: parts per hundred resin in place of properties."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Sub
from thermokit.case.values import Choice, Number, Quantity
from thermokit.materials.mix import KINDS, Compound, HeatLife, Ingredient

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

_PARTS = Number(low=0.0, high=1000.0)
_TEMPERATURE = Quantity("temperature", low=0.0, high=1273.15, example="200 degC")
MOST_KINDS = 5  # of one role in a recipe


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PlasticiserPart(Section):
    """Plasticiser of one kind."""

    meaning = "plasticiser of one kind"

    kind: str = key(Choice(KINDS["plasticiser"]), "Which plasticiser.", default="dop")
    parts: Numeric = key(_PARTS, "Parts per hundred resin, by mass.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class StabiliserPart(Section):
    """Stabiliser of one kind."""

    meaning = "stabiliser of one kind"

    kind: str = key(Choice(KINDS["stabiliser"]), "Which stabiliser.", default="calcium_zinc")
    parts: Numeric = key(_PARTS, "Parts per hundred resin, by mass: what the heat life is counted from.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LubricantPart(Section):
    """Lubricant of one kind."""

    meaning = "lubricant of one kind"

    kind: str = key(Choice(KINDS["lubricant"]), "Which lubricant.", default="stearic_acid")
    parts: Numeric = key(_PARTS, "Parts per hundred resin, by mass.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FillerPart(Section):
    """Filler of one kind."""

    meaning = "filler of one kind"

    kind: str = key(Choice(KINDS["filler"]), "Which filler.", default="chalk")
    parts: Numeric = key(_PARTS, "Parts per hundred resin, by mass.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PigmentPart(Section):
    """Pigment of one kind."""

    meaning = "pigment of one kind"

    kind: str = key(Choice(KINDS["pigment"]), "Which pigment.", default="titanium_dioxide")
    parts: Numeric = key(_PARTS, "Parts per hundred resin, by mass.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ModifierPart(Section):
    """Impact modifier of one kind."""

    meaning = "impact modifier of one kind"

    kind: str = key(
        Choice(KINDS["impact_modifier"]), "Which impact modifier; acrylic stands for MBS too.", default="acrylic"
    )
    parts: Numeric = key(_PARTS, "Parts per hundred resin, by mass.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class HeatLifeEntry(Section):
    """A stability time that was measured."""

    meaning = "stability time of the compound as measured (ISO 182 or ISO 305)"

    time: Numeric = key(Quantity("time", above=0.0, high=1e8, example="40 min"), "Time until its stabiliser is spent.")
    temperature: Numeric = key(_TEMPERATURE, "Temperature of the test.")
    energy: Numeric = key(
        Quantity("molar_energy", above=0.0, high=1e6, example="115 kJ/mol"),
        "Activation energy that carries it to other temperatures; 100 to 140 kJ/mol usual.",
        default=115e3,
    )


def _role(part: type[Section], meaning: str) -> Any:
    return key(
        ListOf(Sub(part, inline=True), most=MOST_KINDS, single=True),
        f"{meaning} One table, or a list of kinds.",
        default=(),
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RecipeEntry(Section):
    """A PVC compound from parts per hundred resin."""

    meaning = "a PVC compound from parts per hundred resin, by mass"

    resin: Numeric = key(
        Number(above=0.0, high=1e6), "Resin, 100 as a rule; everything else is counted per hundred of it."
    )
    resin_kind: str = key(
        Choice(("homopolymer", "copolymer")),
        "Which resin: copolymer (some 5 % vinyl acetate) gels cooler.",
        default="homopolymer",
    )
    plasticiser: tuple[PlasticiserPart, ...] = _role(PlasticiserPart, "Plasticiser.")
    stabiliser: tuple[StabiliserPart, ...] = _role(StabiliserPart, "Stabiliser.")
    lubricant: tuple[LubricantPart, ...] = _role(LubricantPart, "Lubricant.")
    filler: tuple[FillerPart, ...] = _role(FillerPart, "Filler.")
    pigment: tuple[PigmentPart, ...] = _role(PigmentPart, "Pigment.")
    impact_modifier: tuple[ModifierPart, ...] = _role(ModifierPart, "Impact modifier.")
    heat_life: HeatLifeEntry | None = key(
        Sub(HeatLifeEntry, inline=True),
        "Stability time as measured on the compound itself.",
        default=None,
        default_words="by the parts of stabiliser",
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """Each kind stands once."""
        for role in KINDS:
            entries = getattr(self, role)
            if not known(entries) or not known(*entries):
                continue
            seen: set[str] = set()
            for i, entry in enumerate(entries):
                if known(entry.kind) and entry.kind in seen:
                    (at / role / str(i) / "kind").mistake("stands twice", "each kind once, with all its parts")
                seen.add(entry.kind)

    @property
    def compound(self) -> Compound:
        """The same for the mixing rules."""
        items = [Ingredient("resin", "resin", self.resin)]
        items += [Ingredient(role, entry.kind, entry.parts) for role in KINDS for entry in getattr(self, role)]
        own = self.heat_life
        life = None if own is None else HeatLife(own.time, own.temperature, own.energy, None, None, True)
        return Compound(items, self.resin_kind == "copolymer", life)
