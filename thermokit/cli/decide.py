"""What the commands that weigh settings share: a setting from the command line, a range of an input, where pictures go."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import click

from thermokit.cli.target import check_target

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

PICTURES = (".png", ".svg")


def check_pictures(files: Sequence[Path], case_file: Path, also: tuple[str, ...] = ()) -> None:
    """Refuse names that do not end as pictures do (or as ``also``), and places where nothing can be written."""
    for file in files:
        if file.suffix.lower() not in (*PICTURES, *also):
            endings = [*PICTURES, *also]
            raise click.BadParameter(f"{file} must end in {', '.join(endings[:-1])} or {endings[-1]}", param_hint="-o")
        check_target(file, case_file)


def setting_of(case: Any, text: str) -> float:
    """A value of what the case leaves to be found [SI], such as ``80 s``."""
    from thermokit.case import sought_path
    from thermokit.errors import CaseError, Mistake

    path = sought_path(case)
    if path is None:
        raise CaseError(
            case.source.file,
            [Mistake("--at", "nothing is sought in this case", 'one input with "find"', "change it in the case")],
        )
    return value_at(case, path, text, "--at")


def value_at(case: Any, path: str, text: str, where: str) -> float:
    """A value of the input at a path [SI] from its text; a mistake is told of the option ``where``."""
    from thermokit.case.mistakes import At, Report
    from thermokit.case.sweep import input_at, sweepable
    from thermokit.case.walk import scalar_kind
    from thermokit.errors import CaseError

    report = Report()
    at = At(report, (where,))
    leaf = input_at(case, path, at / path, sweepable(case))
    kind = scalar_kind(leaf.kind) if leaf is not None else None
    value = kind.read(_given(text, kind), at) if kind is not None else None
    if report.found:
        raise CaseError(case.source.file, [mistake for _, mistake in report.found])
    assert value is not None
    return float(value)


def range_of(case: Any, text: str, where: str) -> tuple[str, float, float]:
    """(name, low, high [SI]) from ``PATH=FROM..TO``; the name may stand for several paths that are set alike."""
    match = re.fullmatch(r"\s*(.+?)\s*=\s*(.+?)\s*\.\.\s*(.+?)\s*", text)
    if match is None:
        example = "stations.heat.duration=60s..95s"
        raise click.BadParameter(f"{text!r} is no range; write PATH=FROM..TO, such as {example}", param_hint=where)
    from thermokit.studies.window_map import paths_of

    name = match[1]
    ends = [[value_at(case, path, end, where) for end in (match[2], match[3])] for path in paths_of(case, name)]
    if ends[0][0] == ends[0][1]:
        raise click.BadParameter(f"{text!r}: both ends are the same", param_hint=where)
    return name, min(ends[0]), max(ends[0])


def _given(text: str, kind: Any) -> Any:
    """A text, or the bare number that a key without a unit takes."""
    from thermokit.case.values import Quantity

    if isinstance(kind, Quantity) and kind.dimension != "fraction":
        return re.sub(r"(?<=\d)(?=[A-Za-z°%])", " ", text, count=1) if not re.search(r"\s", text.strip()) else text
    try:
        return float(text) if "." in text or "e" in text.lower() else int(text)
    except ValueError:
        return text
