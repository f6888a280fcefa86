"""Reading mould cases: values, outlines, what each mistake is told; drawings."""

from __future__ import annotations

import builtins
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from moulds import SMALL, TEXT, changed

from thermokit.case import load_case, parse_case, resolved_text, sought_path, template
from thermokit.case.mould_shape import flat_wall, shape_of, signed_area
from thermokit.errors import CaseError

ezdxf = pytest.importorskip("ezdxf")


def mistakes(text: str) -> dict[str, str]:
    """Where -> the whole lines of the mistakes there."""
    with pytest.raises(CaseError) as caught:
        parse_case(text, "x.toml")
    found: dict[str, str] = {}
    for mistake in caught.value.mistakes:
        found[mistake.where] = f"{found.get(mistake.where, '')}{mistake}\n"
    return found


def test_values_in_si_and_back() -> None:
    case: Any = parse_case(TEXT)
    assert case.part.thickness == pytest.approx(2.5e-3)
    assert case.circuits[0].flow == pytest.approx(9e-3 / 60.0)
    assert case.limits.ejection_centre == pytest.approx(368.15)
    assert sought_path(case) == "cycle.cooling"
    for text in (TEXT, template("mould"), SMALL):
        own = parse_case(text)
        assert parse_case(resolved_text(own)) == own


def test_outlines_of_a_ribbed_wall() -> None:
    """Areas by hand: the wall, two ribs (one tapered), the blocks less the part."""
    case: Any = parse_case(TEXT)
    shape = shape_of(case)
    part = 120.0 * 2.5 + 8.0 * (1.5 + 1.2) / 2.0 + 5.0 * 1.4
    assert 1e6 * shape.area == pytest.approx(part)
    assert 1e6 * signed_area(shape.cavity) == pytest.approx(180.0 * 55.0)
    assert 1e6 * signed_area(shape.core) == pytest.approx(180.0 * 65.0 - part)
    assert shape.wall == pytest.approx(2.5e-3)
    # a row stands in the middle of the part, and core channels count from the wall's upper face
    assert [1e3 * hole.centre[0] for hole in shape.holes[:3]] == pytest.approx([24.0, 60.0, 96.0])
    assert all(1e3 * hole.centre[1] == pytest.approx(-16.0) for hole in shape.holes[:3])
    assert 1e3 * shape_of(parse_case(SMALL)).holes[-1].centre[1] == pytest.approx(15.0)  # type: ignore[arg-type]
    # each half has its back and two sides in the air
    assert sorted(name for name, _, _ in shape.outside) == [
        f"{side}_outside_{n}" for side in ("cavity", "core") for n in (1, 2, 3)
    ]


def test_a_dish_is_parted_where_the_case_says() -> None:
    corners = [(0, 0), (60, 0), (60, 20), (57, 20), (57, 3), (3, 3), (3, 20), (0, 20)]
    outline = ", ".join(f'["{x} mm", "{y} mm"]' for x, y in corners)
    text = changed(
        SMALL,
        ('length = "60 mm"', f'outline = [{outline}]\nparting = "20 mm"'),
        ('thickness = "3 mm"\n', ""),
        ('height = "30 mm"', 'height = "60 mm"'),
    )
    text = changed(text, ('side = "core"', 'side = "core"\ncentres = [["30 mm", "20 mm"]]'))
    head, tail = text.split('side = "core"')
    for word in ("depth", "pitch", "count"):
        tail = "\n".join(line for line in tail.split("\n") if not line.startswith(word))
    shape = shape_of(parse_case(head + 'side = "core"' + tail))  # type: ignore[arg-type]
    dish = 60.0 * 20.0 - 54.0 * 17.0
    assert 1e6 * signed_area(shape.cavity) == pytest.approx(80.0 * 60.0 - 60.0 * 20.0)
    assert 1e6 * signed_area(shape.core) == pytest.approx(80.0 * 60.0 + 60.0 * 20.0 - dish)
    assert shape.wall == pytest.approx(2.0 * dish * 1e-6 / (2.0 * (60.0 + 20.0) * 1e-3 + 2.0 * 17.0e-3))


def test_flat_wall_without_ribs_is_a_rectangle() -> None:
    assert flat_wall(0.1, 0.002, ()) == pytest.approx(np.array([[0, 0], [0.1, 0], [0.1, 0.002], [0, 0.002]]))


@pytest.mark.parametrize(
    ("old", "new", "where", "says"),
    [
        ('pitch = "20 mm"', 'pitch = "7 mm"', "circuits.0", "overlaps channel"),
        ('depth = "12 mm"', 'depth = "3 mm"', "circuits.0", 'touches the outline of "part"'),
        ('depth = "12 mm"', 'depth = "28 mm"', "circuits.0", 'touches the outline of "cavity"'),
        ('depth = "12 mm"', 'depth = "50 mm"', "circuits.0", "outside all regions"),
        ('flow = "8 L/min"', 'flow = "0 L/min"', "circuits.0.flow", "out of range"),
        ('temperature = "20 degC"', 'temperature = "95 degC"', "circuits.0.temperature", "never cool"),
        ('temperature = "20 degC"', 'temperature = "-5 degC"', "circuits.0.temperature", "known from 0"),
        ('pitch = "20 mm"\n', "", "circuits.0.pitch", "missing"),
        ('depth = "12 mm"\n', "", "circuits.0.depth", "missing"),
        ('width = "80 mm"', 'width = "50 mm"', "mould.width", "not wider"),
        ('hold = "3 s"\n', "", "cycle.hold", "no gate"),
        ('length = "60 mm"\n', "", "part.length", "missing"),
        ('ejection_centre = "90 degC"', 'ejection_centre = "240 degC"', "limits.ejection_centre", "not below the melt"),
        ('width = "100 mm"', 'parting = "9 mm"', "part.parting", "passes the part by"),
        ('side = "core"', 'side = "cavity"', "circuits.1", "overlaps"),
        (
            'width = "100 mm"\n', '[[part.ribs]]\nposition = "59 mm"\nthickness = "3 mm"\nheight = "4 mm"\n',
            "part.ribs.0.position", "over the part's end",
        ),
        (
            'length = "60 mm"', 'outline = [["0 mm","0 mm"],["60 mm","3 mm"],["60 mm","0 mm"],["0 mm","3 mm"]]',
            "part.outline", "crosses",
        ),
        (
            "[mould.cavity]", '[[mould.inserts]]\nname = "i"\nmaterial = "copper"\ncorner = ["10 mm", "1 mm"]\n'
            'size = ["20 mm", "9 mm"]\n[mould.cavity]', "mould.inserts.0", "partly inside",
        ),
        (
            "[mould.cavity]", '[[mould.inserts]]\nname = "core"\nmaterial = "copper"\ncorner = ["10 mm", "5 mm"]\n'
            'size = ["20 mm", "9 mm"]\n[mould.cavity]', "mould.inserts.0.name", "region of every mould",
        ),
    ],
)  # fmt: skip
def test_mistakes_stand_at_what_is_to_blame(old: str, new: str, where: str, says: str) -> None:
    found = mistakes(changed(SMALL, (old, new)))
    assert where in found, found
    assert says in found[where]


# -- drawings ----------------------------------------------------------------------------------------------------------

DRAWN = changed(
    SMALL,
    ('length = "60 mm"\n', ""),
    ('process = "mould"\n', 'process = "mould"\ndrawing = "tray.dxf"\n'),
    ('diameter = "8 mm"\ndepth = "12 mm"\npitch = "20 mm"\ncount = 3\n', ""),
)


def draw(folder: Path, units: int = 4, scale: float = 1.0, spoil: Any = None, name: str = "tray.dxf") -> Path:
    """The section of SMALL as a drawing, and a case that names it."""
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = units
    space = document.modelspace()
    corners = [(0, 0), (60, 0), (60, 3), (0, 3)]
    space.add_lwpolyline([(scale * x, scale * y) for x, y in corners], close=True, dxfattribs={"layer": "PART"})
    for x in (10, 30, 50):
        for layer, y in (("cavity", -12), ("core", 15)):
            space.add_circle((scale * x, scale * y), scale * 4, dxfattribs={"layer": layer})
    if spoil is not None:
        spoil(space)
    document.saveas(folder / name)
    file = folder / "tray.toml"
    file.write_text(DRAWN, encoding="utf-8")
    return file


@pytest.mark.parametrize(("units", "scale"), [(4, 1.0), (5, 0.1), (6, 1e-3), (1, 1.0 / 25.4)])
def test_a_drawing_is_what_the_case_would_say(tmp_path: Path, units: int, scale: float) -> None:
    # circuits have the names of the halves here: circles on those layers are channels
    case: Any = load_case(draw(tmp_path, units, scale))
    drawn, written = shape_of(case), shape_of(parse_case(SMALL))  # type: ignore[arg-type]
    assert drawn.part == pytest.approx(written.part, abs=1e-9)
    assert [hole.name for hole in drawn.holes] == [hole.name for hole in written.holes]
    for one, other in zip(drawn.holes, written.holes, strict=True):
        assert one.centre == pytest.approx(other.centre, abs=1e-9)
        assert one.diameter == pytest.approx(other.diameter, abs=1e-9)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda s: s.add_line((0, 0), (9, 0), dxfattribs={"layer": "part"}), "a line (handle"),
        (lambda s: s.add_arc((5, 6), 3, 0, 90, dxfattribs={"layer": "part"}), "at 5, 6 mm"),
        (lambda s: s.add_spline([(0, 0), (5, 5), (9, 0)], dxfattribs={"layer": "core"}), "a spline"),
        (lambda s: s.add_lwpolyline([(0, 9), (5, 9), (5, 12)], dxfattribs={"layer": "part"}), "an open polyline"),
        (
            lambda s: s.add_lwpolyline([(0, 9, 0.3), (5, 9, 0), (5, 12, 0)], "xyb", close=True, dxfattribs={"layer": "part"}),
            "with arcs",
        ),
        (lambda s: s.add_lwpolyline([(0, 9), (5, 9), (5, 12)], close=True, dxfattribs={"layer": "part"}), "second outline"),
        (lambda s: s.add_circle((0, 9), 2, dxfattribs={"layer": "part"}), "circles stand on the layers of circuits"),
    ],
)  # fmt: skip
def test_what_is_no_outline_is_named(tmp_path: Path, spoil: Any, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        load_case(draw(tmp_path, spoil=spoil))
    text = str(caught.value)
    assert says in text
    assert "layer" in text


def test_units_must_be_said(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="INSUNITS"):
        load_case(draw(tmp_path, units=0))


def test_other_layers_are_not_looked_at(tmp_path: Path) -> None:
    plain = load_case(draw(tmp_path))
    noted = load_case(draw(tmp_path, spoil=lambda s: s.add_line((0, 0), (9, 0), dxfattribs={"layer": "notes"})))
    assert noted == plain


@pytest.mark.parametrize(
    ("name", "says"),
    [("../other.dxf", "outside the case's folder"), ("/etc/hosts", "outside the case's folder"), ("none.dxf", "no such file")],
)  # fmt: skip
def test_only_files_of_the_case_folder_are_opened(tmp_path: Path, name: str, says: str) -> None:
    folder = tmp_path / "inner"
    folder.mkdir()
    (tmp_path / "other.dxf").write_text("0\nEOF\n")
    file = draw(folder)
    file.write_text(changed(DRAWN, ("tray.dxf", name)), encoding="utf-8")
    with pytest.raises(CaseError, match=says):
        load_case(file)


def test_a_broken_file_is_said_plainly(tmp_path: Path) -> None:
    file = draw(tmp_path)
    (tmp_path / "tray.dxf").write_bytes(b"\x00\x01 this is no drawing")
    with pytest.raises(CaseError, match="cannot be read as DXF"):
        load_case(file)


def test_without_the_reader_a_plain_message(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = draw(tmp_path)
    real = builtins.__import__

    def refusing(name: str, *rest: Any, **more: Any) -> Any:
        if name.startswith("ezdxf"):
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", refusing)
    with pytest.raises(CaseError, match="not installed"):
        load_case(file)


def test_a_text_without_a_file_leaves_its_drawing_unread() -> None:
    from thermokit.processes import direct_of

    case: Any = parse_case(DRAWN)
    process: Any = direct_of(case)
    with pytest.raises(CaseError, match="was not read"):
        process.result(None, {})
