"""What every kind of case has: title, own materials, output, accuracy, tolerances, what it goes on from, its source."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.cost import Cost
from thermokit.case.declare import Section, key, known
from thermokit.case.fit import Fit
from thermokit.case.job import Job
from thermokit.case.mistakes import nearest, shown
from thermokit.case.sought import SoughtInput
from thermokit.case.sought_wanted import Wanted
from thermokit.case.structure import ListOf, Named, Sub
from thermokit.case.stuff import OwnMaterial
from thermokit.case.sweep import Sweep
from thermokit.case.tables import Find
from thermokit.case.tolerances import Tolerance, Tolerances
from thermokit.case.values import Choice, LibraryName, Quantity, Text
from thermokit.case.walk import leaves
from thermokit.units import format_

if TYPE_CHECKING:
    from thermokit.case.earlier import Earlier
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number

DURATION = Quantity("time", above=0.0, high=1e10, example="35 s")
MOST_ROWS = 1_000_000


@dataclass(frozen=True)
class CaseSource:
    """Where a case was read from: file, its text as given, and the SHA-256 of the file's bytes."""

    file: str = ""
    text: str = ""
    sha256: str = ""


@dataclass(frozen=True)
class StartKey:
    """The temperature with which a layer begins: its name, the path of its own key, what stands there, a common default."""

    layer: str
    path: tuple[str, ...]
    own: Any
    default: Any = None


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Probe(Section):
    """A place whose temperature is followed."""

    meaning = "a place that is followed"

    name: str = key(
        Text(100),
        "Its name: NAME_temperature is a series in the result and an outcome.",
        default="",
        default_words="probe_1, ...",
    )
    at: Number = key(Quantity("length", low=0.0, high=1e4, example="2 mm"), "Depth from the inner (upper) face.")

    def check(self, at: At, given: frozenset[str]) -> None:
        """The name becomes the name of a variable in the result file."""
        if not known(self.name):
            return
        if self.name in ("inner_face", "outer_face"):
            (at / "name").mistake(f"{shown(self.name)} is what the result calls a face", "another name")
        elif "/" in self.name or self.name.strip(" .") != self.name:
            (at / "name").mistake(f"{shown(self.name)} cannot be a variable's name", "a word without / or outer dots")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Output(Section):
    """Which rows the result keeps."""

    meaning = "which rows the result keeps"

    every: Number | None = key(
        DURATION, "Time between rows, from 0; every station's end is a row too.", default=None,
        default_words="about 200 rows", physical=False,
    )  # fmt: skip
    times: tuple[Number, ...] | None = key(
        ListOf(Quantity("time", low=0.0, high=1e10, example="5 s"), least=1, most=MOST_ROWS),
        "The times of the rows, exactly these.", default=None, default_words="about 200 rows", physical=False,
    )  # fmt: skip
    probes: tuple[Probe, ...] = key(ListOf(Sub(Probe), naming="probe"), "Places to follow.", default=())

    def check(self, at: At, given: frozenset[str]) -> None:
        """Rows are asked for in one way, in ascending order."""
        if {"every", "times"} <= given:
            (at / "times").mistake("both every and times are given", "one of the two")
        if known(self.times) and self.times is not None and known(*self.times):
            for i in range(1, len(self.times)):
                if self.times[i] <= self.times[i - 1]:
                    (at / "times" / str(i)).mistake(
                        "does not come after the time before it", "times in ascending order"
                    )
                    break


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Accuracy(Section):
    """What automatic meshes and time steps must meet."""

    meaning = "what automatic meshes and time steps must meet"

    temperature: Number = key(
        Quantity("temperature_difference", low=1e-7, high=100.0, example="0.1 K"),
        "Largest error of temperature.", default=0.1, physical=False,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Case(Section):
    """A validated case, SI and kelvin inside. ``source`` does not count when cases are compared."""

    title: str = key(Text(300), "What the case is, in one line.", default="")
    process: str = key(Choice(()), "Kind of case.", default="", stated=True)
    materials: Mapping[str, OwnMaterial] = key(Named(Sub(OwnMaterial)), "Materials of your own, by name.", default={})
    output: Output = key(Sub(Output), "Which rows the result keeps.", default=Output())
    accuracy: Accuracy = key(Sub(Accuracy), "Accuracy of automatic meshes and steps.", default=Accuracy())
    tolerances: Mapping[str, Tolerance] = key(
        Tolerances(), "How far inputs may be off: path of an input = plus-minus amount.", default={}
    )
    sweep: Sweep | None = key(
        Sub(Sweep), "Which rows `thermokit sweep` runs.", default=None, default_words="no sweep", physical=False
    )
    fit: Fit | None = key(
        Sub(Fit), "What `thermokit fit` fits, and to what.", default=None, default_words="no fit", physical=False
    )
    job: Job | None = key(
        Sub(Job), "What stands at the head of a setting sheet.", default=None, default_words="no job", physical=False
    )
    cost: Cost | None = key(
        Sub(Cost),
        "What energy, machine and hands cost.",
        default=None,
        default_words="nothing has a price",
        physical=False,
    )
    wanted: Wanted | None = key(
        Sub(Wanted), "What a sought input is found for, instead of the limits.", default=None,
        default_words="the limits", physical=False,
    )  # fmt: skip
    start_from: str | None = key(
        Text(1000),
        "Result file (RESULT.h5) of an earlier run, by its path from the case's folder: layers of its names begin with the "
        "temperature, cure, gelation, fusion and heat dose that it ended with; their own start is then left out.",
        default=None,
        default_words="each layer begins with its own start",
        physical=False,
    )
    sought_input: SoughtInput | None = field(default=None)
    source: CaseSource = field(default=CaseSource(), compare=False, repr=False)
    earlier: Earlier | None = field(default=None, compare=False, repr=False)

    def starts(self) -> list[StartKey]:
        """The layers that the body begins with, each with the key of its start; empty where none can go on from before."""
        return []

    def with_files(self, file: str, at: At) -> Any:
        """The case with other files that it names read, of which ``file`` is its own; mistakes are told to ``at``."""
        return self

    def depth(self) -> Any:
        """Depth of the body [m], None where the kind of case has none or it is not known."""
        return None

    def duration(self) -> Any:
        """Time from the first station's start to the last one's end [s], None where it is sought or not known."""
        stations = getattr(self, "stations", ())
        if not stations or not known(stations) or not known(*stations):
            return None
        return total([station.duration for station in stations])

    def check(self, at: At, given: frozenset[str]) -> None:
        """What can only be seen on the whole case; each kind adds its own."""
        self._check_names(at)
        sought = [place for place in leaves(self) if isinstance(place.value, Find)]
        for place in sought[1:]:
            first = ".".join(sought[0].path)
            at_path(at, place.path).mistake(f'"find" stands here and at {first}', "one value can be found at a time")
        if known(self.output):
            self._check_output(at / "output")
        if known(self.sweep) and self.sweep is not None:
            self.sweep.check_inputs(self, at / "sweep")
        if known(self.fit) and self.fit is not None:
            self.fit.check_inputs(self, at / "fit")
        if known(self.job) and self.job is not None:
            self.job.check_inputs(self, at / "job")

    def _check_names(self, at: At) -> None:
        """Names of materials and kinetics must be known to the library or to the case."""
        library: dict[str, list[str]] = {}
        for place in leaves(self):
            kind = place.kind
            if not isinstance(kind, LibraryName) or not known(place.value) or place.value is None:
                continue
            own = getattr(self, kind.room, {})
            if not known(own) or place.value in own:
                continue
            if kind.room not in library:
                library[kind.room] = kind.names()
            names = [*own, *library[kind.room]]
            if place.value not in names:
                what = {"materials": "material", "kinetics": "set of kinetics"}.get(kind.room, kind.room)
                advice = nearest(place.value, names) or f"`thermokit {kind.room}` lists the library"
                at_path(at, place.path).mistake(f"{shown(place.value)} is no known {what}", kind.words(), advice)

    def _check_output(self, at: At) -> None:
        """Probes lie in the body, rows in the run."""
        depth, duration = self.depth(), self.duration()
        if known(self.output.probes) and depth is not None:
            least = float(np.min(depth))
            for i, probe in enumerate(self.output.probes):
                if known(probe) and known(probe.at) and np.max(probe.at) > least * (1.0 + 1e-9):
                    (at / "probes" / str(i) / "at").mistake(
                        f"{format_(float(np.max(probe.at)), 'length', digits=6)} lies outside the body",
                        f"from 0 mm to {format_(least, 'length', digits=6)}",
                    )
        if duration is None or np.ndim(duration):
            return
        end = format_(float(duration), "time", digits=6)
        times, every = self.output.times, self.output.every
        if known(times) and times is not None and known(*times) and times[-1] > duration * (1.0 + 1e-9):
            (at / "times" / str(len(times) - 1)).mistake("comes after the end of the run", f"up to {end}")
        if known(every) and every is not None and duration / every > MOST_ROWS:
            (at / "every").mistake(
                f"would keep {duration / every:.3g} rows", f"up to {MOST_ROWS} rows of a run of {end}"
            )

    def with_values(self, values: Mapping[str, Any]) -> Any:
        """The same case with other numbers at some paths: see ``paths.with_values``."""
        from thermokit.case.paths import with_values

        return with_values(self, values)

    def value(self, path: str) -> Any:
        """What stands at a path [SI]: see ``paths.value``."""
        from thermokit.case.paths import value

        return value(self, path)


def at_path(at: At, path: tuple[str, ...]) -> At:
    """The place at the end of a path."""
    for step in path:
        at = at / step
    return at


def total(values: list[Any]) -> Any:
    """Sum of numbers, None where one is missing, sought or wrong."""
    if not values or not all(isinstance(value, (int, float, np.ndarray)) for value in values):
        return None
    return sum(values)
