"""Tools that a sheet touches, ``[tools.NAME]``, and the shots that are made on them one after another."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import Section, key
from thermokit.case.structure import Named, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Varying
from thermokit.case.values import Flag, LibraryName, Quantity, Text, Whole

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

MOST_SHOTS = 5000
_BODY = ("material", "thickness", "start")


def names_a_variable(name: str) -> bool:
    """Whether a word can be (part of) the name of a variable in a result file."""
    return bool(name) and "/" not in name and name.strip(" .") == name and name.isprintable()


class ToolName(Text):
    """Name of one of the case's tools; checked with the whole case."""

    def words(self) -> str:
        """What may stand here."""
        return "the name of one of the case's [tools.*]"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CoolingEntry(Section):
    """A liquid, or air, at a face of a tool."""

    meaning = "a liquid, or air, at a face of a tool"

    coefficient: Number = key(
        Quantity("heat_transfer_coefficient", low=0.0, high=1e12, example="800 W/m2/K"), "Heat transfer coefficient."
    )
    temperature: Number = key(TEMPERATURE, "Temperature of the liquid or air.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ToolEntry(Section):
    """A tool: of a fixed temperature, or a body of its own that warms and cools."""

    meaning = "a tool: of a fixed temperature, or a body of its own"

    temperature: Changing | None = key(
        Varying(TEMPERATURE), "Temperature that the tool's face keeps; times of a table run from the station's start.",
        default=None, default_words="the tool is a body of its own: material, thickness, start",
    )  # fmt: skip
    material: str | None = key(
        LibraryName("materials"), "What the tool is made of.", default=None, default_words="temperature is given"
    )
    thickness: Number | None = key(
        Quantity("length", above=0.0, high=10.0, example="12 mm"), "Its thickness, from the sheet to the cooled face.",
        default=None, default_words="temperature is given",
    )  # fmt: skip
    start: Number | None = key(
        TEMPERATURE, "Its temperature before the first shot.", default=None, default_words="temperature is given"
    )
    back: CoolingEntry | None = key(
        Sub(CoolingEntry, inline=True), "Cooling of its back.", default=None, default_words="insulated"
    )
    open: CoolingEntry | None = key(
        Sub(CoolingEntry, inline=True), "What cools its face while no sheet is on it.", default=None,
        default_words="insulated",
    )  # fmt: skip

    @property
    def has_body(self) -> bool:
        """Whether the tool warms and cools."""
        return self.temperature is None

    def check(self, at: At, given: frozenset[str]) -> None:
        """Either a temperature or a whole body."""
        body = [word for word in (*_BODY, "back", "open") if word in given]
        if "temperature" in given:
            if body:
                (at / "temperature").mistake(
                    f"stands together with {' and '.join(body)}", "temperature alone, or material, thickness and start"
                )
        elif not body:
            at.mistake("neither a temperature nor a material is given", "temperature, or material, thickness and start")
        else:
            for word in _BODY:
                if word not in given:
                    (at / word).mistake("missing", "material, thickness and start together")


class Tools(Named):
    """The tools, by name; the names go into the result file."""

    def __init__(self) -> None:
        super().__init__(Sub(ToolEntry))

    def read(self, raw: Any, at: At) -> Any:
        """Name -> ToolEntry."""
        for name in raw if isinstance(raw, dict) else ():
            if name and not names_a_variable(name):
                (at / name).mistake("cannot be the name of a tool", "a word without / or outer dots")
        return super().read(raw, at)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Shots(Section):
    """Shots made one after another on the same tools, which warm up by them."""

    meaning = "shots made one after another on the same tools"

    count: int = key(Whole(1, MOST_SHOTS), "Shots that are followed one by one.", physical=False)
    between: Number = key(
        Quantity("time", low=0.0, high=1e10, example="40 s"), "Time from release until the next sheet touches the tool."
    )
    settled: bool = key(
        Flag(), "Whether answers are those of the settled state (true) or of the first shot (false).", default=True,
        physical=False,
    )  # fmt: skip
