"""A shot in a mould as spans of the section solver: packed, shrunk on, open; and what touches and what is bare in each.

A shot begins when the mould is full: the part is then at its melt temperature. The open mould, shut again and filled, is one
span without the part, its faces in the shop's air.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from thermokit.conduction.problem import Exchange, Face
from thermokit.conduction.section_mesh_pieces import pieces_of
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionProblem, SectionSpan, Touch

if TYPE_CHECKING:
    from thermokit.case.mould import MouldCase
    from thermokit.case.mould_shape import MouldShape
    from thermokit.conduction.problem import Medium

APART = 1e-3  # W/m2/K between the halves of an open mould: no heat to speak of
SPANS = ("hold", "cooling", "open")
FACES = ("cavity_face", "core_face")


@dataclass(frozen=True)
class ShotTimes:
    """Times of a shot [s]: hold and cooling with the part in the mould, then open and filling without it."""

    hold: float
    cooling: float
    empty: float

    @property
    def closed(self) -> float:
        """From full to opening."""
        return self.hold + self.cooling

    @property
    def cycle(self) -> float:
        """The whole shot."""
        return self.closed + self.empty


def mould_problem(
    case: MouldCase,
    shape: MouldShape,
    medium: Callable[[str], Medium],
    times: ShotTimes,
    films: Mapping[str, tuple[float, float]],
    start: float,
) -> SectionProblem:
    """One shot.

    medium : what a material of that name is, for the solver;
    films : channel -> (coefficient [W/m2/K] by the drilled wall, temperature of the coolant [K]); start : of the mould [K].
    """
    regions = [
        Region("part", shape.part, medium(case.part.material), float(case.part.melt)),
        Region("cavity", shape.cavity, medium(case.mould.cavity.material), start),
        Region("core", shape.core, medium(case.mould.core.material), start),
        *(
            Region(name, outline, medium(entry.material), start)
            for (name, outline), entry in zip(shape.inserts, case.mould.inserts, strict=True)
        ),
    ]
    edges = [Edge(*run) for run in shape.outside]
    bare = []
    for face, chain in zip(FACES, (shape.cavity_face, shape.core_face), strict=True):
        for i, (a, b) in enumerate(pairwise(chain), start=1):
            bare.append(Edge(f"{face}_{i}", (float(a[0]), float(a[1])), (float(b[0]), float(b[1]))))
    air = Face(exchange=(Exchange(float(case.air.coefficient), float(case.air.temperature)),))
    always = {edge.name: air for edge in edges} | {
        name: Face(exchange=(Exchange(h, temperature),)) for name, (h, temperature) in films.items()
    }
    meeting = meeting_of(regions)
    metals = [region.name for region in regions[1:] if frozenset(("part", region.name)) in meeting]
    parting = [Touch(("cavity", "core"), float(case.mould.parting_contact))]
    parting = [touch for touch in parting if frozenset(touch.between) in meeting]

    def touching(contact: float) -> dict[tuple[str, str], Any]:
        return {("part", metal): contact for metal in metals}

    packed, shrunk = float(case.mould.packed_contact), float(case.mould.shrunk_contact)
    spans = (
        SectionSpan(times.hold, always, touches=touching(packed), name="hold"),
        SectionSpan(times.cooling, always, touches=touching(shrunk), name="cooling"),
        SectionSpan(
            times.empty,
            always | {edge.name: air for edge in bare},
            absent=frozenset({"part"}),
            touches={touch.between: APART for touch in parting},
            name="open",
        ),
    )
    touches = [
        *(Touch(pair, packed) for pair in touching(packed)),
        *parting,
        *(touch for touch in _of_inserts(case) if frozenset(touch.between) in meeting),
    ]
    holes = tuple(Channel(hole.name, hole.centre, hole.diameter) for hole in shape.holes)
    return SectionProblem(tuple(regions), spans, holes, (*edges, *bare), tuple(touches))


def meeting_of(regions: Sequence[Region]) -> set[frozenset[str]]:
    """The pairs of regions that have a run of their outlines in common."""
    pieces = pieces_of(regions, ())
    return {
        frozenset((regions[a].name, regions[b].name))
        for a, b in zip(pieces.left.tolist(), pieces.right.tolist(), strict=True)
        if a >= 0 and b >= 0 and a != b
    }


def _of_inserts(case: MouldCase) -> list[Touch]:
    """Contacts of inserts with both halves, where they are not perfect."""
    return [
        Touch((half, entry.name), float(entry.contact))
        for entry in case.mould.inserts
        if entry.contact is not None
        for half in ("cavity", "core")
    ]
