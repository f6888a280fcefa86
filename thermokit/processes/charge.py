"""A thermoset charge in the press: what the solver is given, and what a run is judged by.

One thickness is solved. The course, the stations and the limits know nothing of that: a section with ribs and bosses puts
its own problem in place of :func:`charge_course`, and its places in place of the cells of :class:`Facts`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.charge_checks import HALVES
from thermokit.processes import (
    cautions_kinds,
    charge_hand,
    charge_judgement,
    charge_outcomes,
    charge_runaway,
    charge_words,
)
from thermokit.processes.base import Facts, Hand, Limit, Plain, facts_of_run
from thermokit.processes.charge_course import charge_course, parts_of
from thermokit.processes.charge_times import ChargeFacts, looked_at
from thermokit.processes.media import Stuff, typical
from thermokit.processes.start import begun

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from thermokit.case.charge import ChargeCase
    from thermokit.conduction.course import Course
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.results.model import Field, Outcome

FIRM = 3000.0  # W/m2/K, contact that the mesh of a half is laid out for
SMALL_SHARE = 0.1  # of the resistance of the contact, that of half a cell of a half
HALF_CELLS = (12, 60)
EMISSIVITY = 0.92  # of a moulding where the material gives none; from memory


class ChargeProcess(Plain):
    """A charge case, translated. Depth counts from the upper face, which is the solver's inner face.

    rate_factor, heat_factor : on the rates and the heat of cure, to try what a faster batch or more filler would do.
    """

    def __init__(self, case: ChargeCase, rate_factor: Any = 1.0, heat_factor: Any = 1.0):
        self.case = case
        self.rate_factor, self.heat_factor = rate_factor, heat_factor
        self.stuff = Stuff(case.materials, case.kinetics)
        self.parts = parts_of(case, lambda name: self.stuff.medium(name).density)
        kinds = [station.kind for station in case.stations]
        #: number of the station at whose end the press opens
        self.opening = len(kinds) - 1 - kinds[::-1].index("cure")
        first = min(kinds.index(kind) for kind in ("cure", "breathe") if kind in kinds)
        #: number of the station at whose end the press is first shut, None where the case begins with a shut press
        self.shut = first - 1 if first > 0 else None

    @property
    def thickness(self) -> Any:
        """Thickness of the charge as pressed [m]."""
        return sum(part.thickness for part in self.parts)

    def emissivity(self, side: str) -> float:
        """Emissivity of the outer layer of a side, ``upper`` or ``lower``."""
        record = self.stuff.material(self.parts[0 if side == "upper" else -1].material)
        return float(getattr(record, "emissivity", None) or EMISSIVITY)

    def powder(self, material: str, quantity: str) -> float | None:
        """What a material's record says of its powder [SI], None where it says nothing."""
        from thermokit.units import parse

        record = self.stuff.material(material)
        text = record.record.get("powder", {}).get(quantity) if record is not None else None
        dimension = {"conductivity": "conductivity", "bulk_density": "density"}[quantity]
        return parse(text, dimension) if isinstance(text, str) else None

    def gel_degree(self) -> Any:
        """Degree at which the charge gels, None where it is not known."""
        given = self.case.charge.gel_degree
        if given is not None:
            return given
        known = [self.stuff.gel_degree(name) for part in self.parts for name in part.kinetics]
        known = [degree for degree in known if degree is not None]
        return known[0] if known else None

    def changed(self, case: Any, rate_factor: Any = None, heat_factor: Any = None) -> ChargeProcess:
        """The same for another case, or with other factors."""
        return ChargeProcess(
            case,
            self.rate_factor if rate_factor is None else rate_factor,
            self.heat_factor if heat_factor is None else heat_factor,
        )

    # -- for the solver --------------------------------------------------------------------------------------------

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, cells) of the charge's layers and of the halves that have bodies.

        The mesh of the charge is found; that of a half is given: its face is seen through the contact, beside whose
        resistance that of half a cell is to be small.
        """
        found: list[tuple[str, Any, Any, int | None]] = [
            (part.name, part.thickness, self.stuff.medium(part.material), None) for part in self.parts
        ]
        for side, name in HALVES.items():
            half = getattr(self.case.mould, side)
            if half.material is not None:
                medium = self.stuff.medium(half.material)
                cell = 2.0 * SMALL_SHARE * typical(medium.conductivity) / FIRM
                cells = int(np.clip(np.ceil(typical(half.thickness) / cell), *HALF_CELLS))
                found.append((name, half.thickness, medium, cells))
        return found

    def named(self, edges: Sequence[Array]) -> Mapping[str, Array]:
        """Edges by the name of their layer."""
        return {layer[0]: cut for layer, cut in zip(self.layers(), edges, strict=True)}

    def course(self, edges: Sequence[Array]) -> Course:
        """What the charge goes through."""
        return begun(charge_course(self, self.named(edges)), self.case)

    # -- for the judgement -----------------------------------------------------------------------------------------

    def limits(self) -> tuple[Limit, ...]:
        """Limits of the case, or else of the material."""
        return charge_judgement.limits(self)

    def facts(self, travel: Travel, edges: Sequence[Array], tolerance: float) -> Facts:
        """Facts of the run, with its curves while the press is shut, and the peak with the rate 30 % up."""
        return looked_at(self, facts_of_run(travel.history), travel, edges, tolerance)

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, (cases,) in SI."""
        return charge_judgement.quantities(self, facts)

    def found_at(self, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
        """Place in words and time of what a limit looks at."""
        return charge_judgement.found_at(self, limit, history, facts)

    def fields(self, travel: Travel, facts: Facts, edges: Sequence[Array], tolerance: float) -> tuple[Field, ...]:
        """Curves of the charge in the press, and the halves that have bodies."""
        return (*charge_outcomes.fields(self, facts), *charge_outcomes.half_fields(travel))

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""
        return charge_outcomes.outcomes(self, history, facts)

    def study(self, facts: Facts) -> dict[str, Any]:
        """A STOP, with what would help, where the charge must not be run."""
        return charge_runaway.stop(self, facts) if isinstance(facts, ChargeFacts) else {}

    def place(self, depth: float) -> str:
        """A depth in words."""
        total = float(np.ravel(self.thickness)[0])
        if depth <= 0.0:
            return "upper face"
        if depth >= total * (1.0 - 1e-12):
            return "lower face"
        words = f"{1e3 * depth:.3g} mm below the upper face"
        if abs(depth / total - 0.5) < 0.03:
            words += " (the middle)"
        if len(self.parts) > 1:
            bottom = 0.0
            for part in self.parts:
                bottom += float(np.ravel(part.thickness)[0])
                if depth <= bottom:
                    return f"{words}, in {part.name}"
        return words

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""
        return cautions_kinds.told(self)

    def warnings(self, history: History) -> list[str]:
        """What in the run lies outside what is known."""
        return charge_words.warnings(self, history)

    def remarks(self, history: History, facts: Facts) -> list[str]:
        """What the outcomes mean at the press."""
        return charge_words.remarks(self, history, facts)

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """The shop's formula for the cure time."""
        return charge_hand.hand(self)

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """What could open a closed window."""
        return charge_hand.openers(self)

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """What most often changes at the press."""
        return charge_hand.shifts(self)
