"""A dwell in words, for the setter."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from thermokit.results.summary import warnings
from thermokit.studies.window import wants_high

if TYPE_CHECKING:
    from thermokit.results.model import Result
    from thermokit.studies.found import Dwell

WIDTH = 100


def _filled(text: str, first: str = "  ", rest: str = "  ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest)


def dwell_text(found: Dwell, result: Result) -> str:
    """The printed answer: window, reason, margins, what moves it, the hand formula, cautions."""
    title, text = result.provenance.title or "Dwell", found.scale.text
    head = f"Sought: {found.path}" if found.station == found.path else f"Station {found.station}"
    lines = [title, "", *stop_lines(result), head]
    if found.recommended is None:
        lines += ["  NO WINDOW", _filled(found.opens_with or "")]
    else:
        lines += _window(found)
    lines += _margins(found)
    if found.shifts:
        lines += ["", "What moves the window"]
        wide = max(len(shift.change) for shift in found.shifts)
        for shift in found.shifts:
            edges = "no window" if shift.earliest is None else f"{text(shift.earliest)} to {text(shift.latest)}"
            lines.append(f"  {shift.change:<{wide}}  {edges}")
    if found.hand is not None:
        lines += [
            "",
            "By hand",
            _filled(f"{text(found.hand.value)}: {found.hand.formula}"),
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
    by, text = {"earliest": found.earliest_limit, "latest": found.latest_limit}, found.scale.text
    dwell = found.scale.dimension == "time"
    fast = wants_high(found.path)
    first, last = ("earliest", "latest") if dwell else ("slowest", "fastest") if fast else ("smallest", "largest")
    earliest = f"from here on {by['earliest']} is met" if by["earliest"] else "nothing limits it: the search began here"
    far = f"{found.scale.shown(found.high):g} {found.scale.unit}"
    broken = f"up to here {by['latest']} is met" if fast else f"here {by['latest']} is broken first"
    latest = broken if by["latest"] else f"nothing limits it up to {far}"
    rows = [(first, text(found.earliest), earliest), (last, text(found.latest), latest)]
    rows.append(("RECOMMENDED", text(found.recommended), _reason(found)))
    if found.earliest is not None and found.latest is not None:
        width = found.latest - found.earliest
        share = 100.0 * width / found.recommended if found.recommended else 0.0
        if found.scale.dimension == "temperature":
            share = 100.0 * width / (found.high - found.low)
        rows.append(("window", found.scale.size(width), f"{share:.0f} % of the {_of_what(found)}"))
    return [f"  {name:<12}{value:>9}   {words}" for name, value, words in rows]


def _of_what(found: Dwell) -> str:
    if found.scale.dimension == "temperature":  # a share of degrees says nothing
        return "range that was searched"
    return "dwell" if found.scale.dimension == "time" else "recommended value"


def _reason(found: Dwell) -> str:
    first = "earliest" if found.scale.dimension == "time" else "slowest" if wants_high(found.path) else "smallest"
    if found.shares is not None:
        if wants_high(found.path):
            return "the fastest with the best share of parts within the tolerances"
        return ("" if found.latest is not None else "the first with ") + "the best share of parts within the tolerances"
    if wants_high(found.path) and found.earliest_limit is None and found.latest is not None:
        return "10 % below the fastest"
    if found.earliest is not None and found.earliest == found.latest:
        return "where the outcome is as wanted"
    if found.scale.given and (found.latest is None or found.earliest_limit is None):
        return "10 % of the search inside its only edge, or half-way to the end of the search"
    return "the middle of the window" if found.latest is not None else f"10 % above the {first}"


def _margins(found: Dwell) -> list[str]:
    if found.recommended is None:
        return []
    lines = ["", f"Margins at the recommended {'dwell' if found.scale.dimension == 'time' else 'value'}"]
    wide = max((len(m.limit) for m in found.margins), default=0)
    for margin in found.margins:
        unit = "" if margin.unit == "1" else f" {margin.unit}"
        to = "to the edge of the window" if margin.edge else "to the limit"
        digits = {"1": 3, "1/s": 4, "mm": 2, "m/min": 2, "m": 2}.get(margin.unit, 1)
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
