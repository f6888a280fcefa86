"""Tables of a sheet: stations of a line, circuits of a mould with the toolmaker's strip, zones of panels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.results.digits import number
from thermokit.results.fields import find
from thermokit.sheets import inputs
from thermokit.sheets.page import Grid
from thermokit.sheets.words import capital, unit_words

if TYPE_CHECKING:
    from thermokit.results.model import Result
    from thermokit.sheets.words import Words

#: what a toolmaker needs of a circuit: head, keys of the case
STRIP = (
    ("bore", "diameter"), ("depth", "depth"), ("pitch", "pitch"), ("number", "count"), ("length", "length"), ("inside", "bore"),
    ("scale allowed", "scale"),
)  # fmt: skip
#: what a run tells of a circuit: head, ending of the outcome
WATER = (
    ("lowest Re", "reynolds"), ("rise", "rise"), ("pressure drop", "pressure_drop"), ("heat", "heat"),
    ("flow for Re 10 000", "flow_for_reynolds"),
)  # fmt: skip


def grids(result: Result, table: dict[str, Any], words: Words) -> tuple[Grid, ...]:
    """Every table that a result has something for."""
    found = [_stations(result, words), *_circuits(result, table, words), *_zones(table)]
    return tuple(grid for grid in found if grid is not None)


def _stations(result: Result, words: Words) -> Grid | None:
    """A line, station by station: where and when it ends, temperatures there, heat that it gives."""
    end = find(result, "line/end")
    if end is None:
        return None
    names = [str(name) for name in end.axes[0].values]
    columns, values = ["station"], [names]
    for key, head in (
        ("end", "to"),
        ("time", "after"),
        ("face", ""),
        ("mean", ""),
        ("back", ""),
        ("heat", "heat given"),
    ):
        field = find(result, f"line/{key}")
        if field is None:
            continue
        numbers = np.asarray(field.values, float)
        called = head or str(field.meaning).partition(" at the end")[0]
        columns.append(f"{called} [{unit_words(field.unit)}]")
        if words.fahrenheit and field.unit == "degC":
            values.append(
                [
                    f"{number(v, 'degC')} ({number(1.8 * v + 32.0, 'degF')} °F)" if np.isfinite(v) else "-"
                    for v in numbers
                ]
            )
        else:
            values.append([number(float(v), field.unit, 3) if np.isfinite(v) else "-" for v in numbers])
    return Grid("Along the line, where each station ends", tuple(columns), tuple(zip(*values, strict=True)))


def _circuits(result: Result, table: dict[str, Any], words: Words) -> list[Grid]:
    """Circuits of a mould: the water as it runs, and the strip for the toolmaker."""
    circuits = [entry for entry in table.get("circuits", []) if isinstance(entry, dict)]
    outcomes = {o.name: o for o in result.outcomes}
    if not circuits:
        return []
    rows = []
    for entry in circuits:
        name = str(entry.get("name", ""))
        row = [name, words.given(entry.get("temperature", "-")), words.given(entry.get("flow", "-"))]
        for _, ending in WATER:
            o = outcomes.get(f"circuit_{name}_{ending}")
            row.append("-" if o is None else words.quantity(o.value, o.unit))
        rows.append(tuple(row))
    water = Grid("Water", ("circuit", "in", "flow", *(head for head, _ in WATER)), tuple(rows))
    strip = [
        (str(entry.get("name", "")), *(words.given(entry[key]) if key in entry else "-" for _, key in STRIP))
        for entry in circuits
    ]
    return [water, Grid("For the toolmaker", ("circuit", *(head for head, _ in STRIP)), tuple(strip))]


def _zones(table: dict[str, Any]) -> list[Grid]:
    """Settings of panels zone by zone, as they lie on the plan; the unit stands in the heading."""
    found = []
    for name, rows in inputs.plans(table):
        units = {str(cell).partition(" ")[2] for row in rows for cell in row}
        unit = next(iter(units)) if len(units) == 1 else ""
        cells = [[_bare(cell, bool(unit)) for cell in row] for row in rows]
        wide = max(len(row) for row in cells)
        columns = ("row", *(str(i + 1) for i in range(wide)))
        body = tuple((str(i + 1), *row, *[""] * (wide - len(row))) for i, row in enumerate(cells))
        head = f"Zones: {capital(name)}" + (
            f" [{unit_words(unit)}]" if unit_words(unit) else " (share of installed power)"
        )
        found.append(Grid(head, columns, body))
    dead = inputs.dead_zones(table)
    return [*found, Grid("Dead zones", ("panel", "where"), tuple(dead))] if dead else found


def _bare(cell: Any, named: bool) -> str:
    """A setting without its unit where the heading has it."""
    head = str(cell).partition(" ")[0] if named else str(cell)
    try:
        return number(float(head), "", 3)
    except ValueError:
        return str(cell)
