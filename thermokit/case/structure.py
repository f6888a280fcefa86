"""How sections are put together: a table, a list of tables, tables by name, one of several kinds of table."""

# ruff: noqa: D102 (the methods are documented once, at ``Kind``)

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from thermokit.case.declare import REQUIRED, UNKNOWN, Kind, Section, declarations, known
from thermokit.case.mistakes import At, nearest, shown
from thermokit.case.tables import Inline

MOST_ENTRIES = 10_000


def read_section(section: type[Section], raw: Any, at: At, kinds: Mapping[str, Kind] | None = None) -> Any:
    """A section from what tomllib gave, every mistake told to ``at``; keys with a mistake hold ``UNKNOWN``.

    kinds : replaces the declared kind of some keys (a limit's dimension depends on its name).
    """
    if not isinstance(raw, dict):
        at.mistake(f"{shown(raw)} is no table", "a table with " + ", ".join(declarations(section)))
        return UNKNOWN
    declared = declarations(section)
    for word in raw:
        if word not in declared:
            (at / word).mistake(
                f"unknown key, with {shown(raw[word])}", ", ".join(declared), _where_it_belongs(section, word)
            )
    values: dict[str, Any] = {}
    given = set()
    for word, entry in declared.items():
        kind = (kinds or {}).get(word, entry.kind)
        if word in raw:
            given.add(entry.field)
            values[entry.field] = kind.read(raw[word], at / word)
        elif entry.required:
            (at / word).mistake("missing", kind.words())
            values[entry.field] = UNKNOWN
    made = section(**values)
    made.check(at, frozenset(given))
    return made


def _where_it_belongs(section: type[Section], word: str) -> str:
    """Advice for an unknown key: the nearest known ones, or the table inside this one that has it."""
    from thermokit.case.walk import declared_paths

    declared = declarations(section)
    if near := nearest(word, declared):
        return near
    inside = sorted({".".join(path[:-1]) for path, _, _ in declared_paths(section) if path[-1] == word and path[:-1]})
    return f"it belongs in {' or '.join(inside[:3])}" if inside else ""


def write_section(section: Section) -> dict[str, Any]:
    """The section as a TOML table with all its defaults."""
    out: dict[str, Any] = {}
    skipped = section.unwritten()
    for word, entry in declarations(type(section)).items():
        value = getattr(section, entry.field)
        if value is None or entry.field in skipped:
            continue
        written = section.kind_of(entry).write(value)
        if written is None and entry.default is None and value == ():
            written = []  # an empty list that says "none", where leaving it out says something else
        if written is None and value == "" and entry.default != "":
            written = ""  # an empty text stands for "none" only where that is what leaving it out means
        if written is not None:
            out[word] = written
    return out


@dataclass(eq=False, repr=False)
class Sub(Kind):
    """A table of its own; ``inline`` ones are written on one line."""

    section: type[Section]
    inline: bool = False

    def read(self, raw: Any, at: At) -> Any:
        return read_section(self.section, raw, at)

    def write(self, value: Any) -> Any:
        table = write_section(value)
        if self.inline:
            return Inline(table)
        return table or None

    def words(self) -> str:
        return "a table with " + ", ".join(declarations(self.section))

    def schema(self) -> dict[str, Any]:
        return section_schema(self.section)


@dataclass(eq=False, repr=False)
class OneOf(Kind):
    """A table whose key ``tag`` says which of several kinds of table it is."""

    tag: str
    options: tuple[tuple[str, type[Section]], ...]

    def read(self, raw: Any, at: At) -> Any:
        options = dict(self.options)
        choice = raw.get(self.tag) if isinstance(raw, dict) else None
        if isinstance(choice, str) and choice in options:
            return read_section(options[choice], raw, at)
        if not isinstance(raw, dict):
            at.mistake(f"{shown(raw)} is no table", self.words())
        elif choice is None:
            (at / self.tag).mistake("missing", " or ".join(f'"{name}"' for name in options))
        else:
            advice = nearest(choice, options) if isinstance(choice, str) else ""
            (at / self.tag).mistake(
                f"{shown(choice)} is not one of the choices", " or ".join(f'"{name}"' for name in options), advice
            )
        return UNKNOWN

    def write(self, value: Any) -> Any:
        return write_section(value)

    def words(self) -> str:
        return f"a table whose {self.tag} is " + " or ".join(f'"{name}"' for name, _ in self.options)

    def schema(self) -> dict[str, Any]:
        return {"oneOf": [section_schema(section) for _, section in self.options]}


@dataclass(eq=False, repr=False)
class ListOf(Kind):
    """A list; entries that have a name get one (``layer_1``) where the user gives none.

    least, most : how many entries; naming : first word of the names given; single : one entry may stand without a list.
    """

    item: Kind
    least: int = 0
    most: int = MOST_ENTRIES
    naming: str = ""
    single: bool = False

    def read(self, raw: Any, at: At) -> Any:
        if self.single and not isinstance(raw, list):
            entry = self.item.read(raw, at)
            return (entry,) if known(entry) else UNKNOWN
        if not isinstance(raw, list):
            at.mistake(f"{shown(raw)} is no list", self.words())
            return UNKNOWN
        if not self.least <= len(raw) <= self.most:
            at.mistake(f"{len(raw)} entries", f"from {self.least} to {self.most} entries")
            return UNKNOWN
        entries = [self.item.read(entry, at / str(i)) for i, entry in enumerate(raw)]
        return tuple(self._named(entries, at) if self.naming else entries)

    def _named(self, entries: list[Any], at: At) -> list[Any]:
        """The entries with a name each; a name that stands twice, or is another entry's number, is a mistake."""
        names: list[Any] = [getattr(entry, "name", UNKNOWN) for entry in entries]
        first: dict[str, int] = {}
        for i, name in enumerate(names):
            if not known(name) or not name:
                continue
            if name in first:
                advice = "give each its own name"
                (at / str(i) / "name").mistake(f"{shown(name)} is already the name of entry {first[name]}", advice)
            elif name.isdecimal() and name != str(i) and int(name[:9]) < len(names):
                (at / str(i) / "name").mistake(f"{shown(name)} is the number of another entry", "a word")
            first.setdefault(name, i)
        for i, name in enumerate(names):
            if name == "":
                number = i + 1
                while f"{self.naming}_{number}" in first:
                    number += 1
                first[f"{self.naming}_{number}"] = i
                entries[i] = dataclasses.replace(entries[i], name=f"{self.naming}_{number}")
        return entries

    def write(self, value: Any) -> Any:
        if self.single and len(value) == 1:
            return _entry(self.item, value[0])
        return [_entry(self.item, entry) for entry in value] or None

    def words(self) -> str:
        if self.single:
            return f"{self.item.words()}; or a list of such"
        return f"a list, each entry {self.item.words()}"

    def schema(self) -> dict[str, Any]:
        entries: dict[str, Any] = {"type": "array", "items": self.item.schema(), "minItems": self.least}
        if self.most != MOST_ENTRIES:
            entries["maxItems"] = self.most
        return {"anyOf": [self.item.schema(), entries]} if self.single else entries


@dataclass(eq=False, repr=False)
class Named(Kind):
    """Tables under names of the user's own: ``[materials.NAME]``."""

    item: Kind
    word: str = "NAME"

    def read(self, raw: Any, at: At) -> Any:
        if not isinstance(raw, dict):
            at.mistake(f"{shown(raw)} is no table", self.words())
            return UNKNOWN
        if len(raw) > MOST_ENTRIES:
            at.mistake(f"{len(raw)} entries", f"up to {MOST_ENTRIES}")
            return UNKNOWN
        for name in raw:
            if not name or len(name) > 200 or not name.isprintable():
                (at / name).mistake(f"{shown(name)} cannot be a name", "a word on one line")
        return {name: self.item.read(entry, at / name) for name, entry in raw.items()}

    def write(self, value: Any) -> Any:
        return {name: _entry(self.item, entry) for name, entry in value.items()} or None

    def words(self) -> str:
        return f"tables by name, each {self.item.words()}"

    def schema(self) -> dict[str, Any]:
        return {"type": "object", "additionalProperties": self.item.schema()}


def _entry(item: Kind, value: Any) -> Any:
    """What an entry is written as: one with nothing in it (an insulated face) is an empty table, which must stand there."""
    written = item.write(value)
    return {} if written is None else written


def section_schema(section: type[Section]) -> dict[str, Any]:
    """JSON Schema of a section, with the meaning of each key as its description."""
    properties = {}
    for word, entry in declarations(section).items():
        properties[word] = entry.kind.schema() | {"description": entry.meaning}
        written = None
        if (
            entry.default is not REQUIRED
            and entry.default is not None
            and not isinstance(entry.default, (tuple, Mapping))
        ):
            written = entry.kind.write(entry.default)
        if isinstance(written, (str, float, int)):
            properties[word]["default"] = written
    out: dict[str, Any] = {"type": "object", "properties": properties, "additionalProperties": False}
    required = [word for word, entry in declarations(section).items() if entry.required]
    return out | {"required": required} if required else out
