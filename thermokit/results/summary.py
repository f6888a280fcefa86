"""A result in words: the JSON object that other programs read, and the summary that people read."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from thermokit.conduction.section_history import SectionHistory
from thermokit.results.digits import difference_unit, number, scaled_heat
from thermokit.results.fields import group_of, short_name
from thermokit.results.model import SECTION
from thermokit.results.plain import plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from thermokit.results.model import LimitCheck, Result

WIDTH = 100

# heat that went astray, as a share of the heat turned over, beyond which the summary says so
MISMATCH_BOUND = 1e-6

STATUS_WORDS = {
    "finished": "finished",
    "step_too_small": "stopped: the time step became too small",
    "not_finite": "stopped: a value was no longer a finite number",
    "out_of_range": "stopped: a temperature left what is possible",
    "interrupted": "interrupted",
}


def warnings(result: Result) -> list[str]:
    """All warnings of a result: its own, the solver's, and how the run ended if it did not finish; none twice."""
    found = [*result.warnings, *result.history.warnings]
    ending = result.history.ending
    if ending.status != "finished":
        place = f" at {number(ending.time)} s"
        if ending.depth is not None and result.shape != SECTION:
            place += f", {number(ending.depth * 1e3)} mm from the inner face"
        words = STATUS_WORDS.get(ending.status, ending.status)
        found.append(f"the run did not finish: {words}{place}" + (f"; {ending.advice}" if ending.advice else ""))
    return list(dict.fromkeys(found))


def as_json(result: Result, path: str | Path | None) -> dict[str, Any]:
    """The JSON object of ``thermokit run --json``.

    Parameters
    ----------
    result : Result
        what was found
    path : str, Path or None
        the result file, None when none was written

    Returns
    -------
    dict
        title, process, case_sha256, version, status, outcomes, limits, heat_balance, warnings, cautions, remarks, result, and
        the block of a study (``dwell``) where there is one; a number that was not reached is None, never NaN

    """
    provenance, heat = result.provenance, result.history.heat
    content = {
        "title": provenance.title,
        "process": provenance.process,
        "case_sha256": provenance.case_sha256,
        "version": provenance.version,
        "status": result.status,
        "outcomes": {o.name: {"value": o.value, "unit": o.unit, "meaning": o.meaning} for o in result.outcomes},
        "limits": [
            {
                "name": c.name,
                "required": c.required,
                "found": c.found,
                "unit": c.unit,
                "margin": c.margin,
                "met": bool(c.met),
                "where": c.where,
                "when": c.when,
            }
            for c in result.limits
        ],
        "heat_balance": {
            "in": heat.entered,
            "out": heat.left,
            "stored": heat.stored,
            "released": heat.released,
            "unit": heat.unit,
            "mismatch": heat.mismatch,
        },
        "warnings": warnings(result),
        "cautions": list(result.cautions),
        "remarks": list(result.remarks),
        "result": None if path is None else str(path),
    }
    words: dict[str, Any] = plain(content | {k: v for k, v in result.study.items() if k not in content})
    return words


def _unit(unit: str) -> str:
    """A unit as people write it: a plain number has none."""
    return "" if unit == "1" else unit


def as_text(result: Result) -> str:
    """The summary for people: plain words, aligned columns, no line wider than 100 characters.

    Says what was run and how it ended, the outcomes with unit and meaning, each limit with its margin, the heat
    balance, the warnings, the remarks and the cautions.
    """
    provenance = result.provenance
    steady = isinstance(result.history, SectionHistory) and result.history.steady
    end = "the steady state" if steady else f"{number(result.history.ending.time)} s"
    lines = _wrapped(provenance.title or "(no title)", "", "")
    lines.append(f"process: {provenance.process}; {STATUS_WORDS.get(result.status, result.status)} at {end}")
    blocks = [
        *((spoken_head(name), _study(found)) for name, found in result.study.items()),
        ("Outcomes", _outcomes(result)),
        ("Limits", list(_limits(result.limits))),
        ("Heat balance", _heat(result)),
        ("Maps and tables", _fields(result)),
        ("Warnings", list(_items(warnings(result)))),
        ("Remarks", list(_items(result.remarks))),
        ("Cautions", list(_items(result.cautions))),
    ]
    for head, block in blocks:
        if block:
            lines += ["", head, *block]
    return "\n".join(lines) + "\n"


def spoken_head(name: str) -> str:
    """A name in snake_case as a heading.

    >>> spoken_head("dwell_window")
    'Dwell window'
    """
    words = name.replace("_", " ")
    return words[:1].upper() + words[1:]


def _study(found: Any) -> list[str]:
    """The plain numbers, words and lists of words of what a study adds; what is nested stays in the file and in the JSON."""
    found = plain(found)
    if not isinstance(found, dict):
        return []
    unit = str(found.get("unit") or "")
    rows = []
    for name, value in found.items():
        if isinstance(value, list) and all(isinstance(entry, str) for entry in value):
            rows += [("" if i else name.replace("_", " "), "", entry) for i, entry in enumerate(value)]
            continue
        if name == "unit" or isinstance(value, dict | list):
            continue
        if isinstance(value, int | float) and not isinstance(value, bool):
            rows.append((name.replace("_", " "), f"{number(value, unit)} {unit}".strip(), ""))
        else:
            words = {None: "none", True: "yes", False: "no"}.get(value, str(value))
            rows.append((name.replace("_", " "), "", words))
    return _rows(rows) if rows else []


def _wrapped(text: str, first: str, later: str) -> list[str]:
    """Text broken into lines of at most WIDTH characters."""
    return textwrap.wrap(
        " ".join(text.split()), WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False
    )


def _items(texts: Sequence[str]) -> Iterator[str]:
    for text in texts:
        yield from _wrapped(text, "  - ", "    ")


def _rows(rows: Sequence[tuple[str, str, str]]) -> list[str]:
    """Rows of name, number with unit (decimal points not aligned: the units differ) and words, in columns."""
    name_width = min(max(len(row[0]) for row in rows), 40)
    value_width = max(len(row[1]) for row in rows)
    lines = []
    for name, value, words in rows:
        head = f"  {name:<{name_width}}  {value:>{value_width}}  "
        indent = " " * (name_width + value_width + 6)
        # a name that is too long for its column takes a line of its own
        if len(name) > name_width:
            lines += _wrapped(name, "  ", "  ")
            head = f"  {'':<{name_width}}  {value:>{value_width}}  "
        lines += _wrapped(words, head, indent) if words.strip() else [head.rstrip()]
    return lines


def _outcomes(result: Result) -> list[str]:
    if not result.outcomes:
        return []
    rows = []
    for o in result.outcomes:
        value = "not reached" if o.value is None else f"{number(o.value, o.unit)} {_unit(o.unit)}".strip()
        rows.append((o.name, value, o.meaning))
    return _rows(rows)


def _limits(limits: Sequence[LimitCheck]) -> Iterator[str]:
    """Two lines for each limit: what is required and whether it is met; what was found, with margin and place."""
    if not limits:
        return
    width = min(max(len(c.name) for c in limits), 40)
    broken = sum(not c.met for c in limits)
    count = f"all {len(limits)} met" if len(limits) > 1 else "met"
    yield "  " + (f"{broken} of {len(limits)} NOT MET" if broken else count)
    for c in limits:
        verdict = "met    " if c.met else "NOT MET"
        yield from (
            _wrapped(f"{c.name:<{width}}", f"  {verdict}  ", " " * 11)
            if len(c.name) > 80
            else [f"  {verdict}  {c.name:<{width}}  {c.required}"]
        )
        found = "not reached" if c.found is None else f"{number(c.found, c.unit)} {_unit(c.unit)}".strip()
        detail = f"found {found}"
        if c.margin is not None:
            sign = "+" if c.margin >= 0 else "-"
            detail += f", margin {sign}{number(abs(c.margin), c.unit)} {_unit(difference_unit(c.unit))}".rstrip()
        place = ", ".join(p for p in (c.where, "" if c.when is None else f"at {number(c.when)} s") if p)
        yield from _wrapped(detail + (f" ({place})" if place else ""), " " * (13 + width), " " * (13 + width))


def _fields(result: Result) -> list[str]:
    """Which fields the result holds: a row for each group and its axes."""
    rows: dict[tuple[str, str], list[str]] = {}
    for field in result.fields:
        axes = ", ".join(f"{len(axis.values)} {axis.name}" for axis in field.axes)
        rows.setdefault((group_of(field), axes), []).append(short_name(field))
    return _rows([(group, axes, ", ".join(names)) for (group, axes), names in rows.items()]) if rows else []


def _heat(result: Result) -> list[str]:
    heat = result.history.heat
    size = max(abs(v) for v in (heat.entered, heat.left, heat.stored, heat.released))
    factor, unit = scaled_heat(size, heat.unit)
    words = [
        f"{name} {number(value * factor)} {unit}"
        for name, value in (("in", heat.entered), ("out", heat.left), ("stored", heat.stored))
    ]
    if heat.released:
        words.append(f"released {number(heat.released * factor)} {unit}")
    mismatch = f"mismatch {heat.mismatch:.1e} of the heat turned over"
    if not heat.mismatch <= MISMATCH_BOUND:
        mismatch += f", MORE than the {MISMATCH_BOUND:.0e} that is allowed"
    return [*_wrapped(", ".join(words), "  ", "  "), *_wrapped(mismatch, "  ", "  ")]
