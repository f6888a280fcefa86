"""Walking through a case: every single value, the path to it in the file, and what may stand there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from thermokit.case.declare import UNKNOWN, Declaration, Kind, Section, declarations
from thermokit.case.structure import ListOf, Named, OneOf, Sub
from thermokit.case.tables import Property, Sought, Varying
from thermokit.case.values import Number, Quantity, Whole
from thermokit.case.zoned import Zoned


@dataclass(frozen=True)
class Leaf:
    """One value of a case.

    path : as in the file, list entries by number; name : the same as the user writes it, list entries by their name;
    kind : what may stand there; value : what stands there, None where the key was left out.
    """

    path: tuple[str, ...]
    name: str
    kind: Kind
    value: Any
    physical: bool = True


def scalar_kind(kind: Kind) -> Quantity | Number | Whole | None:
    """What a single number at this key must be, None where no number may stand."""
    if isinstance(kind, (Varying, Property, Sought, Zoned)):
        return kind.quantity
    return kind if isinstance(kind, (Quantity, Number, Whole)) else None


def leaves(section: Section) -> Iterator[Leaf]:
    """Every single value under a section, in the order in which it is written; mistakes come as ``UNKNOWN``."""
    yield from _in_section(section, (), (), True)


def _in_section(section: Section, path: tuple[str, ...], name: tuple[str, ...], physical: bool) -> Iterator[Leaf]:
    skipped = section.unwritten()
    for word, entry in declarations(type(section)).items():
        if entry.field in skipped:
            continue
        kind, value = section.kind_of(entry), getattr(section, entry.field)
        yield from _below(kind, value, (*path, word), (*name, word), physical and entry.physical)


def _below(kind: Kind, value: Any, path: tuple[str, ...], name: tuple[str, ...], physical: bool) -> Iterator[Leaf]:
    if isinstance(value, Section) and isinstance(kind, (Sub, OneOf)):
        yield from _in_section(value, path, name, physical)
    elif isinstance(kind, ListOf) and isinstance(value, tuple):
        for i, entry in enumerate(value):
            alone = kind.single and len(value) == 1
            number = () if alone else (str(i),)
            own = () if alone else (entry_name(entry) or str(i),)
            yield from _below(kind.item, entry, (*path, *number), (*name, *own), physical)
    elif isinstance(kind, Named) and isinstance(value, dict):
        for word, entry in value.items():
            yield from _below(kind.item, entry, (*path, word), (*name, word), physical)
    elif not isinstance(kind, (Sub, OneOf, ListOf, Named)):
        yield Leaf(path, ".".join(name), kind, value, physical)


def entry_name(entry: Any) -> str:
    """The name of a list's entry, empty where it has none."""
    name = getattr(entry, "name", "")
    return name if isinstance(name, str) else ""


def zones_advice(section: Section, path: str) -> str:
    """What to use in place of a table of zones where a path leads to one or into it, else nothing."""
    for leaf in leaves(section):
        if isinstance(leaf.kind, Zoned) and isinstance(leaf.value, tuple):
            for name in (leaf.name, ".".join(leaf.path)):
                if path == name or path.startswith(f"{name}."):
                    return leaf.kind.instead.format(name.rpartition(".")[0])
    return ""


def declared_paths(
    section: type[Section], prefix: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], Declaration, type[Section]]]:
    """Every key that may stand below a section: (path without numbers of entries, declaration, its section)."""
    for word, entry in declarations(section).items():
        path = (*prefix, word)
        yield path, entry, section
        for inner, step in sections_below(entry.kind):
            yield from declared_paths(inner, (*path, *step))


def sections_below(kind: Kind) -> list[tuple[type[Section], tuple[str, ...]]]:
    """The sections that may stand at a key, each with the steps in between (the name in ``materials.NAME``)."""
    if isinstance(kind, Sub):
        return [(kind.section, ())]
    if isinstance(kind, OneOf):
        return [(section, ()) for _, section in kind.options]
    if isinstance(kind, ListOf):
        return sections_below(kind.item)
    if isinstance(kind, Named):
        return [(section, (kind.word, *step)) for section, step in sections_below(kind.item)]
    return []


def is_number(value: Any) -> bool:
    """Whether a leaf holds a number (or an array of one a run), not a table, a word or nothing."""
    if value is None or value is UNKNOWN or isinstance(value, (bool, str)):
        return False
    return isinstance(value, (int, float)) or hasattr(value, "__array__")
