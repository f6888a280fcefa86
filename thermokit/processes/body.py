"""The open kind: any layered body through any stations, as a problem, with its outcomes and limits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import as_course
from thermokit.conduction.problem import Exchange, Face, Layer, Problem, Radiation, Span
from thermokit.conduction.watch import along
from thermokit.processes import cautions_kinds
from thermokit.processes.base import Facts, Limit, Plain, mean_temperature
from thermokit.processes.media import HEAT_DOSE, Stuff
from thermokit.processes.start import begun
from thermokit.results.model import Outcome

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.body import BodyCase
    from thermokit.case.faces import FaceEntry
    from thermokit.conduction.course import Course
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array

STATES = {"cure_degree": "degree of cure", "gel_degree": "degree of gelation", "fusion_degree": "degree of fusion"}


def face_of(entry: FaceEntry) -> Face:
    """A face of a case as a face of the solver; convection and contact are both linear exchange."""
    if entry.temperature is not None:
        return Face(temperature=entry.temperature)
    exchange = []
    if entry.convection is not None:
        exchange.append(Exchange(entry.convection.coefficient, entry.convection.air))
    if entry.contact is not None:
        exchange.append(Exchange(entry.contact.coefficient, entry.contact.temperature))
    return Face(
        exchange=tuple(exchange),
        radiation=tuple(Radiation(seen.emissivity * seen.view, seen.surround) for seen in entry.radiation),
        heating=entry.heating if entry.heating is not None else 0.0,
    )


class BodyProcess(Plain):
    """A body case, translated."""

    def __init__(self, case: BodyCase):
        self.case = case
        self.stuff = Stuff(case.materials, case.kinetics)

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, cells asked for) of each layer."""
        return [(e.name, e.thickness, self.stuff.medium(e.material), e.cells) for e in self.case.body.layers]

    def problem(self, edges: Sequence[Array]) -> Problem:
        """The problem on given cell edges, one array a layer."""
        body = self.case.body
        layers = []
        for entry, cut in zip(body.layers, edges, strict=True):
            layers.append(
                Layer(
                    medium=self.stuff.medium(entry.material),
                    thickness=entry.thickness,
                    edges=cut,
                    start=entry.start if entry.start is not None else body.start,  # type: ignore[arg-type]
                    contact=entry.contact,
                    heat=entry.heat,
                    reactions=self.stuff.reactions(entry.kinetics, entry.material),
                    name=entry.name,
                )
            )
        spans = tuple(
            Span(station.duration, face_of(station.inner), face_of(station.outer), name=station.name)  # type: ignore[arg-type]
            for station in self.case.stations
        )
        return Problem(tuple(layers), spans, body.shape, body.inner_radius)  # type: ignore[arg-type]

    def course(self, edges: Sequence[Array]) -> Course:
        """One body from beginning to end."""
        return begun(as_course(self.problem(edges)), self.case)

    def limits(self) -> tuple[Limit, ...]:
        """The limits of the case, an entry with both ends as two."""
        found = []
        for name, bound in self.case.limits.items():
            for least, value in ((True, bound.at_least), (False, bound.at_most)):
                if value is not None:
                    found.append(Limit(name, name, least, value, bound.dimension, self._where(name)))
        return tuple(found)

    def _where(self, name: str) -> str:
        words = {
            "inner_face_temperature": "inner face, at the end",
            "outer_face_temperature": "outer face, at the end",
            "hottest_temperature": "hottest place, at any time",
            "coldest_temperature": "coldest place, at the end",
            "hottest_final_temperature": "hottest place, at the end",
            "final_spread": "hottest less coldest place, at the end",
            "mean_temperature": "whole body, at the end",
        }
        if name in STATES:
            return "where it is lowest, at the end"
        if name == HEAT_DOSE:
            return "where it is highest, at the end"
        return words.get(name, f"at {name.removesuffix('_temperature')}, at the end")

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """Every outcome that a limit may be put on, (cases,) in SI."""
        body = self.case.body
        found = {
            "inner_face_temperature": facts.final[0],
            "outer_face_temperature": facts.final[-1],
            "hottest_temperature": facts.hottest,
            "coldest_temperature": facts.final.min(axis=0),
            "hottest_final_temperature": facts.final.max(axis=0),
            "final_spread": facts.final.max(axis=0) - facts.final.min(axis=0),
            "mean_temperature": mean_temperature(facts, body.shape, body.inner_radius),
        }
        for name in STATES:
            if name in facts.states:
                with np.errstate(invalid="ignore"):
                    found[name] = np.fmin.reduce(facts.states[name], axis=0)
        if HEAT_DOSE in facts.states:
            with np.errstate(invalid="ignore"):
                found[HEAT_DOSE] = np.fmax.reduce(facts.states[HEAT_DOSE], axis=0)
        for probe in self.case.output.probes:
            found[f"{probe.name}_temperature"] = self._probe(facts, probe.at)
        return found

    @staticmethod
    def _probe(facts: Facts, at: Any) -> Array:
        cases = facts.final.shape[1]
        if facts.depth.shape[1] == 1 and np.ndim(at) == 0:
            return along(facts.depth[:, 0], facts.final.T, float(at))
        depth = np.broadcast_to(facts.depth, facts.final.shape)
        places = np.broadcast_to(np.asarray(at, float), (cases,))
        return np.array([np.interp(places[i], depth[:, i], facts.final[:, i]) for i in range(cases)])

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""
        values = {name: float(value[0]) for name, value in self.quantities(facts).items()}
        body = self.case.body
        solid = body.shape != "plane" and body.inner_radius == 0.0
        inner = "axis" if body.shape == "cylinder" and solid else "centre" if solid else "inner face"
        meanings = {
            "inner_face_temperature": f"temperature of the {inner} at the end",
            "outer_face_temperature": "temperature of the outer face at the end",
            "hottest_temperature": "hottest place at any time",
            "coldest_temperature": "coldest place at the end",
            "hottest_final_temperature": "hottest place at the end",
            "mean_temperature": "mean temperature of the body at the end",
        }
        found = []
        for name, value in values.items():
            if name in STATES:
                found.append(Outcome(name, value, "1", f"lowest {STATES[name]} at the end"))
                continue
            if name == HEAT_DOSE:
                found.append(Outcome(name, value, "1", "largest share of the heat life used up, at the end"))
                continue
            if name == "final_spread":
                found.append(Outcome(name, value, "K", "hottest less coldest place at the end"))
                continue
            words = meanings.get(name, f"temperature at probe {name.removesuffix('_temperature')} at the end")
            found.append(Outcome(name, value - 273.15, "degC", words))
        found.append(Outcome("hottest_time", history.hottest.time, "s", "when the hottest place is hottest"))
        found.append(Outcome("hottest_depth", 1e3 * history.hottest.depth, "mm", "where, from the inner face"))
        return found

    def place(self, depth: float) -> str:
        """A depth in words."""
        total = float(np.ravel(sum(np.asarray(e.thickness) for e in self.case.body.layers))[0])
        if depth <= 0.0:
            return "inner face"
        if depth >= total * (1.0 - 1e-12):
            return "outer face"
        return f"{1e3 * depth:.3g} mm from the inner face"

    def cautions(self) -> list[str]:
        """What to take care of."""
        return cautions_kinds.told(self)

    def warnings(self, history: History) -> list[str]:
        """What in the run lies outside what is known."""
        found = self.stuff.warnings(history)
        for layer in self.case.body.layers:
            for name, state in self.stuff.missing_states(layer.kinetics):
                found.append(f"layer {layer.name}: kinetics {name} reads {state}, which nothing in the layer grows")
            for name, state in self.stuff.repeated_states(layer.kinetics):
                found.append(f"layer {layer.name}: kinetics {name} grows {state}, which another set there grows too")
            for name in self.stuff.never_starting(layer.kinetics):
                found.append(
                    f"layer {layer.name}: kinetics {name} has no first rate and starts at degree 0: it hardly begins; "
                    "give it a start of about 1e-4"
                )
        return found
