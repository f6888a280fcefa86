"""A record of the library in words: tables, transitions, limits, each with confidence and the number of its source."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

WIDTH = 100
# shown in lines of their own, or not in words at all
_KNOWN = {"confidence", "sources", "note", "emissivity_confidence", "emissivity_sources", "parts_confidence"}


def describe_material(record: Mapping[str, Any]) -> str:
    """A material of the library in words, from its record (``Material.record``)."""
    references: Sequence[str] = record["references"]
    lines = wrapped(f"{record['id']}: {record['name']} ({record['family']})", "", "    ")
    if record.get("note"):
        lines += wrapped(record["note"], "")
    for caution in record.get("cautions", ()):
        lines += wrapped(f"CAUTION {caution}", "", "        ")
    for key, section in record.items():
        if not isinstance(section, Mapping):
            continue
        lines.append("")
        if "values" in section:
            lines += _table(key, section, references)
        elif key == "checks":
            lines += _checks(section, references)
        elif key == "radiation":
            lines += _radiation(section, references)
        else:
            lines += section_lines(key, section, references)
    lines += ["", *reference_lines(references)]
    return "\n".join(lines) + "\n"


def section_lines(key: str, section: Mapping[str, Any], references: Sequence[str]) -> list[str]:
    """One section of a record: its values in a row, its note, its sources."""
    lines = [heading(key, section)]
    values = [f"{spoken(k)} {plain(v)}" for k, v in section.items() if k not in _KNOWN and not _is_table(v)]
    lines += wrapped("; ".join(values), "    ")
    return lines + _ending(section, references)


def heading(key: str, section: Mapping[str, Any]) -> str:
    """Name of a section and how sure it is."""
    return f"{spoken(key)} ({section['confidence']})" if "confidence" in section else spoken(key)


def spoken(key: str) -> str:
    """A key in words: ``ideal_low`` is "ideal low"."""
    return key.replace("_0p", " 0.").replace("_", " ")


def plain(value: Any) -> str:
    """A value of a record in words."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return f"{value:.10g}"
    if isinstance(value, Mapping):
        return ", ".join(f"{spoken(k)} {plain(v)}" for k, v in value.items())
    if isinstance(value, list):
        return ", ".join(plain(v) for v in value) if value else "none"
    return str(value)


def wrapped(text: str, indent: str, following: str | None = None) -> list[str]:
    """A text in lines of at most ``WIDTH`` characters."""
    further = indent if following is None else following
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=further, break_long_words=False)


def reference_lines(references: Sequence[str]) -> list[str]:
    """The list that the numbers in brackets point to."""
    lines = ["sources"]
    for number, text in enumerate(references, start=1):
        lines += wrapped(f"[{number}] {text}", "    ", "        ")
    return lines


def numbers_of(sources: Sequence[str], references: Sequence[str]) -> str:
    """Where sources stand in the list: ``[1] [3]``."""
    return " ".join(f"[{references.index(source) + 1}]" for source in sources)


def columns_of(table: Mapping[str, Any]) -> list[str]:
    """A table with ``columns`` and ``rows`` as lines of text."""
    head = [str(name) for name in table["columns"]]
    return aligned([head, *([plain(v) for v in row] for row in table["rows"])])


def aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows of cells as lines, columns aligned to the right."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return ["    " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]


def _is_table(value: Any) -> bool:
    """Whether a value is a table that stands on its own."""
    return isinstance(value, Mapping) and ("rows" in value or "each" in value)


def _ending(section: Mapping[str, Any], references: Sequence[str]) -> list[str]:
    """Note and sources of a section."""
    lines = wrapped(f"note: {section['note']}", "    ") if section.get("note") else []
    if section.get("sources"):
        lines.append(f"    from {numbers_of(section['sources'], references)}")
    return lines


def _table(key: str, section: Mapping[str, Any], references: Sequence[str]) -> list[str]:
    """A property against temperature."""
    nodes, values = section["temperature"], section["values"]
    unit = "" if section["unit"] == "1" else f" [{section['unit']}]"
    sure = f", ± {section['uncertainty']}" if "uncertainty" in section else ""
    lines = [f"{spoken(key)}{unit}, {nodes[0]:g} to {nodes[-1]:g} degC{sure} ({section['confidence']})"]
    for first in range(0, len(nodes), 8):  # more would run off the page
        part = slice(first, first + 8)
        lines += aligned([["degC", *(f"{t:g}" for t in nodes[part])], ["value", *(f"{v:g}" for v in values[part])]])
    if "temperatures_read" in section:
        lines.append(f"    read in the source at {plain(section['temperatures_read'])} degC only")
    return lines + _ending(section, references)


def _checks(section: Mapping[str, Any], references: Sequence[str]) -> list[str]:
    """Values read elsewhere, beside those of the tables."""
    lines = ["read elsewhere, beside these tables"]
    for check in section["each"]:
        condition = f", {check['condition']}" if "condition" in check else ""
        lines += wrapped(
            f"{spoken(check['quantity'])} at {check['temperature']:g} degC: {check['reference']:.4g}, here "
            f"{check['table']:.4g} ({check['difference_percent']:+.1f} %{condition}) "
            f"{numbers_of([check['source']], references)}",
            "    ",
            "        ",
        )
    return lines


def _radiation(section: Mapping[str, Any], references: Sequence[str]) -> list[str]:
    """Emissivity, bands of absorption, and what a layer takes up of a source's radiation."""
    lines = []
    if "emissivity" in section:
        lines.append(
            f"emissivity {section['emissivity']:g} ({section['emissivity_confidence']}) from "
            f"{numbers_of(section['emissivity_sources'], references)}"
        )
    others = {k: v for k, v in section.items() if k not in ("emissivity", "bands", "shares", "broadband")}
    if set(others) - {"emissivity_confidence", "emissivity_sources"}:
        lines += section_lines("radiation", others, references)
    if "broadband" in section:
        lines += section_lines("broadband absorption", section["broadband"], references)
    if "bands" in section:
        lines.append("absorption in bands [1/m] (one confidence a band)")
        names = ("absorption", "effective_0p5_mm", "effective_1_mm", "effective_3_mm", "normal_reflectance")
        rows = [["um", "mean", "0.5 mm", "1 mm", "3 mm", "reflectance", "confidence", "from"]]
        for band in section["bands"]["each"]:
            low, high = band["wavelength"]
            cells = [f"{band[name]:g}" if name in band else "-" for name in names]
            rows.append([f"{low:g}-{high:g}", *cells, band["confidence"], numbers_of(band["sources"], references)])
        lines += aligned(rows)
        lines += wrapped(f"note: {section['bands']['note']}", "    ")
    if "shares" in section:
        lines.append(f"absorbed, reflected, transmitted share ({section['shares']['confidence']})")
        lines += [*columns_of(section["shares"]), *_ending(section["shares"], references)]
    return lines
