"""From a file to a validated case: every mistake of the file is found before anything is raised."""

from __future__ import annotations

import dataclasses
import hashlib
import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermokit.case.common import CaseSource
from thermokit.case.declare import known
from thermokit.case.kinds import KINDS, case_class
from thermokit.case.mistakes import At, Report, nearest, shown
from thermokit.case.sought import noted
from thermokit.case.structure import read_section
from thermokit.case.tolerances import Tolerances
from thermokit.errors import CaseError, Mistake

if TYPE_CHECKING:
    from os import PathLike

    from thermokit.case.common import Case

MOST_BYTES = 4_000_000  # a case with long measured time tables stays far below
MOST_STEPS = 50  # in a dotted key
_BARE_KEY = re.compile(r"\s*\[{0,2}[\w.\s-]*\]{0,2}\s*")


def load_case(path: str | PathLike[str]) -> Case:
    """The case in a TOML file.

    Raises CaseError with every mistake of the file: unreadable, not UTF-8, not TOML, or what does not hold in the case.
    """
    file = str(path)
    try:
        with Path(path).open("rb") as handle:
            data = handle.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _whole(file, "no such file", "a case file in TOML", "`thermokit new KIND` writes one") from None
    except (OSError, ValueError) as wrong:
        reason = getattr(wrong, "strerror", None) or str(wrong)
        raise _whole(file, f"cannot be read: {reason}", "a case file in TOML") from None
    if len(data) > MOST_BYTES:
        raise _too_large(file)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = data[: wrong.start].count(b"\n") + 1
        raise _whole(
            file, f"byte {wrong.start + 1} is not UTF-8", "text in UTF-8", "save the file as UTF-8", line
        ) from None
    return _parse(text, file, hashlib.sha256(data).hexdigest())


def parse_case(text: str, file: str = "") -> Case:
    """The case in a TOML text; ``file`` is named in messages. Raises CaseError with every mistake."""
    data = text.encode("utf-8", "surrogatepass")
    if len(data) > MOST_BYTES:
        raise _too_large(file)
    return _parse(text, file, hashlib.sha256(data).hexdigest())


def _parse(text: str, file: str, sha256: str) -> Case:
    """The case in a text that is not too large."""
    raw = _toml(text, file)
    report = Report(starts_from="start_from" in raw)
    at = At(report)
    process = raw.get("process")
    if not isinstance(process, str) or process not in KINDS:
        what = "missing" if process is None else f"{shown(process)} is no kind of case"
        advice = nearest(process, KINDS) if isinstance(process, str) else ""
        (at / "process").mistake(what, " or ".join(f'"{kind}"' for kind in KINDS), advice)
        raise _collected(report, file, text)
    case = noted(read_section(case_class(process), raw, at), at)
    if known(case.start_from) and case.start_from is not None:
        case = dataclasses.replace(case, earlier=_earlier(case, file, at / "start_from"))
    case = case.with_files(file, at)
    if "tolerances" in raw:
        tolerances = Tolerances().resolve(raw["tolerances"], case, at / "tolerances")
        case = dataclasses.replace(case, tolerances=tolerances)
    if report.found:
        raise _collected(report, file, text)
    loaded: Case = dataclasses.replace(case, source=CaseSource(file, text, sha256))
    return loaded


def _earlier(case: Case, file: str, at: At) -> Any:
    """The end of the run that a case begins from, None where it cannot be had."""
    from thermokit.case.earlier import read_earlier

    assert case.start_from is not None
    return read_earlier(case.start_from, file, None if at.report.found else case.starts(), at)


def _toml(text: str, file: str) -> dict[str, Any]:
    """What tomllib makes of the text, its refusals as CaseError."""
    for number, row in enumerate(text.split("\n"), start=1):
        # tomllib needs time with the square of the steps in a key: junk must not hang
        if (head := row.split("=", 1)[0]).count(".") > MOST_STEPS and _BARE_KEY.fullmatch(head):
            raise _whole(file, f"a key of {head.count('.') + 1} steps", f"up to {MOST_STEPS}", line=number)
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _whole(file, "tables or lists are nested too deeply", "a case file in TOML") from None
    except ValueError as wrong:
        # tomllib says "... (at line 3, column 7)"; a number of thousands of digits is a plain ValueError
        message = str(wrong)
        place = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", message)
        line = int(place[1]) if place and place[1] else None
        what = message[: place.start()] if place else message
        if place and not place[1]:
            line = text.count("\n") + 1
        column = f" (column {place[2]})" if place and place[2] else ""
        raise _whole(
            file, f"not TOML: {what[:150]}{column}", 'lines such as key = "value" under headings such as [table]',
            "strings stand in quotes, numbers take a decimal point", line,
        ) from None  # fmt: skip


def _whole(file: str, what: str, allowed: str, advice: str = "", line: int | None = None) -> CaseError:
    """A CaseError about the file as a whole."""
    return CaseError(file, [Mistake("the file", what, allowed, advice, line)])


def _too_large(file: str) -> CaseError:
    return _whole(file, "too large to be a case", f"up to {MOST_BYTES // 1_000_000} MB of TOML")


def _collected(report: Report, file: str, text: str) -> CaseError:
    """The CaseError with all mistakes found, each with its line where it can be had, in the order of the lines."""
    from thermokit.case.lines import line_numbers

    lines = line_numbers(text)
    placed = []
    for path, mistake in report.found:
        line = next((lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in lines), None)
        placed.append(dataclasses.replace(mistake, line=line))
    placed.sort(key=lambda mistake: mistake.line or 0)
    if report.unlisted:
        placed.append(Mistake("the file", f"{report.unlisted} more mistakes", "", "mend these first"))
    return CaseError(file, placed)
