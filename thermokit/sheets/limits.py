"""The limits of a result as a table: what is asked, what was found, and who chose the limit."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from thermokit.results.digits import difference_unit, number
from thermokit.sheets.page import Grid
from thermokit.sheets.words import capital, spaced

if TYPE_CHECKING:
    from thermokit.results.model import LimitCheck, Result
    from thermokit.sheets.words import Words

CASE, RECORD, PRACTICE = "case", "material record", "common practice"
#: limits that go by the bound of another key
OF_KEY = {"heat_left": "hottest", "ejection_center": "ejection_centre"}


def grid(result: Result, given: dict[str, Any], words: Words) -> Grid | None:
    """Every limit with what was found, its margin and who chose it; given : the case as it was written."""
    if not result.limits:
        return None
    rows = []
    for check in result.limits:
        margin = "-"
        if check.margin is not None:
            sign = "+" if check.margin >= 0 else "-"
            margin = sign + words.quantity(abs(check.margin), difference_unit(check.unit))
        rows.append(
            (
                capital(spaced(check.name)),
                words.sentence(_rounded(check.required)),
                words.quantity(check.found, check.unit),
                margin,
                "met" if check.met else "NOT MET",
                chosen_by(check, given, result.provenance.process) or "-",
            )
        )
    columns = ("limit", "asked", "found", "margin", "", "chosen by")
    return Grid("Limits, and who chose them", columns, tuple(rows))


def _rounded(required: str) -> str:
    """A bound with no more digits than a shop can read.

    >>> _rounded("at least 5.95843 s")
    'at least 5.958 s'
    """
    return re.sub(r"\d+\.\d{3,}", lambda match: number(float(match[0])), required)


def chosen_by(check: LimitCheck, given: dict[str, Any], process: str) -> str:
    """Who chose a limit: the case, the material's record, or thermokit by common practice; empty where that is not known."""
    name = OF_KEY.get(check.name, check.name).partition(" at ")[0]
    if _in_case(name, given):
        return CASE
    words, default = _declared(process, name)
    if words is None:
        return ""
    usual = re.search(r"where it has none, ([\d.]+)", words)
    if "material" in words:
        asked = re.search(r"-?[\d.]+", check.required)
        if usual and asked:
            return PRACTICE if float(usual[1].rstrip(".")) == float(asked[0]) else RECORD
        return f"{RECORD} or {PRACTICE}" if "where it has none" in words else RECORD
    return PRACTICE if default or re.search(r"\d|half|usual|of the", words) else ""


def _in_case(name: str, given: dict[str, Any]) -> bool:
    """Whether the case as it was written has the limit: under its limits or those of one of its stations."""
    tables = [
        given.get("limits", {}),
        given.get("shaping", {}),
        *(s.get("limits", {}) for s in given.get("stations", []) if isinstance(s, dict)),
    ]
    return any(isinstance(table, dict) and name in table for table in tables)


def _declared(process: str, name: str) -> tuple[str | None, bool]:
    """(the default of a limit in words, whether it is a value); (None, False) where the kind has no such key."""
    from thermokit.case.declare import declarations
    from thermokit.case.kinds import case_class

    limits = declarations(case_class(process)).get("limits")
    section = getattr(limits.kind, "section", None) if limits is not None else None
    entry = declarations(section).get(name) if section is not None else None
    if entry is None:
        return None, False
    return entry.default_words, entry.default is not None
