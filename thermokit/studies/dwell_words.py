"""A dwell in words, for the setter."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from thermokit.results.summary import warnings

if TYPE_CHECKING:
    from thermokit.results.model import Result
    from thermokit.studies.dwell import Dwell

WIDTH = 100


def _seconds(value: float | None) -> str:
    return "none" if value is None else f"{value:.1f} s"


def _filled(text: str, first: str = "  ", rest: str = "  ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest)


def dwell_text(found: Dwell, result: Result) -> str:
    """The printed answer: window, reason, margins, what moves it, the hand formula, cautions."""
    title = result.provenance.title or "Dwell"
    lines = [title, "", *stop_lines(result), f"Station {found.station}"]
    if found.recommended is None:
        lines += ["  NO WINDOW", _filled(found.opens_with or "")]
    else:
        lines += _window(found)
    lines += _margins(found)
    if found.shifts:
        lines += ["", "What moves the window"]
        wide = max(len(shift.change) for shift in found.shifts)
        for shift in found.shifts:
            edges = "no window" if shift.earliest is None else f"{_seconds(shift.earliest)} to {_seconds(shift.latest)}"
            lines.append(f"  {shift.change:<{wide}}  {edges}")
    if found.hand is not None:
        lines += [
            "",
            "By hand",
            _filled(f"{found.hand.value:.1f} s: {found.hand.formula}"),
            _filled(found.hand.why_different),
        ]
    told = warnings(result)
    if told:
        lines += ["", "Warnings", *(_filled(text, "  - ", "    ") for text in told)]
    if result.remarks:
        lines += ["", "Remarks", *(_filled(text, "  - ", "    ") for text in result.remarks)]
    lines += ["", "Cautions", *(_filled(text, "  - ", "    ") for text in result.cautions)]
    return "\n".join(lines)


def stop_lines(result: Result) -> list[str]:
    """Why the case must not be run, and what was tried against it; nothing where it may be."""
    stop = result.study.get("stop")
    if stop is None:
        return []
    return [*textwrap.wrap(stop["why"], WIDTH), *(_filled(text, "  - ", "    ") for text in stop["remedies"]), ""]


def _window(found: Dwell) -> list[str]:
    by = {"earliest": found.earliest_limit, "latest": found.latest_limit}
    earliest = f"from here on {by['earliest']} is met" if by["earliest"] else "nothing limits it: the search began here"
    latest = f"here {by['latest']} is broken first" if by["latest"] else f"nothing limits it up to {found.high:g} s"
    rows = [("earliest", _seconds(found.earliest), earliest), ("latest", _seconds(found.latest), latest)]
    rows.append(("RECOMMENDED", _seconds(found.recommended), _reason(found)))
    if found.earliest is not None and found.latest is not None:
        width = found.latest - found.earliest
        share = 100.0 * width / found.recommended if found.recommended else 0.0
        rows.append(("window", _seconds(width), f"{share:.0f} % of the dwell"))
    return [f"  {name:<12}{value:>9}   {words}" for name, value, words in rows]


def _reason(found: Dwell) -> str:
    if found.shares is not None:
        return ("" if found.latest is not None else "the first with ") + "the best share of parts within the tolerances"
    return "the middle of the window" if found.latest is not None else "10 % above the earliest"


def _margins(found: Dwell) -> list[str]:
    if found.recommended is None:
        return []
    lines = ["", "Margins at the recommended dwell"]
    wide = max((len(m.limit) for m in found.margins), default=0)
    for margin in found.margins:
        unit = "" if margin.unit == "1" else f" {margin.unit}"
        to = "to the edge of the window" if margin.unit == "s" else "to the limit"
        digits = {"1": 3, "1/s": 4}.get(margin.unit, 1)
        lines.append(f"  {margin.limit:<{wide}}  {margin.value:>7.{digits}f}{unit}  {to}")
    if found.shares is not None:
        good, broken = found.shares.at(found.recommended)
        causes = ", ".join(f"{100 * share:.0f} break {name}" for name, share in broken.items())
        lines.append(
            _filled(
                f"With the listed tolerances {100 * good:.0f} parts in 100 fall inside ({causes}). Not covered: moisture, "
                "draughts, colour change, and whatever has no tolerance in the case."
            )
        )
    return lines
