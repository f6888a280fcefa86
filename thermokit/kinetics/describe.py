"""A kinetics set of the library in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thermokit.materials.describe import columns_of, heading, reference_lines, section_lines, spoken, wrapped


def describe_kinetics(record: Mapping[str, Any]) -> str:
    """A kinetics set in words, from its record (``KineticsSet.record``)."""
    references = record["references"]
    lines = [f"{record['id']}: {record['name']}"]
    reads = f", reads {', '.join(spoken(s) for s in record['needs'])}" if record.get("needs") else ""
    lines.append(f"    {spoken(record['state'])}{reads}; {record['status']}, {record['confidence']}")
    for key in ("meaning", "published_search"):
        if key in record:
            lines += wrapped(f"{spoken(key)}: {record[key]}", "    ")
    for flag in record.get("flags", ()):
        lines += wrapped(f"CAUTION {flag}", "", "        ")
    lines += section_lines("where this set comes from", {"sources": record["sources"]}, references)
    for key, section in record.items():
        if not isinstance(section, Mapping):
            continue
        lines.append("")
        if "rows" in section:
            lines += [heading(key, section), *columns_of(section)]
            rest = {k: v for k, v in section.items() if k not in ("columns", "rows", "confidence")}
            lines += section_lines(key, {k: v for k, v in rest.items() if k != "basis"}, references)[1:]
            if "basis" in rest:
                lines += section_lines("basis", rest["basis"], references)
        elif "each" in section:
            lines.append(spoken(key))
            for entry in section["each"]:
                lines += wrapped(f"{entry['text']} ({entry['confidence']})", "    ", "        ")
        else:
            lines += section_lines(key, section, references)
    lines += ["", *reference_lines(references)]
    return "\n".join(lines) + "\n"
