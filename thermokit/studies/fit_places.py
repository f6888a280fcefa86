"""Where a couple sat: a face, a probe, a depth, a layer or tool, the joint of two layers; and its temperature in a batch.

A depth counts from the inner (upper) face on the scale that the body has first, as that of a probe does: in a sheet that is
drawn it moves with the sheet.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from thermokit import units
from thermokit.case.mistakes import nearest
from thermokit.conduction.course import Shown, cells_of, edges_of
from thermokit.conduction.watch import along
from thermokit.errors import CaseError, Mistake

if TYPE_CHECKING:
    from thermokit.conduction.course import Course
    from thermokit.conduction.follow_batch import BatchTravel
    from thermokit.conduction.problem import Array

INNER = ("inner_face", "upper_face", "top", "axis", "centre", "bore")
OUTER = ("outer_face", "lower_face", "bottom", "surface")


@dataclass(frozen=True)
class Place:
    """A place: words as the case has them; depth [m] of ``depth``, or from the inner side of ``layer`` (None: its mean);
    layer, other : names.
    """

    kind: Literal["inner", "outer", "depth", "layer", "joint"]
    words: str
    depth: float | None = None
    layer: str = ""
    other: str = ""


def place_of(text: str, case: Any, course: Course, where: str) -> Place:
    """The place that a text names; raises CaseError (at ``where``) with what there is."""
    words = text.strip()
    probes = {probe.name: float(probe.at) for probe in case.output.probes}
    layers = list(dict.fromkeys(layer.name for leg in course.legs for layer in leg.layers))
    if words in probes:
        return Place("depth", words, probes[words])
    if words in INNER or words in OUTER:
        return Place("inner" if words in INNER else "outer", words)
    if words in layers:
        return Place("layer", words, None, words)
    if "|" in words:
        one, _, two = (part.strip() for part in words.partition("|"))
        if one in layers and two in layers and _joined(course, one, two):
            return Place("joint", words, None, one, two)
    elif "@" in words:
        name, _, depth = (part.strip() for part in words.partition("@"))
        if name in layers and (found := _length(depth)) is not None and found <= _thickness(course, name):
            return Place("layer", words, found, name)
    elif (found := _length(words)) is not None:
        whole = float(edges_of(course)[-1].min())
        if 0.0 <= found <= whole * (1.0 + 1e-9):
            return Place("depth", words, min(found, whole))
        what = f'"{words}" lies outside the body of {units.format_(whole, "length", digits=4)}'
        raise CaseError(case.source.file, [Mistake(where, what, _allowed(layers, probes))])
    known = [*INNER[:2], *OUTER[:2], *probes, *layers]
    raise CaseError(
        case.source.file,
        [Mistake(where, f'"{words[:60]}" is no place of this case', _allowed(layers, probes), nearest(words, known))],
    )


def _allowed(layers: list[str], probes: Any) -> str:
    named = ", ".join([*probes, *layers])
    joints = f', "{layers[0]}|{layers[1]}"' if len(layers) > 1 else ""
    return (
        f'upper_face, lower_face, inner_face, outer_face, a depth such as "2 mm", {named}{joints}, "{layers[0]}@1 mm"'
    )


def _length(text: str) -> float | None:
    try:
        return units.parse(text, "length")
    except units.UnitError:
        return None


def _joined(course: Course, one: str, two: str) -> bool:
    """Whether a layer lies against another one, from the inside, in some leg."""
    for leg in course.legs:
        names = [layer.name for layer in leg.layers]
        if (one, two) in pairwise(names):
            return True
    return False


def _thickness(course: Course, name: str) -> float:
    layer = next(layer for leg in course.legs for layer in leg.layers if layer.name == name)
    return float(np.min(layer.thickness))


def series_at(places: list[Place], course: Course, travel: BatchTravel, times: Array) -> Array:
    """Temperatures at places, (cases, places, rows) [K], of a batch that kept these rows; NaN where a place is not there."""
    cases = len(travel.status)
    out = np.full((len(places), len(times), cases), np.nan)
    begun = np.zeros(cases)
    for i, run in enumerate(travel.runs):
        length = sum(np.broadcast_to(np.asarray(span.duration, float), (cases,)) for span in course.legs[i].spans)
        mine = times[:, None] <= (begun + length) * (1.0 + 1e-12)
        mine &= (times[:, None] > begun * (1.0 + 1e-12)) | (i == 0)
        shown = Shown(course, i, cases)
        for p, place in enumerate(places):
            found = _in_leg(place, shown, run, travel.edges, i == 0)
            if found is not None:
                out[p] = np.where(mine, found, out[p])
        begun = begun + length
    out[:, :, travel.status != 0] = np.nan
    return np.asarray(np.moveaxis(out, -1, 0))


def _in_leg(place: Place, shown: Shown, run: Any, edges: Array, first: bool) -> Array | None:
    """A place in one leg, (rows, cases); None where it is not there. first : the run begins with it."""
    temperature = run.temperature
    if place.kind in ("layer", "joint"):
        own = {layer.name: (layer, cells) for layer, cells in cells_of(shown.problem)}
        if place.layer not in own:
            return None
        layer, cells = own[place.layer]
        shares = np.asarray(layer.edges)
        if place.kind == "joint":
            other = own.get(place.other)
            if other is None or other[1].start != cells.stop:
                return None
            return _between(temperature, cells.stop, run.centres, layer.thickness, cells.start)
        if place.depth is None:
            return np.asarray(np.einsum("rci,c->ri", temperature[:, cells], np.diff(shares)))
        thickness = float(np.min(layer.thickness))
        centres = (shares[1:] + shares[:-1]) / 2.0 * thickness
        return _along(centres[:, None], temperature[:, cells], place.depth)
    if not len(shown.place):
        return None
    faces = {}
    for inner in (True, False):
        face = (run.inner_face if inner else run.outer_face) if shown.free(inner) else _covered_face(shown, run, inner)
        if first:  # a couple begins with what was there before the first station, not with what that does at once
            face = np.concatenate([temperature[:1, shown.place[0 if inner else -1]], face[1:]])
        faces[inner] = face
    if place.kind in ("inner", "outer"):
        return np.asarray(faces[place.kind == "inner"])
    profile = np.full((len(temperature), shown.cells, temperature.shape[2]), np.nan)
    profile[:, shown.target] = temperature[:, shown.place]
    whole = np.concatenate([faces[True][:, None], profile, faces[False][:, None]], axis=1)
    centres = (edges[1:] + edges[:-1]) / 2.0
    depth = np.concatenate([np.zeros((1, edges.shape[1])), centres, edges[-1:]])
    assert place.depth is not None
    return _along(depth, whole, place.depth)


def _between(temperature: Array, second: int, centres: Array, thickness: Any, first: int) -> Array:
    """Between the cells on both sides of a joint, by their distances from it; a couple there feels both."""
    edge = centres[first] - _half(centres, first) + np.asarray(thickness)
    before, behind = edge - centres[second - 1], centres[second] - edge
    return np.asarray((temperature[:, second - 1] * behind + temperature[:, second] * before) / (before + behind))


def _half(centres: Array, cell: int) -> Array:
    """Half the width of a cell, by walking from the inner face, where the first cell begins."""
    half = centres[0]
    for i in range(1, cell + 1):
        half = centres[i] - centres[i - 1] - half
    return np.asarray(half)


def _covered_face(shown: Shown, run: Any, inner: bool) -> Array:
    """The face of what is shown under another layer, row by row."""
    found: Array = np.empty(run.inner_face.shape)
    for row in range(len(found)):
        faces = shown.faces(run.temperature[row], run.inner_face[row], run.outer_face[row])
        found[row] = faces[0] if inner else faces[1]
    return found


def _along(depth: Array, profile: Array, at: float) -> Array:
    """Linear between points at depths (points, 1 or cases) of profiles (rows, points, cases): (rows, cases)."""
    if depth.shape[1] == 1:
        rows, points, cases = profile.shape
        flat = along(depth[:, 0], np.moveaxis(profile, 1, 2).reshape(-1, points), at)
        return np.asarray(np.reshape(flat, (rows, cases)))
    return np.column_stack([along(depth[:, j], profile[:, :, j], at) for j in range(profile.shape[2])])
