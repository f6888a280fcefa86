"""A thermoset charge pressed and cured between hot mould halves, ``process = "charge"``. Depth counts from the upper face.

One thickness is followed, the thickest. A section with ribs and bosses needs two dimensions: its solver takes the halves of
[mould] as edges, the stations as they are, and the limits as places; nothing here but the layers is one-dimensional.
"""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.charge_checks import check_charge
from thermokit.case.charge_limits import ChargeLimits
from thermokit.case.charge_mould import MouldSection
from thermokit.case.charge_parts import ChargeSection
from thermokit.case.charge_stations import STATION
from thermokit.case.common import Case, StartKey, total
from thermokit.case.declare import key, known
from thermokit.case.structure import ListOf, Named, Sub
from thermokit.case.stuff import OwnKinetics
from thermokit.case.values import Choice

if TYPE_CHECKING:
    from thermokit.case.mistakes import At


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ChargeCase(Case):
    """A charge through press, fixture and oven."""

    meaning = "a thermoset charge cured between hot mould halves"

    process: str = key(Choice(("charge",)), "Kind of case.", default="charge", stated=True)
    charge: ChargeSection = key(Sub(ChargeSection), "The charge.")
    mould: MouldSection = key(Sub(MouldSection), "The two halves of the mould.")
    kinetics: Mapping[str, OwnKinetics] = key(Named(Sub(OwnKinetics)), "Kinetics of your own, by name.", default={})
    stations: tuple[Any, ...] = key(
        ListOf(STATION, least=1, most=1000, naming="station"),
        "What the charge goes through, in order: load, close, breathe, cure, open, cool, post_bake.",
    )
    limits: ChargeLimits = key(Sub(ChargeLimits), "What the charge must keep to.", default=ChargeLimits())

    def depth(self) -> Any:
        """Thickness of the charge as pressed [m], None where it follows from a mass."""
        charge = self.charge
        if not known(charge) or not known(charge.layers, charge.thickness):
            return None
        if not charge.layers:
            return total([charge.thickness])
        return total([layer.thickness for layer in charge.layers]) if known(*charge.layers) else None

    def starts(self) -> list[StartKey]:
        """The charge, or its layers."""
        charge = self.charge
        if not charge.layers:
            return [StartKey("charge", ("charge", "start"), charge.start)]
        return [
            StartKey(layer.name, ("charge", "layers", str(i), "start"), layer.start, charge.start)
            for i, layer in enumerate(charge.layers)
        ]

    def check(self, at: At, given: frozenset[str]) -> None:
        """What charge, mould, stations and limits say of each other."""
        super().check(at, given)
        check_charge(self, at)


TEMPLATE = """\
# How long to cure a thermoset moulding. `thermokit explain KEY` tells what a key means, `thermokit dwell FILE` answers.
title = "How long to cure a 5 mm phenolic handle"
process = "charge"

[charge]
material = "pf_compound"        # `thermokit materials` lists the library; its kinetics are used unless others are named
thickness = "5 mm"              # as pressed, where the moulding is thickest; or mass = "42 g" with the area
start = "95 degC"               # preheated; or as it comes from the store
area = "40 cm2"                 # projected: for the mass of the charge and the force of the press
volume = "14 cm3"               # of the moulding; left out: area times thickness
flash = 0.05
pressure = "30 MPa"
rating = "50 tonf"              # of the press
# loose = { thickness = "14 mm", cover = 0.8 }      # how it lies in the load station
# [[charge.layers]]             # instead of material and thickness: name, material, thickness, from the upper face down

[mould.upper]
temperature = "170 degC"        # of the face; or a body: material, thickness, start, platen = { temperature, coefficient }
[mould.lower]
temperature = "170 degC"

[[stations]]                    # in order; each starts where the one before ends
name = "load"
kind = "load"                   # load | close | breathe | cure | open | cool | post_bake
duration = "3 s"

[[stations]]
name = "close"
kind = "close"
duration = "2 s"

[[stations]]
name = "cure"                   # step-cures: several cure stations with [stations.upper] and [stations.lower] temperature
kind = "cure"
duration = { find = ["5 s", "600 s"] }

[[stations]]
name = "open"
kind = "open"
duration = "5 s"

[limits]                        # left out: those of the material
cure_degree = 0.85              # lowest anywhere when the press opens
# hottest = "220 degC"          # a charge that passes it is refused
# final_cure_degree = 0.95      # after a post_bake station

[accuracy]
temperature = "0.5 K"

[tolerances]                    # how far inputs may be off: two standard deviations
"charge.thickness" = "± 3 %"
"charge.start" = "± 8 K"
"charge.rate" = "± 30 %"
"mould.upper.temperature" = "± 4 K"
"mould.lower.temperature" = "± 4 K"
"""
