"""How a key of the case file is declared: once, with what may stand there, its default and its meaning.

A section of a case file is a frozen dataclass derived from ``Section``, its keys are fields made by ``key``. Reading,
``explain``, the reference page, the JSON Schema and the resolved text all follow these declarations. ``Section`` itself
compares and shows them, since the code that dataclasses would write for each takes long to import.
"""

from __future__ import annotations

import dataclasses
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

if TYPE_CHECKING:
    from thermokit.case.mistakes import At


class _Marker:
    """A value that stands for something that is not there."""

    def __init__(self, word: str):
        self._word = word

    def __repr__(self) -> str:
        return self._word


REQUIRED = _Marker("REQUIRED")  # a key without a default
UNKNOWN = _Marker("UNKNOWN")  # stands where the file holds a mistake; never leaves the reading of a file


def known(*values: Any) -> bool:
    """Whether all these values were read without a mistake, so that a check may use them."""
    return all(value is not UNKNOWN for value in values)


class Kind(ABC):
    """What may stand at a key: reads the TOML value, writes it back, says in words and JSON Schema what it takes."""

    @abstractmethod
    def read(self, raw: Any, at: At) -> Any:
        """The value in SI for what tomllib gave; where that is a mistake, tells ``at`` and returns ``UNKNOWN``."""

    @abstractmethod
    def write(self, value: Any) -> Any:
        """What to put in a TOML file so that ``read`` gives the same value; None leaves the key out."""

    @abstractmethod
    def words(self) -> str:
        """What may stand here, for messages and the reference page."""

    @abstractmethod
    def schema(self) -> dict[str, Any]:
        """The same as JSON Schema."""


@dataclass(frozen=True)
class Declaration:
    """One key of a section.

    field : the dataclass's field; key : the word in the file; default : REQUIRED or the value; default_words : the
    default in words where the value does not say it; stated : must stand in the file though Python has a default;
    physical : an input of the physics (it can be swept and carry a tolerance), not a wish about output.
    """

    field: str
    key: str
    kind: Kind
    meaning: str
    default: Any
    default_words: str = ""
    stated: bool = False
    physical: bool = True

    @property
    def required(self) -> bool:
        """Whether the file must hold this key."""
        return self.default is REQUIRED or self.stated


def key(
    kind: Kind,
    meaning: str,
    *,
    default: Any = REQUIRED,
    default_words: str = "",
    word: str = "",
    stated: bool = False,
    physical: bool = True,
) -> Any:
    """Declare a key of a section; ``word`` is its name in the file where that is no Python name (``from``)."""
    metadata = {"declaration": Declaration("", word, kind, meaning, default, default_words, stated, physical)}
    if default is REQUIRED:
        return field(metadata=metadata)
    if isinstance(default, dict):
        return field(default_factory=lambda: dict(default), metadata=metadata)
    return field(default_factory=lambda: default, metadata=metadata)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Section:
    """A table of the case file. Sections are compared by value, arrays included."""

    meaning: ClassVar[str] = ""

    def check(self, at: At, given: frozenset[str]) -> None:
        """Tell ``at`` of contradictions; ``given`` are the fields that the file holds. Values may be ``UNKNOWN``."""

    def unwritten(self) -> frozenset[str]:
        """Fields which must not stand in the file as things are (``inner_radius`` of a plane)."""
        return frozenset()

    def kind_of(self, declaration: Declaration) -> Kind:
        """What may stand at a key of this very section (a limit's dimension depends on what it limits)."""
        return declaration.kind

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        return all(
            same(getattr(self, item.name), getattr(other, item.name))
            for item in dataclasses.fields(self)
            if item.compare
        )

    def __repr__(self) -> str:
        shown = (item for item in dataclasses.fields(self) if item.repr)
        return f"{type(self).__name__}({', '.join(f'{item.name}={getattr(self, item.name)!r}' for item in shown)})"

    def __hash__(self) -> int:
        """Sections may hold arrays and tables by name: they have no hash."""
        raise TypeError(f"a {type(self).__name__} has no hash")


def declarations(section: type[Section]) -> Mapping[str, Declaration]:
    """The keys of a section: word in the file -> declaration, in the order in which they are written."""
    of: Any = section  # a class has a hash, though its sections have none
    return _declarations(of)


@cache
def _declarations(section: Any) -> Mapping[str, Declaration]:
    own: dict[str, Declaration] = {}
    inherited: dict[str, Declaration] = {}
    for item in dataclasses.fields(section):
        declared = item.metadata.get("declaration")
        if declared is None:
            continue
        declared = dataclasses.replace(declared, field=item.name, key=declared.key or item.name)
        # what a kind of case adds stands between the title and what all kinds share
        late = item.name not in vars(section).get("__annotations__", {}) and item.name not in ("title", "process")
        (inherited if late else own)[declared.key] = declared
    return own | inherited


def same(a: Any, b: Any) -> bool:
    """Whether two values of a case are equal: sections, arrays and dataclasses that hold arrays included."""
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        return bool(np.array_equal(a, b))
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, Mapping) and isinstance(b, Mapping):
        return list(a) == list(b) and all(same(a[name], b[name]) for name in a)
    if dataclasses.is_dataclass(a) and not isinstance(a, (Section, type)) and type(a) is type(b):
        return all(same(getattr(a, item.name), getattr(b, item.name)) for item in dataclasses.fields(a))
    return bool(a == b)
