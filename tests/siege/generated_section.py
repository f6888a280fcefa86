"""Valid cases of kind ``section``: outlines of many shapes, holes that nearly touch walls, inserts, contacts, all sorts of faces.

A ``Sketch`` is a case before it is written: it can be moved, mirrored, turned, scaled, and written in other units. Coordinates are
whole hundredths of a millimetre, temperatures whole degrees Celsius, times whole milliseconds, so that every text is exact.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from hypothesis import strategies as st

from tests.siege.generated_drawing import (
    Corner,
    Outline,
    array_of,
    box,
    clearance,
    convex,
    holes,
    inside,
    mapped,
    millimetres,
    outlines,
    sides,
    signed_area,
)
from tests.siege.writing import case_text

#: conductivity [W/m/K], density [kg/m3], specific heat [J/kg/K]
STUFFS: dict[str, tuple[float, float, float]] = {
    "steel": (29.0, 7800.0, 460.0),
    "aluminium": (160.0, 2700.0, 900.0),
    "copper": (390.0, 8900.0, 385.0),
    "plastic": (0.19, 1050.0, 2000.0),
    "foam": (0.03, 50.0, 1500.0),
}
VARYING: dict[str, dict[str, Any]] = {
    "warming": {
        "conductivity": {"temperature": ["20 degC", "220 degC"], "value": ["0.2 W/m/K", "0.3 W/m/K"]},
        "density": "950 kg/m3",
        "specific_heat": "2000 J/kg/K",
    },
    "melting": {
        "conductivity": "0.22 W/m/K",
        "density": "905 kg/m3",
        "specific_heat": "2200 J/kg/K",
        "melting": {"heat": "90 kJ/kg", "from": "110 degC", "peak": "150 degC", "to": "165 degC"},
    },
}


@dataclass(frozen=True)
class Act:
    """One thing at a face: convection, contact (value: W/m2/K), radiation (emissivity), held (0), heating (W/m2); at [degC]."""

    what: str
    value: float
    at: int


@dataclass(frozen=True)
class Piece:
    name: str
    stuff: str
    outline: Outline
    start: int | None = None  # degC
    heat: int = 0  # W/m3


@dataclass(frozen=True)
class Hole:
    name: str
    x: int
    y: int
    diameter: int


@dataclass(frozen=True)
class Side:
    name: str
    start: Corner
    end: Corner


@dataclass(frozen=True)
class Stay:
    """A station: how long [ms], faces by name, and who is away."""

    milliseconds: int
    faces: dict[str, tuple[Act, ...]]
    absent: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sketch:
    pieces: tuple[Piece, ...]
    holes: tuple[Hole, ...]
    contacts: tuple[tuple[str, str, float], ...]
    sides: tuple[Side, ...]
    stays: tuple[Stay, ...]
    start: int
    axis: bool = False
    steady: bool = False
    accuracy: float = 1.0
    inner: dict[str, str] | None = None  # an insert -> the piece that it lies in

    def temperatures(self) -> tuple[int, int]:
        """The lowest and highest of all starts and surroundings [degC]."""
        found = [self.start, *(p.start for p in self.pieces if p.start is not None)]
        found += [a.at for stay in self.stays for acts in stay.faces.values() for a in acts if a.what != "heating"]
        return min(found), max(found)

    def surroundings(self) -> tuple[int, int]:
        found = [a.at for stay in self.stays for acts in stay.faces.values() for a in acts if a.what != "heating"]
        return min(found), max(found)

    def moved(self, by: Callable[[Corner], Corner]) -> Sketch:
        """The same drawing with every place mapped."""
        return replace(
            self,
            pieces=tuple(replace(p, outline=mapped(p.outline, by)) for p in self.pieces),
            holes=tuple(
                replace(h, x=c[0], y=c[1])
                for h, c in zip(self.holes, [by((h.x, h.y)) for h in self.holes], strict=True)
            ),
            sides=tuple(replace(s, start=by(s.start), end=by(s.end)) for s in self.sides),
        )

    def tree(self, write: Units | None = None) -> dict[str, Any]:
        """The case as nested dictionaries, for ``case_text``."""
        u = write or Units()
        used = sorted({p.stuff for p in self.pieces})
        section: dict[str, Any] = {
            "start": u.celsius(self.start),
            "symmetry": "axis" if self.axis else "plane",
            "steady": self.steady,
            "regions": [
                {"name": p.name, "material": p.stuff, "outline": [[u.length(x), u.length(y)] for x, y in p.outline]}
                | ({} if p.start is None else {"start": u.celsius(p.start)})
                | ({} if not p.heat else {"heat": f"{p.heat} W/m3"})
                for p in self.pieces
            ],
        }
        if self.holes:
            section["channels"] = [
                {"name": h.name, "centre": [u.length(h.x), u.length(h.y)], "diameter": u.length(h.diameter)}
                for h in self.holes
            ]
        if self.contacts:
            section["contacts"] = [{"between": [a, b], "coefficient": u.film(h)} for a, b, h in self.contacts]
        if self.sides:
            section["edges"] = [
                {"name": s.name, "from": [u.length(c) for c in s.start], "to": [u.length(c) for c in s.end]}
                for s in self.sides
            ]
        stations = []
        for stay in self.stays:
            one: dict[str, Any] = {} if self.steady else {"duration": u.time(stay.milliseconds)}
            if stay.absent:
                one["absent"] = list(stay.absent)
            one["faces"] = {name: _face(acts, u) for name, acts in stay.faces.items()}
            stations.append(one)
        return {
            "process": "section",
            "section": section,
            "materials": {name: stuff_of(name) for name in used},
            "stations": stations,
            "accuracy": {"temperature": f"{self.accuracy} K"},
        }

    def text(self, write: Units | None = None) -> str:
        return case_text(self.tree(write))


@dataclass(frozen=True)
class Units:
    """In which units a case is written: mm, cm or m; degC or K; s, ms or min where a whole number of them."""

    lengths: str = "mm"
    kelvin: bool = False
    seconds: str = "s"
    kilo: bool = False

    def length(self, hundredths: int) -> str:
        if self.lengths == "mm":
            return f"{millimetres(hundredths)} mm"
        places = {"cm": 3, "m": 5, "um": -1}[self.lengths]
        if places < 0:
            return f"{hundredths * 10} um"
        sign, digits = ("-" if hundredths < 0 else ""), str(abs(hundredths)).rjust(places + 1, "0")
        return f"{sign}{digits[:-places]}.{digits[-places:]} {self.lengths}"

    def celsius(self, degrees: int) -> str:
        return f"{degrees + 273}.15 K" if self.kelvin else f"{degrees} degC"

    def time(self, milliseconds: int) -> str:
        if self.seconds == "ms":
            return f"{milliseconds} ms"
        return f"{milliseconds // 1000}.{milliseconds % 1000:03d} s"

    def film(self, value: float) -> str:
        return f"{value / 1000.0!r} kW/m2/K" if self.kilo else f"{value!r} W/m2/K"


def stuff_of(name: str) -> dict[str, Any]:
    if name in VARYING:
        return VARYING[name]
    k, rho, c = STUFFS[name]
    return {"conductivity": f"{k} W/m/K", "density": f"{rho} kg/m3", "specific_heat": f"{c} J/kg/K"}


def _face(acts: tuple[Act, ...], u: Units) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for act in acts:
        if act.what == "held":
            out["temperature"] = u.celsius(act.at)
        elif act.what == "convection":
            out["convection"] = {"coefficient": u.film(act.value), "air": u.celsius(act.at)}
        elif act.what == "contact":
            out["contact"] = {"coefficient": u.film(act.value), "temperature": u.celsius(act.at)}
        elif act.what == "radiation":
            out["radiation"] = {"emissivity": act.value, "surround": u.celsius(act.at)}
        else:
            out["heating"] = f"{act.value} W/m2"
    return out


def films() -> st.SearchStrategy[float]:
    """Coefficients [W/m2/K] from still air to boiling water and beyond, of a few digits."""
    return st.builds(lambda mantissa, power: float(mantissa * 10**power), st.integers(1, 9), st.integers(0, 5))


@st.composite
def acts(draw: st.DrawFn, degrees: st.SearchStrategy[int], linear: bool = False) -> tuple[Act, ...]:
    kind = draw(st.sampled_from(["convection"] * 4 + ["contact", "held"] + ([] if linear else ["both"])))
    if kind == "held":
        return (Act("held", 0.0, draw(degrees)),)
    if kind == "both":
        return (
            Act("convection", draw(films()), draw(degrees)),
            Act("radiation", draw(st.sampled_from([0.05, 0.5, 0.9, 1.0])), draw(degrees)),
        )
    return (Act(kind, draw(films()), draw(degrees)),)


@st.composite
def sketches(
    draw: st.DrawFn,
    steady: bool = False,
    stuffs: tuple[str, ...] = (*STUFFS, *VARYING),
    linear: bool = False,
    axis: bool | None = None,
    away: bool = True,
    most_holes: int = 3,
    degrees: st.SearchStrategy[int] | None = None,
    surround: st.SearchStrategy[int] | None = None,
    own_starts: bool = True,
) -> Sketch:
    """A section without sources; at least one face takes heat, so that there is a steady state."""
    degrees = degrees if degrees is not None else st.integers(-20, 260)
    surround = surround if surround is not None else degrees
    host = draw(outlines())
    about_axis = draw(st.booleans()) if axis is None else axis
    if about_axis:
        off = draw(st.sampled_from([0, 0, 1, 350, 4000]))
        least = min(x for x, _ in host)
        host = mapped(host, lambda p: (p[0] - least + off, p[1]))
    pieces, inner = draw(_pieces(host, stuffs, degrees if own_starts else None))
    found = [
        h for h in draw(holes(host, most_holes))
        if all(p.outline is host or clearance(h[:2], p.outline) > 0.505 * h[2] for p in pieces)
    ]  # fmt: skip
    if about_axis:
        found = [h for h in found if h[0] - h[2] / 2.0 > 5.0]
    drilled = tuple(Hole(f"hole_{i}", *h) for i, h in enumerate(found))
    contacts = tuple(("host", p.name, draw(films())) for p in pieces[1:] if draw(st.booleans()))
    named = [
        Side(f"side_{i}", a, b) for i, (a, b) in enumerate(sides(host)) if draw(st.integers(0, 9)) < 7
    ]  # fmt: skip
    if about_axis:
        named = [s for s in named if s.start[0] > 0 or s.end[0] > 0]
    if len(pieces) > 1 and pieces[1].name == "part":
        (x0, _), (x1, _), (_, top), _ = pieces[1].outline
        named.append(Side("top", (x0, top), (x1, top)))
    first = next(s for s in sides(host) if not about_axis or s[0][0] > 0 or s[1][0] > 0)
    if not named and not drilled:
        named = [Side("side_0", *first)]
    names = [*(s.name for s in named), *(h.name for h in drilled)]
    removable = [p.name for p in pieces[1:] if p.name == "part"]
    stays = []
    for number in range(1 if steady else draw(st.integers(1, 3))):
        faces = {n: draw(acts(surround, linear)) for n in names if draw(st.booleans())}
        if not faces:
            faces = {names[0]: draw(acts(surround, linear))}
        gone = tuple(removable) if away and number and not steady and draw(st.booleans()) else ()
        stays.append(Stay(draw(st.sampled_from([20, 500, 3000, 30_000, 1_000_000])), faces, gone))
    return Sketch(pieces, drilled, contacts, tuple(named), tuple(stays), draw(degrees), about_axis, steady, inner=inner)


@st.composite
def _pieces(
    draw: st.DrawFn, host: Outline, stuffs: tuple[str, ...], degrees: st.SearchStrategy[int] | None
) -> tuple[tuple[Piece, ...], dict[str, str]]:
    """The host and what stands on it or lies in it."""

    def start() -> int | None:
        return draw(st.none() | degrees) if degrees is not None else None

    first = Piece("host", draw(st.sampled_from(stuffs)), host, start())
    pieces, inner = [first], {}
    kind = draw(st.sampled_from(["alone", "part", "insert", "flush", "shrunk"]))
    low, high = array_of(host).min(axis=0).astype(int), array_of(host).max(axis=0).astype(int)
    w, h = (int(v) for v in high - low)
    corners = set(host)
    is_box = corners == {(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])} and len(host) == 4
    other = draw(st.sampled_from(stuffs))
    if kind == "part" and is_box:
        left, right = draw(st.sampled_from([(0, 100), (10, 90), (0, 55), (30, 31)]))
        thick = draw(st.sampled_from([20, 150, 600, 2500]))
        outline = box(int(low[0]) + w * left // 100, int(high[1]), int(low[0]) + w * right // 100, int(high[1]) + thick)
        pieces.append(Piece("part", other, outline, start()))
    elif kind == "flush" and is_box:
        outline = box(int(low[0]) + w // 4, int(high[1]) - h // 3, int(low[0]) + w // 2, int(high[1]))
        pieces.append(Piece("insert", other, outline, start()))
        inner["insert"] = "host"
    elif kind in ("insert", "shrunk") and (convex(host) or is_box):
        middle = array_of(host).mean(axis=0)
        share = draw(st.sampled_from([0.1, 0.4, 0.7, 0.95]))
        if kind == "shrunk":
            xy = middle + share * (array_of(host) - middle)
        else:
            turn = np.radians(draw(st.integers(0, 44)))
            room = clearance(tuple(middle), host) * share
            angle = turn + np.pi / 2 * np.arange(4)
            xy = middle + room * np.column_stack([np.cos(angle), np.sin(angle)])
        outline = tuple((round(float(x)), round(float(y))) for x, y in xy)
        apart = len(set(outline)) == len(outline) and min(clearance(p, host) for p in outline) > 5.0
        if apart and abs(signed_area(outline)) > 1e4 and inside(array_of(outline), host).all():
            pieces.append(Piece("insert", other, outline, start()))
            inner["insert"] = "host"
    return tuple(pieces), inner
