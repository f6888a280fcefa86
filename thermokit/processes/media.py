"""Materials and kinetics of a case as the solver's media and reactions, and what must be said about their ranges."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Curve, Medium, Reaction, Transition
from thermokit.kinetics import library as kinetics_library
from thermokit.kinetics.pvc import HeatDose
from thermokit.materials import library as materials_library
from thermokit.materials import mix_words
from thermokit.materials.mix import COLD_NODES, NODES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.kinetics.library import KineticsSet
    from thermokit.kinetics.network import GlassTransition
    from thermokit.materials.material import Material
    from thermokit.materials.mix import Compound

WORKING_TEMPERATURE = 373.15  # K, where a property stands for the whole run when meshes are laid out
HEAT_DOSE = "heat_dose"
#: library sets that a compound without a word about kinetics gels, fuses and ages by
PASTE_SETS = ("pvc_paste_gelation", "pvc_paste_fusion")


class Stuff:
    """The materials and kinetics that a case names; library records are read once a case."""

    def __init__(self, materials: Mapping[str, Any], kinetics: Mapping[str, Any]):
        self._own_materials, self._own_kinetics = materials, kinetics
        self._materials: dict[str, Material] = {}
        self._media: dict[str, Medium] = {}
        self._kinetics: dict[str, KineticsSet] = {}
        self._used: dict[str, Any] = {}  # sets of the case's own that a layer names
        self._compounds: dict[str, Compound | None] = {}
        self._gelling: set[str] = set()  # compounds whose gelation or fusion is followed

    def material(self, name: str) -> Material | None:
        """The library's record of a material, None for one of the case's own."""
        if name in self._own_materials:
            return None
        if name not in self._materials:
            self._materials[name] = materials_library.load(name)
        return self._materials[name]

    def compound(self, name: str) -> Compound | None:
        """The compound of a material that is given by a recipe, None for any other."""
        if name not in self._compounds:
            recipe = getattr(self._own_materials.get(name), "recipe", None)
            self._compounds[name] = None if recipe is None else recipe.compound
        return self._compounds[name]

    def compounds(self) -> dict[str, Compound]:
        """The compounds that were asked for, by the name of their material."""
        return {name: found for name, found in self._compounds.items() if found is not None}

    def medium(self, name: str) -> Medium:
        """What a layer of this material is made of; the same object every time."""
        if name not in self._media:
            self._media[name] = self._medium(name)
        return self._media[name]

    def _medium(self, name: str) -> Medium:
        record = self.material(name)
        if record is None:
            own = self._own_materials[name]
            mixed = self.compound(name)
            return Medium(
                density=own.density if mixed is None else mixed.density,
                conductivity=own.conductivity if mixed is None else Curve(NODES, mixed.conductivity_at(NODES)),
                specific_heat=own.specific_heat
                if mixed is None
                else Curve(COLD_NODES, mixed.specific_heat_at(COLD_NODES)),
                melting=_transition(own.melting),
                crystallising=_transition(own.crystallising),
            )
        return Medium(
            density=record.reference_density,
            conductivity=_curve(record.conductivity),
            specific_heat=_curve(record.specific_heat),
            melting=_transition(record.melting),
            crystallising=_transition(record.crystallising),
        )

    def reactions(self, names: tuple[str, ...], material: str = "") -> tuple[Reaction, ...]:
        """Reactions of a layer; a library set that reads another state stands behind the set that grows it.

        material : what the layer is made of. A compound by recipe shifts the library's sets of gelation and fusion, stands
        heat as long as its stabiliser lets it, and always adds up its heat dose.
        """
        mixed = self.compound(material)
        found = [self._reaction(name) for name in names]
        if mixed is not None:
            found = [
                (self._of_compound(reaction, name, material), needs)
                for (reaction, needs), name in zip(found, names, strict=True)
            ]
            if not any(reaction.state == HEAT_DOSE for reaction, _ in found):
                found.append((Reaction(HEAT_DOSE, _dose(mixed)), ()))
        order: list[tuple[Reaction, tuple[str, ...]]] = []
        waiting = list(found)
        while waiting:
            states = {reaction.state for reaction, _ in order}
            ready = next((item for item in waiting if set(item[1]) <= states), waiting[0])
            waiting.remove(ready)
            order.append(ready)
        return tuple(reaction for reaction, _ in order)

    def _reaction(self, name: str) -> tuple[Reaction, tuple[str, ...]]:
        if name in self._own_kinetics:
            own = self._used[name] = self._own_kinetics[name]
            return Reaction(f"{own.state}_degree", own.law, own.heat, own.start), ()
        found = self._set(name)
        return Reaction(found.state, found.rate, found.heat, found.start), found.needs

    def _of_compound(self, reaction: Reaction, name: str, material: str) -> Reaction:
        """A library set as a compound by recipe has it; the case's own sets stay as they are written."""
        mixed = self.compound(material)
        if name in self._own_kinetics or mixed is None:
            return reaction
        if reaction.state == HEAT_DOSE:
            return replace(reaction, rate=_dose(mixed))
        moved = self._set(name).record.get("plasticiser_shift", {}).get("added_to")
        if moved is None:
            return reaction
        self._gelling.add(material)
        rate: Any = reaction.rate
        return replace(reaction, rate=replace(rate, **{moved: getattr(rate, moved) + mixed.gel_shift}))

    def kinetics_of(self, material: str) -> tuple[str, ...]:
        """Sets that a material reacts by where the case names none: those of its record, of a plasticised compound PVC's."""
        mixed = self.compound(material)
        if mixed is not None:
            return PASTE_SETS if np.all(np.asarray(mixed.parts_of("plasticiser")) > 0.0) else ()
        record = self.material(material)
        return () if record is None else record.kinetics

    def _set(self, name: str) -> KineticsSet:
        if name not in self._kinetics:
            self._kinetics[name] = kinetics_library.load(name)
        return self._kinetics[name]

    def gel_degree(self, name: str) -> Any:
        """Degree of cure at which a set gels, None where it is not known."""
        own = self._own_kinetics.get(name)
        return self._set(name).gel_degree if own is None else own.gel_degree

    def glass_transition(self, name: str) -> GlassTransition | None:
        """Glass transition against degree of cure, None where it is not known."""
        own = self._own_kinetics.get(name)
        if own is None:
            return self._set(name).glass
        return None if own.glass_transition is None else own.glass_transition.transition

    def missing_states(self, names: tuple[str, ...]) -> list[tuple[str, str]]:
        """(set, state it reads) for the library sets of a layer that lack a state they need."""
        grown = {reaction.state for reaction in self.reactions(names)}
        return [
            (name, state)
            for name in names
            if name not in self._own_kinetics
            for state in self._set(name).needs
            if state not in grown
        ]

    def repeated_states(self, names: tuple[str, ...]) -> list[tuple[str, str]]:
        """(set, state) for the sets of a layer that grow what a set before them grows."""
        seen: set[str] = set()
        found = []
        for name in names:
            state = self._reaction(name)[0].state
            if state in seen:
                found.append((name, state))
            seen.add(state)
        return found

    def never_starting(self, names: tuple[str, ...]) -> list[str]:
        """The case's own sets that cannot begin: no first rate, from degree 0, with m of 1 or more."""
        return [name for name in names if name in self._own_kinetics and self._own_kinetics[name].never_starts]

    def warnings(self, history: History) -> list[str]:
        """Tables and kinetics that were used outside their ranges."""
        low, high = history.coldest.value, history.hottest.value
        found: list[str] = []
        for record in self._materials.values():
            found += record.warnings_outside(low, high)
        for name, mixed in self.compounds().items():
            found += _ranges(name, low, high) + mix_words.warnings(mixed, name)
            found += mix_words.gel_warnings(mixed, name) if name in self._gelling else []
        for kinetics in self._kinetics.values():
            found += kinetics.warnings_outside(high, low)
        for name, own in self._used.items():
            if own.valid is not None and high > np.min(own.valid.high) + 0.5:
                first, last = np.max(own.valid.low) - 273.15, np.min(own.valid.high) - 273.15
                found.append(
                    f"kinetics {name}: valid {first:.0f} to {last:.0f} degC, the run reached {high - 273.15:.0f} degC"
                )
        return found

    def names(self) -> list[str]:
        """Names of what the case uses: materials of the library and of its own, kinetics sets."""
        return [*self._materials, *self._own_materials, *self._kinetics, *self._used]

    def cautions(self) -> list[str]:
        """Cautions of the materials used."""
        mixed = [f"{name}: {text}" for name, own in self.compounds().items() for text in mix_words.cautions(own)]
        return [f"{record.name}: {text}" for record in self._materials.values() for text in record.cautions] + mixed


def _dose(compound: Compound) -> HeatDose:
    """The rate at which a compound's heat life is used up."""
    life = compound.heat_life
    return HeatDose(life.time, life.energy, life.temperature)


def _ranges(name: str, low: float, high: float) -> list[str]:
    """Said where a run leaves the temperatures for which the parts of a compound are known [K]."""
    first, last = float(NODES[0]), float(NODES[-1])
    return [
        f"properties of {name}: by its parts from {first - 273.15:.0f} to {last - 273.15:.0f} degC, the run reached "
        f"{reached - 273.15:.0f} degC (the end value was held)"
        for reached, outside in ((low, low < first - 0.5), (high, high > last + 0.5))
        if outside
    ]


def _curve(table: Any) -> float | Curve:
    if len(table.value) == 1 or np.all(table.value == table.value[0]):
        return float(table.value[0])
    return Curve(np.asarray(table.temperature, float), np.asarray(table.value, float))


def _transition(entry: Any) -> Transition | None:
    return None if entry is None else Transition(entry.heat, entry.low, entry.high, entry.peak)


def typical(value: Any) -> float:
    """One number for a property that may be a curve or hold many cases: at 100 degC, of the first case."""
    if isinstance(value, Curve):
        values = value.value if value.value.ndim == 1 else value.value[:, 0]
        return float(np.interp(WORKING_TEMPERATURE, value.temperature, values))
    return float(np.ravel(value)[0])


def slowness(medium: Medium, thickness: Any) -> float:
    """thickness/sqrt(diffusivity) [s^(1/2)]: its square is the time that heat takes through the layer."""
    heat = typical(medium.specific_heat) * typical(medium.density)
    return typical(thickness) * float(np.sqrt(heat / typical(medium.conductivity)))


def sensible_mean(specific_heat: Any, low: float, high: float) -> float:
    """Mean specific heat between two temperatures [J/kg/K], without latent heat."""
    if not isinstance(specific_heat, Curve):
        return typical(specific_heat)
    t: Array = np.linspace(low, high, 201)
    values = specific_heat.value if specific_heat.value.ndim == 1 else specific_heat.value[:, 0]
    return float(np.trapezoid(np.interp(t, specific_heat.temperature, values), t) / (high - low))
