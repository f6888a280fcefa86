"""The rows of a sweep: values of every input, as its plan combines them or as a file lists them."""

from __future__ import annotations

import csv
import io
import math
import re
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.case.mistakes import At, Report
from thermokit.case.paths import dimension_of
from thermokit.case.sweep import Range, input_at, sweepable
from thermokit.errors import CaseError, DataError, Mistake
from thermokit.logs.text import contents, refuse_device

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array

MOST_ROWS = 2_000_000  # of one table: beyond, it no longer fits into memory at ease
MOST_BYTES = 500_000_000  # of a file of rows
_HEAD = re.compile(r"\s*(.+?)\s*(?:\[\s*(.*?)\s*\])?\s*")


def count_of(case: Any) -> int:
    """How many rows a sweep has; a file is read for it."""
    sweep = case.sweep
    if sweep.plan == "file":
        return len(next(iter(rows_of(case).values())))
    if sweep.rows is not None:
        return int(sweep.rows)
    sizes = [len(column) for column in sweep.columns(case).values()]
    return math.prod(sizes) if sweep.plan == "grid" else sizes[0]


def rows_of(case: Any) -> dict[str, Array]:
    """Path -> (rows,) [SI]. In a grid the last input changes fastest.

    ``sobol`` : scrambled points of Sobol; ``latin_hypercube`` : one row in each of ``rows`` slices of every range. Raises
    DataError where a file of rows cannot be used.
    """
    sweep = case.sweep
    if sweep.plan == "file":
        return _read(case)
    columns = sweep.columns(case)
    if sweep.plan == "list":
        return dict(columns)
    if sweep.plan == "grid":
        mesh = np.meshgrid(*columns.values(), indexing="ij")
        return {path: np.ascontiguousarray(values.ravel()) for path, values in zip(columns, mesh, strict=True)}
    unit = _points(sweep.plan, len(columns), int(sweep.rows), int(sweep.seed))
    out = {}
    for (path, span), column in zip(columns.items(), unit.T, strict=True):
        assert isinstance(span, Range)
        out[path] = span.at(column)
    return out


def corners_of(case: Any) -> dict[str, Array]:
    """A few rows that span the ranges of a sweep too large to be laid out: ends and middle of every input."""
    spans = {}
    for path, entry in case.sweep.columns(case).items():
        spans[path] = (
            entry.at(np.array([0.0, 0.5, 1.0])) if isinstance(entry, Range) else np.quantile(entry, [0, 0.5, 1])
        )
    count = 64
    pick = np.random.default_rng(0).integers(0, 3, (count, len(spans)))
    return {path: values[pick[:, k]] for k, (path, values) in enumerate(spans.items())}


def _points(plan: str, inputs: int, rows: int, seed: int) -> Array:
    """Points in the unit cube, (rows, inputs)."""
    from scipy.stats import qmc

    if plan == "latin_hypercube":
        return np.asarray(qmc.LatinHypercube(inputs, seed=seed).random(rows))
    # a power of two is drawn, which keeps their balance; the first rows of it are as good as any
    power = max(0, math.ceil(math.log2(rows)))
    return np.asarray(qmc.Sobol(inputs, seed=seed).random_base2(power)[:rows])


def file_of(case: Any) -> Path:
    """The file of rows, from the case's folder."""
    return Path(case.source.file).parent / str(case.sweep.file)


def _read(case: Any) -> dict[str, Array]:
    """Rows from a CSV file; every mistake of its head, and the first of its lines, in plain words."""
    file = file_of(case)
    refuse_device(file)
    data = contents(file, MOST_BYTES)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise DataError(f"{file}: not UTF-8; save it as CSV in UTF-8") from None
    first = text.split("\n", 1)[0]
    mark = max((",", ";", "\t"), key=first.count)
    try:
        lines = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
        table = list(islice((line for line in lines if any(cell.strip() for cell in line)), MOST_ROWS + 2))
    except csv.Error as wrong:
        raise DataError(f"{file}: is no CSV file: {wrong}") from None
    if len(table) < 2:
        raise DataError(f"{file}: holds no row; a first line of paths and units, then a line of numbers for each row")
    heads = _heads(case, file, table[0])
    columns = np.empty((len(heads), len(table) - 1))
    for i, line in enumerate(table[1:]):
        if len(line) != len(heads):
            raise DataError(f"{file}, row {i + 1}: {len(line)} values where the first line names {len(heads)} inputs")
        for k, cell in enumerate(line):
            columns[k, i] = _number(file, i, heads[k][0], cell)
    out = {}
    for (path, unit, kind), column in zip(heads, columns, strict=True):
        dimension = dimension_of(kind)
        values = units.from_unit(column, unit, dimension)
        holds = np.array([kind_holds(kind, value) for value in np.unique(values)])
        if not holds.all():
            row = int(np.flatnonzero(values == np.unique(values)[~holds][0])[0])
            raise DataError(f"{file}, row {row + 1}: {path} = {column[row]:g} {unit} is out of range: {kind.words()}")
        out[path] = np.asarray(values, float)
    return out


def kind_holds(kind: Any, value: float) -> bool:
    """Whether a number may stand at a key."""
    from thermokit.case.walk import scalar_kind

    scalar = scalar_kind(kind)
    return scalar is not None and bool(scalar.holds(value))


def _heads(case: Any, file: Path, line: list[str]) -> list[tuple[str, str, Any]]:
    """(path, unit, kind) of every column."""
    report, inputs, seen = Report(), sweepable(case), set()
    at = At(report, (file.name, "first line"))
    out = []
    for cell in line:
        match = _HEAD.fullmatch(cell)
        if match is None:
            at.mistake(f'"{cell[:40]}" names no input', "sheet.thickness [mm] and the like")
            continue
        path, unit = match[1], match[2] or ""
        leaf = input_at(case, path, at / path, inputs)
        if leaf is None:
            continue
        if leaf.path in seen:
            (at / path).mistake("stands there twice", "each input once")
        seen.add(leaf.path)
        try:
            out.append((path, units.find_unit(unit, dimension_of(leaf.kind)), leaf.kind))
        except units.UnitError as wrong:
            (at / path).mistake(f"[{unit}]: {wrong.what}", wrong.allowed, f"write {path} [unit]")
    if report.found:
        raise CaseError(str(file), [mistake for _, mistake in report.found])
    return out


def _number(file: Path, row: int, path: str, cell: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        text = cell.strip()
        hint = f"; decimal comma: write {text.replace(',', '.')}" if re.fullmatch(r"-?\d+,\d+", text) else ""
        raise DataError(f'{file}, row {row + 1}: {path} = "{text[:30]}" is no number{hint}') from None
    if not math.isfinite(value):
        raise DataError(f"{file}, row {row + 1}: {path} is not a finite number")
    return value


def no_sweep(case: Any) -> CaseError:
    """What is said of a case without rows."""
    what = "the case says nothing of a sweep"
    how = '[sweep.inputs] with lines such as "sheet.thickness" = ["3 mm", "4 mm"]'
    return CaseError(case.source.file, [Mistake("sweep", what, how, "`thermokit explain sweep` tells more")])
