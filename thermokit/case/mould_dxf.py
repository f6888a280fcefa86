"""The section of a mould from a DXF drawing: closed polylines and circles on named layers, nothing else.

Layers (upper or lower case): ``part``, ``cavity`` and ``core`` (both or neither), one named as each insert, and one named as
each circuit whose circles are its channels. Other layers are not looked at. The header must say the unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.case.mistakes import At
    from thermokit.case.mould import MouldCase

    Array = NDArray[np.float64]

MOST_BYTES = 20_000_000
MOST_CORNERS = 5_000  # of one outline
UNITS = {1: ("inches", 0.0254), 4: ("millimetres", 1e-3), 5: ("centimetres", 1e-2), 6: ("metres", 1.0)}
BLOCKS = ("part", "cavity", "core")
_WANTED = "closed polylines with straight sides, and circles"
_CLOSE = 1e-6  # m, a polyline whose ends are nearer than this is closed


@dataclass(frozen=True, eq=False)
class Drawing:
    """What a drawing shows: outlines by layer, (corners, 2) [m]; circles by layer, (centre, diameter) [m] each."""

    outlines: dict[str, Array]
    circles: dict[str, list[tuple[tuple[float, float], float]]]


def read_drawing(case: MouldCase, file: str, at: At) -> Drawing | None:
    """The drawing of a case whose own file is ``file``; mistakes are told to ``at``, then the answer is None."""
    path = _inside(str(case.drawing), file, at)
    if path is None:
        return None
    document = _document(path, at)
    if document is None:
        return None
    unit = UNITS.get(int(document.header.get("$INSUNITS", 0)))
    if unit is None:
        allowed = ", ".join(name for name, _ in UNITS.values())
        at.mistake(
            "its header says no unit that is known ($INSUNITS)", allowed, "set the drawing's units and save it again"
        )
        return None
    named = (*BLOCKS, *(e.name for e in case.mould.inserts), *(c.name for c in case.circuits))
    found = _Found({name.lower(): name for name in named}, {c.name for c in case.circuits}, unit[1], at)
    for entity in document.modelspace():
        try:
            found.take(entity)
        except Exception as wrong:  # as above: an entity of which something is missing is the file's mistake
            at.mistake(f"holds an entity that cannot be read: {str(wrong)[:120]}", _WANTED, "save it again")
    _check_whole(case, found, at)
    return None if at.report.found else Drawing(found.outlines, found.circles)


def _inside(name: str, file: str, at: At) -> Path | None:
    """The drawing's path, None where it does not lie in the case's folder or below."""
    folder = Path(file).resolve().parent
    try:
        path = (folder / name).resolve()
        good = path.is_relative_to(folder) and not Path(name).is_absolute()
        if good and path.is_file() and path.stat().st_size > MOST_BYTES:
            at.mistake("too large to be a section", f"up to {MOST_BYTES // 1_000_000} MB")
            return None
    except (OSError, ValueError, RuntimeError):  # the last of a link that leads to itself, up to Python 3.12
        good = False
    if not good:
        at.mistake("lies outside the case's folder", "a file in the folder of the case or below it")
        return None
    if not path.is_file():
        at.mistake("no such file", "a DXF file, by its path from the case's folder")
        return None
    return path


def _document(path: Path, at: At) -> Any:
    """The drawing as ezdxf reads it, None where it cannot be read."""
    try:
        from ezdxf.filemanagement import readfile
    except ImportError:
        at.mistake(
            "drawings are read by the package ezdxf, which is not installed", "",
            "install it (`pip install ezdxf`), or give outlines and centres in the case",
        )  # fmt: skip
        return None
    try:
        return readfile(str(path))
    except Exception as wrong:  # whatever a broken file does to the reader, the file is to blame
        at.mistake(f"cannot be read as DXF: {str(wrong)[:120]}", "a DXF file as a drawing program saves it")
        return None


class _Found:
    """Outlines and circles found so far; what is neither is told at once, with its handle, layer and place."""

    def __init__(self, names: dict[str, str], circuits: set[str], unit: float, at: At):
        self.names, self.circuits, self.unit, self.at = names, circuits, unit, at
        self.outlines: dict[str, Array] = {}
        self.circles: dict[str, list[tuple[tuple[float, float], float]]] = {}

    def take(self, entity: Any) -> None:
        """One entity of the drawing."""
        layer = self.names.get(str(entity.dxf.layer).lower()) if entity.dxf.hasattr("layer") else None
        if layer is None:
            return
        kind = entity.dxftype()
        if kind == "CIRCLE":
            self._circle(entity, layer)
        elif kind in ("LWPOLYLINE", "POLYLINE"):
            self._polyline(entity, layer)
        else:
            self._tell(entity, f"a {kind.lower()}", "join lines and arcs into a closed polyline with straight sides")

    def _circle(self, entity: Any, layer: str) -> None:
        centre = (float(entity.dxf.center.x) * self.unit, float(entity.dxf.center.y) * self.unit)
        if layer not in self.circuits:
            self._tell(entity, "a circle", "circles stand on the layers of circuits")
        else:
            self.circles.setdefault(layer, []).append((centre, 2.0 * float(entity.dxf.radius) * self.unit))

    def _polyline(self, entity: Any, layer: str) -> None:
        if entity.dxftype() == "LWPOLYLINE":
            rows = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
            closed = bool(entity.closed)
        elif entity.is_2d_polyline:
            rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
            closed = bool(entity.is_closed)
        else:
            self._tell(entity, "a polyline in space or a mesh", "draw the section in the plane")
            return
        points = np.array([row[:2] for row in rows], float).reshape(-1, 2) * self.unit
        if len(points) > 1 and np.hypot(*(points[0] - points[-1])) < _CLOSE:
            points, closed = points[:-1], True
        if len(points) > MOST_CORNERS:
            self._tell(entity, f"a polyline of {len(points)} corners", f"up to {MOST_CORNERS}: put fewer on its curves")
        elif not closed or len(points) < 3:
            self._tell(entity, "an open polyline", "close it")
        elif any(abs(row[2]) > 1e-9 for row in rows):
            self._tell(entity, "a polyline with arcs", "straight sides: put corners on the arc, 0.2 mm off it at most")
        elif layer in self.circuits and layer not in BLOCKS:
            self._tell(entity, "a polyline on the layer of a circuit", "channels are circles")
        elif layer in self.outlines:
            self._tell(entity, "a second outline on its layer", "one outline a layer")
        else:
            self.outlines[layer] = points

    def _tell(self, entity: Any, what: str, advice: str) -> None:
        handle = entity.dxf.handle
        self.at.mistake(f"{what} (handle {handle}, layer {entity.dxf.layer}{self._place(entity)})", _WANTED, advice)

    def _place(self, entity: Any) -> str:
        """Where an entity lies, in mm, as far as it says so."""
        for name in ("center", "start", "insert", "location"):
            point = entity.dxf.get(name) if entity.dxf.hasattr(name) else None
            if point is not None:
                return f", at {1e3 * self.unit * point[0]:.4g}, {1e3 * self.unit * point[1]:.4g} mm"
        if entity.dxftype() == "LWPOLYLINE" and len(entity):
            point = entity[0]
            return f", from {1e3 * self.unit * point[0]:.4g}, {1e3 * self.unit * point[1]:.4g} mm"
        control = getattr(entity, "control_points", None)
        if control is not None and len(control):
            return f", from {1e3 * self.unit * control[0][0]:.4g}, {1e3 * self.unit * control[0][1]:.4g} mm"
        return ""


def _check_whole(case: MouldCase, found: _Found, at: At) -> None:
    """The drawing has what the case leaves to it."""
    if at.report.found:
        return
    if "part" not in found.outlines and not case.part.outline and case.part.length is None:
        at.mistake("no closed outline on the layer part", "one closed polyline there")
    halves = [name for name in ("cavity", "core") if name in found.outlines]
    if len(halves) == 1:
        at.mistake(
            f"only {halves[0]} of the two halves is drawn", "both on their layers, or neither: then heights are used"
        )
    for i, circuit in enumerate(case.circuits):
        drawn, placed = circuit.name in found.circles, circuit.centres or circuit.depth is not None
        if not drawn and not placed:
            (at.root / "circuits" / i).mistake(
                f"no circle on the layer {circuit.name} of the drawing", "circles there, or depth or centres here"
            )
