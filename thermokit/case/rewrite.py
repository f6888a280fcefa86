"""The text of a case with other zone settings, its comments and its layout kept as far as they can be.

What is written must load to the case that was meant: where an edit of the user's text does not, the resolved case is
written instead.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from thermokit import units
from thermokit.case.lines import line_numbers
from thermokit.case.reading import parse_case
from thermokit.case.writing import resolved_text
from thermokit.errors import CaseError, Mistake, ThermokitError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.sheet import SheetCase
    from thermokit.case.tolerances import Tolerance

WIDTH = 112  # of a line of a table
_TOKEN = re.compile(r'#[^\n]*|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|[\[\]{},]|[^\s\[\]{},#"\']+')


@dataclass(frozen=True)
class Setting:
    """New settings of a panel: number of its station, ``upper`` or ``lower``, ``temperature`` or ``power``, and the rows of
    texts such as ``412 degC`` or ``43.5 %``.
    """

    station: int
    side: str
    by: str
    rows: tuple[tuple[str, ...], ...]

    @property
    def path(self) -> tuple[str, ...]:
        """Path in the file."""
        return ("stations", str(self.station), self.side, self.by)

    @property
    def value(self) -> Any:
        """The value in the case [SI]: one number for one zone, else rows."""
        dimension = "temperature" if self.by == "temperature" else "fraction"
        found = tuple(tuple(units.parse(zone, dimension) for zone in row) for row in self.rows)
        return found[0][0] if found == ((found[0][0],),) else found


def with_zone_settings(case: SheetCase, settings: Sequence[Setting]) -> SheetCase:
    """The case with these settings, read from its new text (``source.text``), which is to be written as it stands.

    A tolerance on the one setting of a panel that becomes a table goes over to its trim or its installed power, which
    shift all of it. Raises CaseError where that cannot be.
    """
    wanted = replace(case.with_values({".".join(s.path): s.value for s in settings}), tolerances=_moved(case, settings))
    new = _edited(case, settings, list(zip(case.tolerances, wanted.tolerances, strict=True)))
    if new is not None:
        try:
            found = parse_case(new, case.source.file)
            if found == wanted:
                return found  # type: ignore[return-value]
        except ThermokitError:
            pass
    return parse_case(resolved_text(wanted), case.source.file)  # type: ignore[return-value]


def is_as_written(case: SheetCase, new: SheetCase) -> bool:
    """Whether the new text is the user's own but for the settings, not the resolved case."""
    return new.source.text != resolved_text(new) or case.source.text == resolved_text(case)


# -- tolerances --------------------------------------------------------------------------------------------------------


def _moved(case: SheetCase, settings: Sequence[Setting]) -> dict[str, Tolerance]:
    """The tolerances, by the path at which they stand from now on."""
    from thermokit.case.tolerances import by_path

    inputs = by_path(case)
    tables = {s.path: s for s in settings if not isinstance(s.value, float)}
    taken = {inputs[path].path for name, tolerance in case.tolerances.items() for path in tolerance.inputs(name)}
    out = {}
    for name, tolerance in case.tolerances.items():
        paths = []
        for path in tolerance.inputs(name):
            setting = tables.get(inputs[path].path)
            if setting is None:
                paths.append(path)
                continue
            other = "trim" if setting.by == "temperature" else "installed"
            here = (*setting.path[:-1], other) in taken or (setting.by == "power" and not tolerance.relative)
            if here or tolerance.measured:
                raise CaseError(
                    case.source.file,
                    [Mistake(f"tolerances.{name}", "stands at a setting that becomes a table of zones",
                             "a tolerance on an input that shifts every zone",
                             f"put it on {path.rpartition('.')[0]}.{other}")],
                )  # fmt: skip
            paths.append(f"{path.rpartition('.')[0]}.{other}")
        if tolerance.paths:
            out[name] = replace(tolerance, paths=tuple(paths))
        else:
            out[paths[0]] = tolerance
    return out


# -- text --------------------------------------------------------------------------------------------------------------


def _edited(case: SheetCase, settings: Sequence[Setting], paths: Sequence[tuple[str, str]]) -> str | None:
    """The user's text with the settings in it; None where one of them was not found on a line of its own."""
    text = case.source.text
    places = line_numbers(text)
    starts = [0, *(m.end() for m in re.finditer("\n", text))]
    cuts = []
    for setting in settings:
        line = places.get(setting.path)
        if line is None or line > len(starts):
            return None
        head = re.compile(rf"\s*(?:[\w.\"'-]+\.)?{setting.by}\s*=\s*").match(text, starts[line - 1])
        if head is None:
            return None
        end, zones = _value(text, head.end())
        cuts.append((head.end(), end, _written(text, head.end(), end, zones, setting)))
    for begin, end, new in sorted(cuts, reverse=True):
        text = text[:begin] + new + text[end:]
    for old, path in paths:
        if old != path:
            text = re.sub(rf"(^\s*[\"']?){re.escape(old)}(?=[\"']?\s*=)", rf"\g<1>{path}", text, flags=re.MULTILINE)
    return text


def _value(text: str, begin: int) -> tuple[int, list[tuple[int, int]]]:
    """Where the value that begins there ends, and where the single values in it stand."""
    depth, zones = 0, []
    for token in _TOKEN.finditer(text, begin):
        word = token.group()
        if word in "[{":
            depth += 1
        elif word in "]}":
            depth -= 1
        elif word[0] not in "#,":
            zones.append(token.span())
        if depth <= 0 and word[0] != "#":
            return token.end(), zones
    return len(text), zones


def _written(text: str, begin: int, end: int, zones: list[tuple[int, int]], setting: Setting) -> str:
    """The new value: a table of the same zones keeps its layout and its comments."""
    new = [_quoted(zone) for row in setting.rows for zone in row]
    if len(zones) == len(new):
        out, at = "", begin
        for (first, last), zone in zip(zones, new, strict=True):
            out += text[at:first] + zone
            at = last
        return out + text[at:end]
    rows = ["[" + ", ".join(_quoted(zone) for zone in row) + "]" for row in setting.rows]
    line_end = "\r\n" if "\r\n" in text else "\n"
    whole = "[" + ", ".join(rows) + "]"
    if len(whole) <= WIDTH and len(rows) == 1:
        return whole
    return "[" + "".join(f"{line_end}  {row}," for row in rows) + line_end + "]"


def _quoted(zone: str) -> str:
    return f'"{zone}"'
