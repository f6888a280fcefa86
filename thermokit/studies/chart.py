"""What is sought against an input, for a few values of another: the numbers of a chart for the wall."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import sought_path
from thermokit.errors import CaseError, Mistake
from thermokit.studies.answers import answers
from thermokit.studies.sought import scale_of
from thermokit.studies.window_map import Axis

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.problem import Array

OUTCOMES = ("earliest", "latest", "recommended")


@dataclass(frozen=True)
class Curve:
    """One curve of the family. value : of the input that tells them apart [SI], None where there is one curve.

    earliest, latest, recommended : (points,) in the unit that is shown, NaN without a window (latest also where nothing
    limits it); first, last : (points,) the limit at each edge, empty where none is; status : (points,) ``finished`` or why
    there is no window.
    """

    value: float | None
    earliest: Array
    latest: Array
    recommended: Array
    first: Any
    last: Any
    status: Any


@dataclass(frozen=True)
class Chart:
    """A family of curves over one input. at : (points,) [SI]; sought : path of what is sought; unit : in which it is shown."""

    case: Any
    across: Axis
    at: Array
    family: Axis | None
    curves: tuple[Curve, ...]
    sought: str
    unit: str

    @property
    def edges(self) -> tuple[str, str]:
        """What the two edges of the window are called."""
        return {"s": ("earliest", "latest"), "m/min": ("slowest", "fastest")}.get(self.unit, ("smallest", "largest"))


def chart(
    case: Any,
    across: Axis,
    points: int | None = None,
    family: tuple[Axis, Sequence[float]] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Chart:
    """What a case seeks, over a range of one input and for each value of another.

    Parameters
    ----------
    case : Case
        a validated case that leaves something to be found
    across : Axis
        the input along the chart, with its range
    points : int, optional
        how many of its values, equally spaced; left out: its ends and the round values between them
    family : (Axis, values [SI]), optional
        the input that tells the curves apart, and its values
    progress : callable, optional
        told the share that is done

    Raises
    ------
    CaseError
        nothing is sought, what is sought is one of the two inputs, an input stands in both, or a value is out of range

    """
    path = sought_path(case)
    if path is None:
        raise CaseError(
            case.source.file,
            [Mistake("--against", "nothing is sought in this case", 'one input with "find"', "change it in the case")],
        )
    names = [*across.paths, *(family[0].paths if family is not None else ())]
    if path in names:
        raise CaseError(case.source.file, [Mistake(path, "is what is sought", "another input")])
    if len(set(names)) < len(names):
        raise CaseError(case.source.file, [Mistake(names[-1], "stands in the chart twice", "each input once")])
    at = np.linspace(across.low, across.high, points) if points is not None else round_values(across)
    points = len(at)
    kept = list(family[1]) if family is not None else [None]
    rows = {name: np.tile(at, len(kept)) for name in across.paths}
    if family is not None:
        rows |= {name: np.repeat(np.asarray(family[1], float), points) for name in family[0].paths}
    found = answers(case, rows, OUTCOMES, progress=progress)
    curves = []
    for i, value in enumerate(kept):
        own = slice(i * points, (i + 1) * points)
        curves.append(
            Curve(
                value=value,
                earliest=found.outcomes["earliest"][own],
                latest=found.outcomes["latest"][own],
                recommended=found.outcomes["recommended"][own],
                first=found.words["earliest_limit"][own],
                last=found.words["latest_limit"][own],
                status=found.status[own],
            )
        )
    unit = scale_of(case, path).unit
    return Chart(case, across, at, family[0] if family is not None else None, tuple(curves), path, unit)


def round_values(across: Axis) -> Array:
    """The ends of a range and the round values of the unit that is shown between them [SI], 5 to 11 in all."""
    low, high = float(across.shown(across.low)), float(across.shown(across.high))
    step = next(
        step
        for power in range(math.floor(math.log10((high - low) / 8)), 400)
        for step in (10.0**power, 2.0 * 10.0**power, 5.0 * 10.0**power)
        if (high - low) / step <= 9.0
    )
    inner = step * np.arange(math.ceil(low / step), math.floor(high / step) + 1)
    inner = inner[(inner > low + 0.2 * step) & (inner < high - 0.2 * step)]
    share = (np.concatenate([[low], inner, [high]]) - low) / (high - low)
    return np.asarray(across.low + share * (across.high - across.low))


def chart_text(found: Chart) -> str:
    """The chart as a table in words: a row for each value, recommended and both edges of every curve."""
    lines = [found.case.title or "Chart", "", f"{found.sought} [{found.unit}] against {found.across.name}"]
    low, high = found.edges
    for curve in found.curves:
        lines.append("")
        if found.family is not None and curve.value is not None:
            lines.append(f"{found.family.name} = {found.family.text(curve.value)}")
        lines.append(f"  {found.across.unit or 'value':>12}{low:>12}{'recommended':>14}{high:>12}   limits")
        for i, x in enumerate(found.at):
            if np.isnan(curve.recommended[i]):
                lines.append(f"  {float(found.across.shown(x)):>12.4g}   {curve.status[i]}")
                continue
            latest = "no end" if np.isnan(curve.latest[i]) else f"{curve.latest[i]:.4g}"
            limits = " / ".join(word for word in (curve.first[i], curve.last[i]) if word)
            lines.append(
                f"  {float(found.across.shown(x)):>12.4g}{curve.earliest[i]:>12.4g}{curve.recommended[i]:>14.4g}{latest:>12}"
                f"   {limits}".rstrip()
            )
    return "\n".join(lines)


def chart_json(found: Chart, files: Sequence[str]) -> dict[str, Any]:
    """The chart as a JSON object."""
    from thermokit.results.plain import plain

    curves = [
        {
            "value": None if found.family is None or c.value is None else float(found.family.shown(c.value)),
            "earliest": c.earliest,
            "recommended": c.recommended,
            "latest": c.latest,
            "earliest_limit": list(c.first),
            "latest_limit": list(c.last),
            "status": list(c.status),
        }
        for c in found.curves
    ]
    family = None if found.family is None else {"name": found.family.name, "unit": found.family.unit}
    content = {
        "title": found.case.title,
        "process": found.case.process,
        "case_sha256": found.case.source.sha256,
        "sought": found.sought,
        "unit": found.unit,
        "against": {"name": found.across.name, "unit": found.across.unit, "values": found.across.shown(found.at)},
        "family": family,
        "curves": curves,
        "files": list(files),
    }
    words: dict[str, Any] = plain(content)
    return words
