"""Heating a sheet between panels before it is formed: problem, outcomes, limits, the hand formula and its gaps."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import (
    STEFAN_BOLTZMANN,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Series,
    Span,
)
from thermokit.conduction.watch import along
from thermokit.errors import CaseError, Mistake
from thermokit.processes import cautions
from thermokit.processes.base import Effect, Facts, Hand, Limit, mean_temperature
from thermokit.processes.media import Stuff, sensible_mean, typical
from thermokit.results.model import Outcome
from thermokit.stations.air import air_face
from thermokit.stations.panels import panel_exchange, panel_face

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.sheet import SheetCase
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array

EMISSIVITY = 0.93  # of a plastics face where neither case nor material gives one; from memory
EVEN = 1e3  # times the conductivity: a sheet without a gradient
PANEL_STEPS = np.arange(-300.0, 201.0, 20.0)  # K, panel temperatures tried when no window is open
COLDER_PANELS = 15.0  # K, usual spread of panel faces; common practice, no source
COLDER_STOCK = 15.0  # K, stock from a cold store; common practice, no source
THICKER = 0.5e-3  # m, the next gauge of sheet; common practice, no source


class SheetProcess:
    """A sheet case, translated. Depth counts from the upper face, which is the solver's inner face."""

    def __init__(self, case: SheetCase):
        self.case = case
        self.stuff = Stuff(case.materials, {})
        record = self.stuff.material(case.sheet.material)
        given = case.sheet.emissivity
        self.emissivity = given if given is not None else getattr(record, "emissivity", None) or EMISSIVITY

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, None) of the sheet."""
        sheet = self.case.sheet
        return [("sheet", sheet.thickness, self.stuff.medium(sheet.material), None)]

    def problem(self, edges: Sequence[Array]) -> Problem:
        """The problem on given cell edges."""
        sheet = self.case.sheet
        layer = Layer(self.stuff.medium(sheet.material), sheet.thickness, edges[0], sheet.start, name="sheet")
        return Problem((layer,), tuple(self._span(station) for station in self.case.stations))

    def _span(self, station: Any) -> Span:
        if station.kind == "panels":
            upper = panel_face(station.upper, station.air, self.emissivity)
            lower = panel_face(station.lower, station.air, self.emissivity)
        else:
            own = station.emissivity if station.emissivity is not None else self.emissivity
            upper = lower = air_face(station.air, own, station.surround)
        return Span(station.duration, upper, lower, name=station.name)

    def limits(self) -> tuple[Limit, ...]:
        """Forming window from the case, or else from the material; a limit that neither gives is left out."""
        given, record = self.case.limits, self.stuff.material(self.case.sheet.material)
        forming = getattr(record, "forming", None) or {}
        coldest = given.coldest_point if given.coldest_point is not None else forming.get("lower")
        hottest = given.hottest_face if given.hottest_face is not None else forming.get("upper")
        found = []
        if coldest is not None:
            found.append(
                Limit(
                    "coldest_point",
                    "coldest_point",
                    True,
                    coldest,
                    where="coldest point, at the end of the last station",
                )
            )
        if hottest is not None:
            found.append(Limit("hottest_face", "hottest_face", False, hottest, where="hottest face, at any time"))
        if given.face_core_difference is not None:
            found.append(
                Limit(
                    "face_core_difference", "face_core_difference", False, given.face_core_difference,
                    "temperature_difference", "hottest less coldest point, at the end of the last station",
                )
            )  # fmt: skip
        return tuple(found)

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, (cases,) in SI."""
        coldest = facts.final.min(axis=0)
        return {
            "coldest_point": coldest,
            "hottest_face": facts.hottest,
            "face_core_difference": facts.final.max(axis=0) - coldest,
        }

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""
        found = self.quantities(facts)
        final = facts.final[:, 0]
        middle = float(along(facts.depth[:, 0], final[None, :], float(facts.edges[-1, 0]) / 2)[0])
        celsius = 273.15

        def degrees(name: str, value: float, meaning: str) -> Outcome:
            return Outcome(name, float(value) - celsius, "degC", meaning)

        out = [
            degrees("coldest_point", found["coldest_point"][0], "coldest point when the sheet reaches the mould"),
            degrees("hottest_face", found["hottest_face"][0], "hottest point at any time"),
            Outcome("hottest_time", history.hottest.time, "s", "when that is"),
            Outcome("face_core_difference", float(found["face_core_difference"][0]), "K",
                    "hottest less coldest point when the sheet reaches the mould"),
            degrees("upper_face", final[0], "upper face then"),
            degrees("middle", middle, "middle of the sheet then"),
            degrees("lower_face", final[-1], "lower face then"),
            degrees("mean_temperature", mean_temperature(facts, "plane", 0.0)[0], "mean through the thickness then"),
        ]  # fmt: skip
        out += self._of_part(history)
        for station in self.case.stations:
            for side in ("upper", "lower"):
                panel = getattr(station, side, None)
                if panel is not None and panel.exchange is None:
                    reach = panel_exchange(panel, self.emissivity)
                    name = f"{station.name}_{side}"
                    out.append(
                        Outcome(f"{name}_view", float(reach.view), "1", f"view factor of the {side} panel, mid-sheet")
                    )
                    out.append(Outcome(f"{name}_exchange", float(reach.factor), "1", f"exchange factor, {side} panel"))
        return out

    def _of_part(self, history: History) -> list[Outcome]:
        """Heat and mass of a blank whose size is given."""
        sheet = self.case.sheet
        stored = history.heat.stored / 3.6e6
        if sheet.length is None or sheet.width is None:
            return [Outcome("heat_taken", stored, "kWh/m2", "heat left in the sheet, ideal: without heater losses")]
        area = float(sheet.length * sheet.width)
        mass = area * float(sheet.thickness) * typical(self.stuff.medium(sheet.material).density)
        return [
            Outcome("heat_taken", stored * area, "kWh", "heat left in the blank, ideal: without heater losses"),
            Outcome("blank_mass", mass, "kg", "mass of the blank"),
        ]

    def place(self, depth: float) -> str:
        """A depth in words."""
        total = float(np.ravel(self.case.sheet.thickness)[0])
        if depth <= 0.0:
            return "upper face"
        if depth >= total * (1.0 - 1e-12):
            return "lower face"
        return f"{1e3 * depth:.3g} mm below the upper face"

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""
        return [*cautions.SHEET, *self.stuff.cautions(), cautions.DEFERENCE]

    def warnings(self, history: History) -> list[str]:
        """What in the run lies outside what is known."""
        found = self.stuff.warnings(history)
        record = self.stuff.material(self.case.sheet.material)
        surface = getattr(record, "surface_limit", None) or {}
        caution = surface.get("caution")
        if caution is not None and history.hottest.value > caution:
            found.append(
                f"a face reaches {history.hottest.value - 273.15:.0f} degC; above {caution - 273.15:.0f} degC the surface "
                "of this material begins to suffer"
            )
        if len(self.limits()) < 2:
            found.append(
                "neither the case nor the material gives both forming limits: add coldest_point and hottest_face to [limits]"
            )
        return found

    # -- the formula of the shop -----------------------------------------------------------------------------------

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """Dwell by the shop formula t = rho cp L dT/q, with all its numbers.

        rho [kg/m3], mean cp [J/kg/K] between the temperatures, L thickness [m], dT from stock to the middle of the
        forming window [K], q [W/m2] heat into both faces at the face temperature half-way between stock and upper limit.
        Common practice, no source. None where there is no window or the first station has no panels.
        """
        case, sheet = self.case, self.case.sheet
        bounds = {limit.name: float(limit.bound) for limit in self.limits() if limit.quantity != "face_core_difference"}
        station = next((s for s in case.stations if s.kind == "panels"), None)
        if station is None or not {"coldest_point", "hottest_face"} <= set(bounds):
            return None
        start, thickness = float(sheet.start), float(sheet.thickness)
        goal = (bounds["coldest_point"] + bounds["hottest_face"]) / 2
        face = (start + bounds["hottest_face"]) / 2
        problem = self.problem(edges)
        number = case.stations.index(station)
        span, medium = problem.spans[number], problem.layers[0].medium
        heat = sum(_flux(side, face) for side in (span.inner, span.outer))
        if heat <= 0.0:
            return None
        cp = sensible_mean(medium.specific_heat, start, goal)
        areal = typical(medium.density) * cp * thickness
        value = areal * (goal - start) / heat
        formula = (
            f"t = rho cp L dT/q = {typical(medium.density):.0f} x {cp:.0f} x {1e3 * thickness:.3g} mm x {goal - start:.0f} K"
            f" / {heat / 1e3:.2f} kW/m2 (both faces at {face - 273.15:.0f} degC, mean of the sheet to "
            f"{goal - 273.15:.0f} degC)"
        )
        return Hand(value, formula, self._effects(number, face, cp))

    def _effects(self, number: int, face: float, cp: float) -> tuple[Effect, ...]:
        def even(problem: Problem) -> Problem:
            layer = problem.layers[0]
            medium = replace(layer.medium, conductivity=EVEN * typical(layer.medium.conductivity))
            return replace(problem, layers=(replace(layer, medium=medium),))

        def steady(problem: Problem) -> Problem:
            spans = list(problem.spans)
            old = spans[number]
            inner, outer = (Face(heating=_flux(side, face)) for side in (old.inner, old.outer))
            spans[number] = replace(old, inner=inner, outer=outer)
            return replace(problem, spans=tuple(spans))

        def plain(problem: Problem) -> Problem:
            layer = problem.layers[0]
            medium = Medium(layer.medium.density, layer.medium.conductivity, cp)
            return replace(problem, layers=(replace(layer, medium=medium),))

        def direct(problem: Problem) -> Problem:
            spans = [
                span if i == number else replace(span, inner=Face(), outer=Face())
                for i, span in enumerate(problem.spans)
            ]
            return replace(problem, spans=tuple(spans))

        effects = [
            Effect("the gradient between face and core", even),
            Effect("the fall of the heat flux as the faces warm", steady),
        ]
        medium = self.stuff.medium(self.case.sheet.material)
        if np.ndim(getattr(medium.specific_heat, "value", 0.0)) or medium.melting is not None:
            effects.append(Effect("specific heat that changes with temperature (and melting)", plain))
        if len(self.case.stations) > 1:
            effects.append(Effect("the stations without panels (transfer)", direct))
        return tuple(effects)

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """Other panel temperatures, the same shift on every panel of the case."""
        paths: dict[str, float] = {}
        for station in self.case.stations:
            for side in ("upper", "lower"):
                panel = getattr(station, side, None)
                if panel is not None and not isinstance(panel.temperature, Series):
                    paths[f"stations.{station.name}.{side}.temperature"] = float(panel.temperature)
        if not paths:
            return []
        hottest = max(paths.values())
        shifts = PANEL_STEPS[(PANEL_STEPS != 0.0) & (min(paths.values()) + PANEL_STEPS > 373.15)]
        values = {path: value + shifts for path, value in paths.items()}
        return [("panels at {} degC", values, hottest + shifts - 273.15)]

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """What most often changes at the machine."""
        sheet = self.case.sheet
        found = [
            (f"sheet {1e3 * THICKER:g} mm thicker", {"sheet.thickness": sheet.thickness + THICKER}),
            (f"stock {COLDER_STOCK:g} K colder", {"sheet.start": sheet.start - COLDER_STOCK}),
        ]
        panels = {
            f"stations.{station.name}.{side}.temperature": panel.temperature - COLDER_PANELS
            for station in self.case.stations
            for side in ("upper", "lower")
            if (panel := getattr(station, side, None)) is not None and not isinstance(panel.temperature, Series)
        }
        if panels:
            found.append((f"panels {COLDER_PANELS:g} K colder", panels))
        return found


def _flux(face: Face, temperature: float) -> float:
    """Heat into a face at a temperature [W/m2]; time tables count with their first value."""

    def first(value: Any) -> float:
        return float(value.value[0]) if isinstance(value, Series) else float(value)

    total = first(face.heating)
    for term in face.exchange:
        assert isinstance(term, Exchange)
        total += first(term.coefficient) * (first(term.temperature) - temperature)
    for seen in face.radiation:
        total += float(seen.factor) * STEFAN_BOLTZMANN * (first(seen.temperature) ** 4 - temperature**4)
    return total


def require_limits(process: SheetProcess) -> None:
    """CaseError where a dwell is sought without a limit to seek it by."""
    if not process.limits():
        raise CaseError(
            process.case.source.file,
            [
                Mistake(
                    "limits",
                    f"no limits: {process.case.sheet.material} has no forming limits of its own",
                    'coldest_point = "127 degC" and hottest_face = "182 degC"',
                    "add [limits] to the case",
                )
            ],
        )
