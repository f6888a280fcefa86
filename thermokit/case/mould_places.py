"""Does everything in a mould section lie where it can? Channels in metal, apart from each other; outlines that do not cross."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.common import at_path
from thermokit.conduction.section_geometry import mistakes_of
from thermokit.conduction.section_geometry_plain import inside_polygon
from thermokit.conduction.section_problem import Channel, Region

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.mould import MouldCase
    from thermokit.case.mould_shape import MouldShape
    from thermokit.conduction.section_geometry import Finding

ALLOWED = {
    "region": "closed outlines that do not cross themselves or each other",
    "channel": "channels in the metal, clear of the part, of the mould's outside and of each other",
}
#: why an insert that fitted may not do so any more
STAYS = "an insert does not follow the part: for another thickness or outline give its corners anew"


def check_places(case: MouldCase, shape: MouldShape, at: At) -> None:
    """Told at the path of what is to blame, with the place in the section."""
    nothing: Any = None
    outlines = [("part", shape.part), ("cavity", shape.cavity), ("core", shape.core), *shape.inserts]
    regions = [Region(name, outline, nothing, 293.15) for name, outline in outlines]
    # the part and the inserts first: a channel that runs into one of them is also near to the block's outline
    channels = [Channel(hole.name, hole.centre, hole.diameter) for hole in shape.holes]
    told: dict[tuple[str, ...], list[Finding]] = {}
    for finding in mistakes_of(regions, channels):
        told.setdefault(_path(case, shape, finding), []).append(finding)
    for path, findings in told.items():
        more = f", and {len(findings) - 1} more like it" if len(findings) > 1 else ""
        advice = STAYS if path[:2] == ("mould", "inserts") else ""
        at_path(at, path).mistake(_words(findings[0]) + more, ALLOWED.get(findings[0].kind, ""), advice)
    if at.report.found:
        return
    _check_sides(case, shape, at)
    _check_inserts(case, shape, at)


def _path(case: MouldCase, shape: MouldShape, finding: Finding) -> tuple[str, ...]:
    """Where in the file the culprit stands."""
    if case.drawn is not None and (
        finding.name in case.drawn.outlines
        or any(h.name == finding.name and h.circuit in case.drawn.circles for h in shape.holes)
    ):
        return ("drawing",)
    if finding.kind == "channel":
        hole = next(h for h in shape.holes if h.name == finding.name)
        i = next(i for i, circuit in enumerate(case.circuits) if circuit.name == hole.circuit)
        return ("circuits", str(i))
    if finding.name == "part":
        return ("part", "outline") if case.part.outline else ("part",)
    inserts = [entry.name for entry in case.mould.inserts]
    if finding.name in inserts:
        return ("mould", "inserts", str(inserts.index(finding.name)))
    return ("mould", finding.name) if finding.name in ("cavity", "core") else ("mould",)


def _words(finding: Finding) -> str:
    """What is wrong, in the words of the trade."""
    return str(finding).replace("region ", "", 1).replace("'", '"')


def _check_sides(case: MouldCase, shape: MouldShape, at: At) -> None:
    """Every channel lies in the half that its circuit names."""
    sides = {"cavity": shape.cavity, "core": shape.core}
    for i, circuit in enumerate(case.circuits):
        for hole in shape.holes:
            if hole.circuit != circuit.name:
                continue
            if not bool(inside_polygon(np.array([hole.centre]), sides[circuit.side])[0]):
                (at / "circuits" / i / "side").mistake(
                    f"channel {hole.name} at x {1e3 * hole.centre[0]:.4g} mm, y {1e3 * hole.centre[1]:.4g} mm does not lie in the "
                    f"{circuit.side}", "the half in which its channels are drilled",
                )  # fmt: skip
                break


def _check_inserts(case: MouldCase, shape: MouldShape, at: At) -> None:
    """Every insert lies in one half."""
    for i, (_, outline) in enumerate(shape.inserts):
        middle = outline.mean(axis=0)[None]
        if not any(bool(inside_polygon(middle, half)[0]) for half in (shape.cavity, shape.core)):
            (at / "mould" / "inserts" / i).mistake(
                "lies in neither half of the mould", "a place inside the cavity or the core"
            )
