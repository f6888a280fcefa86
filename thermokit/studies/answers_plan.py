"""How the rows of a study are solved: what is told of each, and the mesh, places and range that serve all of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from thermokit.conduction.problem import Array

FINISHED = "finished"
How = Literal["batch", "run", "window"]


@dataclass(frozen=True)
class Told:
    """One outcome that the rows can have.

    name, unit, meaning : as ``thermokit run`` tells it; how : ``batch`` (comes with thousands of rows at once), ``window``
    (from the search of a sought value) or ``run`` (each row is run by itself for it, some hundred times slower).
    """

    name: str
    unit: str
    meaning: str
    how: How


@dataclass(frozen=True)
class Search:
    """Where the sought value of the rows is looked for.

    path of it; low, high : bounds [SI] of the case; near_low, near_high : where the windows of the probes lie, wider; near :
    what layers remember in a similar run.
    """

    path: str
    low: float
    high: float
    near_low: float
    near_high: float
    near: Any = None


@dataclass(frozen=True)
class Plan:
    """What is the same for all rows of a study.

    how : ``batch`` (layered bodies side by side), ``run`` (rows one by one on the same mesh) or ``direct`` (processes that
    solve themselves, row by row); edges : one array a layer, as shares of its thickness; places : see ``process_of``;
    told : every outcome that there is; wanted : names of those that are told; limits : (name, unit of the margin);
    search : None where nothing is sought; work : steps times cells of a row, to cut rows into chunks; note : why rows are
    not solved side by side.
    """

    case: Any
    how: Literal["batch", "run", "direct"]
    edges: tuple[Array, ...]
    tolerance: float
    places: Any
    told: tuple[Told, ...]
    wanted: tuple[str, ...]
    limits: tuple[tuple[str, str], ...]
    search: Search | None = None
    work: float = 0.0
    note: str = ""

    @property
    def one_by_one(self) -> bool:
        """Whether each row is run by itself, for all or for some of what is wanted."""
        return self.how != "batch" or any(o.how == "run" for o in self.chosen())

    def chosen(self) -> tuple[Told, ...]:
        """The outcomes that are wanted, in the order in which they were named."""
        by_name = {o.name: o for o in self.told}
        return tuple(by_name[name] for name in self.wanted)


@dataclass(frozen=True)
class Answers:
    """What is told of every row; the last axis is always the row.

    outcomes : name -> (n,) in ``units``, NaN where not reached or not finished; meanings : name -> words; limits : names;
    margins : (limits, n) in margin_units, positive where met; status : (n,) ``finished``, or the reason in words;
    words : name -> (n,) texts (which limit makes an edge of a window), empty where none does; edges : the mesh.
    """

    outcomes: dict[str, Array]
    units: dict[str, str]
    meanings: dict[str, str]
    limits: tuple[str, ...]
    margins: Array
    margin_units: tuple[str, ...]
    status: Any
    words: dict[str, Any] = field(default_factory=dict)
    edges: tuple[Array, ...] = ()

    @property
    def finished(self) -> Any:
        """(n,) True where the row came to its end (and has a window where one is sought)."""
        return self.status == FINISHED


def joined(parts: Sequence[Answers]) -> Answers:
    """Answers of several chunks of rows as one."""
    first = parts[0]
    return Answers(
        outcomes={name: np.concatenate([p.outcomes[name] for p in parts]) for name in first.outcomes},
        units=first.units,
        meanings=first.meanings,
        limits=first.limits,
        margins=np.concatenate([p.margins for p in parts], axis=1),
        margin_units=first.margin_units,
        status=np.concatenate([p.status for p in parts]),
        words={name: np.concatenate([p.words[name] for p in parts]) for name in first.words},
        edges=first.edges,
    )


def rows_in(values: Mapping[str, Array]) -> int:
    """How many rows there are."""
    return len(next(iter(values.values())))


def row_of(values: Mapping[str, Array], i: int) -> dict[str, float]:
    """One row, path -> number."""
    return {path: float(column[i]) for path, column in values.items()}


def some_rows(values: Mapping[str, Array], at: Any) -> dict[str, Array]:
    """Some rows (a slice or indices)."""
    return {path: column[at] for path, column in values.items()}
