"""A slug of material on its way through a heating cylinder: warmed by the bore and by friction, shot by shot.

The ring between spreader and bore moves as a plug; the steps of the shots are counted as even motion, so a zone takes
volume of the zone/volume of a shot x cycle. What the pressure loses between plunger and nozzle is heat, loss by volume of
melt, spread evenly over the way. Mixing in the nozzle is not counted: the spread is that of the ring as it leaves.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import Course
from thermokit.conduction.problem import Exchange, Face, Layer, Problem, Reaction, Span
from thermokit.kinetics.pvc import HeatDose
from thermokit.processes import cautions_kinds
from thermokit.processes.base import Facts, Limit, Plain, mean_temperature
from thermokit.processes.cylinder_outcomes import fields, outcomes, remarks
from thermokit.processes.media import HEAT_DOSE, Stuff
from thermokit.processes.regrind import oldest_pass
from thermokit.processes.start import begun

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.cylinder import CylinderCase
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Hand
    from thermokit.results.model import Field, Outcome

MELT = "melt"
DOSE = 0.3  # of the heat life, by the oldest regrind; common practice, no source
STEPS = np.arange(-30.0, 31.0, 5.0)  # K, zone temperatures tried when no window is open


class CylinderProcess(Plain):
    """A cylinder case, translated. Depth counts from the spreader."""

    def __init__(self, case: CylinderCase):
        self.case = case
        self.stuff = Stuff(case.materials, case.kinetics)
        self.medium = self.stuff.medium(case.shot.material)

    # -- for the solver --------------------------------------------------------------------------------------------

    @property
    def gap(self) -> Any:
        """Thickness of the ring [m]."""
        return (self.case.machine.bore - self.case.machine.spreader) / 2.0

    @property
    def inner_radius(self) -> Any:
        """Radius of the spreader [m]."""
        return self.case.machine.spreader / 2.0

    @property
    def residence(self) -> Any:
        """Time from hopper to nozzle [s]."""
        return sum(zone.duration for zone in self.case.zones)

    @property
    def friction(self) -> Any:
        """Heat of friction by volume of what is solved [J/m3]: the pressure lost is work by volume of melt, and the ring is
        solved with the density of the record, so that a kilogram gets pressure loss/density of the melt."""
        return self.case.shot.pressure_loss * (self.medium.density / self.case.melt_density())

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, None) of the ring."""
        return [(MELT, self.gap, self.medium, None)]

    def reactions(self) -> tuple[Reaction, ...]:
        """What goes on in the melt; a heat life of the case's own goes before one of the library."""
        shot = self.case.shot
        found = self.stuff.reactions(shot.kinetics, shot.material)
        if shot.dose is None:
            return found
        own = Reaction(HEAT_DOSE, HeatDose(shot.dose.time, shot.dose.energy, shot.dose.reference))
        return (*(r for r in found if r.state != HEAT_DOSE), own)

    def course(self, edges: Sequence[Array]) -> Course:
        """The slug through the zones."""
        machine, shot = self.case.machine, self.case.shot
        layer = Layer(
            self.medium,
            self.gap,
            edges[0],
            shot.start,
            heat=self.friction / self.residence,
            reactions=self.reactions(),
            name=MELT,
        )
        spans = []
        for zone in self.case.zones:
            inner = Face()
            if machine.spreader_contact is not None:
                inner = Face(exchange=(Exchange(machine.spreader_contact, zone.temperature - machine.spreader_below),))
            outer = Face(exchange=(Exchange(machine.contact, zone.temperature),))
            spans.append(Span(zone.duration, inner, outer, name=zone.name))
        return begun(Course((Problem((layer,), tuple(spans), "cylinder", self.inner_radius),), (MELT,)), self.case)

    # -- for the judgement -----------------------------------------------------------------------------------------

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, (cases,) in SI."""
        coldest, hottest = facts.final.min(axis=0), facts.final.max(axis=0)
        found = {
            "coldest": coldest,
            "mean": mean_temperature(facts, "cylinder", self.inner_radius),
            "hottest": facts.hottest,
            "spread": hottest - coldest,
        }
        if HEAT_DOSE in facts.states:
            once = facts.states[HEAT_DOSE].max(axis=0)
            passes: Any = 1.0
            if self.case.regrind is not None:
                passes = oldest_pass(self.case.regrind.share, self.case.regrind.oldest)
            found["heat_dose"] = np.asarray(once * passes)
            found["hold_up_dose"] = np.broadcast_to(np.asarray(self.hold_up_dose()), coldest.shape)
        return found

    def hold_up_dose(self) -> Any:
        """Share of the heat life used by what hangs back at the hottest bore for so many times the slug's time."""
        rate = next(r.rate for r in self.reactions() if r.state == HEAT_DOSE)
        hottest = self.case.zones[0].temperature
        for zone in self.case.zones[1:]:
            hottest = np.maximum(hottest, zone.temperature)
        temperature = np.atleast_1d(np.asarray(hottest, float))
        used = rate.evaluate(temperature, (np.zeros_like(temperature),)) * self.case.hold_up.times * self.residence
        return used if used.size > 1 else float(used[0])

    def limits(self) -> tuple[Limit, ...]:
        """Limits of the case, or common practice where it gives none."""
        given = self.case.limits
        melting = self.medium.melting
        ages = any(r.state == HEAT_DOSE for r in self.reactions())
        coldest = given.coldest if given.coldest is not None else None if melting is None else melting.high
        dose = given.heat_dose if given.heat_dose is not None else DOSE
        held = given.hold_up_dose if given.hold_up_dose is not None else 1.0
        out = "of the melt that leaves"
        rows = (
            ("coldest", "coldest", True, coldest, "temperature", f"coldest place {out}"),
            ("mean", "mean", True, given.mean, "temperature", f"mean {out}"),
            ("mean_most", "mean", False, given.mean_most, "temperature", f"mean {out}"),
            ("hottest", "hottest", False, given.hottest, "temperature", "hottest place, at any time"),
            ("spread", "spread", False, given.spread, "temperature_difference", f"hottest less coldest place {out}"),
            (
                "heat_dose",
                "heat_dose",
                False,
                dose if ages else None,
                "fraction",
                "oldest regrind, all passes together",
            ),
            ("hold_up_dose", "hold_up_dose", False, held if ages else None, "fraction", "what hangs back at the bore"),
        )
        return tuple(Limit(*row[:3], *row[3:]) for row in rows if row[3] is not None)

    def found_at(self, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
        """Place and time of what a limit looks at."""
        if limit.quantity == "hottest":
            return self.place(history.hottest.depth), history.hottest.time
        if limit.quantity == "coldest":
            return self.place(float(np.ravel(facts.depth[int(np.argmin(facts.final[:, 0]))])[0])), history.ending.time
        return limit.where, history.ending.time

    def place(self, depth: float) -> str:
        """A depth in words."""
        gap = float(np.ravel(self.gap)[0])
        if depth <= 0.0:
            return "at the spreader" if float(np.ravel(self.inner_radius)[0]) > 0.0 else "in the middle"
        return "at the bore" if depth >= gap * (1.0 - 1e-12) else f"{1e3 * (gap - depth):.3g} mm from the bore"

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""
        return outcomes(self, history, facts)

    def fields(self, travel: Travel, facts: Facts, edges: Sequence[Array], tolerance: float) -> tuple[Field, ...]:
        """The melt zone by zone, and regrind by the number of its passes."""
        return fields(self, travel.history, facts)

    def remarks(self, history: History, facts: Facts) -> list[str]:
        """What the answers mean at the machine."""
        return remarks(self, history, facts)

    def cautions(self) -> list[str]:
        """What to take care of."""
        return cautions_kinds.told(self)

    def warnings(self, history: History) -> list[str]:
        """What lies outside what is known."""
        found = self.stuff.warnings(history)
        for name, state in self.stuff.missing_states(self.case.shot.kinetics):
            found.append(f"kinetics {name} reads {state}, which nothing in the melt grows")
        return found

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """The shop's formula for the cycle."""
        from thermokit.processes.cylinder_hand import hand

        return hand(self)

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """Zone temperatures and shots that may open a closed window."""
        zones = {f"zones.{zone.name}.temperature": zone.temperature + STEPS for zone in self.case.zones}
        first = float(np.ravel(self.case.zones[-1].temperature)[0])
        shares = np.array([0.4, 0.5, 0.6, 0.7, 0.8, 0.9])
        return [
            ("all zones moved, the last to {} degC,", zones, first + STEPS - 273.15),
            ("a shot of {} g", {"shot.mass": self.case.shot.mass * shares}, 1e3 * self.case.shot.mass * shares),
        ]

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """What changes at the machine."""
        case = self.case
        zones = {f"zones.{zone.name}.temperature": zone.temperature - 10.0 for zone in case.zones}
        return [
            ("all zones 10 K colder", zones),
            ("a shot 20 % larger", {"shot.mass": 1.2 * case.shot.mass}),
            ("damp or cold store: material 15 K colder", {"shot.start": case.shot.start - 15.0}),
        ]
