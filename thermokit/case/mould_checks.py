"""Contradictions of a mould case that only show on the whole of it: words first, then what lies where."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.common import at_path
from thermokit.case.declare import known
from thermokit.case.mould_shape import ShapeError, shape_of
from thermokit.case.tables import Find
from thermokit.exchange.coolants import outside
from thermokit.units import format_

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.mould import MouldCase

RESERVED = ("part", "cavity", "core")


def check_mould(case: MouldCase, at: At, given: frozenset[str]) -> None:
    """Everything that needs no outline."""
    if known(case.part):
        _check_part(case, at / "part")
    if known(case.feed, case.cycle) and known(case.cycle.hold) and case.cycle.hold is None and gate_of(case) is None:
        (at / "cycle" / "hold").mistake(
            "missing, and no gate is given from which it would follow", "hold, or a gate in [feed]"
        )
    if known(case.circuits) and known(*case.circuits) and known(case.part):
        _check_circuits(case, at / "circuits")
    if known(case.mould) and known(case.mould.inserts) and known(*case.mould.inserts):
        for i, entry in enumerate(case.mould.inserts):
            if known(entry.name) and entry.name in RESERVED:
                (at / "mould" / "inserts" / i / "name").mistake(
                    f'"{entry.name}" is a region of every mould', "another name"
                )
            elif entry.outline and (entry.corner is not None or entry.size is not None):
                (at / "mould" / "inserts" / i).mistake("is given in two ways", "an outline, or corner and size")
    if known(case.limits, case.part) and known(case.part.melt):
        for word in ("ejection_centre", "ejection_mean"):
            bound = getattr(case.limits, word)
            if known(bound) and bound is not None and np.max(bound) >= np.min(case.part.melt):
                (at / "limits" / word).mistake(
                    "is not below the melt", f"below {format_(float(np.min(case.part.melt)), 'temperature')}"
                )
    if known(case.output) and known(case.output.probes) and case.output.probes:
        (at / "output" / "probes").mistake(
            "a mould has places of its own, no depth to follow", "no probes: `thermokit plot` shows the section"
        )


def gate_of(case: MouldCase) -> Any:
    """Thickness or diameter of the gate, None where none is given or it cannot be known."""
    feed = case.feed
    for size in (feed.gate_thickness, feed.gate_diameter):
        if known(size) and size is not None:
            return size
    return None if known(feed.gate_thickness, feed.gate_diameter) else 0.0


def _check_part(case: MouldCase, at: At) -> None:
    part = case.part
    if not known(part.outline, part.thickness, part.length, case.drawing):
        return
    flat = not part.outline and case.drawing is None
    if flat:
        for word in ("thickness", "length"):
            if getattr(part, word) is None:
                (at / word).mistake("missing", "thickness and length of a flat wall, an outline, or a drawing")


def _check_circuits(case: MouldCase, at: At) -> None:
    """The coolant is colder than what the part must be cooled to; channels of one side."""
    bound = case.limits.ejection_centre if known(case.limits) else None
    for i, circuit in enumerate(case.circuits):
        if not known(circuit.temperature, circuit.coolant, circuit.glycol):
            continue
        if beyond := outside(circuit.coolant, circuit.temperature, circuit.glycol):
            (at / i / "temperature").mistake(beyond, "a temperature at which it is a liquid with known properties")
        if known(bound) and bound is not None and np.min(circuit.temperature) >= np.max(bound):
            (at / i / "temperature").mistake(
                "is not below the part's ejection_centre: it would never cool so far",
                f"below {format_(float(np.max(bound)), 'temperature')}",
            )


def check_shape(case: MouldCase, at: At) -> None:
    """Outlines and channels: told at the path of what is to blame. Nothing is looked at where a value is wrong already."""
    if at.report.found or _sought_or_many(case):
        return
    try:
        shape = shape_of(case)
    except ShapeError as wrong:
        at_path(at, wrong.path).mistake(wrong.what, wrong.allowed, wrong.advice)
        return
    from thermokit.case.mould_places import check_places

    check_places(case, shape, at)


def _sought_or_many(case: MouldCase) -> bool:
    """Whether some input of the outlines is not one number."""
    from thermokit.case.walk import leaves

    return any(
        isinstance(leaf.value, Find) or np.ndim(leaf.value) > 0
        for leaf in leaves(case)
        if leaf.path[0] in ("part", "mould", "circuits") and not isinstance(leaf.value, (str, tuple))
    )
