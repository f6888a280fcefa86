"""What may happen at a face of a body: the same keys in every kind of case that lets the user write its faces."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Varying
from thermokit.case.values import Quantity, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

COEFFICIENT = Quantity("heat_transfer_coefficient", low=0.0, high=1e12, example="8 W/m2/K")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ConvectionEntry(Section):
    """Heat exchanged with air or a liquid."""

    meaning = "heat exchanged with air or a liquid"

    coefficient: Changing = key(Varying(COEFFICIENT), "Heat transfer coefficient.")
    air: Changing = key(Varying(TEMPERATURE), "Temperature of the air (or liquid).")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RadiationEntry(Section):
    """Heat radiated to and from surroundings: emissivity view sigma (surround^4 - face^4) into the body."""

    meaning = "heat radiated to and from surroundings"

    emissivity: Number = key(share(), "Emissivity of the face.")
    surround: Changing = key(Varying(TEMPERATURE), "Temperature of what the face sees.")
    view: Number = key(share(), "Share of the face's view that this fills.", default=1.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ContactEntry(Section):
    """Contact with something that keeps its temperature."""

    meaning = "contact with something at a temperature"

    coefficient: Changing = key(Varying(COEFFICIENT), "Conductance of the contact.")
    temperature: Changing = key(Varying(TEMPERATURE), "Temperature of what is touched.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FaceEntry(Section):
    """What happens at a face; entries add up, a prescribed temperature excludes the others. Empty: insulated."""

    meaning = "what happens at a face: entries add up, a face left out is insulated"

    temperature: Changing | None = key(
        Varying(TEMPERATURE), "Prescribed temperature; excludes the other keys.", default=None, default_words="none"
    )
    convection: ConvectionEntry | None = key(
        Sub(ConvectionEntry, inline=True), "Heat exchanged with air or a liquid.", default=None, default_words="none"
    )
    radiation: tuple[RadiationEntry, ...] = key(
        ListOf(Sub(RadiationEntry, inline=True), most=100, single=True),
        "Heat radiated to and from surroundings; one table or a list.", default=(), default_words="none",
    )  # fmt: skip
    contact: ContactEntry | None = key(
        Sub(ContactEntry, inline=True), "Contact with something at a temperature.", default=None, default_words="none"
    )
    heating: Changing | None = key(
        Varying(Quantity("heat_flux", low=-1e12, high=1e12, example="2 kW/m2")), "Prescribed flux into the body.",
        default=None, default_words="none",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """A prescribed temperature leaves nothing to the other keys."""
        others = [name for name in ("convection", "radiation", "contact", "heating") if name in given]
        if "temperature" in given and others:
            (at / "temperature").mistake(
                f"a prescribed temperature stands together with {' and '.join(others)}", "temperature, or the others"
            )

    @property
    def insulated(self) -> bool:
        """Whether nothing happens at this face."""
        return self == INSULATED


INSULATED = FaceEntry()
