"""The methods for a part in words: a line for each that can make it, and the reasons of the others."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from thermokit.processes.cautions import BLOWING, DEFERENCE, UNDER_PRESSURE, VACUUM_BOX

if TYPE_CHECKING:
    from thermokit.studies.methods import Method, Methods

WIDTH = 100
HEADS = (("", ""), ("work", "s"), ("hold", "s"), ("total", "s"), ("pressure", "bar"), ("force", "kN"), ("of clamp", "%"),
         ("thinnest", "mm"), ("where", ""), ("marked", ""))  # fmt: skip


def methods_text(found: Methods) -> str:
    """The table, no line wider than 100 characters."""
    case = found.case
    lines = [case.title or "Methods", "", *_filled(part_words(found), "", ""), ""]
    able = [row for row in found.rows if row.figures]
    lines += _table(able) if able else ["No method can make this part as it is asked for."]
    lines.append("")
    if able:
        lines += _filled(
            "work: seconds after the oven until the coldest layer is too cold to draw; hold: from the draw to the release; total: "
            "with heating and transfer; force: pressure on the opening; marked: faces that a tool touches at more than the glass "
            "transition less 10 K. * as the case says; the others with tools and contacts as common "
            "practice has them (assumed).", "", "",
        )  # fmt: skip
        lines += [*_filled(best_words(able), "", ""), ""] if any(row.can for row in able) else []
        if case.part is not None and case.part.shape == "dome":
            lines += [
                *_filled("Thickness of a dome is that of a free rubber membrane, by whatever method.", "", ""),
                "",
            ]
    several = [row for row in found.rows if row.reasons]
    if several:
        lines.append("Cannot, as asked for")
        for row in several:
            lines += _filled(f"{spoken(row.name)}: {'; '.join(row.reasons)}", "  ", "    ")
        lines.append("")
    noted = [row for row in able if row.notes or row.tools]
    if noted:
        lines.append("To know")
        for row in noted:
            words = [f"{name} at {value:.0f} degC" for name, value in row.tools.items()]
            marked = [f"{side} face {words_}" for side, words_ in row.marks.items()]
            lines += _filled(f"{spoken(row.name)}: {'; '.join([*words, *marked, *row.notes])}", "  ", "    ")
        lines.append("")
    lines.append("Cautions")
    for text in (UNDER_PRESSURE, BLOWING, VACUUM_BOX, DEFERENCE):
        lines += _filled(text, "  - ", "    ")
    return "\n".join(lines)


def best_words(rows: list[Method]) -> str:
    """Which methods are first in what is asked most often."""
    can = [row for row in rows if row.can]
    clean = [spoken(row.name) for row in can if all(words.startswith("not marked") for words in row.marks.values())]
    least = min(can, key=lambda row: row.figures["holding_time"][0])
    thick = max(row.figures["thinnest_place"][0] for row in can)
    thickest = [spoken(row.name) for row in can if row.figures["thinnest_place"][0] > 0.99 * thick]
    words = [
        f"No face marked: {', '.join(clean) or 'none of them'}",
        f"shortest hold: {spoken(least.name)}, {least.figures['holding_time'][0]:.3g} s",
    ]
    if len(thickest) < len(can):
        words.append(f"most left at the thinnest place: {', '.join(thickest)}, {thick:.2g} mm")
    return "; ".join(words) + "."


def part_words(found: Methods) -> str:
    """The part in one sentence."""
    part, sheet = found.case.part, found.case.sheet
    assert part is not None
    if part.shape == "dome":
        size = f"dome, ring {1e3 * part.ring:.4g} mm, {1e3 * part.height:.4g} mm high"  # type: ignore[operator]
    elif part.shape == "tray":
        size = (
            f"tray {1e3 * part.length:.4g} x {1e3 * part.width:.4g} mm, {1e3 * part.depth:.4g} mm deep, "  # type: ignore[operator]
            f"corner {1e3 * part.corner:.3g} mm"  # type: ignore[operator]
        )
    else:
        size = f"panel {1e3 * part.length:.4g} x {1e3 * part.width:.4g} mm"  # type: ignore[operator]
    asked = [f"clear face: {part.clear_face}"]
    if part.detail is not None:
        asked.append(f"detail {1e3 * part.detail:.3g} mm")
    if part.undercut:
        asked.append("undercut")
    if part.quantity is not None:
        asked.append(f"{part.quantity} pieces")
    if part.tooling:
        asked.append(f"at hand: {', '.join(part.tooling)}".replace("_", " "))
    return f"{size}; {sheet.material} {1e3 * float(sheet.thickness):.3g} mm; {'; '.join(asked)}"


def spoken(name: str) -> str:
    """A method in words.

    >>> spoken("blow_into_mould")
    'blow into mould'
    """
    return name.replace("_", " ")


def _table(rows: list[Method]) -> list[str]:
    table = [[head for head, _ in HEADS], [unit for _, unit in HEADS], *(_cells(row) for row in rows)]
    wide = [max(len(line[i]) for line in table) for i in range(len(HEADS))]
    left = (0, 8, 9)
    out = []
    for line in table:
        cells = [
            text.ljust(w) if i in left else text.rjust(w) for i, (text, w) in enumerate(zip(line, wide, strict=True))
        ]
        out.append("  ".join(cells).rstrip())
    return out


def _cells(row: Method) -> list[str]:
    def shown(name: str, digits: int = 3, factor: float = 1.0) -> str:
        if name not in row.figures:
            return "-"
        value = factor * row.figures[name][0]
        return f"{value:.0f}" if abs(value) >= 100 else f"{value:.{digits}g}"

    faces = [side for side, words in row.marks.items() if not words.startswith("not marked")]
    marked = "both" if len(faces) > 1 else "".join(faces) or "none"
    return [
        spoken(row.name) + (" *" if row.own else "") + ("" if row.can else " (no)"),
        *(shown(name) for name in ("working_time", "holding_time", "cycle_time", "shaping_pressure", "clamp_force")),
        shown("clamp_share", 2, 100.0),
        shown("thinnest_place", 2),
        row.thinnest_in,
        marked,
    ]


def _filled(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest)
