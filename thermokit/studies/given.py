"""Values of inputs as people give them in Python: a number in SI, or a text with its unit; held against the input's range."""

from __future__ import annotations

from typing import Any

from thermokit.case import sought_path
from thermokit.case.mistakes import At, Report
from thermokit.case.sweep import input_at, sweepable
from thermokit.case.values import Quantity
from thermokit.case.walk import scalar_kind
from thermokit.errors import CaseError, Mistake


def input_value(case: Any, path: str, value: Any, where: str = "") -> float:
    """The value of the input at a path [SI].

    value : a number in SI, or a text as it would stand in the case (``"80 s"``). Raises CaseError on a path that the case has
    not, and on a value that cannot stand there; where : what the mistake is told of, the path when empty.
    """
    report = Report()
    at = At(report, (where or path,))
    leaf = input_at(case, path, at, sweepable(case))
    kind = scalar_kind(leaf.kind) if leaf is not None else None
    found: Any = None
    if kind is not None and isinstance(value, str):
        bare = not isinstance(kind, Quantity) or kind.bare
        found = kind.read(_number(value) if bare else value, at)
    elif kind is not None:
        try:
            number = float(value)
        except (TypeError, ValueError):
            number = float("nan")
        if kind.holds(number):
            found = number
        else:
            at.mistake(f"{value!r} is out of range or no number in SI", kind.words())
    if report.found:
        raise CaseError(case.source.file, [mistake for _, mistake in report.found])
    return float(found)


def setting_value(case: Any, value: Any) -> float | None:
    """A value of what the case leaves to be found [SI]; None for None. CaseError where nothing is sought."""
    if value is None:
        return None
    path = sought_path(case)
    if path is None:
        raise CaseError(
            case.source.file,
            [Mistake("at", "nothing is sought in this case", 'one input with "find"', "change it in the case")],
        )
    return input_value(case, path, value, "at")


def _number(text: str) -> Any:
    """A bare number written as text; a percentage and a mistake stay text."""
    try:
        return float(text)
    except ValueError:
        return text
