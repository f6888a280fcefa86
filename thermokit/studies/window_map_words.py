"""A map over two settings in words, as the JSON object of the command, and as a table of its points."""

from __future__ import annotations

import hashlib
import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.run import provenance
from thermokit.results.plain import plain
from thermokit.results.sweep_table import Column, SweepTable
from thermokit.studies.tolerance_parts import unit_of

if TYPE_CHECKING:
    from thermokit.studies.window_map import Axis, WindowMap
    from thermokit.studies.window_map_edges import Edge

WIDTH = 100


def map_text(found: WindowMap) -> str:
    """The printed answer: how much of the map is good, the present setting and its nearest edges, where most room is."""
    lines = [found.case.title or "Window map", ""]
    for word, axis, points in (("across", found.across, found.x), ("up", found.up, found.y)):
        lines.append(f"{word:<7}{axis.name}  {axis.text(axis.low)} to {axis.text(axis.high)}, {len(points)} points")
    if found.held is not None:
        from thermokit.studies.sought import scale_of

        lines.append(f"{'held':<7}{found.held[0]}  {scale_of(found.case, found.held[0]).text(found.held[1])}")
    lines += ["", f"Every limit is met on {100 * found.share:.0f} % of the map."]
    lines += _present(found)
    if found.room is not None:
        x, y = found.room.place
        lines += ["", f"Most room on the map: {found.across.text(x)}, {found.up.text(y)}"]
    lines += ["", "Limits", *_limits(found)]
    failed = int(np.isnan(found.margins).any(axis=0).sum())
    if failed:
        lines += ["", f"{failed} points could not be solved: they count as outside."]
    for note in found.notes:
        lines += ["", textwrap.fill(note[0].upper() + note[1:] + ".", WIDTH)]
    return "\n".join(lines)


def _present(found: WindowMap) -> list[str]:
    if found.present is None:
        return ["The present setting lies outside the map, or the case has none: no distances are told."]
    x, y = found.present
    state = "inside: every limit is met" if found.inside else "outside"
    lines = ["", f"Present setting: {found.across.text(x)}, {found.up.text(y)}; {state}"]
    for edge in found.edges:
        lines.append(f"  {edge_words(found, edge)}")
    if found.nearest is not None:
        lines.append(f"  nearest in any direction: {edge_words(found, found.nearest)}")
    return lines


def edge_words(found: WindowMap, edge: Edge) -> str:
    """An edge in words: the way there in the units of the settings, and the limit."""
    steps = [
        axis.change(size)
        for axis, size, number in ((found.across, edge.way[0], 0), (found.up, edge.way[1], 1))
        if edge.along in (None, number)
    ]
    name = "" if edge.along is None else f"{(found.across, found.up)[edge.along].name} "
    if edge.limit is None:
        return f"{name}{steps[0]}: no limit up to the end of the map"
    verb = "breaks" if found.inside else "is met from there on:"
    return f"{name}{' with '.join(steps)}: {edge.limit} {verb}".removesuffix(":")


def _limits(found: WindowMap) -> list[str]:
    wide = max(len(limit.name) for limit in found.limits)
    out = []
    for limit, margins in zip(found.limits, found.margins, strict=True):
        met = 100.0 * float((np.nan_to_num(margins, nan=-np.inf) >= 0.0).mean())
        out.append(f"  {limit.name:<{wide}}  {limit.required}; met on {met:.0f} % of the map")
    return out


def map_json(found: WindowMap, files: list[str]) -> dict[str, Any]:
    """The JSON object of the command: settings in the unit that is shown, margins row by row."""

    def edge(one: Edge | None) -> dict[str, Any] | None:
        if one is None:
            return None
        return {
            "limit": one.limit,
            "along": None if one.along is None else ("across", "up")[one.along],
            "across": found.across.shown(one.place[0]),
            "up": found.up.shown(one.place[1]),
            "share_of_map": one.size,
            "words": edge_words(found, one),
        }

    block = {
        "across": _axis(found.across, found.x),
        "up": _axis(found.up, found.y),
        "limits": [
            {
                "name": limit.name,
                "required": limit.required,
                "unit": unit_of(limit) if found.amounts else "s",
                "margins": margins,
            }
            for limit, margins in zip(found.limits, found.margins, strict=True)
        ],
        "share_met": found.share,
        "present": None
        if found.present is None
        else {
            "across": found.across.shown(found.present[0]),
            "up": found.up.shown(found.present[1]),
            "inside": found.inside,
            "edges": [edge(one) for one in found.edges],
            "nearest": edge(found.nearest),
        },
        "most_room": None
        if found.room is None
        else {"across": found.across.shown(found.room.place[0]), "up": found.up.shown(found.room.place[1])},
        "held": None if found.held is None else {"path": found.held[0], "value_SI": found.held[1]},
        "points_solved": int(np.sum(found.solved)),
        "notes": list(found.notes),
        "files": files,
    }
    told: dict[str, Any] = plain(
        {
            "title": found.case.title,
            "process": found.case.process,
            "case_sha256": found.case.source.sha256,
            "status": "finished" if found.share > 0.0 else "no window on the map",
            "window_map": block,
        }
    )
    return told


def _axis(axis: Axis, points: Any) -> dict[str, Any]:
    return {"name": axis.name, "paths": list(axis.paths), "unit": axis.unit, "values": axis.shown(points)}


def map_table(found: WindowMap) -> SweepTable:
    """Every point as a row: settings, margins, whether a run stands behind it; row by row from the lower left."""
    x, y = (grid.ravel() for grid in np.meshgrid(found.x, found.y))
    columns = [
        Column(path, axis.unit, f"setting {path}", "input", np.asarray(axis.shown(values), float))
        for axis, values in ((found.across, x), (found.up, y))
        for path in axis.paths
    ]
    columns += [
        Column(
            f"margin_of_{limit.name}",
            unit_of(limit) if found.amounts else "s",
            f"margin of the limit {limit.name}, positive where met",
            "margin",
            margins.ravel(),
        )
        for limit, margins in zip(found.limits, found.margins, strict=True)
    ]
    solved = np.asarray(found.solved, float).ravel()
    columns.append(
        Column("solved", "1", "1 where a run stands behind the point, 0 where it is interpolated", "outcome", solved)
    )
    failed = np.isnan(found.margins).any(axis=0).ravel()
    facts = {
        "kind": "window map",
        "shape": [len(found.y), len(found.x)],
        "across": found.across.name,
        "up": found.up.name,
    }
    identity = hashlib.sha256(f"{found.case.source.sha256} {facts} {found.x} {found.y}".encode()).hexdigest()
    return SweepTable(
        provenance=provenance(found.case),
        identity=identity,
        columns=tuple(columns),
        flags=(),
        status=np.where(failed, 2, 0).astype(np.int8),
        reasons={int(i): "the run did not finish" for i in np.flatnonzero(failed)},
        facts=facts,
    )
