"""The text of a case with fitted values in it, its comments and its layout kept as far as they can be.

What is written must load to the case that was meant: where an edit of the user's text does not, the resolved case is
written instead.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from thermokit import units
from thermokit.case.declare import Section
from thermokit.case.lines import line_numbers
from thermokit.case.reading import parse_case
from thermokit.case.sweep import sweepable
from thermokit.case.walk import scalar_kind
from thermokit.case.writing import resolved_text
from thermokit.errors import ThermokitError
from thermokit.studies.fit_words import name_of_log, written

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.studies.fit import CaseFit

_STRING = r"\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'|[^\s,#}\]]+"


def fitted_case(fit: CaseFit) -> Any:
    """The case with its fitted inputs, read from the text (``source.text``) that is to be written."""
    texts = {path: written(value) for value in fit.values for path in value.paths}
    values = {path: _read(fit.case, path, text) for path, text in texts.items()}
    wanted = fit.case.with_values(values)
    note = f"fitted to {name_of_log(fit)}"
    new = _edited(fit.case, texts, note)
    if new is not None:
        try:
            found = parse_case(new, fit.case.source.file)
            if found == wanted:
                return found
        except ThermokitError:
            pass
    return parse_case(resolved_text(wanted), fit.case.source.file)


def is_as_written(fit: CaseFit, new: Section) -> bool:
    """Whether the new text is the user's own but for the fitted values, not the resolved case."""
    text = new.source.text  # type: ignore[attr-defined]
    return bool(text != resolved_text(new) or fit.case.source.text == resolved_text(fit.case))  # type: ignore[arg-type]


def _read(case: Any, path: str, text: str) -> float:
    """The value [SI] of the text that is written."""
    kind = scalar_kind(sweepable(case)[path].kind)
    dimension = getattr(kind, "dimension", "fraction")
    return float(units.parse(text, dimension))


def _edited(case: Any, texts: Mapping[str, str], note: str) -> str | None:
    """The user's text with the values in it; None where one of them has no line to stand in."""
    text = case.source.text
    inputs = sweepable(case)
    for path, value in texts.items():
        leaf = inputs[path]
        bare = getattr(scalar_kind(leaf.kind), "dimension", "fraction") == "fraction"
        changed = _put(text, leaf.path, value if bare else f'"{value}"', note)
        if changed is None:
            return None
        text = changed
    return str(text)


def _put(text: str, path: tuple[str, ...], value: str, note: str) -> str | None:
    """The text with a value at a path: in place of what stands there, else on a line of its own in its table."""
    places = line_numbers(text)
    end = "\r\n" if "\r\n" in text else "\n"
    lines = text.split("\n")
    key = path[-1]
    line = places.get(path)
    if line is not None:
        head = re.compile(rf"((?:^|[\s{{,.])[\"']?{re.escape(key)}[\"']?\s*=\s*)({_STRING})")
        row = lines[line - 1]
        match = head.search(row)
        if match is None:
            return None
        new = row[: match.start(2)] + value + row[match.end(2) :]
        # a comment that stands there is the user's: the note goes behind it
        behind = row[match.end(2) :]
        new = f"{new.rstrip()}{'; ' if '#' in behind else '  # '}{note}" + ("\r" if row.endswith("\r") else "")
        lines[line - 1] = new
        return "\n".join(lines)
    table = places.get(path[:-1])
    if table is None or not lines[table - 1].lstrip().startswith("["):
        return None
    lines.insert(table, f"{key} = {value}  # {note}" + ("\r" if end == "\r\n" else ""))
    return "\n".join(lines)
