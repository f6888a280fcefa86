"""What stands on a setting sheet: blocks of words and numbers as they are printed, before any of them is laid out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True)
class Entry:
    """One line: what it is, its value in words, and what is to be said beside it."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True)
class Block:
    """Lines under a heading."""

    head: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class Grid:
    """A table under a heading: names of the columns, and rows of as many cells."""

    head: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Picture:
    """A small figure: its caption, and what draws it into the axes that it is given.

    wide : the axes want all the width there is (a map with a colour bar), no column of labels beside them
    """

    name: str
    caption: str
    draw: Callable[[Any], None]
    wide: bool = False


@dataclass(frozen=True)
class Sheet:
    """A setting sheet. ``stop`` : why the case must not be run so, with what was tried against it; empty where it may be.

    main : what was found, printed largest; window : its edges with their reasons; expected, grids : what the run foretells;
    checks : what is to be measured on the first pieces, beside what is foretold.
    """

    title: str
    kind: str
    job: tuple[Entry, ...]
    stop: tuple[str, ...]
    main: Entry | None
    window: tuple[Entry, ...]
    margin: tuple[str, ...]
    settings: tuple[Block, ...]
    inputs: tuple[Entry, ...]
    limits: Grid | None
    causes: Grid | None
    start_up: tuple[str, ...]
    expected: tuple[Entry, ...]
    grids: tuple[Grid, ...]
    remarks: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    deference: str
    checks: tuple[Entry, ...]
    model: str
    sha256: str
    version: str
    pictures: tuple[Picture, ...] = ()

    @property
    def inputs_right(self) -> bool:
        """Whether what the answer rests on stands in the right one of two columns, since that is the shorter."""
        left = sum(len(grid.rows) + 3 for grid in (self.limits, self.causes) if grid is not None)
        return left > len(self.expected) + 3 * len(self.start_up)
