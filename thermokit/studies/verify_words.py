"""A verification in words: a line for each comparison, then what it comes to."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from thermokit.results.digits import number

if TYPE_CHECKING:
    from thermokit.studies.comparison import Comparison
    from thermokit.studies.verify import Verification

WIDTH = 100


def verify_text(found: Verification) -> str:
    """The printed answer."""
    shown, unit = found.scale.shown(found.value) or 0.0, found.scale.unit
    at = "" if found.path is None else f", at {found.path} = {number(shown)} {unit}"
    if not found.window:
        at += " (there is no window: the nearest miss)"
    lines = [
        found.title or "Verification",
        "",
        f"Accuracy asked for {found.accuracy:g} K; {found.cells} cells, {found.steps} steps{at}",
        "",
        f"  {'held against':<18}{'largest difference':<32}{'its own error':<16}{'where'}",
    ]
    for c in found.comparisons:
        lines.append(_line(c))
        if c.note and c.largest is not None:
            lines.append(textwrap.fill(c.note, WIDTH, initial_indent=" " * 20, subsequent_indent=" " * 20))
    lines.append("")
    if found.agrees:
        lines.append("Every comparison agrees within the accuracy of the case and its own error.")
    else:
        count = sum(not c.agrees for c in found.comparisons)
        lines.append(f"NOT VERIFIED: {count} of {len(found.comparisons)} comparisons do not agree.")
        lines += [textwrap.fill(text, WIDTH, initial_indent="  - ", subsequent_indent="    ") for text in found.advice]
    return "\n".join(lines)


def _line(c: Comparison) -> str:
    if c.largest is None or c.time is None or c.estimated_error is None:
        return f"  {c.what:<18}failed"
    size = f"{_small(c.largest, c.unit)} {'of ' if c.unit == '1' else 'in '}{c.quantity}"
    deep = "outside of it" if c.depth is None else f"{number(1e3 * c.depth)} mm deep"
    where = ", ".join(([] if c.place and not c.time else [f"{number(c.time)} s"]) + [c.place or deep])
    verdict = "agrees" if c.agrees else "DOES NOT AGREE"
    return f"  {c.what:<18}{size:<32}{_small(c.estimated_error, c.unit):<16}{where:<24}  {verdict}"


def _small(value: float, unit: str) -> str:
    """A difference with two digits."""
    return f"{value:.2g}" + ("" if unit == "1" else f" {unit}")


def advice(c: Comparison, given: bool) -> str:
    """What to try where a comparison does not agree; given : the case says how many cells a layer has."""
    if c.largest is None:
        return f"{c.note}. The other comparisons stand; try a case with shorter stations, or fewer of them"
    size = f"{c.largest:.2g} {c.unit if c.unit != '1' else f'in {c.quantity}'}"
    where = f"{size} at {c.place}" if c.place and not c.time else f"{size} at {c.time:.4g} s"
    if c.what == "halved mesh":
        more = (
            "give more cells, or none so that the mesh is chosen"
            if given
            else "ask for a smaller [accuracy] temperature"
        )
        late = "; just after a jump of a face no mesh is fine enough, begin the rows later" if c.time else ""
        return f"the mesh is too coarse ({where}): {more}{late}"
    if c.what == "halved error":
        return f"the time steps are too long ({where}): ask for a smaller [accuracy] temperature"
    return (
        f"thermokit and FiPy disagree ({where}) by more than both should be off: do not use the answer before it is known "
        "why; look for the simplest case that still shows it"
    )
