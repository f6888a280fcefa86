"""What may be written in a case, in words: one key (`thermokit explain KEY`) or all of them (the reference page)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from thermokit import units
from thermokit.case.declare import REQUIRED, Declaration, Section, declarations
from thermokit.case.kinds import KINDS, case_class
from thermokit.case.mistakes import nearest
from thermokit.case.sought import SOUGHT_SCHEMA, findable
from thermokit.case.structure import section_schema
from thermokit.case.values import NUMBER_PATTERN
from thermokit.case.walk import declared_paths, sections_below
from thermokit.errors import CaseError, Mistake


def explain(key: str) -> str:
    """What a key means, what may stand there and what its default is.

    key : a path (``stations.outer.convection``), with or without numbers or names of entries, or the end of one
    (``thickness``). Raises CaseError with the nearest keys where there is none.
    """
    wanted = tuple(step for step in key.strip().split(".") if step)
    found = _matching(wanted)
    if not found:
        every = {".".join(path) for kind in KINDS for path, _, _ in declared_paths(case_class(kind))}
        near = nearest(key, every) or nearest(
            wanted[-1] if wanted else key, {path.rsplit(".", 1)[-1] for path in every}
        )
        raise CaseError(
            "", [Mistake(key[:100] or "KEY", "no such key", "", near or "`thermokit explain` lists all keys")]
        )
    return "\n\n".join(_entry(path, kinds, declaration) for (path, declaration), kinds in found)


def _matching(wanted: tuple[str, ...]) -> list[tuple[tuple[str, Declaration], list[str]]]:
    """The declared keys that are meant, each with the kinds of case that have it; whole paths before ends of paths."""
    exact: dict[str, tuple[Declaration, list[str]]] = {}
    ends: dict[str, tuple[Declaration, list[str]]] = {}
    for kind in KINDS:
        for path, declaration, _ in declared_paths(case_class(kind)):
            group = exact if _fits(path, wanted) else ends if path[-len(wanted) :] == wanted else None
            if group is None:
                continue
            name = ".".join(path)
            # the same path with another meaning (panels and air stations) is told apart by its meaning
            unlike = f"{name}\0{declaration.meaning}"
            kinds = group.setdefault(unlike, (declaration, []))[1]
            if kind not in kinds:
                kinds.append(kind)
    chosen = exact or ends
    return [((name.split("\0")[0], declaration), kinds) for name, (declaration, kinds) in chosen.items()]


def _fits(declared: tuple[str, ...], wanted: tuple[str, ...]) -> bool:
    """Whether a path of a case (entries by number or name) is this declared one."""
    if not declared or not wanted:
        return not declared and not wanted
    if declared[0] == wanted[0] or declared[0].isupper():
        return _fits(declared[1:], wanted[1:]) or _entry_between(declared, wanted)
    return False


def _entry_between(declared: tuple[str, ...], wanted: tuple[str, ...]) -> bool:
    """Whether the second step names an entry of a list, which declared paths leave out."""
    return len(wanted) > 2 and len(declared) > 1 and declared[1] != wanted[1] and _fits(declared[1:], wanted[2:])


def _entry(path: str, kinds: list[str], declaration: Declaration) -> str:
    lines = [
        path,
        f"  {declaration.meaning}",
        f"  Takes: {declaration.kind.words()}.",
        f"  {_default_line(declaration)}",
        f"  In cases of kind: {', '.join(kinds)}.",
    ]
    for section, _ in sections_below(declaration.kind):
        lines += [f"  {section.meaning.capitalize()}:"]
        lines += [
            f"    {word:<12} {entry.meaning} {_default_line(entry)}" for word, entry in declarations(section).items()
        ]
    return "\n".join(lines)


def _default_line(declaration: Declaration) -> str:
    if declaration.required:
        return "Required."
    return f"Left out: {_default(declaration)}."


def _default(declaration: Declaration) -> str:
    """The default in words."""
    if declaration.default_words:
        return declaration.default_words
    default = declaration.default
    if default is None or default is REQUIRED or default == "" or isinstance(default, (tuple, Mapping)):
        return "none"
    if isinstance(default, Section):
        return "its own defaults"
    return str(declaration.kind.write(default))


def reference_page() -> str:
    """The whole reference of keys as Markdown, one chapter a kind of case."""
    parts = [
        "# What may be written in a case",
        "",
        'A case is a TOML file. Every value with a dimension is a string with its unit (`"4 mm"`); a bare number there'
        " is a mistake. Where a table is allowed, it is linear between its nodes and holds its ends.",
        "",
        "| Dimension | Units |",
        "|---|---|",
    ]
    used = _dimensions()
    parts += [
        f"| {name.replace('_', ' ')} | {units.allowed_units(name)} |" for name in units.DIMENSIONS if name in used
    ]
    for kind in KINDS:
        section = case_class(kind)
        parts += ["", f'## `process = "{kind}"`: {section.meaning}', ""]
        for heading, inner in _sections(section, ()):
            if heading:
                parts += ["", f"### `{heading}`: {inner.meaning}", ""]
            parts += ["| Key | Meaning | Takes | Left out |", "|---|---|---|---|"]
            parts += [_row(word, entry) for word, entry in declarations(inner).items()]
    return "\n".join(parts) + "\n"


def _sections(section: type[Section], path: tuple[str, ...]) -> Iterator[tuple[str, type[Section]]]:
    """Every section of a kind of case with its heading."""
    yield ".".join(path), section
    for word, entry in declarations(section).items():
        for inner, step in sections_below(entry.kind):
            yield from _sections(inner, (*path, word, *step))


def _row(word: str, entry: Declaration) -> str:
    takes = entry.kind.words() if not sections_below(entry.kind) else "see below"
    # the units stand once, at the head of the page
    takes = _without_units(takes)
    left_out = "required" if entry.required else _default(entry)
    return f"| `{word}` | {_cell(entry.meaning)} | {_cell(takes)} | {_cell(left_out)} |"


def _without_units(words: str) -> str:
    head, found, rest = words.partition("; units: ")
    if not found:
        return words
    _, more, tail = rest.partition(";")
    return head + more + tail


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _dimensions() -> set[str]:
    """The dimensions that keys of cases have."""
    from thermokit.case.values import Quantity
    from thermokit.case.walk import scalar_kind

    kinds = [entry.kind for kind in KINDS for _, entry, _ in declared_paths(case_class(kind))]
    scalars = [scalar_kind(getattr(kind, "item", kind)) for kind in kinds]
    return {scalar.dimension for scalar in scalars if isinstance(scalar, Quantity) and not scalar.bare}


def json_schema(kind: str | None = None) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of one kind of case, or of all of them, for editors.

    What only shows on the whole case (contradictions, names) and ranges of values with a unit are left to
    `thermokit check`.
    """
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "$defs": {"sought": SOUGHT_SCHEMA}}
    if kind is not None:
        whole = {"title": f"thermokit case: {kind}"} | section_schema(case_class(kind))
    else:
        whole = {"title": "thermokit case", "oneOf": [section_schema(case_class(name)) for name in KINDS]}
    found: dict[str, Any] = head | findable(whole, NUMBER_PATTERN)
    return found


__all__ = ["explain", "json_schema", "reference_page"]
