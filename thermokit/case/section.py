"""The open kind in two dimensions, ``process = "section"``: regions of a plane or axisymmetric section, with channels."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.common import DURATION, Case, Output
from thermokit.case.declare import UNKNOWN, Section, key, known
from thermokit.case.faces import COEFFICIENT, FaceEntry
from thermokit.case.limits import Bound, OutcomeLimits
from thermokit.case.mistakes import shown
from thermokit.case.structure import ListOf, Named, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Sought, Varying
from thermokit.case.values import Choice, Flag, LibraryName, Quantity, Text

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

COORDINATE = Quantity("length", low=-1e4, high=1e4, example="10 mm")
MOST_CORNERS = 5_000

#: what a section's run is judged by; regions and probes add outcomes of their own
OUTCOMES = {
    "hottest_temperature": "temperature",
    "coldest_temperature": "temperature",
    "hottest_final_temperature": "temperature",
    "final_spread": "temperature_difference",
    "mean_temperature": "temperature",
}
#: what each region adds: REGION_... , all at the end (of the last station in which it is there) but the first
REGION_OUTCOMES = ("hottest_temperature", "hottest_final_temperature", "coldest_temperature", "mean_temperature")


@dataclass(eq=False, repr=False)
class Point(ListOf):
    """A place in the section: two lengths, ``["10 mm", "60 mm"]``."""

    def read(self, raw: Any, at: At) -> Any:
        """(x, y) in metres."""
        if not isinstance(raw, list) or len(raw) != 2:
            what = f"{len(raw)} entries" if isinstance(raw, list) else shown(raw)
            at.mistake(f"{what}: no place in the section", self.words())
            return UNKNOWN
        found = tuple(self.item.read(entry, at / str(i)) for i, entry in enumerate(raw))
        return found if known(*found) else UNKNOWN

    def words(self) -> str:
        """What may stand here."""
        return 'a place [x, y], two lengths with units such as ["10 mm", "60 mm"]'


def place() -> Point:
    """The kind of a key that takes a place."""
    return Point(COORDINATE, least=2, most=2)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RegionEntry(Section):
    """A closed polygon of one material."""

    meaning = "a region of one material; one wholly inside another is an insert and owns its place"

    name: str = key(Text(100), "Its name.", default="", default_words="region_1, ...")
    material: str = key(LibraryName("materials"), "What it is made of.")
    outline: tuple[tuple[Number, Number], ...] = key(
        ListOf(place(), least=3, most=MOST_CORNERS), "Its corners [x, y] in order, either way round; closed by itself."
    )
    start: Number | None = key(
        TEMPERATURE, "Temperature at the beginning.", default=None, default_words="the section's start"
    )
    heat: Changing = key(
        Varying(Quantity("volumetric_heat", low=-1e15, high=1e15, example="5 kW/m3")),
        "Internal heat source; the times of a table run from the start of the case.", default=0.0,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ChannelEntry(Section):
    """A round hole."""

    meaning = "a round hole (a ring-shaped one where the section is axisymmetric)"

    name: str = key(
        Text(100), "Its name, by which a station gives its face.", default="", default_words="channel_1, ..."
    )
    centre: tuple[Number, Number] = key(place(), "Its centre.")
    diameter: Number = key(Quantity("length", above=0.0, high=1e4, example="10 mm"), "Its diameter.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class TouchEntry(Section):
    """Two regions that touch with a resistance."""

    meaning = "two regions that touch with a conductance; others touch perfectly"

    between: tuple[str, ...] = key(ListOf(Text(100), least=2, most=2), "The two regions, by name.")
    coefficient: Changing = key(Varying(COEFFICIENT), "Conductance of the contact.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class EdgeEntry(Section):
    """A name for a part of the outside."""

    meaning = "a name for the part of the outside that lies on a straight run"

    name: str = key(Text(100), "Its name, by which a station gives its face.", default="", default_words="edge_1, ...")
    start: tuple[Number, Number] = key(place(), "Where the run begins.", word="from")
    end: tuple[Number, Number] = key(place(), "Where it ends.", word="to")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SectionSection(Section):
    """The section: regions, channels, contacts and named edges."""

    meaning = "the section"

    start: Number | None = key(
        TEMPERATURE, "Temperature of the whole section at the beginning; a region's own start goes first.", default=None,
        default_words="each region then needs its own, but in the steady state",
    )  # fmt: skip
    symmetry: str = key(
        Choice(("plane", "axis")), "plane: all is per metre of depth; axis: x is the radius.", default="plane"
    )
    steady: bool = key(Flag(), "true: the steady state under the first station's faces.", default=False)
    regions: tuple[RegionEntry, ...] = key(ListOf(Sub(RegionEntry), least=1, most=200, naming="region"), "Its regions.")
    channels: tuple[ChannelEntry, ...] = key(
        ListOf(Sub(ChannelEntry), most=500, naming="channel"), "Round holes.", default=()
    )
    contacts: tuple[TouchEntry, ...] = key(
        ListOf(Sub(TouchEntry), most=500), "Regions that touch imperfectly.", default=()
    )
    edges: tuple[EdgeEntry, ...] = key(
        ListOf(Sub(EdgeEntry), most=1000, naming="edge"), "Names of parts of the outside.", default=()
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SectionStation(Section):
    """A stretch of time with the same faces."""

    meaning = "a station; each starts where the one before ends"

    name: str = key(Text(100), "Its name.", default="", default_words="station_1, ...")
    duration: Number | Find | None = key(
        Sought(DURATION), 'How long; "find" leaves it to `thermokit dwell`.', default=None,
        default_words="must be given, but in the steady state",
    )  # fmt: skip
    faces: Mapping[str, FaceEntry] = key(
        Named(Sub(FaceEntry)), "Faces by the name of an edge or channel; one left out is insulated.", default={}
    )
    absent: tuple[str, ...] = key(
        ListOf(Text(100), most=200),
        "Regions that are not there; one that comes back begins with its start.",
        default=(),
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PlaceProbe(Section):
    """A place of the section whose temperature is followed."""

    meaning = "a place that is followed"

    name: str = key(
        Text(100), "Its name: NAME_temperature is a series in the result and an outcome.", default="",
        default_words="probe_1, ...",
    )  # fmt: skip
    at: tuple[Number, Number] = key(place(), "Where it is: [x, y], on boundaries and corners too.")

    def check(self, at: At, given: frozenset[str]) -> None:
        """The name becomes the name of a variable in the result file."""
        if known(self.name) and ("/" in self.name or self.name.strip(" .") != self.name):
            (at / "name").mistake(f"{shown(self.name)} cannot be a variable's name", "a word without / or outer dots")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SectionOutput(Output):
    """Which rows the result keeps, and which places are followed."""

    probes: tuple[PlaceProbe, ...] = key(  # type: ignore[assignment]
        ListOf(Sub(PlaceProbe), naming="probe"), "Places to follow.", default=()
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SectionCase(Case):
    """A plane or axisymmetric section and the stations it passes through, or its steady state."""

    meaning = "a plane or axisymmetric section of any regions, with channels"

    process: str = key(Choice(("section",)), "Kind of case.", default="section", stated=True)
    section: SectionSection = key(Sub(SectionSection), "The section.")
    stations: tuple[SectionStation, ...] = key(
        ListOf(Sub(SectionStation), least=1, most=1000, naming="station"), "What it passes through, in order."
    )
    limits: Mapping[str, Bound] = key(
        OutcomeLimits(outcomes=tuple(OUTCOMES.items())), "What an outcome must keep to, by its name.", default={}
    )
    output: SectionOutput = key(Sub(SectionOutput), "Which rows the result keeps.", default=SectionOutput())

    def check(self, at: At, given: frozenset[str]) -> None:
        """Names lead somewhere, everything has a start and a duration, outlines make a section."""
        from thermokit.case.section_checks import check_section

        super().check(at, given)
        check_section(self, at)


TEMPLATE = """\
# A section through anything: regions, channels, edges. `thermokit explain KEY` tells what a key means.
title = "A strip cooling on a steel block with a water channel"
process = "section"

[section]
start = "25 degC"               # temperature at the beginning
symmetry = "plane"              # plane | axis (x is then the radius)
steady = false                  # true: the steady state under the first station's faces

[[section.regions]]             # closed polygons; one wholly inside another is an insert and owns its place
name = "block"
material = "steel_mild"         # `thermokit materials` lists the library
outline = [["0 mm", "0 mm"], ["60 mm", "0 mm"], ["60 mm", "40 mm"], ["0 mm", "40 mm"]]

[[section.regions]]
name = "strip"
material = "strip_stuff"        # one of your own, below
outline = [["10 mm", "40 mm"], ["50 mm", "40 mm"], ["50 mm", "43 mm"], ["10 mm", "43 mm"]]
start = "180 degC"

[[section.channels]]            # round holes
name = "water"
centre = ["30 mm", "25 mm"]
diameter = "8 mm"

[[section.contacts]]            # regions that are not named touch perfectly
between = ["strip", "block"]
coefficient = "1500 W/m2/K"

[[section.edges]]               # names the part of the outside that lies on a straight run
name = "top"
from = ["10 mm", "43 mm"]
to = ["50 mm", "43 mm"]

[materials.strip_stuff]
conductivity = "0.2 W/m/K"
density = "950 kg/m3"
specific_heat = "2 kJ/kg/K"

[[stations]]                    # in order; each starts where the one before ends
name = "cool"
duration = "20 s"
[stations.faces.water]          # by the name of an edge or channel; a face left out is insulated
convection = { coefficient = "4000 W/m2/K", air = "25 degC" }
[stations.faces.top]
convection = { coefficient = "10 W/m2/K", air = "25 degC" }

[[output.probes]]
name = "middle"
at = ["30 mm", "43 mm"]         # on boundaries and corners too

[limits.strip_hottest_final_temperature]
at_most = "90 degC"
"""
