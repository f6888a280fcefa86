"""A band on a two-roll mill: heated by the front roll and by friction, cooled by the air, evened out where it is folded.

A turn of the rolls takes seconds, the band tens of seconds to change: nip and way round are averaged over a turn. The inner
face exchanges with the front roll, the outer one with the air and, for the share of a turn that it is in the nip, with the
back roll. Friction heat is made in the nip and counted over the whole turn, by default falling as the compound softens.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import Course, LayerState
from thermokit.conduction.evened import evened, mean_of
from thermokit.conduction.problem import Exchange, Face, Layer, Problem, Reaction, Series, Span
from thermokit.processes import cautions_kinds
from thermokit.processes.base import Effect, Facts, Hand, Limit, Plain, mean_temperature
from thermokit.processes.media import Stuff, sensible_mean, typical
from thermokit.processes.start import begun
from thermokit.results.model import Outcome

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.mill import MillCase
    from thermokit.conduction.course import Memory
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array

ZERO = 273.15
BAND = "band"
HEAT = 1e5  # J/kg, of which the friction state is a share: a usual run then comes to about one
GELLED = 0.95  # common practice, no source
DOSE = 0.3  # of the heat life; common practice, no source
HOTTER = 5.0  # K, usual spread of roll faces; common practice, no source
STEPS = np.arange(-30.0, 31.0, 5.0)  # K, roll temperatures tried when no window is open


@dataclass(frozen=True, eq=False)
class FrictionHeat:
    """Heat of friction as a state: d(state)/dt = power exp[-softening (T - reference)] / HEAT, power by mass [W/kg]."""

    power: Any
    softening: Any
    reference: Any

    def evaluate(self, temperature: Array, degrees: tuple[Array, ...]) -> Array:
        """d(state)/dt [1/s] at temperature [K]."""
        return np.asarray(
            self.power / HEAT * np.exp(np.clip(-self.softening * (temperature - self.reference), -50, 50))
        )

    def linearise(self, temperature: Array, degrees: tuple[Array, ...]) -> tuple[Array, Array, tuple[Array, ...]]:
        """(rate [1/s], d rate/dT [1/s/K], zeros for each entry of ``degrees``)."""
        rate = self.evaluate(temperature, degrees)
        return rate, np.asarray(-self.softening * rate), tuple(np.zeros_like(rate) for _ in degrees)


def nip_length(diameter: Any, gap: Any) -> Any:
    """Length over which the rolls are near each other [m]: 2 sqrt(R gap), where the gap has grown to twice its least.

    diameter of the rolls, gap [m]. Between two rolls the gap is gap + x^2/R (parabola). Geometry.

    >>> round(float(nip_length(0.3, 3e-3)), 4)
    0.0424
    """
    return 2.0 * np.sqrt(np.asarray(diameter) / 2.0 * gap)


def friction_power(viscosity: Any, speed: Any, ratio: Any, gap: Any, diameter: Any) -> Any:
    """Friction heat by volume of the band, averaged over a turn [W/m3]: viscosity (speed difference/gap)^2 x share in the nip.

    viscosity [Pa s]; speed of the front roll, the slower one [m/s]; ratio faster over slower; gap, diameter [m]. The shear
    of the difference in speed alone, over :func:`nip_length`: the flow of the bank into the nip comes on top, so this is
    a lower estimate. Share in the nip: nip length over circumference.
    """
    share = nip_length(diameter, gap) / (np.pi * np.asarray(diameter))
    return viscosity * (np.asarray(speed) * (np.asarray(ratio) - 1.0) / gap) ** 2 * share


class MillProcess(Plain):
    """A mill case, translated. Depth counts from the front roll."""

    def __init__(self, case: MillCase):
        self.case = case
        self.stuff = Stuff(case.materials, case.kinetics)
        self.medium = self.stuff.medium(case.band.material)
        kinds = [station.kind for station in case.stations]
        #: number of the station at whose end the band is sheeted off
        self.off = max(i for i, kind in enumerate(kinds) if kind == "mill")

    # -- for the solver --------------------------------------------------------------------------------------------

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, None) of the band."""
        return [(BAND, self.case.band.thickness, self.medium, None)]

    def power_by_mass(self) -> tuple[Any, Any, Any]:
        """(friction heat by mass [W/kg] at the reference temperature, softening [1/K], reference [K])."""
        rolls, band = self.case.rolls, self.case.band
        density = typical(self.medium.density)
        if rolls.power is not None:
            assert band.width is not None
            area = np.pi * np.asarray(rolls.diameter) * band.width
            return rolls.power / (area * band.thickness * density), 0.0, rolls.front
        if rolls.heat is None:
            return 0.0, 0.0, rolls.front
        made = friction_power(rolls.heat.viscosity, rolls.speed, rolls.friction, band.thickness, rolls.diameter)
        return made / density, rolls.heat.softening, rolls.heat.reference

    def _reactions(self, milled: bool) -> tuple[Reaction, ...]:
        found = self.stuff.reactions(self.case.band.kinetics, self.case.band.material)
        power, softening, reference = self.power_by_mass()
        if np.any(np.asarray(power) > 0.0):
            law = FrictionHeat(power if milled else np.asarray(power) * 0.0, softening, reference)
            found = (*found, Reaction("friction_heat", _plain(law), HEAT))
        return found

    def course(self, edges: Sequence[Array]) -> Course:
        """The band on the mill, a leg from fold to fold, and off it."""
        band = self.case.band
        legs: list[Problem] = []
        folds: list[int] = []
        for station in self.case.stations:
            milled = station.kind == "mill"
            layer = Layer(
                self.medium, band.thickness, edges[0], band.start, reactions=self._reactions(milled), name=BAND
            )
            count = getattr(station, "folds", 0)
            duration: Any = station.duration / (count + 1)  # type: ignore[operator]
            for part in range(count + 1):
                if part:
                    folds.append(len(legs))
                air = replace(
                    station.air,
                    temperature=_after(station.air.temperature, part * duration),
                    coefficient=_after(station.air.coefficient, part * duration),
                )
                faces = self._mill_faces(air) if milled else (self._air_face(air),) * 2
                span = Span(duration, *faces, name=station.name)
                legs.append(Problem((layer,), (span,)))
        return begun(Course(tuple(legs), (BAND,), changes=dict.fromkeys(folds, _folded)), self.case)

    def _mill_faces(self, air: Any) -> tuple[Face, Face]:
        rolls, band = self.case.rolls, self.case.band
        share = nip_length(rolls.diameter, band.thickness) / (np.pi * np.asarray(rolls.diameter))
        inner = Face(exchange=(Exchange(rolls.contact, rolls.front),))
        outer = Face(
            exchange=(
                Exchange(air.coefficient, air.temperature),
                Exchange(_plain(rolls.nip_contact * share), rolls.back),
            )
        )
        return inner, outer

    @staticmethod
    def _air_face(air: Any) -> Face:
        return Face(exchange=(Exchange(air.coefficient, air.temperature),))

    # -- for the judgement -----------------------------------------------------------------------------------------

    def _end(self, facts: Facts) -> int:
        """Index of the span at whose end the band is sheeted off."""
        return sum(getattr(station, "folds", 0) + 1 for station in self.case.stations[: self.off + 1]) - 1

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, (cases,) in SI."""
        end = self._end(facts)
        profile, states = facts.stations[end], facts.station_states[end]
        found = {
            "hottest": facts.hottest,
            "spread": profile.max(axis=0) - profile.min(axis=0),
            "mean_temperature": mean_temperature(replace(facts, final=profile), "plane", 0.0),
        }
        for name in ("gel_degree", "fusion_degree"):
            if name in states:
                found[name] = states[name].min(axis=0)
        if "heat_dose" in facts.states:
            found["heat_dose"] = facts.states["heat_dose"].max(axis=0)
        return found

    def limits(self) -> tuple[Limit, ...]:
        """Limits of the case, or common practice where it gives none."""
        given = self.case.limits
        states = {r.state for r in self.stuff.reactions(self.case.band.kinetics, self.case.band.material)}
        record = self.stuff.material(self.case.band.material)
        caution = (getattr(record, "surface_limit", None) or {}).get("caution")
        gel = given.gel_degree if given.gel_degree is not None else GELLED if "gel_degree" in states else None
        dose = given.heat_dose if given.heat_dose is not None else DOSE if "heat_dose" in states else None
        hottest = given.hottest if given.hottest is not None else caution
        off = "at sheet-off"
        rows = (
            ("gel_degree", True, gel, "fraction", f"where it is lowest, {off}"),
            ("fusion_degree", True, given.fusion_degree, "fraction", f"where it is lowest, {off}"),
            ("hottest", False, hottest, "temperature", "hottest place, at any time"),
            ("heat_dose", False, dose, "fraction", "hottest place, over all stations"),
            ("spread", False, given.spread, "temperature_difference", f"hottest less coldest, {off}"),
        )
        return tuple(
            Limit(name, name, least, bound, dimension, where)
            for name, least, bound, dimension, where in rows
            if bound is not None and (not name.endswith("_degree") or name in states)
        )

    def found_at(self, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
        """Place and time of what a limit looks at."""
        if limit.quantity == "hottest":
            return self.place(history.hottest.depth), history.hottest.time
        if limit.quantity == "heat_dose":
            return limit.where, history.ending.time
        return limit.where, history.ends[self._end(facts)].time

    def place(self, depth: float) -> str:
        """A depth in words."""
        total = float(np.ravel(self.case.band.thickness)[0])
        if depth <= 0.0:
            return "face on the front roll"
        return "open face" if depth >= total * (1.0 - 1e-12) else f"{1e3 * depth:.3g} mm from the front roll"

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""
        found = {name: float(np.ravel(value)[0]) for name, value in self.quantities(facts).items()}
        end = history.ends[self._end(facts)]
        out = [
            Outcome("sheet_off_time", end.time, "s", "when the band is sheeted off"),
            Outcome("mean_temperature", found["mean_temperature"] - ZERO, "degC", "mean of the band then"),
            Outcome("roll_face", end.inner_face - ZERO, "degC", "face on the front roll then"),
            Outcome("open_face", end.outer_face - ZERO, "degC", "open face then"),
            Outcome("hottest", history.hottest.value - ZERO, "degC", "hottest place at any time"),
        ]
        words = {
            "gel_degree": "lowest degree of gelation then",
            "fusion_degree": "lowest degree of fusion then",
            "heat_dose": "share of the heat life used up at the end",
        }
        out += [Outcome(name, found[name], "1", text) for name, text in words.items() if name in found]
        power, softening, reference = (float(np.ravel(x)[0]) for x in self.power_by_mass())
        mean = found["mean_temperature"]
        here = power * float(np.exp(-softening * (mean - reference)))
        out.append(
            Outcome("friction_heat", here, "W/kg", "friction heat by mass of band, at its mean temperature then")
        )
        band, rolls = self.case.band, self.case.rolls
        turn = float(np.pi * np.ravel(rolls.diameter)[0] / np.ravel(rolls.speed)[0])
        out.append(Outcome("turn", turn, "s", "time of one turn of the front roll"))
        if band.width is not None:
            area = float(np.pi * np.ravel(rolls.diameter)[0] * np.ravel(band.width)[0])
            mass = area * float(np.ravel(band.thickness)[0]) * typical(self.medium.density)
            out.append(Outcome("band_mass", mass, "kg", "mass of the band, without the bank"))
            out.append(Outcome("friction_power", here * mass / 1e3, "kW", "friction heat of the band then"))
        return out

    def remarks(self, history: History, facts: Facts) -> list[str]:
        """What the answers mean at the mill."""
        end = history.ends[self._end(facts)].time
        found = [
            f"sheet off after {end / 60.0:.1f} min; about ten minutes at about 160 degC is common practice (no source), "
            "two to twelve are met with"
        ]
        mean = float(np.ravel(self.quantities(facts)["mean_temperature"])[0])
        front = float(np.ravel(self.case.rolls.front)[0])
        if mean > front + 1.0:
            found.append(f"friction carries the band {mean - front:.0f} K above its roll: the roll then cools it")
        return found

    def cautions(self) -> list[str]:
        """What to take care of."""
        return cautions_kinds.told(self)

    def warnings(self, history: History) -> list[str]:
        """What lies outside what is known."""
        found = self.stuff.warnings(history)
        for name, state in self.stuff.missing_states(self.case.band.kinetics):
            found.append(f"kinetics {name} reads {state}, which nothing in the band grows")
        return found

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """Warming of an even band, t = tau ln[(Te - T0)/(Te - T1)], then the time to gel at Te.

        tau = rho cp L/(h1 + h2), Te where roll, air, back roll and friction balance, T1 = Te - 10 K. None without a state
        to wait for. Common practice, no source.
        """
        from thermokit.case import sought_path

        path = sought_path(self.case)
        grown = self.stuff.reactions(self.case.band.kinetics, self.case.band.material)
        reactions = [r for r in grown if r.state == "gel_degree"]
        if path is None or not reactions or not any(limit.name == "gel_degree" for limit in self.limits()):
            return None
        station = next(s for s in self.case.stations if s.name == path.split(".")[1])
        if station.kind != "mill":
            return None
        band = self.case.band
        goal = float(next(limit.bound for limit in self.limits() if limit.name == "gel_degree"))
        inner, outer = self._mill_faces(station.air)
        terms = [
            (float(_first(x.coefficient)), float(_first(x.temperature))) for x in (*inner.exchange, *outer.exchange)
        ]
        exchange = sum(h for h, _ in terms)
        power, softening, reference = (float(x) for x in self.power_by_mass())
        thickness, density = float(band.thickness), typical(self.medium.density)
        even = sum(h * t for h, t in terms) / exchange
        settled = even
        for _ in range(50):  # friction falls as the band warms: a few turns find the balance
            made = power * float(np.exp(-softening * (settled - reference))) * density * thickness
            settled = 0.5 * settled + 0.5 * (even + made / exchange)
        start = float(band.start)
        cp = sensible_mean(self.medium.specific_heat, start, settled)
        tau = density * cp * thickness / exchange
        warming = tau * float(np.log(max(settled - start, 20.0) / 10.0))
        gelling = _time_to(reactions[0], goal, settled)
        if gelling is None:
            return None
        formula = (
            f"t = rho cp L/(h1 + h2) ln[(Te - T0)/10 K] + time to gel at Te = {density:.0f} x {cp:.0f} x "
            f"{1e3 * thickness:.3g} mm / {exchange:.0f} W/m2/K x ln[({settled - ZERO:.0f} - {start - ZERO:.0f})/10] + "
            f"{gelling:.0f} s, Te = {settled - ZERO:.0f} degC by balance of rolls, air and friction"
        )
        return Hand(warming + gelling, formula, (Effect("friction heat", _without_friction),), of_earliest=True)

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """Hotter or cooler rolls."""
        rolls = self.case.rolls
        steps = STEPS[STEPS != 0.0]
        values = {"rolls.front": rolls.front + steps, "rolls.back": rolls.back + steps}
        return [("front roll at {} degC, back roll with it,", values, rolls.front + steps - ZERO)]

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """What usually changes at the mill."""
        rolls, band = self.case.rolls, self.case.band
        found: list[tuple[str, dict[str, Any]]] = [
            (f"rolls {HOTTER:g} K hotter", {"rolls.front": rolls.front + HOTTER, "rolls.back": rolls.back + HOTTER}),
            (f"rolls {HOTTER:g} K colder", {"rolls.front": rolls.front - HOTTER, "rolls.back": rolls.back - HOTTER}),
            ("band 0.5 mm thicker", {"band.thickness": band.thickness + 0.5e-3}),
        ]
        if rolls.heat is not None:
            found.append(("friction ratio 0.1 higher", {"rolls.friction": rolls.friction + 0.1}))
        return found


def _folded(memory: Memory, before: Problem, rest: tuple[Problem, ...]) -> tuple[Memory, tuple[Problem, ...]]:
    """The band cut and folded: every cell takes the mean of heat content and of states."""
    layer = before.layers[0]
    state = memory[BAND]
    width = np.diff(layer.edges)

    def everywhere(value: Array, like: Array) -> Array:
        return np.asarray(np.broadcast_to(value, like.shape).copy())

    def mean(x: Array) -> Array:
        return everywhere(mean_of(x, width), x)

    even = LayerState(
        everywhere(evened(state.temperature, width, layer.medium), state.temperature),
        {n: mean(v) for n, v in state.degrees.items()},
        None if state.crystalline is None else mean(state.crystalline),
    )
    return {**memory, BAND: even}, rest


def _after(value: Any, seconds: Any) -> Any:
    """What a table of a station says from so many seconds on: a fold begins a span, but not the station."""
    if not isinstance(value, Series):
        return value
    return Series(tuple(t - seconds for t in value.time), value.value)


def _without_friction(course: Course) -> Course:
    def plain(leg: Problem) -> Problem:
        layers = tuple(
            replace(x, reactions=tuple(r for r in x.reactions if r.state != "friction_heat")) for x in leg.layers
        )
        return replace(leg, layers=layers)

    return course.each(plain)


def _time_to(reaction: Reaction, goal: float, temperature: float) -> float | None:
    """Time that a degree takes to a goal at one temperature [s], by steps of equal degree; None where it does not get there."""
    degree = np.linspace(float(np.ravel(reaction.start)[0]), goal, 2001)
    middle = (degree[1:] + degree[:-1]) / 2
    rate = reaction.rate.evaluate(np.full(len(middle), temperature), (middle,))
    if np.any(~(rate > 0.0)):
        return None
    return float(np.sum(np.diff(degree) / rate))


def _first(value: Any) -> Any:
    return value.value[0] if hasattr(value, "value") else np.ravel(value)[0]


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 and not hasattr(value, "evaluate") else value
