"""The open kind, ``process = "body"``: any layered body through any stations."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.common import DURATION, Case, total
from thermokit.case.declare import Section, key, known
from thermokit.case.limits import Bound, OutcomeLimits
from thermokit.case.mistakes import nearest, shown
from thermokit.case.structure import ListOf, Named, Sub
from thermokit.case.stuff import TEMPERATURE, OwnKinetics
from thermokit.case.tables import Sought, Varying
from thermokit.case.values import Choice, LibraryName, Quantity, Text, Whole, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

COEFFICIENT = Quantity("heat_transfer_coefficient", low=0.0, high=1e12, example="8 W/m2/K")
MOST_CELLS = 20_000

#: what a body's run is judged by; a probe adds NAME_temperature
OUTCOMES = {
    "inner_face_temperature": "temperature",
    "outer_face_temperature": "temperature",
    "hottest_temperature": "temperature",
    "coldest_temperature": "temperature",
    "mean_temperature": "temperature",
    "cure_degree": "fraction",
    "gel_degree": "fraction",
    "fusion_degree": "fraction",
}


@dataclass(frozen=True, kw_only=True, eq=False)
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


@dataclass(frozen=True, kw_only=True, eq=False)
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
            if known(layer) and self.start is None and layer.start is None:
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


@dataclass(frozen=True, kw_only=True, eq=False)
class ConvectionEntry(Section):
    """Heat exchanged with air or a liquid."""

    meaning = "heat exchanged with air or a liquid"

    coefficient: Changing = key(Varying(COEFFICIENT), "Heat transfer coefficient.")
    air: Changing = key(Varying(TEMPERATURE), "Temperature of the air (or liquid).")


@dataclass(frozen=True, kw_only=True, eq=False)
class RadiationEntry(Section):
    """Heat radiated to and from surroundings: emissivity view sigma (surround^4 - face^4) into the body."""

    meaning = "heat radiated to and from surroundings"

    emissivity: Number = key(share(), "Emissivity of the face.")
    surround: Changing = key(Varying(TEMPERATURE), "Temperature of what the face sees.")
    view: Number = key(share(), "Share of the face's view that this fills.", default=1.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class ContactEntry(Section):
    """Contact with something that keeps its temperature."""

    meaning = "contact with something at a temperature"

    coefficient: Changing = key(Varying(COEFFICIENT), "Conductance of the contact.")
    temperature: Changing = key(Varying(TEMPERATURE), "Temperature of what is touched.")


@dataclass(frozen=True, kw_only=True, eq=False)
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


@dataclass(frozen=True, kw_only=True, eq=False)
class Station(Section):
    """A stretch of time with the same faces; starts where the one before ends."""

    meaning = "a station; each starts where the one before ends"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    duration: Number | Find = key(Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.')
    inner: FaceEntry = key(Sub(FaceEntry), "The face at x = 0.", default=INSULATED, default_words="insulated")
    outer: FaceEntry = key(Sub(FaceEntry), "The outer face.", default=INSULATED, default_words="insulated")


@dataclass(frozen=True, kw_only=True, eq=False)
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

    def duration(self) -> Any:
        """Time of all stations [s]."""
        if not known(self.stations) or not known(*self.stations):
            return None
        return total([station.duration for station in self.stations])

    def check(self, at: At, given: frozenset[str]) -> None:
        """A solid body has no inner face; limits are put on outcomes; a layer holds each state once."""
        super().check(at, given)
        if known(self.body):
            self._check_inner_face(at / "stations")
            self._check_reactions(at / "body" / "layers")
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
