"""A sweep in words and as the JSON object of the command: how many rows, what they span, what they answer, which failed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.results.digits import number
from thermokit.results.plain import plain
from thermokit.results.sweep_table import STATUS

if TYPE_CHECKING:
    from pathlib import Path

    from thermokit.results.sweep_table import Column, SweepTable

MOST_REASONS = 8  # that are told in words
MOST_JSON = 100  # that stand in the JSON object


def sweep_text(table: SweepTable, target: Path, before: bool) -> str:
    """The summary at the end of `thermokit sweep`; before : the table was finished already."""
    counts = _counts(table)
    head = f"{table.provenance.title or 'Sweep'}: {table.rows} rows, {counts['finished']} finished"
    if counts["no_window"]:
        head += f", {counts['no_window']} without a window"
    if counts["failed"]:
        head += f", {counts['failed']} failed"
    lines = [head + (" (the table was finished before; nothing was run)" if before else "")]
    lines += ["", *_span("Input", table.of("input")), "", *_span("Outcome", table.of("outcome"))]
    if table.of("margin"):
        lines += ["", *_margins(table)]
    if table.facts.get("one_by_one") and table.facts.get("note"):
        lines += ["", f"Rows were run one by one: {table.facts['note']}."]
    if table.reasons:
        lines += ["", "Rows that are not finished:"]
        for i in sorted(table.reasons)[:MOST_REASONS]:
            lines.append(f"  row {i}: {table.reasons[i]}")
        more = len(table.reasons) - MOST_REASONS
        if more > 0:
            lines.append(f"  and {more} more: all are in the table")
    rest = table.facts.get("not_told", [])
    if rest:
        lines += [
            "",
            f"Not told, since they take a longer run for each row (outcomes = [...] in [sweep]): {', '.join(rest)}",
        ]
    return "\n".join([*lines, "", f"Table: {target}"])


def _span(head: str, columns: tuple[Column, ...]) -> list[str]:
    """Smallest and largest of some columns."""
    if not columns:
        return [f"{head}: none"]
    width = max(len(head), *(len(c.name) for c in columns))
    out = [f"{head:{width}}  {'smallest':>12}  {'largest':>12}  unit"]
    for c in columns:
        here = c.values[np.isfinite(c.values)]
        ends = (number(float(here.min()), c.unit), number(float(here.max()), c.unit)) if here.size else ("-", "-")
        out.append(f"{c.name:{width}}  {ends[0]:>12}  {ends[1]:>12}  {c.unit}")
    return out


def _margins(table: SweepTable) -> list[str]:
    """In how many rows each limit is met."""
    columns = table.of("margin")
    width = max(len(c.name) for c in columns) - len("margin_of_")
    out = []
    for c in columns:
        here = np.isfinite(c.values)
        met = int(np.count_nonzero(c.values[here] >= 0.0))
        out.append(f"limit {c.name.removeprefix('margin_of_'):{width}}  met in {met} of {int(here.sum())} rows")
    return out


def _counts(table: SweepTable) -> dict[str, int]:
    return {word: int(np.count_nonzero(table.status == i)) for i, word in enumerate(STATUS)}


def sweep_json(table: SweepTable, target: Path, before: bool) -> dict[str, Any]:
    """The JSON object of the command."""
    provenance = table.provenance

    def span(column: Column) -> dict[str, Any]:
        here = column.values[np.isfinite(column.values)]
        ends = (
            {"smallest": float(here.min()), "largest": float(here.max())}
            if here.size
            else {"smallest": None, "largest": None}
        )
        return {**ends, "unit": column.unit, "meaning": column.meaning}

    block = {
        "rows": table.rows,
        **_counts(table),
        "finished_before": before,
        "inputs": {c.name: span(c) for c in table.of("input")},
        "outcomes": {c.name: span(c) for c in table.of("outcome")},
        "limits": {
            c.name.removeprefix("margin_of_"): {
                "met": int(np.count_nonzero(c.values >= 0.0)),
                "known": int(np.count_nonzero(np.isfinite(c.values))),
                "unit": c.unit,
            }
            for c in table.of("margin")
        },
        "reasons": [{"row": i, "reason": table.reasons[i]} for i in sorted(table.reasons)[:MOST_JSON]],
        "not_told": table.facts.get("not_told", []),
        "note": table.facts.get("note", ""),
        "table": str(target),
    }
    finished = int(np.count_nonzero(table.status == 0))
    found: dict[str, Any] = plain(
        {
            "title": provenance.title,
            "process": provenance.process,
            "case_sha256": provenance.case_sha256,
            "version": provenance.version,
            "status": "finished" if finished else "no row finished",
            "sweep": block,
        }
    )
    return found
