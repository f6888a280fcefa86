"""The table of checks as text: for the terminal and for ``validation/README.md``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from validation.checks import Check, Row

README = Path(__file__).parent / "README.md"
BEGIN, END = "<!-- table: python -m validation --write -->", "<!-- end of table -->"


def number(value: float | None, digits: int = 7) -> str:
    """A number in few characters, a dash for none."""
    return "–" if value is None else f"{value:.{digits}g}"


def cells(row: Row) -> tuple[str, ...]:
    """Columns of a line: id, quantity, published, exact, found, difference, tolerance, pass."""
    unit = f" [{row.unit}]" if row.unit else ""
    difference = "–" if row.exact is None else f"{row.difference:+.2g}"
    return (
        row.id,
        row.name + unit,
        number(row.published),
        number(row.exact),
        number(row.found),
        difference,
        row.tolerance,
        "yes" if row.passed else "NO",
    )


HEAD = ("id", "quantity", "published", "exact", "found", "difference", "tolerance", "pass")


def plain(rows: Sequence[Row]) -> str:
    """The table for a terminal."""
    table = [HEAD, *(cells(row) for row in rows)]
    widths = [max(len(line[i]) for line in table) for i in range(len(HEAD))]
    return "\n".join("  ".join(text.ljust(w) for text, w in zip(line, widths, strict=True)).rstrip() for line in table)


def markdown(checks: Sequence[Check], rows: dict[Check, list[Row]]) -> str:
    """The table for the README, one heading a check's number, with the sources and the notes on printed values."""
    lines: list[str] = []
    for number_ in dict.fromkeys(check.id for check in checks):
        group = [check for check in checks if check.id == number_]
        sources = dict.fromkeys(f"{check.source} ({check.status})" for check in group)
        lines += [f"### {number_}", "", *(f"- {source}" for source in sources), ""]
        lines += ["| quantity | published | exact | found | difference | tolerance | pass | note |"]
        lines += ["|---|---|---|---|---|---|---|---|"]
        for check in group:
            for row in rows[check]:
                lines.append("| " + " | ".join([*cells(row)[1:], row.note]) + " |")
        lines.append("")
    return "\n".join(lines)


def write(checks: Sequence[Check], rows: dict[Check, list[Row]]) -> None:
    """Put the table between its two marks in the README."""
    text = README.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    after = rest.split(END)[1]
    every = [row for check in checks for row in rows[check]]
    passed = sum(row.passed for row in every)
    summary = f"{passed} of {len(every)} numbers of {len(checks)} checks are within their tolerance."
    README.write_text(f"{before}{BEGIN}\n\n{summary}\n\n{markdown(checks, rows)}\n{END}{after}", encoding="utf-8")
