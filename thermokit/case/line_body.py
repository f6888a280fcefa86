"""What runs through a line: a web, a pipe, a covered wire or a cloth, in layers, and the air that it meets by default."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Find, Sought
from thermokit.case.values import Choice, LibraryName, Quantity, Text, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

THICKNESS = Quantity("length", above=0.0, high=1.0, example="0.3 mm")
COEFFICIENT = Quantity("heat_transfer_coefficient", low=0.0, high=1e6, example="10 W/m2/K")
CONTACT = Quantity("heat_transfer_coefficient", above=0.0, high=1e12, example="500 W/m2/K")
SIZE = Quantity("length", above=0.0, high=10.0, example="32 mm")
SPEED = Quantity("speed", low=0.0, high=200.0, example="12 m/min")
ROUND = ("pipe", "wire")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LineLayer(Section):
    """A layer of what runs through the line, or one that a coat station puts on it."""

    meaning = "a layer, by its thickness or its mass"

    name: str = key(Text(100), "Its name.", default="", default_words="layer_1, ...")
    material: str = key(LibraryName("materials"), "What it is made of.")
    thickness: Numeric | None = key(
        THICKNESS, "Its thickness as it comes, counted cold (mass by its density at 20 degC); the wall of a pipe or a covering.",
        default=None,
        default_words="from its mass and the material's density",
    )  # fmt: skip
    mass: Numeric | None = key(
        Quantity("mass_per_area", above=0.0, high=1e4, example="300 g/m2"),
        "Its mass by area, as cut and weighed (web and cloth); with a thickness too it sets the density.", default=None,
        default_words="from its thickness and the material's density",
    )  # fmt: skip
    start: Numeric | None = key(
        TEMPERATURE, "Temperature with which it comes: of stock, paste or melt.", default=None,
        default_words="the line's start; a coat's must be given",
    )  # fmt: skip
    kinetics: tuple[str, ...] = key(
        ListOf(LibraryName("kinetics"), most=10, single=True),
        "What goes on in it: gelation, fusion, heat life; one name or a list.", default=(),
    )  # fmt: skip
    contact: Numeric | None = key(
        CONTACT, "Conductance to the layer outside of it (of a coat: to what it is put on).", default=None,
        default_words="perfect contact",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """Its size in one way at least."""
        if not {"thickness", "mass"} & given:
            (at / "thickness").mistake("missing", "a thickness, or a mass by area")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ConductorSection(Section):
    """The conductor of a covered wire: solid and round."""

    meaning = "the conductor of a covered wire: solid, round"

    material: str = key(LibraryName("materials"), "What it is made of.", default="copper")
    diameter: Numeric = key(SIZE, "Its diameter.")
    start: Numeric | None = key(
        TEMPERATURE, "Temperature with which it comes off its reel.", default=None, default_words="the line's start"
    )
    contact: Numeric = key(
        CONTACT, "Conductance between it and the covering.", default=3000.0,
        default_words="3000 W/m2/K, shrunk on: from memory 1000 to 10000; 150 to 1000 with a void",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class OpeningEntry(Section):
    """The opening that something leaves: of a slot, of an annulus about a pin."""

    meaning = "the opening that it leaves, for the draw-down"

    gap: Numeric | None = key(
        Quantity("length", above=0.0, high=1.0, example="0.6 mm"), "Of the slot of a sheet die, or under a knife.",
        default=None, default_words="none", physical=False,
    )  # fmt: skip
    bore: Numeric | None = key(
        SIZE, "Bore of the die of a pipe or covering.", default=None, default_words="none", physical=False
    )
    pin: Numeric | None = key(
        SIZE, "Diameter of its pin (mandrel, tip).", default=None, default_words="none", physical=False
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """One of the two, an annulus with both its sizes."""
        if not given & {"gap", "bore", "pin"}:
            (at / "gap").mistake("missing", "gap, or bore and pin")
        elif {"bore", "pin"} & given and not {"bore", "pin"} <= given:
            (at / ("pin" if "bore" in given else "bore")).mistake("missing: an annulus has both", SIZE.words())
        both = known(self.bore, self.pin) and self.bore is not None and self.pin is not None
        if both and np.any(np.asarray(self.pin) >= np.asarray(self.bore)):
            (at / "pin").mistake("the pin fills the bore", "less than the bore")


def check_opening(opening: Any, flat: bool, at: At) -> None:
    """A slot for what is flat, an annulus for what is round."""
    if not known(opening) or opening is None:
        return
    if flat and known(opening.bore) and opening.bore is not None:
        (at / "bore").mistake("what is flat leaves a slot", "gap")
    if not flat and known(opening.gap) and opening.gap is not None:
        (at / "gap").mistake("what is round leaves an annulus", "bore and pin")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LineAir(Section):
    """The air about the line; the faces radiate besides, to surroundings of its temperature."""

    meaning = "the air; the faces radiate besides, to surroundings of its temperature"

    temperature: Numeric = key(TEMPERATURE, "Its temperature.", default=296.15)
    coefficient: Numeric | None = key(
        COEFFICIENT, "Heat transfer coefficient, without radiation: still 3 to 10, past a fast web or wire 10 to 40.",
        default=None, default_words="by correlation from size, length and speed",
    )  # fmt: skip
    emissivity: Numeric | None = key(
        share(), "Emissivity of the faces; 0 for none.", default=None, default_words="the material's, else 0.9: assumed"
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BoreSection(Section):
    """What is in the bore of a pipe."""

    meaning = "what is in the bore of a pipe"

    state: str = key(
        Choice(("still", "blown", "water")),
        "still: shut, its air warms and takes nothing; blown: air passes; water: sprayed inside or filled.", default="still",
    )  # fmt: skip
    temperature: Numeric = key(TEMPERATURE, "Temperature of the air or water in it.", default=293.15)
    coefficient: Numeric | None = key(
        COEFFICIENT, "Heat transfer coefficient in it.", default=None,
        default_words="still 0, blown 20, water 500 W/m2/K: assumed",
    )  # fmt: skip

    @property
    def exchange(self) -> Numeric:
        """Coefficient in the bore [W/m2/K]."""
        if self.coefficient is not None:
            return self.coefficient
        return {"still": 0.0, "blown": 20.0, "water": 500.0}[self.state]


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LineSection(Section):
    """What runs through the line, and how fast."""

    meaning = "what runs through the line, and how fast"

    product: str = key(Choice(("web", "pipe", "wire", "cloth")), "What runs.")
    speed: Numeric | Find = key(
        Sought(SPEED), 'Speed where the line begins; it grows with each draw. "find" leaves it to `thermokit dwell`.'
    )
    start: Numeric = key(
        TEMPERATURE, "Temperature with which the layers come.", default=None,
        default_words="must be given, unless each layer has its own",
    )  # fmt: skip
    width: Numeric | None = key(
        Quantity("length", above=0.0, high=100.0, example="1.2 m"), "Width of web or cloth, for heat and mass an hour.",
        default=None, default_words="heat and mass by metre of width only",
    )  # fmt: skip
    diameter: Numeric | None = key(SIZE, "Outside diameter of a pipe where the line begins.", default=None,
                                   default_words="a pipe's must be given")  # fmt: skip
    tension: Numeric | None = key(
        Quantity("force", above=0.0, high=1e6, example="150 N"),
        "Pull on the web, all its width: sets the film of air that it drags under itself onto rolls.", default=None,
        default_words="contact of rolls as given or as usual",
    )  # fmt: skip
    opening: OpeningEntry | None = key(
        Sub(OpeningEntry, inline=True), "The die that a web or pipe leaves, for the draw-down that its size implies.",
        default=None, default_words="the opening that is wanted is told",
    )  # fmt: skip
    conductor: ConductorSection | None = key(
        Sub(ConductorSection), "The conductor of a wire.", default=None, default_words="a wire's must be given"
    )
    layers: tuple[LineLayer, ...] = key(
        ListOf(Sub(LineLayer), most=50, naming="layer"),
        "Layers that the line begins with, from the back (the bore) to the face (outside).", default=(),
    )  # fmt: skip
    air: LineAir = key(Sub(LineAir), "The air about the line.", default=LineAir(), default_words="23 degC")
    bore: BoreSection = key(Sub(BoreSection), "What is in the bore of a pipe.", default=BoreSection())

    @property
    def shape(self) -> str:
        """Shape that is solved."""
        return "cylinder" if self.product in ROUND else "plane"

    def unwritten(self) -> frozenset[str]:
        """What only some products have."""
        if not known(self.product):
            return frozenset()
        return frozenset({"bore"} if self.product != "pipe" else ())

    def check(self, at: At, given: frozenset[str]) -> None:
        """Each product has sizes of its own; a line that stands is an event."""
        if known(self.speed) and not isinstance(self.speed, Find) and np.any(np.asarray(self.speed) == 0.0):
            (at / "speed").mistake(
                "the line stands still", "above 0 m/min", 'a stop is an event: [[events]] with kind = "stop"'
            )
        if not known(self.product):
            return
        check_opening(self.opening, self.product not in ROUND, at / "opening")
        of = {"opening": ("web", "pipe"), "width": ("web", "cloth"), "tension": ("web", "cloth"), "diameter": ("pipe",),
              "bore": ("pipe",), "conductor": ("wire",)}  # fmt: skip
        for word, products in of.items():
            if word in given and self.product not in products:
                (at / word).mistake(f"a {self.product} has none", f"{word} with {' or '.join(products)}")
        if self.product == "pipe" and "diameter" not in given:
            (at / "diameter").mistake("missing", SIZE.words())
        if self.product == "wire" and "conductor" not in given:
            (at / "conductor").mistake("missing", "a table with material, diameter, start")
        if self.product != "wire" and known(self.layers) and not self.layers:
            (at / "layers").mistake("missing", "at least one layer")
        if "tension" in given and "width" not in given:
            (at / "width").mistake("missing: the tension pulls on all the width", "the width of the web")
        self._check_layers(at)

    def _check_layers(self, at: At) -> None:
        if not known(self.layers) or not known(*self.layers):
            return
        for i, layer in enumerate(self.layers):
            check_layer(layer, self.product, at / "layers" / str(i))
            if known(layer.start, self.start) and layer.start is None and self.start is None:
                if not at.report.starts_from:
                    (at / "start").mistake("missing", TEMPERATURE.words())
                break
        walls = [layer.thickness for layer in self.layers]
        if self.product == "pipe" and known(self.diameter, *walls) and self.diameter is not None and None not in walls:
            wall = sum(walls)  # type: ignore[arg-type]
            if np.any(2.0 * np.asarray(wall) >= np.asarray(self.diameter)):
                (at / "diameter").mistake("the walls leave no bore", "more than twice the wall")


def check_layer(layer: LineLayer, product: str, at: At) -> None:
    """A mass by area belongs to what is flat."""
    if known(layer.mass) and layer.mass is not None and product in ROUND:
        (at / "mass").mistake(f"a {product} is given by its walls", "a thickness")
    if known(layer.name) and layer.name in ("conductor", "line"):
        (at / "name").mistake(f'"{layer.name}" is a name of the line\'s own', "another name")
