"""How a hot sheet is shaped, ``[shaping]``, and the part that it becomes, ``[part]``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Named
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, Flag, Number, Quantity, Text, Whole, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At

METHODS = (
    "free_blowing", "blow_into_mould", "drape", "skeleton_press", "matched_press", "rubber_nose", "snap_back",
    "vacuum_female", "vacuum_male", "vacuum_plug", "vacuum_bubble",
)  # fmt: skip
TOOLING = ("ring", "mould", "former", "skeleton", "matched", "rubber_nose", "plug", "vacuum_box")
AIR_ONLY = ("free_blowing",)
BLOWN = ("free_blowing", "blow_into_mould")
VACUUM = ("snap_back", "vacuum_female", "vacuum_male", "vacuum_plug", "vacuum_bubble")
PRESSED = ("skeleton_press", "matched_press", "rubber_nose")
PARTLY = ("drape", "skeleton_press", "snap_back")  # tools that may touch a share of the area only
#: keys that only some methods have
OF_METHODS = {
    "stop": BLOWN,
    "jet": AIR_ONLY,
    "vents": ("blow_into_mould", *VACUUM),
    "fills_in": ("blow_into_mould", *VACUUM[1:]),
    "vacuum": VACUUM,
    "depth": ("snap_back",),
    "pressure": (*BLOWN, *PRESSED, "drape"),
}
TALLEST = 2.0  # ring radii, the highest dome that is computed

_SIZE = Quantity("length", above=0.0, high=100.0, example="300 mm")
_SMALL = Quantity("length", above=0.0, high=10.0, example="6 mm")
_PRESSURE = Quantity("pressure", above=0.0, high=1e8, example="0.5 bar")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PartSection(Section):
    """The part."""

    meaning = "the part that the sheet becomes"

    shape: str = key(Choice(("dome", "tray", "panel")), "Its shape: a dome on a ring, a tray (box, seen from its opening), "
                     "a panel (flat, or bent but not drawn).")  # fmt: skip
    ring: float | None = key(
        _SIZE, "Diameter of the ring of a dome.", default=None, default_words="must be given for a dome", physical=False
    )
    height: float | None = key(
        _SIZE, "Height of a dome over its ring.", default=None, default_words="must be given for a dome", physical=False
    )
    length: float | None = key(
        _SIZE, "Length of the opening of a tray, or of a panel.", default=None,
        default_words="must be given for a tray or a panel", physical=False,
    )  # fmt: skip
    width: float | None = key(
        _SIZE, "Width of it.", default=None, default_words="must be given for a tray or a panel", physical=False
    )
    depth: float | None = key(
        _SIZE, "Depth of a tray.", default=None, default_words="must be given for a tray", physical=False
    )
    corner: float | None = key(
        _SMALL, "Radius of the edge between wall and bottom of a tray.", default=None,
        default_words="must be given for a tray", physical=False,
    )  # fmt: skip
    detail: float | None = key(
        _SMALL, "Smallest radius that must come out sharp.", default=None, default_words="the corner of a tray, else none",
        physical=False,
    )  # fmt: skip
    undercut: bool = key(Flag(), "Whether it cannot be drawn straight off a tool of one piece.", default=False)
    clear_face: str = key(
        Choice(("none", "upper", "lower", "both")),
        "Face that must stay clear: no tool may touch it hot.",
        default="none",
    )
    quantity: int | None = key(
        Whole(1, 100_000_000), "How many are wanted.", default=None, default_words="not said", physical=False
    )
    tooling: tuple[str, ...] = key(
        ListOf(Choice(TOOLING), most=len(TOOLING)), "What there is to shape it with; `thermokit methods` says what is missing.",
        default=(), default_words="whatever is needed can be made",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """Each shape has its own sizes."""
        needs = {
            "dome": ("ring", "height"),
            "tray": ("length", "width", "depth", "corner"),
            "panel": ("length", "width"),
        }
        if not known(self.shape):
            return
        own = needs[self.shape]
        for word in own:
            if word not in given:
                (at / word).mistake(f"missing: a {self.shape} has {' and '.join(own)}", _SIZE.words())
        for word in sorted({w for words in needs.values() for w in words} - set(own)):
            if word in given:
                (at / word).mistake(f"a {self.shape} has no {word}", " and ".join(own))
        if self.shape == "dome" and known(self.ring, self.height) and self.ring is not None and self.height is not None:
            share = 2.0 * self.height / self.ring
            if not 0.01 <= share <= TALLEST:
                (at / "height").mistake(
                    f"is {share:.3g} times the radius of the ring; that is no dome that a sheet gives",
                    f"0.01 to {TALLEST:g} times the radius of the ring",
                )
        if self.shape == "tray" and known(self.length, self.width, self.depth, self.corner) and None not in (
            self.length, self.width, self.depth, self.corner
        ):  # fmt: skip
            assert self.length is not None and self.width is not None
            assert self.depth is not None and self.corner is not None
            if 4 * self.corner > min(self.length, self.width) or self.corner > self.depth:
                (at / "corner").mistake(
                    "does not fit into the tray", "at most its depth, and a quarter of its shorter side"
                )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ShapingSection(Section):
    """How the hot sheet is shaped."""

    meaning = "how the hot sheet is shaped; needs [part]"

    method: str = key(Choice(METHODS), "How it is shaped.")
    at: str | None = key(
        Text(100), "Station at whose beginning the sheet is drawn.", default=None,
        default_words="the first tool station, without one the last station",
    )  # fmt: skip
    release: str | None = key(
        Text(100), "Station at whose end the part is let go.", default=None,
        default_words="the last tool station, without one the station at which it is drawn",
    )  # fmt: skip
    stop: str = key(
        Choice(("height", "pressure")),
        "What stops a blown dome: a trip at the part's height, or the pressure alone.", default="height",
    )  # fmt: skip
    pressure: float | None = key(
        _PRESSURE, "Pressure on the sheet, above that on its other face.", default=None,
        default_words="what the height, or the detail in a mould, takes", physical=False,
    )  # fmt: skip
    vacuum: float = key(
        Quantity("pressure", above=0.0, high=101_325.0, example="85 kPa"),
        "What the vacuum pump holds below the air (85 kPa: common practice).", default=85e3, physical=False,
    )  # fmt: skip
    depth: float | None = key(
        _SIZE, "Depth to which a bubble is drawn before the tool goes in.", default=None,
        default_words="the height or depth of the part", physical=False,
    )  # fmt: skip
    clamp: float | None = key(
        Quantity("force", above=0.0, high=1e9, example="40 kN"), "Rating of the clamp.", default=None,
        default_words="not known: force is printed, not judged", physical=False,
    )  # fmt: skip
    margin: float = key(
        Quantity("length", low=0.0, high=10.0, example="25 mm"), "Sheet under the clamp on each side.", default=0.025,
        physical=False,
    )  # fmt: skip
    shrinkage: float | None = key(
        share(high=0.9), "Linear shrinkage of the blank when it is heated first.", default=None,
        default_words="2 % for cast acrylic, else none", physical=False,
    )  # fmt: skip
    slip: float = key(
        share(high=0.95), "Share of the draw that slips in from under the clamp.", default=0.0, physical=False
    )
    blanking: bool = key(Flag(), "Whether the same stroke cuts the part out.", default=False)
    jet: float = key(
        Number(low=1.0, high=20.0), "Cooling of the crown by the jet of air over that of the rest; 1: a diffuser spreads it.",
        default=1.0, physical=False,
    )  # fmt: skip
    pressed_face: str = key(
        Choice(("lower", "upper")), "Face that the air presses on (the inside of a dome).", default="lower"
    )
    vents: bool | None = key(
        Flag(), "Whether the mould is vented where the sheet arrives last.", default=None, default_words="not known"
    )
    fills_in: float = key(
        Quantity("time", low=0.0, high=3600.0, example="2 s"),
        "Time from the first touch of the mould (rim, wall) to the last (crown, corner).",
        default=0.0,
        physical=False,
    )
    contact_pressure: float | None = key(
        _PRESSURE, "Pressure at which the contact conductances of the stations hold; they grow with the pressure.",
        default=None, default_words="they hold as they are", physical=False,
    )  # fmt: skip
    modulus: float | None = key(
        _PRESSURE, "Shear modulus of the hot sheet.", default=None, default_words="the library's, by its temperature",
        physical=False,
    )  # fmt: skip
    volume: float = key(
        Quantity("volume", low=0.0, high=1e6, example="20 L"),
        "Air under pressure (or vacuum box) beside the part itself, for the stored energy.", default=0.0, physical=False,
    )  # fmt: skip
    least_thickness: float = key(
        share(), "Thinnest place over the blank: at least this (0.25: common practice).", default=0.25, physical=False
    )
    greatest_draw: float = key(
        Number(above=1.0, high=100.0),
        "Areal draw beyond which the sheet tears (8: assumed).",
        default=8.0,
        physical=False,
    )
    crown_difference: float | None = key(
        Quantity("temperature_difference", above=0.0, high=1000.0, example="5 K"),
        "Regions of the part against each other at release, mean temperatures: at most this.", default=None,
        default_words="none", physical=False,
    )  # fmt: skip
    cold: float = key(TEMPERATURE, "Temperature at which the part is measured.", default=296.15, physical=False)
    measured: Mapping[str, float] = key(
        Named(_SMALL), "Thickness that was measured, by region; instead of what is computed.", default={}, physical=False
    )  # fmt: skip

    def unwritten(self) -> frozenset[str]:
        """What the method does not have."""
        return frozenset(word for word, methods in OF_METHODS.items() if self.method not in methods)

    def check(self, at: At, given: frozenset[str]) -> None:
        """Keys that belong to some methods only."""
        if not known(self.method):
            return
        for word, methods in OF_METHODS.items():
            if word in given and self.method not in methods:
                (at / word).mistake(f"{self.method} has none", f"{word} with {' or '.join(methods)}")
        if self.stop == "pressure" and "pressure" not in given:
            (at / "pressure").mistake("missing: the pressure is to stop the dome", _PRESSURE.words())
