"""A moulding cooled in a mould with channels, shot after shot, ``process = "mould"``: injection, blowing, pressing of
thermoplastics. The section is cut across the channels.
"""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from thermokit.case.common import Case
from thermokit.case.declare import key, known
from thermokit.case.mould_blocks import CircuitEntry, MouldBlocks, ShopAir
from thermokit.case.mould_checks import check_mould, check_shape
from thermokit.case.mould_limits import MouldLimits
from thermokit.case.mould_parts import CycleSection, FeedSection, PartSection
from thermokit.case.structure import ListOf, Sub
from thermokit.case.values import Choice, Text

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.mould_dxf import Drawing


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MouldCase(Case):
    """A moulding, its mould, the water and the cycle. drawn : what was read from the drawing, None without one."""

    meaning = "a moulding cooled in a mould with channels, shot after shot"

    process: str = key(Choice(("mould",)), "Kind of case.", default="mould", stated=True)
    part: PartSection = key(Sub(PartSection), "The moulding.")
    mould: MouldBlocks = key(
        Sub(MouldBlocks),
        "The mould.",
        default=MouldBlocks(),
        default_words="halves of steel_p20, 60 mm beyond the part",
    )
    circuits: tuple[CircuitEntry, ...] = key(
        ListOf(Sub(CircuitEntry), least=1, most=40, naming="circuit"), "Circuits of channels."
    )
    feed: FeedSection = key(
        Sub(FeedSection), "Gate, runner, sprue.", default=FeedSection(), default_words="not looked at"
    )
    cycle: CycleSection = key(Sub(CycleSection), "The times of a shot.")
    air: ShopAir = key(
        Sub(ShopAir), "The air of the shop.", default=ShopAir(), default_words="23 degC, 50 %, 10 W/m2/K"
    )
    limits: MouldLimits = key(Sub(MouldLimits), "What must be kept to.", default=MouldLimits())
    drawing: str | None = key(
        Text(1000),
        "DXF file with the section, by its path from the case's folder: closed outlines on layers part, cavity, core and those "
        "named as the inserts, circles on layers named as the circuits; its units must be set. Needs the package ezdxf.",
        default=None,
        default_words="no drawing",
        physical=False,
    )
    drawn: Drawing | None = field(default=None, compare=False, repr=False)

    def check(self, at: At, given: frozenset[str]) -> None:
        """What part, mould, circuits and cycle say of each other; what lies where is seen when the drawing is read."""
        super().check(at, given)
        check_mould(self, at, given)
        if known(self.drawing) and self.drawing is None:
            check_shape(self, at)

    def with_files(self, file: str, at: At) -> MouldCase:
        """The case with its drawing read; mistakes of the drawing and of what it draws are told to ``at``."""
        if self.drawing is None or not known(self.drawing) or not file or at.report.found:
            return self
        from thermokit.case.mould_dxf import read_drawing

        drawn = read_drawing(self, file, at / "drawing")
        if drawn is None:
            return self
        case = replace(self, drawn=drawn)
        check_shape(case, at)
        return case


TEMPLATE = """\
# How long must a moulding cool? `thermokit explain KEY` tells what a key means, `thermokit dwell FILE` answers.
title = "How long must a 2.5 mm tray of polypropylene cool?"
process = "mould"

[part]                            # cut across the channels: x along the wall from its left end, y from cavity to core
material = "pp"                   # `thermokit materials` lists the library
melt = "230 degC"
thickness = "2.5 mm"
length = "200 mm"                 # along the section; or outline = [["0 mm", "0 mm"], ...], or a drawing
width = "150 mm"                  # across it
# [[part.ribs]]                   # on the flat wall: position, thickness, height, side = "core" | "cavity"

[feed]                            # common practice: gate of half to two thirds of the wall
gate_thickness = "1.2 mm"
runner_diameter = "5 mm"
sprue_diameter = "6 mm"

[mould]
width = "260 mm"
packed_contact = "5000 W/m2/K"    # assumed: between part and mould under pressure
shrunk_contact = "1000 W/m2/K"    # assumed: after the hold
[mould.cavity]
material = "steel_p20"
height = "60 mm"
[mould.core]
material = "steel_p20"
height = "60 mm"
# [[mould.inserts]]               # name, material, corner, size or outline

[[circuits]]
name = "cavity"
side = "cavity"
temperature = "20 degC"           # as it comes in; coolant = "water" where nothing is said
flow = "8 L/min"
connected = "series"              # series | parallel
diameter = "10 mm"
depth = "20 mm"                   # from the part's face to the axis
pitch = "40 mm"
count = 5
length = "180 mm"                 # of each channel

[[circuits]]
name = "core"
side = "core"
temperature = "20 degC"
flow = "8 L/min"
diameter = "10 mm"
depth = "20 mm"
pitch = "40 mm"
count = 5
length = "180 mm"
# scale = "0.5 mm"

[cycle]
fill = "1.5 s"
# hold = "4 s"                    # left out: until the gate has frozen and 0.75 s more
cooling = { find = ["1 s", "300 s"] }   # from the end of the hold until the mould opens
open = "6 s"

[air]
temperature = "23 degC"
humidity = 0.5                    # for the dew point

[limits]                          # left out: those of the material's record and of common practice
# ejection_centre = "95 degC"
# face_difference = "5 K"         # precise parts

[accuracy]
temperature = "0.3 K"             # enough for half a per cent of the cooling time

[tolerances]                      # two standard deviations; drawn on the single wall
"part.thickness" = "± 3 %"
"part.melt" = "± 5 K"
"""
