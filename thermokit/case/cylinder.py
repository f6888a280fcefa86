"""The heating cylinder of a moulding machine, ``process = "cylinder"``. Depth counts from the spreader outwards to the bore.

One slug of material is followed from the hopper to the nozzle: each shot moves it on by the volume of a shot, so the time in a
zone is the zone's volume over that of a shot, times the cycle (:meth:`CylinderCase.__post_init__` puts it into the zones).
"""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.blank import DoseEntry
from thermokit.case.common import DURATION, Case, StartKey
from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Named, Sub
from thermokit.case.stuff import TEMPERATURE, OwnKinetics
from thermokit.case.tables import Sought
from thermokit.case.values import Choice, LibraryName, Number, Quantity, Text
from thermokit.case.values import share as part_of
from thermokit.units import format_

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.tables import Find
    from thermokit.conduction.problem import Number as Numeric

_LENGTH = Quantity("length", above=0.0, high=10.0, example="60 mm")
_COEFFICIENT = Quantity("heat_transfer_coefficient", above=0.0, high=1e6, example="1500 W/m2/K")
_DIFFERENCE = Quantity("temperature_difference", above=0.0, high=1e4, example="10 K")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MachineSection(Section):
    """The cylinder and its spreader."""

    meaning = "the heating cylinder: material fills the ring between spreader and bore"

    bore: Numeric = key(_LENGTH, "Inside diameter of the barrel.")
    spreader: Numeric = key(
        Quantity("length", low=0.0, high=10.0, example="44 mm"),
        "Outside diameter of the spreader (torpedo); 0: none, the material fills the bore.",
    )
    contact: Numeric = key(
        _COEFFICIENT, "Conductance between barrel and material.", default=1500.0,
        default_words="1500 W/m2/K: assumed, melt pressed on steel at intervals",
    )  # fmt: skip
    spreader_contact: Numeric | None = key(
        _COEFFICIENT, "Conductance between spreader and material, where fins or a heater warm the spreader.",
        default=None, default_words="a spreader that brings no heat",
    )  # fmt: skip
    spreader_below: Numeric = key(
        Quantity("temperature_difference", low=0.0, high=1e3, example="10 K"),
        "How far the spreader is below the zone's temperature.", default=10.0, default_words="10 K: assumed",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """The spreader fits into the bore; one that is not there is not warmed."""
        if not known(self.bore, self.spreader):
            return
        if np.max(np.asarray(self.spreader) - np.asarray(self.bore)) >= 0.0:
            widest = format_(float(np.min(self.bore)), "length", digits=6)
            (at / "spreader").mistake("does not go into the bore", f"less than {widest}")
        if "spreader_contact" in given and np.max(self.spreader) == 0.0:
            (at / "spreader_contact").mistake("there is no spreader", "only with spreader above 0")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ZoneEntry(Section):
    """A heated zone of the barrel."""

    meaning = "a heated zone of the barrel, in the order in which the material passes"

    name: str = key(Text(100), "Its name.", default="", default_words="zone_1, ...")
    length: Numeric = key(_LENGTH, "Its length along the barrel.")
    temperature: Numeric = key(TEMPERATURE, "Temperature of the bore there.")
    duration: Any = None  # [s], time of the slug in it: worked out


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ShotSection(Section):
    """What is moulded, and how often."""

    meaning = "the shot and the cycle"

    material: str = key(LibraryName("materials"), "What is moulded; [materials.NAME.recipe] mixes a PVC compound.")
    kinetics: tuple[str, ...] = key(
        ListOf(LibraryName("kinetics"), most=10, single=True), "What goes on in it: one name or a list.", default=()
    )
    dose: DoseEntry | None = key(
        Sub(DoseEntry),
        "Heat life of a material that has no set of its own.",
        default=None,
        default_words="not followed",
    )
    mass: Numeric = key(
        Quantity("mass", above=0.0, high=1e3, example="60 g"), "Mass of a shot, sprue and runners counted."
    )
    cycle: Numeric | Find = key(Sought(DURATION), 'Time from shot to shot; "find" leaves it to `thermokit dwell`.')
    density: Numeric | None = key(
        Quantity("density", above=0.0, high=3e4, example="740 kg/m3"), "Density of the melt, for the time in the zones.",
        default=None, default_words="that of the material's record",
    )  # fmt: skip
    start: Numeric = key(
        TEMPERATURE, "Temperature of the material in the hopper.", default=None,
        default_words="must be given, unless start_from gives it",
    )  # fmt: skip
    pressure_loss: Numeric = key(
        Quantity("pressure", low=0.0, high=1e9, example="40 MPa"),
        "Pressure that is lost between plunger and nozzle during injection: friction turns it into heat.", default=0.0,
        default_words="0 MPa: friction heat left out",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """It begins somewhere."""
        if "start" not in given and not at.report.starts_from:
            (at / "start").mistake("missing", TEMPERATURE.words())


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RegrindSection(Section):
    """Sprues and rejects that are ground and fed again."""

    meaning = "sprues and rejects that are ground and fed again"

    share: Numeric = key(part_of(high=0.99), "Share of the feed that is regrind, pass after pass.")
    oldest: Numeric = key(
        part_of(low=1e-6, high=0.5), "Share of the material that may be older than what is judged as oldest.", default=0.01,
        default_words="0.01: assumed",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class HoldUpSection(Section):
    """Material that hangs back at the bore."""

    meaning = "material that hangs back at the hottest wall"

    times: Numeric = key(
        Number(low=1.0, high=1e4), "Its time in the cylinder over that of the slug.", default=5.0,
        default_words="5: assumed",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CylinderLimits(Section):
    """What the melt must keep to when it leaves."""

    meaning = "what the melt must keep to when it leaves the cylinder"

    coldest: Numeric | None = key(
        TEMPERATURE, "Coldest place of the melt that leaves: at least this.", default=None,
        default_words="the end of the material's melting range, where it has one",
    )  # fmt: skip
    mean: Numeric | None = key(
        TEMPERATURE, "Mean temperature of the melt that leaves: at least this.", default=None, default_words="none"
    )
    mean_most: Numeric | None = key(
        TEMPERATURE, "Mean temperature of the melt that leaves: at most this.", default=None, default_words="none"
    )
    hottest: Numeric | None = key(
        TEMPERATURE, "Hottest place at any time: at most this.", default=None, default_words="none"
    )
    spread: Numeric | None = key(
        _DIFFERENCE, "Hottest less coldest place of the melt that leaves: at most this.", default=10.0,
        default_words="10 K (common practice: 5 to 10 K)",
    )  # fmt: skip
    heat_dose: Numeric | None = key(
        Number(above=0.0, high=1e6), "Share of the heat life used by the oldest regrind: at most this.", default=None,
        default_words="0.3 (common practice) where a heat life is followed",
    )  # fmt: skip
    hold_up_dose: Numeric | None = key(
        Number(above=0.0, high=1e6), "Share of the heat life used by what hangs back: at most this.", default=None,
        default_words="1 where a heat life is followed",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CylinderCase(Case):
    """Material on its way through a heating cylinder."""

    meaning = "material heated shot by shot on its way through the heating cylinder of a moulding machine"

    process: str = key(Choice(("cylinder",)), "Kind of case.", default="cylinder", stated=True)
    machine: MachineSection = key(Sub(MachineSection), "The cylinder.")
    zones: tuple[ZoneEntry, ...] = key(
        ListOf(Sub(ZoneEntry), least=1, most=50, naming="zone"), "Its zones, from the hopper to the nozzle."
    )
    shot: ShotSection = key(Sub(ShotSection), "The shot and the cycle.")
    regrind: RegrindSection | None = key(
        Sub(RegrindSection), "Regrind in the feed.", default=None, default_words="none"
    )
    hold_up: HoldUpSection = key(Sub(HoldUpSection), "What hangs back.", default=HoldUpSection())
    kinetics: Mapping[str, OwnKinetics] = key(Named(Sub(OwnKinetics)), "Kinetics of your own, by name.", default={})
    limits: CylinderLimits = key(Sub(CylinderLimits), "What the melt must keep to.", default=CylinderLimits())

    def __post_init__(self) -> None:
        """The time in each zone, where all that it follows from is known."""
        shot, machine = self.shot, self.machine
        if not known(shot, machine, self.zones) or not known(*self.zones):
            return
        density = self.melt_density()
        needed = [shot.mass, machine.bore, machine.spreader, density, *(zone.length for zone in self.zones)]
        if not all(isinstance(value, (int, float, np.ndarray)) for value in needed):
            return
        area = np.pi / 4.0 * (np.asarray(machine.bore) ** 2 - np.asarray(machine.spreader) ** 2)
        found = []
        for zone in self.zones:
            if isinstance(shot.cycle, (int, float, np.ndarray)):
                duration: Any = zone.length * area * density / shot.mass * shot.cycle
                duration = float(duration) if np.ndim(duration) == 0 else duration
            else:
                duration = shot.cycle
            found.append(replace(zone, duration=duration))
        object.__setattr__(self, "zones", tuple(found))

    def melt_density(self) -> Any:
        """Density of the melt [kg/m3]; None where a mistake hides it."""
        name = self.shot.material
        if self.shot.density is not None or not known(name):
            return self.shot.density
        if not known(self.materials):
            return None
        own = self.materials.get(name)
        if own is not None:
            mixed = getattr(own, "recipe", None) if known(own) else None
            return mixed.compound.density if mixed is not None and known(mixed) else getattr(own, "density", None)
        from thermokit.errors import DataError
        from thermokit.materials.library import load

        try:
            return load(name).reference_density
        except DataError:
            return None  # told as an unknown name

    @property
    def stations(self) -> tuple[ZoneEntry, ...]:
        """What the slug passes: the zones."""
        return self.zones

    def depth(self) -> Any:
        """Thickness of the ring [m]."""
        if not known(self.machine) or not known(self.machine.bore, self.machine.spreader):
            return None
        return (np.asarray(self.machine.bore) - self.machine.spreader) / 2.0

    def check(self, at: At, given: frozenset[str]) -> None:
        """A limit needs what it looks at; a recipe brings a heat life of its own."""
        super().check(at, given)
        if not known(self.limits, self.shot, self.kinetics, self.materials) or not known(self.shot.kinetics):
            return
        from thermokit.case.dip_checks import states_of

        own = self.materials.get(self.shot.material) if known(self.shot.material) else None
        mixed = own is not None and getattr(own, "recipe", None) is not None
        if mixed or self.shot.dose is not None or "heat_dose" in states_of(self.shot.kinetics, self.kinetics):
            return
        for word in ("heat_dose", "hold_up_dose"):
            if getattr(self.limits, word) is not None:
                (at / "limits" / word).mistake(
                    "the case does not follow what this limits",
                    "with shot.dose, or a set for heat_dose in shot.kinetics",
                )

    def starts(self) -> list[StartKey]:
        """The slug."""
        return [StartKey("melt", ("shot", "start"), self.shot.start)]


TEMPLATE = """\
# Material in a heating cylinder. `thermokit explain KEY` tells what a key means, `thermokit dwell FILE` answers.
title = "How long must the cycle be for an even melt?"
process = "cylinder"

[machine]                       # the material fills the ring between spreader and bore
bore = "60 mm"
spreader = "44 mm"
# contact = "1500 W/m2/K"       # barrel to material
# spreader_contact = "800 W/m2/K"   # only where fins or a heater warm the spreader

[[zones]]                       # in order, from the hopper to the nozzle
name = "rear"
length = "160 mm"
temperature = "200 degC"
[[zones]]
name = "middle"
length = "160 mm"
temperature = "220 degC"
[[zones]]
name = "front"
length = "120 mm"
temperature = "225 degC"

[shot]
material = "ps"
mass = "60 g"                   # with sprue and runners
cycle = "find"                  # or "40 s"
start = "20 degC"
pressure_loss = "30 MPa"        # between plunger and nozzle

[regrind]                       # sprues and rejects that are fed again
share = "20 %"

[limits]
mean = "200 degC"
spread = "10 K"
"""
