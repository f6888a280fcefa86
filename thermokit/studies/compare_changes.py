"""A case with some keys written otherwise, as ``--set path=value`` asks for: read again as a whole, with all its checks."""

from __future__ import annotations

import copy
import tomllib
from dataclasses import replace
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any

from thermokit.case.mistakes import nearest, shown
from thermokit.case.reading import parse_case
from thermokit.case.walk import leaves
from thermokit.case.writing import toml_text
from thermokit.errors import CaseError, Mistake

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.walk import Leaf

MOST_LEAVES = 200  # of one change with *


def changes_of(texts: Sequence[str]) -> list[dict[str, str]]:
    """The designs that a list of ``path=value`` stands for: a path that comes a second time begins another design.

    Raises CaseError on a text that is no change.

    >>> changes_of(["a.depth=20 mm", "b.depth=20 mm", "a.depth=25 mm"])
    [{'a.depth': '20 mm', 'b.depth': '20 mm'}, {'a.depth': '25 mm'}]
    """
    designs: list[dict[str, str]] = [{}]
    for text in texts:
        path, equals, value = text.partition("=")
        path, value = path.strip(), value.strip()
        if not equals or not path or not value:
            allowed = 'a key\'s path, = and the value, such as --set "circuits.cavity.depth=20 mm"'
            raise CaseError("", [Mistake("--set", f"{shown(text)} is no change", allowed)])
        if path in designs[-1]:
            designs.append({})
        designs[-1][path] = value
    return [design for design in designs if design]


def changed(case: Any, changes: dict[str, str]) -> Any:
    """The case with other values at some paths, checked as if its file had been written so.

    changes : path -> value as it would stand in the file, quotes may be left out; ``*`` in a path stands for every entry
    (``circuits.*.depth``). Raises CaseError on a path that the case has not, and on all that does not hold then.
    """
    raw = copy.deepcopy(tomllib.loads(case.source.text.removeprefix("\ufeff")))
    found = list(leaves(case))
    for path, value in changes.items():
        for leaf in _meant(case, found, path):
            _put(raw, leaf.path, _value(leaf, value))
    try:
        return parse_case(toml_text(raw), case.source.file)
    except CaseError as wrong:
        told = ", ".join(f"{path} = {value}" for path, value in changes.items())
        # lines are those of a text that nobody sees
        mistakes = [replace(mistake, line=None) for mistake in wrong.mistakes]
        raise CaseError(f"{case.source.file} with {told}", mistakes) from None


def _meant(case: Any, found: list[Leaf], path: str) -> list[Leaf]:
    """The keys that a path stands for."""
    own = [leaf for leaf in found if path in (leaf.name, ".".join(leaf.path))]
    if not own and "*" in path:
        own = [leaf for leaf in found if fnmatchcase(leaf.name, path) and leaf.name.count(".") == path.count(".")]
    if not own or len(own) > MOST_LEAVES:
        settable = [leaf.name for leaf in found]
        same = [name for name in settable if name.rsplit(".", 1)[-1] == path.rsplit(".", 1)[-1]]
        advice = nearest(path, settable) or ("did you mean " + " or ".join(same[:3]) + "?" if same else "")
        raise CaseError(
            case.source.file,
            [Mistake(path[:100], "the case has no such key", "a path as `thermokit check --paths` lists them", advice)],
        )
    return own


def _value(leaf: Leaf, text: str) -> Any:
    """The value as TOML holds it: what is no TOML by itself is a string."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (ValueError, KeyError, RecursionError):
        return text


def _put(raw: dict[str, Any], path: tuple[str, ...], value: Any) -> None:
    """Put a value into nested tables and lists; tables that the file left out are made."""
    inner: Any = raw
    for i, step in enumerate(path[:-1]):
        if isinstance(inner, list):
            inner = inner[int(step)]
        elif isinstance(inner.get(step), (dict, list)):
            inner = inner[step]
        else:
            # a single entry may stand without its list
            if step in inner and path[i + 1].isdecimal():
                inner[step] = [inner[step]]
            inner = inner.setdefault(step, {})
    if isinstance(inner, list):
        inner[int(path[-1])] = value
    else:
        inner[path[-1]] = value
