"""A former dipped in PVC paste, its coat gelled and fused, ``process = "dip"``. Depth counts from the inside of the former."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.common import Case, StartKey, total
from thermokit.case.declare import key, known
from thermokit.case.dip_checks import check_dip
from thermokit.case.dip_former import FormerSection
from thermokit.case.dip_limits import DipLimits
from thermokit.case.dip_ovens import OvenEntry
from thermokit.case.dip_paste import PasteSection
from thermokit.case.dip_stations import KINDS
from thermokit.case.structure import ListOf, Named, OneOf, Sub
from thermokit.case.stuff import OwnKinetics
from thermokit.case.values import Choice

if TYPE_CHECKING:
    from thermokit.case.mistakes import At


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DipCase(Case):
    """A former through ovens, paste, air and water."""

    meaning = "a former dipped in PVC paste, the coat gelled, fused and stripped"

    process: str = key(Choice(("dip",)), "Kind of case.", default="dip", stated=True)
    former: FormerSection = key(Sub(FormerSection), "The former.")
    paste: PasteSection = key(
        Sub(PasteSection), "The paste.", default=PasteSection(), default_words="the library's dip paste at 24 degC"
    )
    kinetics: Mapping[str, OwnKinetics] = key(Named(Sub(OwnKinetics)), "Kinetics of your own, by name.", default={})
    ovens: Mapping[str, OvenEntry] = key(
        Named(Sub(OvenEntry)), "Ovens whose air follows from power, losses and load, by name.", default={}
    )
    stations: tuple[Any, ...] = key(  # of Station: each kind has keys of its own
        ListOf(OneOf("kind", KINDS), least=1, most=1000, naming="station"), "What the former passes through, in order."
    )
    limits: DipLimits = key(Sub(DipLimits), "What the article must keep to.", default=DipLimits())

    def depth(self) -> Any:
        """Thickness of the former's own layers [m]: what a probe can surely lie in."""
        if not known(self.former) or not known(self.former.layers) or not known(*self.former.layers):
            return None
        return total([layer.thickness for layer in self.former.layers])

    def starts(self) -> list[StartKey]:
        """The layers of the former: an article that is on it already is not carried on."""
        return [StartKey(layer.name, ("former", "start"), None, self.former.start) for layer in self.former.layers]

    def check(self, at: At, given: frozenset[str]) -> None:
        """What former, paste, ovens, stations and limits say of each other."""
        super().check(at, given)
        check_dip(self, at)


TEMPLATE = """\
# How long to dwell in the paste. `thermokit explain KEY` tells what a key means, `thermokit dwell FILE` answers.
title = "How long must a hot steel former dwell in PVC paste for a 1.5 mm grip?"
process = "dip"

[former]
shape = "cylinder"              # plane | cylinder | sphere | capped (cylinder with half a ball at its end)
inner_radius = "9 mm"           # 0: solid to the axis
length = "80 mm"                # that is dipped
start = "23 degC"
emissivity = 0.3

[[former.layers]]               # from the inside outwards; wall, or mass with [former] area
material = "steel_mild"         # `thermokit materials` lists the library
thickness = "4 mm"              # of a solid rod its radius

# [former.fabric]               # drawn over it, becomes part of the article
# thickness = "0.5 mm"
# takes_up = 0.6                # share of its pores that paste fills

[paste]
material = "pvc_paste_dip"
temperature = "24 degC"
viscosity = "2 Pa s"
yield_stress = "2 Pa"

[[stations]]                    # in order; each starts where the one before ends
name = "preheat"
kind = "oven"                   # oven | air | dip | drain | quench | strip
duration = "15 min"
temperature = "180 degC"        # set, or logged: { time = [...], value = [...] }; or oven = "NAME" with [ovens.NAME]
coefficient = "30 W/m2/K"       # or speed = "3 m/s"

[[stations]]
name = "to the bath"
kind = "air"
duration = "10 s"

[[stations]]
name = "dip"
kind = "dip"
duration = { find = ["2 s", "200 s"] }
withdrawal = "8 mm/s"

[[stations]]
name = "drain"
kind = "drain"
duration = "40 s"

[[stations]]
name = "fuse"
kind = "oven"
duration = "12 min"
temperature = "195 degC"
coefficient = "30 W/m2/K"

[[stations]]
name = "quench"
kind = "quench"
duration = "4 min"

[[stations]]
name = "strip"
kind = "strip"

[limits]                        # left out: those of the material
wall_least = "1.2 mm"            # anywhere along the dipped length
wall_most = "2.1 mm"
strip_least = "35 degC"

[accuracy]
temperature = "0.5 K"

[tolerances]                    # how far inputs may be off: two standard deviations
"paste.temperature" = "± 2 K"
"stations.preheat.temperature" = "± 5 K"
"""
