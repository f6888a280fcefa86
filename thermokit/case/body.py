"""The open kind, ``process = "body"``: any layered body through any stations."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.common import DURATION, Case, StartKey, total
from thermokit.case.declare import Section, key, known
from thermokit.case.faces import INSULATED, FaceEntry
from thermokit.case.limits import Bound, OutcomeLimits
from thermokit.case.mistakes import nearest, shown
from thermokit.case.structure import ListOf, Named, Sub
from thermokit.case.stuff import TEMPERATURE, OwnKinetics
from thermokit.case.tables import Sought, Varying
from thermokit.case.values import Choice, LibraryName, Quantity, Text, Whole

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

MOST_CELLS = 20_000

#: what a body's run is judged by; a probe adds NAME_temperature
OUTCOMES = {
    "inner_face_temperature": "temperature",
    "outer_face_temperature": "temperature",
    "hottest_temperature": "temperature",
    "coldest_temperature": "temperature",
    "hottest_final_temperature": "temperature",
    "final_spread": "temperature_difference",
    "mean_temperature": "temperature",
    "cure_degree": "fraction",
    "gel_degree": "fraction",
    "fusion_degree": "fraction",
    "heat_dose": "fraction",
}


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LayerEntry(Section):
    """One layer of the body."""

    meaning = "one layer, from the inner face (x = 0) outwards"

    name: str = key(Text(100), "Its name.", default="", default_words="layer_1, ...")
    material: str = key(LibraryName("materials"), "What it is made of.")
    thickness: Number = key(Quantity("length", above=0.0, high=1e4, example="6 mm"), "Its thickness.")
    cells: int | None = key(
        Whole(1, MOST_CELLS), "That many equal cells.", default=None,
        default_words="a mesh that meets the accuracy", physical=False,
    )  # fmt: skip
    contact: Number | None = key(
        Quantity("heat_transfer_coefficient", above=0.0, high=1e12, example="500 W/m2/K"),
        "Conductance of the contact to the next layer.", default=None, default_words="perfect contact",
    )  # fmt: skip
    heat: Changing = key(
        Varying(Quantity("volumetric_heat", low=-1e15, high=1e15, example="5 kW/m3")),
        "Internal heat source; the times of a table run from the start of the case.", default=0.0,
    )  # fmt: skip
    start: Number | None = key(
        TEMPERATURE, "Temperature at the beginning.", default=None, default_words="the body's start"
    )
    kinetics: tuple[str, ...] = key(
        ListOf(LibraryName("kinetics"), most=10, single=True), "What reacts in it: one name or a list.", default=()
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """Each reaction once."""
        if known(self.kinetics) and known(*self.kinetics) and len(set(self.kinetics)) < len(self.kinetics):
            (at / "kinetics").mistake("a name stands twice", "each name once")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BodySection(Section):
    """The body: its shape and layers."""

    meaning = "the body"

    shape: str = key(Choice(("plane", "cylinder", "sphere")), "Shape of the layers.")
    inner_radius: Number = key(
        Quantity("length", low=0.0, high=1e4, example="5 mm"),
        "Radius of the inner face, for a cylinder or sphere only; 0 is solid to the axis, without an inner face.",
        default=0.0,
    )
    start: Number | None = key(
        TEMPERATURE, "Temperature of the whole body at the beginning; a layer's own start goes first.", default=None,
        default_words="each layer then needs its own",
    )  # fmt: skip
    layers: tuple[LayerEntry, ...] = key(
        ListOf(Sub(LayerEntry), least=1, most=1000, naming="layer"), "Layers from the inner face (x = 0) outwards."
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """A plane has no radius; every layer has a temperature to begin with; the last one touches nothing."""
        if self.shape == "plane" and "inner_radius" in given:
            (at / "inner_radius").mistake("a plane has no radius", "only with a cylinder or sphere", "leave it out")
        if not known(self.layers):
            return
        for i, layer in enumerate(self.layers):
            if known(layer) and self.start is None and layer.start is None and not at.report.starts_from:
                (at / "layers" / str(i) / "start").mistake(
                    "missing: neither the body nor the layer has a start", TEMPERATURE.words()
                )
        last = self.layers[-1]
        if known(last) and known(last.contact) and last.contact is not None:
            (at / "layers" / str(len(self.layers) - 1) / "contact").mistake(
                "the last layer has no next one to touch", "on every layer but the last",
                "what touches the outer face belongs in a station's outer.contact",
            )  # fmt: skip

    def unwritten(self) -> frozenset[str]:
        """A plane has no radius."""
        return frozenset({"inner_radius"}) if self.shape == "plane" else frozenset()


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Station(Section):
    """A stretch of time with the same faces; starts where the one before ends."""

    meaning = "a station; each starts where the one before ends"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    duration: Number | Find = key(Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.')
    inner: FaceEntry = key(Sub(FaceEntry), "The face at x = 0.", default=INSULATED, default_words="insulated")
    outer: FaceEntry = key(Sub(FaceEntry), "The outer face.", default=INSULATED, default_words="insulated")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BodyCase(Case):
    """A layered body and the stations it passes through."""

    meaning = "any layered body through any stations"

    process: str = key(Choice(("body",)), "Kind of case.", default="body", stated=True)
    body: BodySection = key(Sub(BodySection), "The body.")
    kinetics: Mapping[str, OwnKinetics] = key(Named(Sub(OwnKinetics)), "Kinetics of your own, by name.", default={})
    stations: tuple[Station, ...] = key(
        ListOf(Sub(Station), least=1, most=1000, naming="station"), "What the body passes through, in order."
    )
    limits: Mapping[str, Bound] = key(
        OutcomeLimits(outcomes=tuple(OUTCOMES.items())), "What an outcome must keep to, by its name.", default={}
    )

    def depth(self) -> Any:
        """Thickness of all layers [m]."""
        if not known(self.body) or not known(self.body.layers) or not known(*self.body.layers):
            return None
        return total([layer.thickness for layer in self.body.layers])

    def starts(self) -> list[StartKey]:
        """Every layer, with the body's start for those without their own."""
        return [
            StartKey(layer.name, ("body", "layers", str(i), "start"), layer.start, self.body.start)
            for i, layer in enumerate(self.body.layers)
        ]

    def check(self, at: At, given: frozenset[str]) -> None:
        """A solid body has no inner face; limits are put on outcomes; a layer holds each state once."""
        super().check(at, given)
        if known(self.body):
            self._check_inner_face(at / "stations")
            self._check_reactions(at / "body" / "layers")
            self._check_states(at / "limits")
        if known(self.limits, self.output) and known(self.output.probes):
            probes = [f"{p.name}_temperature" for p in self.output.probes if known(p) and known(p.name)]
            for name in self.limits:
                if name not in OUTCOMES and name not in probes:
                    names = [*OUTCOMES, *probes]
                    advice = nearest(name, names)
                    if name.endswith("_temperature") and not probes:
                        advice = f"an [[output.probes]] named {shown(name.removesuffix('_temperature'))} makes it one"
                    (at / "limits" / name).mistake("is no outcome of this case", ", ".join(names), advice)

    def _check_inner_face(self, at: At) -> None:
        shape, radius = self.body.shape, self.body.inner_radius
        if shape not in ("cylinder", "sphere") or not known(radius, self.stations) or radius != 0.0:
            return
        for i, station in enumerate(self.stations):
            if known(station) and known(station.inner) and not station.inner.insulated:
                (at / str(i) / "inner").mistake(
                    f"a solid {shape} has no inner face", "only with an inner_radius above 0"
                )

    def _check_reactions(self, at: At) -> None:
        if not known(self.kinetics, self.body.layers):
            return
        for i, layer in enumerate(self.body.layers):
            if not known(layer) or not known(layer.kinetics) or not known(*layer.kinetics):
                continue
            own = [self.kinetics[name] for name in dict.fromkeys(layer.kinetics) if name in self.kinetics]
            states = [entry.state for entry in own if known(entry) and known(entry.state)]
            for state in sorted({state for state in states if states.count(state) > 1}):
                (at / str(i) / "kinetics").mistake(
                    f"two sets of kinetics grow {shown(state)} in this layer", "one set for each state"
                )

    def _check_states(self, at: At) -> None:
        """A limit on a state needs a layer in which it grows."""
        if not known(self.limits, self.body.layers, self.kinetics, self.materials):
            return
        wanted = [name for name in self.limits if OUTCOMES.get(name) == "fraction"]
        if not wanted or not known(*self.body.layers):
            return
        grown = self._grown()
        for name in wanted:
            if grown is not None and name not in grown:
                (at / name).mistake(
                    "nothing in the body grows it",
                    "a layer whose kinetics does",
                    "`thermokit materials --kinetics` lists sets",
                )

    def _grown(self) -> set[str] | None:
        """States that grow in some layer, None where a mistake hides them."""
        from thermokit.errors import DataError
        from thermokit.kinetics.library import load

        found = set()
        for layer in self.body.layers:
            if not known(layer.kinetics, layer.material) or not known(*layer.kinetics):
                return None
            own = self.materials.get(layer.material)
            if not known(own):
                return None
            if own is not None and own.recipe is not None:
                found.add("heat_dose")
            for name in layer.kinetics:
                entry = self.kinetics.get(name)
                if not known(entry) or (entry is not None and not known(entry.state)):
                    return None
                try:
                    found.add(load(name).state if entry is None else f"{entry.state}_degree")
                except DataError:
                    return None  # told as an unknown name
        return found


TEMPLATE = """\
# A layered body through stations. `thermokit explain KEY` tells what a key means, `thermokit run FILE` runs it.
title = "Two-layer wall warmed from inside"
process = "body"

[body]
shape = "plane"                 # plane | cylinder | sphere
# inner_radius = "5 mm"         # cylinder and sphere only; left out: solid to the axis
start = "20 degC"               # temperature at the beginning

[[body.layers]]                 # from the inner face (x = 0) outwards
name = "shell"
material = "steel_mild"         # `thermokit materials` lists the library
thickness = "6 mm"
contact = "500 W/m2/K"          # to the next layer; left out: perfect contact

[[body.layers]]
name = "lining"
material = "lining_stuff"       # one of your own, below
thickness = "10 mm"

[materials.lining_stuff]
conductivity = "0.2 W/m/K"      # or { temperature = ["20 degC", "120 degC"], value = ["0.2 W/m/K", "0.25 W/m/K"] }
density = "1200 kg/m3"
specific_heat = "1500 J/kg/K"

[[stations]]                    # in order; each starts where the one before ends
name = "heat"
duration = "180 s"
[stations.inner]
temperature = "100 degC"        # prescribed; or any of the keys below, which add up
[stations.outer]                # a face left out is insulated
convection = { coefficient = "8 W/m2/K", air = "20 degC" }
# radiation = { emissivity = 0.9, surround = "20 degC" }
# contact = { coefficient = "500 W/m2/K", temperature = "50 degC" }
# heating = "2 kW/m2"

[[stations]]
name = "cool"
duration = "5 min"
[stations.outer]
convection = { coefficient = "25 W/m2/K", air = "20 degC" }

[output]
every = "2 s"

[[output.probes]]
name = "joint"
at = "6 mm"                     # depth from the inner face

[limits.joint_temperature]
at_most = "110 degC"
"""
