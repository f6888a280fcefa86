"""Where to put one couple, in words and as JSON; with what a couple does to the thing that it reads."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.results.digits import number
from thermokit.results.plain import plain
from thermokit.studies.thermocouple import STEEP

if TYPE_CHECKING:
    from thermokit.studies.thermocouple import Couple, Place

WIDTH = 100
CAVEATS = (
    "Each reading counts with a scatter of its own (200 readings in a run): a logger that smooths tells less.",
    "A couple lags by its own time constant (0.2 to 2 s at 0.25 to 0.5 mm; common practice, no source): thermokit fit takes it out "
    "where the lag is known or sought.",
    "Heat runs along its wires: lay the last 50 diameters along an isotherm, not across the gradient.",
    "On a face under panels or lamps it reads the panels too, and on a cold tool the tool: bed it in, or shade it.",
    "In a thin part the couple is a part of it: where its diameter is more than a tenth of the thickness it changes what it reads.",
)


def thermocouple_text(found: Couple) -> str:
    """The printed answer."""
    best, unit = found.best, found.unit
    lines = [*textwrap.wrap(found.case.title or "One couple", WIDTH), ""]
    lines += _filled(f"What one couple would tell about {spoken(found.of)}", "", "")
    lines += [
        "",
        f"  BEST PLACE   {best.words}",
        f"  when         {number(best.first)} to {number(best.last)} s tells most",
    ]
    after = _of(best.left, unit)
    lines += [
        f"  spread       {_of(found.spread, unit)} by the tolerances, {after} once it has been read over the whole run",
        f"               {_of(best.left_then, unit)} by that stretch alone",
    ]
    lines += _filled(verdict(found))
    if found.surest.words != best.words:
        lines += _filled(
            f"To learn all the unknowns together the best place is {found.surest.words} (D-optimal), with "
            f"{_of(found.surest.left, unit)} left of this outcome."
        )
    for face, words in zip(found.faces, ("first", "last"), strict=False):
        lines += _filled(f"On the {words} face: {_of(face.left, unit)} left.")
    lines += ["", "Which errors it hangs on"]
    order = np.argsort(-np.abs(found.weights))
    wide = max(len(name) for name in found.names)
    lines += [
        f"  {found.names[i]:<{wide}}  {found.weights[i]:+.3g} {step(unit)} for one standard deviation" for i in order
    ]
    lines += ["", "Take care"]
    lines += [line for text in cautions(found) for line in _filled(text, "  - ", "    ")]
    lines += [line for text in found.notes for line in _filled(text, "  - ", "    ")]
    return "\n".join(lines)


def verdict(found: Couple) -> str:
    """How much of the spread a couple takes away."""
    share = 100.0 * found.taken
    if share < 10.0:
        return (
            f"It would take {share:.0f} % of the variance away: no couple tells much about this. Measure "
            f"{found.names[int(np.argmax(np.abs(found.weights)))]} itself."
        )
    return f"It takes {share:.0f} % of the variance away."


def cautions(found: Couple) -> list[str]:
    """What a couple does to what it reads; first where it matters at the best place."""
    out = []
    if found.best.steep > STEEP:
        out.append(
            f"The temperature changes by {found.best.steep / 1e3:.2g} K/mm there in that stretch: a depth that is "
            f"{1e3 * found.place:.2g} mm off reads {found.best.steep * found.place:.2g} K wrong (this is in the numbers)."
        )
    return [*out, *CAVEATS]


def thermocouple_json(found: Couple) -> dict[str, Any]:
    """The JSON object of the command."""

    def spot(one: Place) -> dict[str, Any]:
        return {
            "words": one.words, "at": [1e3 * x for x in one.at], "at_unit": "mm", "left": one.left, "from": one.first,
            "to": one.last, "left_by_stretch": one.left_then, "gradient": one.steep / 1e3, "gradient_unit": "K/mm",
        }  # fmt: skip

    block = {
        "of": found.of,
        "unit": step(found.unit),
        "spread": found.spread,
        "best": spot(found.best),
        "surest": spot(found.surest),
        "faces": [spot(face) for face in found.faces],
        "taken": found.taken,
        "unknowns": [{"name": name, "weight": float(w)} for name, w in zip(found.names, found.weights, strict=True)],
        "places": {"at": 1e3 * found.depths, "at_unit": "mm", "left": found.left, "told": found.told},
        "couple": {
            "noise": found.noise,
            "offset": found.offset,
            "unit": "K",
            "place": 1e3 * found.place,
            "place_unit": "mm",
        },
        "cautions": cautions(found),
        "notes": list(found.notes),
    }
    own = found.case
    told: dict[str, Any] = plain(
        {"title": own.title, "process": own.process, "case_sha256": own.source.sha256, "thermocouple": block}
    )
    return told


def spoken(name: str) -> str:
    """A margin or an outcome in words."""
    return name.replace("margin of ", "the margin of ")


def step(unit: str) -> str:
    """Unit of a difference."""
    return {"degC": "K", "1": ""}.get(unit, unit)


def _of(value: float, unit: str) -> str:
    return f"{value:.3g} {step(unit)}".strip()


def _filled(text: str, first: str = "  ", rest: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
