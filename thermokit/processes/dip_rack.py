"""What stands in an oven: the case's own former and the others on its rack, as the cases of one batch.

Formers of another shape or make are brought together: one with fewer layers has its innermost layer cut in parts that touch
perfectly, and a plane beside cylinders is a cylinder so wide that it makes no difference. Spheres are a batch of their own.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import Course
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.mesh import base_edges
from thermokit.conduction.problem import Series
from thermokit.conduction.side_by_side import side_by_side
from thermokit.exchange.lumped_oven import Load
from thermokit.processes.media import slowness, typical

if TYPE_CHECKING:
    from thermokit.case.dip import DipCase
    from thermokit.conduction.problem import Array, Face, Layer, Problem
    from thermokit.processes.dip import DipProcess

TOLERANCE = 0.1  # K, of the steps of the batch
WIDE = 1000.0  # radius over thickness from which a plane is a cylinder to a tenth of a percent
PERFECT = 1e7  # W/m2/K, of a contact that makes no difference: others on the rack may have a true one there
INSTANT = 1e-9  # s, of a station of which only the beginning is wanted
#: stands for the air of the oven until it is known; told from walls of a temperature of their own by being this very table
STANDING = Series((0.0, 1.0), (400.0, 400.0))


def members_of(process: DipProcess, own: DipCase, number: int) -> list[tuple[str, int, DipProcess]]:
    """(name, how many, its process) of everything in the oven, the case's own former first."""
    from thermokit.processes.dip import DipProcess as Process

    entry = own.ovens[own.stations[number].oven]
    found: list[tuple[str, int, DipProcess]] = []
    formers = [("own", entry.count, own.former)]
    for other in entry.rack:
        former = replace(
            own.former,
            shape=other.shape or own.former.shape,
            inner_radius=other.inner_radius if other.inner_radius is not None else own.former.inner_radius,
            layers=other.layers or own.former.layers,
            area=other.area if other.area is not None else own.former.area,
        )
        formers.append((other.name, other.count, former))
    for name, count, former in formers:
        shape = "cylinder" if former.shape == "capped" else former.shape
        member = Process(replace(own, former=replace(former, shape=shape)), stuff=process.stuff)
        member.given_air.update(
            {i: process.oven_air(i) for i in process.given_air | process.ovens_solved() if i < number}
        )
        found.append((name, count, member))
    return found


def groups(members: list[tuple[str, int, DipProcess]]) -> list[list[int]]:
    """Numbers of the members that can stand in one batch: planes and cylinders together, spheres by themselves."""
    spheres = [i for i, (_, _, m) in enumerate(members) if m.shape == "sphere"]
    others = [i for i, (_, _, m) in enumerate(members) if m.shape != "sphere"]
    return [group for group in (others, spheres) if group]


def where(racks: list[Rack]) -> list[tuple[int, int]]:
    """(rack, row in it) of the outer face of every member, in the order of the members; behind them the inner faces."""
    found = {i: (r, k) for r, rack in enumerate(racks) for k, i in enumerate(rack.numbers)}
    outer = [found[i] for i in sorted(found)]
    return outer + [(r, k + racks[r].count) for r, k in outer if racks[r].open_inside]


def load_of(racks: list[Rack], count: Array, start: Array, mean: float) -> Load:
    """All that stands in the oven, as the oven sees it."""
    h, factor, heat, area = (
        np.stack([getattr(racks[r], name)[k] for r, k in where(racks)]) for name in ("h", "factor", "heat", "area")
    )
    # none of it counts for nothing, yet it must not divide by nothing
    return Load(count * area * h, count * area * factor, np.maximum(count * heat, 1e-9), start, mean)


class Rack:
    """Members of one shape as the cases of one batch, brought to the beginning of the oven station.

    members, cases : the batch holds them member by member, each with all cases. h, factor, area, heat : (rows, cases)
    coefficient [W/m2/K], emissivity times view, face [m2] and heat capacity [J/K] of one of each; rows are the outer faces,
    and where air reaches the inside the inner ones behind them.
    """

    def __init__(self, own: list[DipProcess], numbers: list[int], number: int, cases: int):
        self.numbers, self.cases, self.count = numbers, cases, len(own)
        layers = max(len(m.case.former.layers) for m in own)
        made = [_padded(m, layers) for m in own]
        if len({m.shape for m in made}) > 1:
            made = [_wrapped(m) if m.shape == "plane" else m for m in made]
        rows = [m.layers() for m in made]
        slowest = [max(slowness(r[k][2], r[k][1]) for r in rows) for k in range(len(rows[0]))]
        edges = base_edges(slowest, [None] * len(slowest))
        for m in made:
            m.given_air[number] = STANDING
        courses = [m.course(edges) for m in made]
        alone = _legs(list(courses[0].legs), number)[-1].spans[0]
        self._standing = _standing(alone.inner), _standing(alone.outer)
        legs = _legs([side_by_side([c.legs[k] for c in courses], cases) for k in range(len(courses[0].legs))], number)
        last = legs[-1]
        there = {layer.name for leg in legs for layer in leg.layers}
        shown = tuple(name for name in courses[0].shown if name in there)
        still = last.with_(spans=(replace(last.spans[0], duration=INSTANT),))
        before = follow_batch(
            Course((*legs[:-1], still), shown, changes=courses[0].changes), self.count * cases, TOLERANCE
        )
        self.memory, self.shown = before.memory, shown
        self.begin = before.end_outer_face[-1], before.end_inner_face[-1]
        self.problem = last.with_(layers=tuple(_as_it_came(x, shown, before.edges, last) for x in last.layers))
        power = {"plane": 0, "cylinder": 1, "sphere": 2}[last.shape]
        inner = self._whole([m.inner_radius for m in made])
        radius = inner + np.broadcast_to(before.edges[-1] - before.edges[0], inner.shape)
        bare = self._whole([m.outer_radius for m in made])
        developed = self._whole([m.area for m in own])
        self._around = {"plane": 1.0, "cylinder": 2.0 * np.pi, "sphere": 4.0 * np.pi}[last.shape] * bare**power
        self._area_of_bare = developed
        span = last.spans[0]
        self.open_inside = bool(span.inner.exchange)
        coats = sum(1 for i in own[0].dips if i < number)
        heat = developed * self._whole([_heat_per_area(m, coats) for m in own])
        faces = [(span.outer, radius, heat)]
        if self.open_inside:
            faces = [(span.outer, radius, heat / 2.0), (span.inner, inner, heat / 2.0)]
        self.area = self._rows([developed * (r / bare) ** power if power else developed for _, r, _ in faces])
        self.h = self._rows([face.exchange[0].coefficient for face, _, _ in faces])
        self.factor = self._rows([face.radiation[0].factor if face.radiation else 0.0 for face, _, _ in faces])
        self.heat = self._rows([share for _, _, share in faces])

    def _whole(self, values: list[Any]) -> Array:
        return np.concatenate([np.broadcast_to(np.asarray(v, float), (self.cases,)) for v in values])

    def _table(self, values: Any) -> Array:
        return np.broadcast_to(np.asarray(values, float), (self.count * self.cases,)).reshape(self.count, self.cases)

    def _rows(self, values: list[Any]) -> Array:
        return np.concatenate([self._table(v) for v in values])

    def faces(self, time: Array, air: Array) -> tuple[Array, Array]:
        """(faces (times, rows, cases) [K], heat that one of each took (members, cases) [J]) under an air (times, cases)."""
        span = self.problem.spans[0]
        whole = np.tile(air, (1, self.count))
        spans = []
        for k in range(len(time) - 1):
            step = float(time[k + 1] - time[k])
            moving = Series((0.0, step), (plain(whole[k]), plain(whole[k + 1])))
            inner, outer = (
                _in_air(face, moving, walls)
                for face, walls in zip((span.inner, span.outer), self._standing, strict=True)
            )
            spans.append(replace(span, duration=step, inner=inner, outer=outer))
        course = Course((self.problem.with_(spans=tuple(spans)),), self.shown)
        travel = follow_batch(course, self.count * self.cases, TOLERANCE, self.memory)
        run = travel.runs[-1]
        taken = (run.entered - run.left) / self._around * self._area_of_bare
        sides = [(self.begin[0], travel.end_outer_face), (self.begin[1], travel.end_inner_face)]
        shape = (len(time), self.count, self.cases)
        found = [np.concatenate([first[None], rest]).reshape(shape) for first, rest in sides[: 1 + self.open_inside]]
        return np.concatenate(found, axis=1), self._table(taken)


def _standing(face: Face) -> tuple[bool, ...]:
    """Which of the walls that a face sees have the temperature of the air; asked before problems are put side by side,
    which makes a table of its own of every one."""
    return tuple(x.temperature is STANDING for x in face.radiation)


def _in_air(face: Face, moving: Series, standing: tuple[bool, ...]) -> Face:
    """A face in this air, with those walls at its temperature that have none of their own."""
    exchange = tuple(replace(x, temperature=moving) for x in face.exchange)
    seen = tuple(replace(x, temperature=moving) if own else x for x, own in zip(face.radiation, standing, strict=True))
    return replace(face, exchange=exchange, radiation=seen)


def _as_it_came(layer: Layer, shown: tuple[str, ...], edges: Array, leg: Problem) -> Layer:
    """A layer with the thickness that it has when the station begins."""
    if layer.name not in shown:
        return layer
    cells = {x.name: x.cells for x in leg.layers}
    first = sum(cells[name] for name in shown[: shown.index(layer.name)])
    return replace(layer, thickness=edges[first + layer.cells] - edges[first])


def _legs(legs: list[Problem], number: int) -> tuple[Problem, ...]:
    """The legs up to a station, which is a leg of its own."""
    out: list[Problem] = []
    first = 0
    for leg in legs:
        if first + len(leg.spans) > number:
            if number > first:
                out.append(leg.with_(spans=leg.spans[: number - first]))
            out.append(leg.with_(spans=(leg.spans[number - first],)))
            break
        out.append(leg)
        first += len(leg.spans)
    return tuple(out)


def plain(values: Array) -> Any:
    """One number where all values are alike."""
    return float(values[0]) if np.ptp(values) == 0.0 else values


def _padded(member: DipProcess, count: int) -> DipProcess:
    """A former of as many layers as asked for: its innermost one cut into equal layers that touch perfectly."""
    from thermokit.processes.dip import DipProcess as Process

    layers = list(member.case.former.layers)
    walls = list(member.walls)
    more = count - len(layers)
    piece = replace(layers[0], thickness=walls[0] / (more + 1), mass=None)
    parts = [replace(piece, contact=PERFECT)] * more + [piece]
    rest = [replace(layer, thickness=wall, mass=None) for layer, wall in zip(layers[1:], walls[1:], strict=True)]
    named = tuple(
        replace(layer, name=f"former_{i + 1}", contact=layer.contact if layer.contact is not None else PERFECT)
        for i, layer in enumerate([*parts, *rest])
    )
    former = replace(member.case.former, layers=named, area=member.area)
    made = Process(replace(member.case, former=former), stuff=member.stuff)
    made.given_air.update(member.given_air)
    return made


def _wrapped(member: DipProcess) -> DipProcess:
    """A plane as a cylinder so wide that it makes no difference."""
    from thermokit.processes.dip import DipProcess as Process

    radius = WIDE * sum(member.walls)
    former = replace(member.case.former, shape="cylinder", inner_radius=radius)
    made = Process(replace(member.case, former=former), stuff=member.stuff)
    made.given_air.update(member.given_air)
    return made


def _heat_per_area(member: DipProcess, coats: int) -> Any:
    """Heat capacity of former and coats per m2 of bare former [J/m2/K], for the stand-in."""
    from thermokit.processes.dip_remarks import former_heat

    paste = member.paste_medium
    return former_heat(member) + 1e-3 * coats * typical(paste.density) * typical(paste.specific_heat)
