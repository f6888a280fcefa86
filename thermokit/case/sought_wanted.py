"""What a sought input is found for, where that is an outcome instead of the limits: ``[wanted]``."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit import units
from thermokit.case.declare import UNKNOWN, Kind, Section, key, known
from thermokit.case.mistakes import shown
from thermokit.case.values import Text

if TYPE_CHECKING:
    from thermokit.case.mistakes import At


@dataclass(eq=False, repr=False)
class Amount(Kind):
    """A value of an outcome as it is written, a text with its unit or a bare number: only the run says which unit fits."""

    def read(self, raw: Any, at: At) -> Any:
        """The text or the number."""
        if isinstance(raw, bool) or not isinstance(raw, (str, int, float)) or (isinstance(raw, str) and len(raw) > 100):
            at.mistake(f"{shown(raw)} is no value of an outcome", self.words())
            return UNKNOWN
        return raw if isinstance(raw, str) else float(raw)

    def write(self, value: Any) -> Any:
        """As it was read."""
        return value

    def words(self) -> str:
        """What may stand here."""
        return 'a value with its unit, such as "127 degC", or a bare number where the outcome has none'

    def schema(self) -> dict[str, Any]:
        """The same as JSON Schema."""
        return {"type": ["string", "number"]}


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Wanted(Section):
    """The outcome that a sought input is found for."""

    meaning = "what a sought input is found for: an outcome instead of the limits"

    outcome: str = key(Text(200), "Name of the outcome, as `thermokit run` tells it.")
    value: Any = key(Amount(), "Value that it is to have.", default=None, default_words="not a single value")
    at_least: Any = key(Amount(), "Value that it is to reach.", default=None, default_words="no lower bound")
    at_most: Any = key(Amount(), "Value that it is to keep below.", default=None, default_words="no upper bound")

    def check(self, at: At, given: frozenset[str]) -> None:
        """A single value, or bounds."""
        bounds = given & {"value", "at_least", "at_most"}
        if not bounds:
            (at / "value").mistake("missing", Amount().words(), "or at_least, at_most")
        elif "value" in bounds and len(bounds) > 1:
            (at / "value").mistake("stands beside a bound", "value, or at_least and at_most")

    def bounds(self, unit: str) -> dict[str, float]:
        """``value``, ``at_least``, ``at_most`` as far as they are given, in the unit of the outcome.

        Raises units.UnitError where a text has no such unit.
        """
        given = {"value": self.value, "at_least": self.at_least, "at_most": self.at_most}
        return {word: in_unit(raw, unit) for word, raw in given.items() if known(raw) and raw is not None}


def in_unit(raw: str | float, unit: str) -> float:
    """A value as it is written, in the unit of an outcome; raises units.UnitError.

    >>> in_unit("260.6 degF", "degC").__round__(6), in_unit("2 min", "s"), in_unit("85 %", "1"), in_unit(0.85, "1")
    (127.0, 120.0, 0.85, 0.85)
    """
    if unit in ("", "1"):
        return float(raw) if not isinstance(raw, str) else units.parse(raw, "fraction")
    fitting = [name for name, row in units.DIMENSIONS.items() if unit in row.units]
    # a difference of temperatures is in K as a temperature may be: outcomes in K are differences
    fitting.sort(key=lambda name: name == "temperature" and unit == "K")
    if not isinstance(raw, str):
        raise units.UnitError(f"{raw:g} is a bare number", f'a text with its unit, such as "{raw:g} {unit}"')
    wrong: units.UnitError | None = None
    for name in fitting:
        try:
            return float(units.to_unit(units.parse(raw, name), unit, name))
        except units.UnitError as error:
            wrong = wrong or error
    raise wrong or units.UnitError(f"{raw!r} cannot be held against {unit}", f"a value in {unit}")
