"""The table of a sweep: one HDF5 file with a variable for each input, outcome and margin, along the rows.

The file is in the form that netCDF-4 readers expect::

    row(row)                           0, 1, 2, ...
    sheet.thickness(row) ...           inputs by their path, in the shop's unit
    coldest_point(row) ...             outcomes by the names of `thermokit run`, NaN where there is none
    margin_of_coldest_point(row) ...   margins of the limits, positive where met
    earliest_limit(row), latest_limit  which limit makes that edge of the window, as a flag; -1 where none does
    status(row)                        flag: 0 finished, 1 no window, 2 failed
    failed_row(failed), reason(failed) why each of the others is not finished, in words
    provenance/...                     the case as given and as resolved, its SHA-256, versions, what the rows were made of

Each variable carries ``units``, ``long_name`` and ``role`` (input, outcome, margin, flag).
"""

from __future__ import annotations

import json
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.traps import BROKEN, content, refuse_traps
from thermokit.errors import DataError
from thermokit.logs.text import refuse_device
from thermokit.results.datasets import keys, put, put_index
from thermokit.results.layout import CONVENTIONS, Variable
from thermokit.results.layout import SWEEP_LAYOUT as LAYOUT
from thermokit.results.whole import name_in_memory

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from thermokit.results.model import Provenance

LAYOUT_VERSION = 1
STATUS = ("finished", "no_window", "failed")
NO_WINDOW = "no window"  # how such a reason begins


@dataclass(frozen=True)
class Column:
    """One column: values (rows,) in ``unit``; role : input, outcome or margin."""

    name: str
    unit: str
    meaning: str
    role: str
    values: NDArray[np.float64]


@dataclass(frozen=True)
class Flag:
    """A column of words: values (rows,) index ``words``, -1 for none."""

    name: str
    meaning: str
    words: tuple[str, ...]
    values: NDArray[np.int8]


@dataclass(frozen=True)
class SweepTable:
    """All rows of a sweep.

    status : (rows,) index of STATUS; reasons : row -> words for those not finished; identity : SHA-256 of all that the rows
    follow from; facts : what else is told of the sweep (plan, seed, shape of the grid, cells), plain values.
    """

    provenance: Provenance
    identity: str
    columns: tuple[Column, ...]
    flags: tuple[Flag, ...]
    status: NDArray[np.int8]
    reasons: dict[int, str] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return len(self.status)

    def of(self, role: str) -> tuple[Column, ...]:
        """The columns of one role."""
        return tuple(c for c in self.columns if c.role == role)


def image(table: SweepTable) -> bytes:
    """Bytes of the file, built in memory: the same table gives the same bytes."""
    import h5py

    with h5py.File(name_in_memory(), "w", driver="core", backing_store=False) as file:
        row = put(
            file, Variable("row", ("row",), "1", "number of the row, from 0", ""), np.arange(table.rows, dtype=np.int64)
        )
        names = keys([c.name for c in table.columns], ["row", "status", "failed", "failed_row", "reason", "provenance"])
        for name, column in zip(names, table.columns, strict=True):
            variable = Variable(name, ("row",), column.unit or "1", column.meaning, "")
            values = np.asarray(column.values, np.float64)
            put(file, variable, values, [row], as_given=True, role=column.role, path=column.name)
        for flag in table.flags:
            _put_flag(file, row, flag.name, flag.meaning, flag.words, flag.values)
        _put_flag(file, row, "status", "how the row ended", STATUS, table.status)
        if table.reasons:
            scale = put_index(
                file, "failed", len(table.reasons), "number of the row that is not finished, counted from 0"
            )
            at = np.array(sorted(table.reasons), dtype=np.int64)
            put(file, Variable("failed_row", ("failed",), "1", "its row", ""), at, [scale])
            texts = np.array([table.reasons[int(i)] for i in at], dtype=np.str_)
            put(file, Variable("reason", ("failed",), "1", "why it is not finished", ""), texts, [scale])
        file.attrs.update(
            {
                "Conventions": CONVENTIONS,
                "title": table.provenance.title,
                "source": f"thermokit {table.provenance.version}",
                "process": table.provenance.process,
                "layout": LAYOUT,
                "layout_version": LAYOUT_VERSION,
                "rows": table.rows,
                "rows_finished": int(np.count_nonzero(table.status == 0)),
                "sweep_sha256": table.identity,
            }
        )
        _put_provenance(file, table)
        file.flush()
        content: bytes = file.id.get_file_image()
    return content


def _put_flag(file: Any, row: Any, name: str, meaning: str, words: tuple[str, ...], values: Any) -> None:
    """A flag variable as the CF conventions (3.5) ask for: values and their meanings as attributes."""
    spoken = " ".join("_".join(word.split()) for word in words)
    given: dict[str, Any] = (
        {"flag_values": np.arange(len(words), dtype=np.int8), "flag_meanings": spoken} if words else {}
    )
    variable = Variable(name, ("row",), "1", meaning, "")
    put(file, variable, np.asarray(values, np.int8), [row], role="flag", words=json.dumps(list(words)), **given)


def _put_provenance(file: Any, table: SweepTable) -> None:
    provenance = table.provenance
    group = file.create_group("provenance")
    for name, text, words in (
        ("case_text", provenance.case_text, "the case as given"),
        ("resolved_text", provenance.resolved_text, "the case with every default filled in"),
        ("sweep", json.dumps(table.facts, sort_keys=True, ensure_ascii=False), "what the rows are, as JSON text"),
    ):
        put(group, Variable(name, (), "1", words, ""), text)
    group.attrs["case_sha256"] = provenance.case_sha256
    group.attrs["version"] = provenance.version
    group.attrs["layout_version"] = LAYOUT_VERSION
    group.attrs["versions"] = json.dumps(provenance.versions, sort_keys=True)


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """The file read from memory: a viewer may hold it open with locks that would refuse us."""
    import h5py

    try:
        refuse_device(path)
        held = content(path)
        if held is None:
            raise ValueError("not HDF5")
        with h5py.File(h5py.h5f.open_file_image(held)) as file:
            refuse_traps(file)
            if file.attrs.get("layout") != LAYOUT:
                raise DataError(f"{path} is no table of a sweep; name another file with -o")
            yield file
    except BROKEN:
        raise DataError(
            f"{path} is there and is no HDF5 file, or is damaged; name another file with -o, or delete it"
        ) from None


def is_table(path: Path) -> bool:
    """Whether a file is the table of a sweep; False too for what cannot be read at all."""
    try:
        with _opened(path):
            return True
    except DataError:
        return False


def identity_of(path: Path) -> str | None:
    """The identity of the sweep in a file, None where there is no such file.

    Raises DataError where the file is something else.
    """
    if not path.exists():
        return None
    with _opened(path) as file:
        return str(file.attrs["sweep_sha256"])


def read_table(path: Path) -> SweepTable:
    """The table in a file. Raises DataError where the file is something else."""
    from thermokit.results.model import Provenance

    identity = identity_of(path)
    if identity is None:
        raise DataError(f"{path}: no such file; `thermokit sweep` writes one")
    with _opened(path) as file:
        columns, flags = [], []
        for name, item in file.items():
            role = item.attrs.get("role")
            if role == "flag" and name != "status":
                words = tuple(json.loads(item.attrs["words"]))
                flags.append(Flag(name, str(item.attrs["long_name"]), words, item[:]))
            elif role in ("input", "outcome", "margin"):
                meaning, unit = str(item.attrs["long_name"]), str(item.attrs["units"])
                columns.append(Column(str(item.attrs["path"]), unit, meaning, str(role), item[:]))
        group = file["provenance"]
        facts = json.loads(group["sweep"].asstr()[()])
        order = {name: i for i, name in enumerate(facts.get("order", []))}
        columns.sort(key=lambda c: order.get(c.name, len(order)))
        reasons = {}
        if "reason" in file:
            reasons = dict(zip(file["failed_row"][:].tolist(), file["reason"].asstr()[:].tolist(), strict=True))
        provenance = Provenance(
            title=str(file.attrs["title"]),
            process=str(file.attrs["process"]),
            case_text=group["case_text"].asstr()[()],
            resolved_text=group["resolved_text"].asstr()[()],
            case_sha256=str(group.attrs["case_sha256"]),
            version=str(group.attrs["version"]),
            versions=json.loads(group.attrs["versions"]),
        )
        return SweepTable(provenance, identity, tuple(columns), tuple(flags), file["status"][:], reasons, facts)
