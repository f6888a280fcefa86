"""What the answer hangs on, in words and as the JSON object of the command."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.case.paths import dimension_of
from thermokit.case.sweep import sweepable
from thermokit.results.digits import number
from thermokit.results.plain import plain

if TYPE_CHECKING:
    from thermokit.studies.sensitivity import Output, Sensitivity

WIDTH = 100
WIDE = 0.1  # half an interval beyond which more rows are advised


def sensitivity_text(found: Sensitivity) -> str:
    """The printed answer: for every output the inputs, the largest first, with both indices and what each does alone."""
    over = "ranges of [sweep]" if found.over == "sweep" else "tolerances"
    at = f" at {found.scale.text(found.setting)}" if found.setting is not None else ""
    lines = [found.case.title or "Sensitivity", ""]
    lines.append(f"Shares of the variance over the {over}{at}: {found.indices.rows} base rows, seed {found.seed}")
    lines.append("first: goes when this input alone is known; total: stays when all others are. ( ): 95 in 100")
    for o, output in enumerate(found.outputs):
        lines += ["", *_of(found, o, output)]
    half = _widest(found)
    if half > WIDE:
        lines += ["", f"Intervals are wide (± {half:.2f}): more rows narrow them (--rows {4 * found.indices.rows})."]
    for note in found.notes:
        lines += ["", textwrap.fill(note[0].upper() + note[1:] + ".", WIDTH)]
    return "\n".join(lines)


def title_of(output: Output) -> str:
    """An output as it is called in tables and figures."""
    unit = "" if output.unit == "1" else f" [{output.unit}]"
    return f"{'margin of ' if output.margin else ''}{output.name}{unit}"


def _of(found: Sensitivity, o: int, output: Output) -> list[str]:
    i, unit = found.indices, output.unit
    if i.used[o] < i.rows:
        lost = f"; {i.rows - i.used[o]} of {i.rows} base rows left out, since a run of theirs did not finish"
    else:
        lost = ""
    if np.isnan(i.first[o]).all():
        why = "does not change" if i.spread[o] == 0.0 else "too few rows finished"
        return [f"{title_of(output)}: {why}{lost}"]
    lines = [
        f"{title_of(output)}: mean {number(i.mean[o], unit)}, standard deviation {number(i.spread[o], unit)}{lost}"
    ]
    wide = max(len(name) for name in (*found.inputs, "with others"))
    lines.append(f"  {'':<{wide}}  {'first':<20}  {'total':<20}  alone from low to high")
    for k in found.ranked(o):
        cells = [
            f"{value[o, k]:5.2f} ({ends[0, o, k]:.2f} to {ends[1, o, k]:.2f})"
            for value, ends in ((i.first, i.first_range), (i.total, i.total_range))
        ]
        low, high = (number(float(found.alone[side, o, k]), unit) for side in (0, 1))
        lines.append(
            f"  {found.inputs[k]:<{wide}}  {cells[0]:<20}  {cells[1]:<20}  {low} to {high}   ({_ends(found, k)})"
        )
    rest = 1.0 - float(i.first[o].sum())
    lines.append(f"  {'with others':<{wide}}  {max(rest, 0.0):5.2f}")
    return lines


def _ends(found: Sensitivity, k: int) -> str:
    """The ends at which an input was tried alone."""
    leaf = sweepable(found.case)[found.paths[k][0]]
    dimension = dimension_of(leaf.kind)
    low, high = (units.format_(float(found.ends[side, k]), dimension, digits=4) for side in (0, 1))
    return f"{low} to {high}"


def _widest(found: Sensitivity) -> float:
    half = (found.indices.total_range[1] - found.indices.total_range[0]) / 2.0
    return float(np.nanmax(half)) if np.isfinite(half).any() else 0.0


def sensitivity_json(found: Sensitivity, files: list[str]) -> dict[str, Any]:
    """The JSON object of the command; values of inputs in SI."""
    i = found.indices
    leaves = sweepable(found.case)
    outputs = [
        {
            "name": output.name,
            "margin": output.margin,
            "unit": output.unit,
            "mean": i.mean[o],
            "standard_deviation": i.spread[o],
            "rows_used": int(i.used[o]),
            "nominal": found.nominal[o],
            "inputs": [
                {
                    "name": found.inputs[k],
                    "first": i.first[o, k],
                    "first_interval": i.first_range[:, o, k],
                    "total": i.total[o, k],
                    "total_interval": i.total_range[:, o, k],
                    "alone": found.alone[:, o, k],
                }
                for k in found.ranked(o)
            ],
        }
        for o, output in enumerate(found.outputs)
    ]
    inputs = [
        {
            "name": name, "paths": list(found.paths[k]), "low": found.ends[0, k], "high": found.ends[1, k],
            "dimension": dimension_of(leaves[found.paths[k][0]].kind),
        }
        for k, name in enumerate(found.inputs)
    ]  # fmt: skip
    block = {
        "over": found.over,
        "setting": found.scale.shown(found.setting),
        "unit": found.scale.unit if found.path is not None else None,
        "path": found.path,
        "rows": i.rows,
        "seed": found.seed,
        "confidence": 0.95,
        "inputs": inputs,
        "outputs": outputs,
        "notes": list(found.notes),
        "files": files,
    }
    told: dict[str, Any] = plain(
        {
            "title": found.case.title,
            "process": found.case.process,
            "case_sha256": found.case.source.sha256,
            "status": "finished",
            "sensitivity": block,
        }
    )
    return told
