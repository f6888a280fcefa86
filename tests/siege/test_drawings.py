"""Drawings that no one should draw: refused with a message that names the place, or meshed within bounds; never a traceback.

Outlines at random (self-crossing, repeated corners, no area, a thousand corners, details of a nanometre beside ten kilometres),
holes that overlap, lie outside or touch, and DXF files that are broken in every way.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from tests.siege.profiles import sieged
from tests.siege.writing import case_text
from thermokit.case import load_case, parse_case
from thermokit.conduction.section_mesh import MOST_NODES, mesh_section
from thermokit.errors import CaseError, SolveError
from thermokit.processes.mould import MouldProcess
from thermokit.processes.section import SectionProcess

LONGEST = 5_000  # characters of a message


def metres() -> st.SearchStrategy[float]:
    """Lengths between the allowed bounds of +-10 km, most of them few digits of a millimetre, some next to another."""
    return st.one_of(
        st.integers(-20, 20).map(lambda n: n * 1e-3),
        st.integers(-3, 3).map(lambda n: n * 1e-3 + 1e-9),
        st.sampled_from([0.0, 1e-9, -1e-9, 1e-12, 1e4, -1e4, 1.0, 1e-7, 0.01, 0.0100000001]),
        st.floats(-1e4, 1e4, allow_nan=False),
        st.floats(-0.1, 0.1, allow_nan=False),
    )


@st.composite
def rings(draw: st.DrawFn) -> list[tuple[float, float]]:
    """An outline of any sort: points at random, a regular one with a thousand corners, a needle, a spiral, a double loop."""
    kind = draw(st.sampled_from(["points", "points", "points", "many", "needle", "twice", "spiral", "grid", "shape"]))
    if kind == "points":
        return draw(st.lists(st.tuples(metres(), metres()), min_size=3, max_size=12))
    count = draw(st.integers(3, 400))
    angle = 2.0 * np.pi * np.arange(count) / count
    size = draw(st.sampled_from([1e-6, 0.01, 0.2, 5e3]))
    if kind == "many":
        ring = np.column_stack([np.cos(angle), np.sin(angle)]) * size
    elif kind == "twice":
        ring = np.column_stack([np.cos(2 * angle), np.sin(2 * angle)]) * size
    elif kind == "needle":
        ring = np.array([[0.0, 0.0], [size, draw(metres()) * 1e-6], [2.0 * size, 0.0]])
    elif kind == "spiral":
        half = np.linspace(0.0, 2.0 * np.pi * draw(st.integers(1, 3)), 60)
        out = np.column_stack([np.cos(half), np.sin(half)]) * (0.2 + half)[:, None]
        ring = np.concatenate([out, 0.8 * out[::-1]]) * size / 10.0
    elif kind == "grid":
        steps = draw(st.lists(st.tuples(st.integers(-3, 3), st.integers(-3, 3)), min_size=3, max_size=14))
        ring = np.array(steps, float) * size
    else:
        ring = np.array(
            [[0, 0], [size, 0], [size, size], [size * (0.5 + 1e-8), size], [size / 2, size * 1.1], [0, size]]
        )
    return [(float(x), float(y)) for x, y in ring[:: draw(st.sampled_from([1, -1]))]]


@st.composite
def drawings(draw: st.DrawFn) -> dict[str, Any]:
    """A section case from outlines and holes that hardly ever fit each other."""
    outlines = draw(st.lists(rings(), min_size=1, max_size=3))
    block = [(0.0, 0.0), (0.05, 0.0), (0.05, 0.03), (0.0, 0.03)]
    if draw(st.booleans()):
        outlines.insert(0, block)
    holes = draw(
        st.lists(
            st.tuples(metres(), metres(), st.sampled_from([1e-9, 1e-4, 0.004, 0.01, 0.029999, 0.03, 1e4])), max_size=3
        )
    )
    if draw(st.booleans()):
        near = draw(st.sampled_from([1e-9, 1e-7, 1e-6, 1.1e-5, 1e-4, 1e-3]))
        holes.append((0.02, 0.015, 0.03 - 2.0 * near))
    corners = [p for outline in outlines for p in outline]
    pair = st.tuples(st.sampled_from(corners), st.sampled_from(corners))
    return {
        "process": "section",
        "section": {
            "start": "20 degC",
            "symmetry": draw(st.sampled_from(["plane", "axis"])),
            "regions": [
                {"name": f"r{k}", "material": "steel_mild", "outline": [[_m(x), _m(y)] for x, y in outline]}
                for k, outline in enumerate(outlines)
            ],
            "channels": [
                {"name": f"c{k}", "centre": [_m(x), _m(y)], "diameter": _m(d)} for k, (x, y, d) in enumerate(holes)
            ],
            "edges": [
                {"name": f"e{k}", "from": [_m(c) for c in a], "to": [_m(c) for c in b]}
                for k, (a, b) in enumerate(draw(st.lists(pair, max_size=3)))
            ],
        },
        "stations": [{"duration": "1 s"}],
    }


def _m(value: float) -> str:
    return f"{value!r} m"


@sieged(60)
@given(drawings())
def test_any_drawing_is_refused_in_words_or_meshed_within_bounds(tree: dict[str, Any]) -> None:
    try:
        case = parse_case(case_text(tree))
    except CaseError as wrong:
        event("refused by the case")
        assert 0 < len(str(wrong)) < LONGEST and wrong.mistakes and "nan" not in str(wrong).split()
        return
    try:
        mesh = mesh_section(SectionProcess(case).problem(), 0.25)
    except SolveError as wrong:
        event("refused by the mesh")
        assert "could not be meshed" in str(wrong) and len(str(wrong)) < LONGEST
        return
    event("meshed")
    assert len(mesh.x) <= MOST_NODES and np.isfinite(mesh.x).all() and np.isfinite(mesh.y).all()


# -- drawings in files ----------------------------------------------------------------------------------------------------

CASE = """\
process = "mould"
drawing = "it.dxf"
[part]
material = "pp"
melt = "230 degC"
width = "100 mm"
[[circuits]]
name = "water"
side = "cavity"
temperature = "20 degC"
flow = "8 L/min"
length = "100 mm"
[cycle]
hold = "3 s"
cooling = "15 s"
"""


def sound(unit: int = 4) -> Any:
    """A part of 60 x 3 mm between two halves, with three channels."""
    document = ezdxf.new(units=unit)
    space = document.modelspace()
    for layer, (x0, y0, x1, y1) in (("part", (0, 0, 60, 3)), ("cavity", (-20, -30, 80, 0)), ("core", (-20, 0, 80, 33))):
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        if layer == "core":
            corners = [(-20, 0), (0, 0), (0, 3), (60, 3), (60, 0), (80, 0), (80, 33), (-20, 33)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    for x in (10, 30, 50):
        space.add_circle((x, -12), 4, dxfattribs={"layer": "water"})
    return document


def bytes_of(document: Any) -> bytes:
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


@pytest.fixture(scope="module")
def whole() -> bytes:
    return bytes_of(sound())


def read(folder: Path, data: bytes) -> str:
    """What is said of a drawing: "" where it was read, and then its outlines were drawn."""
    (folder / "case.toml").write_text(CASE, encoding="utf-8")
    (folder / "it.dxf").write_bytes(data)
    try:
        case = load_case(str(folder / "case.toml"))
        _ = MouldProcess(case).shape
    except CaseError as wrong:
        assert 0 < len(str(wrong)) < LONGEST and wrong.mistakes
        return str(wrong)
    return ""


def test_the_sound_drawing_is_read(tmp_path: Path, whole: bytes) -> None:
    assert read(tmp_path, whole) == ""


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        (0, "no unit"), (2, "no unit"), (13, "no unit"), (5, ""), (1, ""),
        (6, ""),  # 60 m wide: absurd, but what it says
    ],
)  # fmt: skip
def test_wrong_units(tmp_path: Path, unit: int, words: str) -> None:
    said = read(tmp_path, bytes_of(sound(unit)))
    assert words in said and bool(words) == bool(said)


@sieged(30)
@given(data=st.data())
def test_a_drawing_broken_anywhere_is_told_or_read(
    data: st.DataObject, whole: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Bytes changed, cut out, doubled or put in; the end cut off; group codes and numbers changed."""
    kind = data.draw(st.sampled_from(["flip", "cut", "end", "double", "numbers", "lines", "insert"]))
    at = data.draw(st.integers(0, len(whole) - 1))
    if data.draw(st.booleans()):
        at = whole.index(b"LWPOLYLINE") + at % 2500  # in the entities rather than in the tables before them
    if kind == "flip":
        broken = bytearray(whole)
        for k in range(data.draw(st.integers(1, 20))):
            broken[(at + 37 * k) % len(whole)] = data.draw(st.integers(0, 255))
        made = bytes(broken)
    elif kind == "cut":
        made = whole[:at] + whole[at + data.draw(st.integers(1, 3000)) :]
    elif kind == "end":
        made = whole[:at]
    elif kind == "double":
        made = whole[:at] + whole[at - min(at, 400) :]
    elif kind == "insert":
        made = whole[:at] + data.draw(st.binary(min_size=1, max_size=200)) + whole[at:]
    else:
        lines = whole.split(b"\n")
        k = whole[:at].count(b"\n")
        if kind == "numbers":
            bad = [b"nan", b"inf", b"-1e308", b"1e400", b"0", b"1e-320", b"999999999999999999999", b"text", b"", b"-4"]
            for n in range(k, min(k + data.draw(st.integers(1, 12)), len(lines))):
                lines[n] = data.draw(st.sampled_from(bad))
        else:
            del lines[k : k + data.draw(st.integers(1, 5))]
        made = b"\n".join(lines)
    said = read(tmp_path_factory.mktemp("dxf"), made)
    event(f"{kind}: {'told' if said else 'read'}")


@pytest.mark.parametrize(
    "name",
    [
        "blocks",
        "cube",
        "arc",
        "spline",
        "text",
        "far",
        "crossing",
        "nan",
        "thousands",
        "twice",
        "swapped",
        "empty",
        "binary",
    ],
)
def test_drawings_with_what_is_not_meant(tmp_path: Path, name: str) -> None:
    document = sound()
    space = document.modelspace()
    layer = {"layer": "part"}
    for entity in list(space.query('*[layer=="part"]')) if name not in ("blocks", "text", "far", "binary") else []:
        space.delete_entity(entity)
    if name == "blocks":  # nested, one in the other, with the outline inside
        inner = document.blocks.new("inner")
        inner.add_lwpolyline([(0, 0), (1, 0), (1, 1)], close=True, dxfattribs=layer)
        for k in range(20):
            block = document.blocks.new(f"b{k}")
            block.add_blockref("inner" if k == 0 else f"b{k - 1}", (0, 0), dxfattribs=layer)
        space.add_blockref("b19", (3, 4), dxfattribs=layer)
    elif name == "cube":
        space.add_3dface([(0, 0, 0), (60, 0, 0), (60, 3, 9), (0, 3, 9)], dxfattribs=layer)
        space.add_polyline3d([(0, 0, 0), (60, 0, 5), (60, 3, 9)], close=True, dxfattribs=layer)
    elif name == "arc":
        space.add_lwpolyline([(0, 0, 0, 0, 0.4), (60, 0), (60, 3), (0, 3)], close=True, dxfattribs=layer)
    elif name == "spline":
        space.add_spline([(0, 0), (60, 0), (60, 3)], dxfattribs=layer)
    elif name == "text":
        space.add_text("part " * 5000, dxfattribs=layer)
    elif name == "far":
        space.add_circle((1e300, -1e300), 1e300, dxfattribs={"layer": "water"})
    elif name == "crossing":
        space.add_lwpolyline([(0, 0), (60, 3), (60, 0), (0, 3)], close=True, dxfattribs=layer)
    elif name == "nan":
        space.add_lwpolyline([(0, 0), (60, float("nan")), (60, 3), (0, 3)], close=True, dxfattribs=layer)
    elif name == "thousands":
        x = np.linspace(0.0, 60.0, 2500)
        ring = [*zip(x, 0.001 * (np.arange(2500) % 2), strict=True), (60.0, 3.0), (0.0, 3.0)]
        space.add_lwpolyline(ring, close=True, dxfattribs=layer)
    elif name == "twice":
        for shift in (0, 1):
            space.add_lwpolyline([(shift, 0), (60, 0), (60, 3), (shift, 3)], close=True, dxfattribs=layer)
    elif name == "swapped":
        for entity in space:
            entity.dxf.layer = {"cavity": "core", "core": "cavity"}.get(entity.dxf.layer, entity.dxf.layer)
    if name == "binary":
        stream = io.BytesIO()
        document.write(stream, fmt="bin")
        assert read(tmp_path, stream.getvalue()) == ""  # the same drawing in the format's binary form
        return
    said = read(tmp_path, b"" if name == "empty" else bytes_of(document))
    assert bool(said) != (name == "thousands")  # a part with 2500 steps is one that can be drawn
