"""The resolved case: every value with its unit and every default, as TOML that loads to an equal case."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from thermokit.case.sought import written
from thermokit.case.structure import write_section
from thermokit.case.tables import Inline

if TYPE_CHECKING:
    from thermokit.case.common import Case


def resolved_text(case: Case) -> str:
    """The case as TOML with all defaults and units; ``parse_case`` gives an equal case back.

    Raises ValueError for a case whose values are arrays (one value a run).
    """
    return toml_text(written(case, write_section(case)))


def toml_text(table: dict[str, Any]) -> str:
    """A nested table as TOML: tables under headings, ``Inline`` ones and lists of values on one line."""
    return "\n".join(_lines(table, ())).strip() + "\n"


def _lines(table: dict[str, Any], path: tuple[str, ...]) -> list[str]:
    plain, nested = [], []
    for name, value in table.items():
        if isinstance(value, dict) and not isinstance(value, Inline):
            inner = _lines(value, (*path, name))
            # a heading of its own only where values stand right under it
            direct = any(not _heads(entry) for entry in value.values()) or not value
            nested += ["", f"[{_dotted((*path, name))}]", *inner] if direct else inner
        elif _heads(value):
            for entry in value:
                nested += ["", f"[[{_dotted((*path, name))}]]", *_lines(entry, (*path, name))]
        else:
            plain.append(f"{_key(name)} = {_value(value)}")
    return plain + nested


def _heads(value: Any) -> bool:
    """Whether a value is written under headings."""
    if isinstance(value, list):
        return bool(value) and all(isinstance(entry, dict) and not isinstance(entry, Inline) for entry in value)
    return isinstance(value, dict) and not isinstance(value, Inline)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(name)} = {_value(entry)}" for name, entry in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(entry) for entry in value) + "]"
    return repr(value)


def _string(text: str) -> str:
    """A TOML basic string: the escapes of JSON, and DEL escaped too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _string(name)


def _dotted(path: tuple[str, ...]) -> str:
    return ".".join(_key(name) for name in path)
