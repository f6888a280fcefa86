"""What the section solver is given: regions of a plane or axisymmetric section, round channels, and spans of time.

Everything is SI and kelvin. Media and faces are those of :mod:`thermokit.conduction.problem`; faces are named here, since a
section has many. This room knows nothing of plastics.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from thermokit.conduction.problem import Face

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Medium, Varying

    Array = NDArray[np.float64]
    Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Region:
    """A closed polygon of one medium; one that lies wholly inside another owns its place.

    outline : (corners, 2) [m], not repeated at the end, either way round; start [K]; heat : source [W/m3], its time runs
    from the start of the run.
    """

    name: str
    outline: Array
    medium: Medium
    start: float
    heat: Varying = 0.0


@dataclass(frozen=True)
class Channel:
    """A round hole: centre (x, y) and diameter [m]."""

    name: str
    centre: tuple[float, float]
    diameter: float


@dataclass(frozen=True)
class Edge:
    """A name for the boundary that lies on the straight run between two points [m].

    It may lie on the outside or on what a region that is absent for a while leaves bare; there its face counts only while
    that region is away.
    """

    name: str
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True)
class Touch:
    """Two regions touch with a conductance [W/m2/K]; regions of which none is named touch perfectly."""

    between: tuple[str, str]
    conductance: Varying


@dataclass(frozen=True)
class SectionSpan:
    """A stretch of time with the same faces.

    faces : by the name of an edge or channel (a face left out is insulated); absent : names of regions that are not there
    (one that comes back begins with its start); touches : conductances of this span, by the pair as in ``Touch.between``,
    instead of those of the problem.
    """

    duration: float
    faces: Mapping[str, Face] = field(default_factory=dict)
    absent: frozenset[str] = frozenset()
    touches: Mapping[tuple[str, str], Varying] = field(default_factory=dict)
    name: str = ""


@dataclass(frozen=True)
class SectionProblem:
    """A section and the spans it passes through.

    axisymmetric : x is the radius, and heat is per radian x 2 pi (J of the whole ring); else heat is J per metre of depth.
    """

    regions: tuple[Region, ...]
    spans: tuple[SectionSpan, ...]
    channels: tuple[Channel, ...] = ()
    edges: tuple[Edge, ...] = ()
    touches: tuple[Touch, ...] = ()
    axisymmetric: bool = False

    @property
    def face_names(self) -> tuple[str, ...]:
        """Names of edges and channels, in the order in which meshes number them."""
        return (*(edge.name for edge in self.edges), *(channel.name for channel in self.channels))

    @property
    def removable(self) -> frozenset[str]:
        """Names of the regions that are absent in some span."""
        return frozenset().union(*(span.absent for span in self.spans))


@dataclass(frozen=True)
class SectionMesh:
    """Triangles that fit the outlines and circles of a section; values live at the nodes.

    x, y : (nodes,) [m]; triangles : (cells, 3) nodes, counter-clockwise; region : (cells,) index of the region.
    Nodes are shared where regions touch perfectly, and doubled (same place, one node a region) where a ``Touch`` is named or one
    of the two can be absent.

    sides : (sides, 2) nodes of the outside and of channel walls, the material on the left; side_region : (sides,);
    side_face : (sides,) index into ``face_names``, -1 where no name lies on it.
    joints : (joints, 4) nodes (a1, a2, b1, b2) of what lies between two regions with doubled nodes, a1 at the place of b1,
    region a on the left; joint_regions : (joints, 2); joint_face : (joints,) the face that counts while one is absent, -1.
    """

    x: Array
    y: Array
    triangles: Whole
    region: Whole
    sides: Whole
    side_region: Whole
    side_face: Whole
    joints: Whole
    joint_regions: Whole
    joint_face: Whole


@dataclass(frozen=True)
class PlaceOfExtreme:
    """The highest or lowest temperature: value [K], time [s], place [m] and the name of its region."""

    value: float
    time: float
    x: float
    y: float
    region: str


def insulated() -> Face:
    """A face through which nothing flows."""
    return Face()
