"""The former that is dipped: its shape, its layers from the inside outwards, a lining of fabric."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, Flag, LibraryName, Quantity, Text, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

THICKNESS = Quantity("length", above=0.0, high=10.0, example="2 mm")
_MASS = Quantity("mass", above=0.0, high=1e5, example="420 g")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FormerLayer(Section):
    """One layer of the former."""

    meaning = "one layer of the former, from the inside outwards"

    name: str = key(Text(100), "Its name.", default="", default_words="layer_1, ...")
    material: str = key(LibraryName("materials"), "What it is made of.")
    thickness: Numeric | None = key(
        THICKNESS, "Its wall; for a solid rod or ball without inner_radius its radius.", default=None,
        default_words="from its mass and the former's area",
    )  # fmt: skip
    mass: Numeric | None = key(
        _MASS, "Its mass, weighed: the wall is mass over density and developed area.", default=None,
        default_words="thickness is given",
    )  # fmt: skip
    contact: Numeric | None = key(
        Quantity("heat_transfer_coefficient", above=0.0, high=1e12, example="2000 W/m2/K"),
        "Conductance of the contact to the layer outside it.", default=None, default_words="perfect contact",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """One of thickness and mass."""
        if {"thickness", "mass"} <= given:
            (at / "mass").mistake("stands together with thickness", "one of the two")
        elif not {"thickness", "mass"} & given:
            (at / "thickness").mistake("missing", "thickness, or mass where the former has an area")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FabricEntry(Section):
    """Fabric drawn over the former before it is dipped: dry, or taking up paste."""

    meaning = "fabric drawn over the former; it becomes part of the article"

    material: str = key(LibraryName("materials"), "What it is made of.", default="cotton_fabric")
    thickness: Numeric = key(THICKNESS, "Its thickness.")
    takes_up: Numeric = key(
        share(), "Share of its pores that paste fills in the first dip; 0: it stays dry.", default=0.0
    )
    porosity: Numeric = key(
        share(high=0.99), "Share of its volume that is pores: 0.68 woven, 0.80 knitted, common practice, no source.",
        default=0.68,
    )  # fmt: skip
    contact: Numeric | None = key(
        Quantity("heat_transfer_coefficient", above=0.0, high=1e12, example="300 W/m2/K"),
        "Conductance of the contact to the former under it.", default=None, default_words="perfect contact",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FormerSection(Section):
    """The former."""

    meaning = "the former that is dipped"

    shape: str = key(
        Choice(("plane", "cylinder", "sphere", "capped")),
        "Its shape; capped: a cylinder whose end is half a sphere of the same layers, which is solved beside it.",
    )
    inner_radius: Numeric = key(
        Quantity("length", low=0.0, high=10.0, example="12 mm"),
        "Radius inside, not for a plane; 0 is solid to the axis.", default=0.0,
    )  # fmt: skip
    layers: tuple[FormerLayer, ...] = key(
        ListOf(Sub(FormerLayer), least=1, most=20, naming="layer"), "Its layers, from the inside outwards."
    )
    fabric: FabricEntry | None = key(
        Sub(FabricEntry), "Fabric drawn over it, which becomes part of the article.", default=None, default_words="none"
    )
    start: Numeric = key(TEMPERATURE, "Its temperature before the first station.", default=296.15)
    length: Numeric = key(
        Quantity("length", above=0.0, high=100.0, example="180 mm"),
        "Length that is dipped, upright; for the taper of the wall, draining, and air.", default=0.2,
        default_words="200 mm: assumed",
    )  # fmt: skip
    area: Numeric | None = key(
        Quantity("area", above=0.0, high=1e4, example="240 cm2"),
        "Developed area that is dipped, of one former: for walls from masses, bath and oven load.", default=None,
        default_words="from the shape and length; of a plane one length square",
    )  # fmt: skip
    emissivity: Numeric = key(
        share(), "Emissivity of the bare former: bright metal 0.1 to 0.3, oxidised or glazed 0.7 to 0.9.", default=0.8,
        default_words="0.8: assumed",
    )  # fmt: skip
    open_inside: bool = key(
        Flag(), "Whether air of the station also reaches the inner face (a tube open at its ends).", default=False
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """A plane has no radius; a mass needs an area; a solid former has no inner face."""
        if self.shape == "plane" and "inner_radius" in given:
            (at / "inner_radius").mistake("a plane has no radius", "only with another shape", "leave it out")
        if known(self.layers) and self.area is None:
            for i, layer in enumerate(self.layers):
                if known(layer) and layer.mass is not None:
                    (at / "area").mistake(
                        f"missing: layer {i} is given by its mass", "the developed area of the former"
                    )
                    break
        if self.open_inside is True and known(self.inner_radius) and self.shape != "plane" and self.inner_radius == 0.0:
            (at / "open_inside").mistake("a solid former has no inside", "with inner_radius above 0")

    def unwritten(self) -> frozenset[str]:
        """A plane has no radius."""
        return frozenset({"inner_radius"}) if self.shape == "plane" else frozenset()
