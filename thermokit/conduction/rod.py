"""The layered body as arrays: finite volumes of a plane, cylinder or sphere, and the maps from energy to temperature.

Cell i lies between faces f_i and f_(i+1) with its centre half-way. With A = 1, r or r^2 (per m2, per radian, per
steradian) the volume is the integral of A, and the resistance between two radii is the integral of dr/(k A):

    plane  dr/k,    cylinder  ln(r2/r1)/k,    sphere  (1/r1 - 1/r2)/k

Neighbouring centres are joined by their two half cells in series, and by 1/(A contact) where a contact stands between
layers; steady conduction through shells is therefore exact whatever the mesh. Energy is conserved because what leaves a
cell enters its neighbour. The layer that touches an axis or a centre takes (r2 - r1)/(k A) instead (see ``_at_axis``).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.enthalpy import EnergyTable, conductivity_table, energy_tables, melted_share
from thermokit.conduction.problem import Curve, Layer, Medium, Problem, Transition
from thermokit.conduction.tables import Tables, concatenated, coordinate_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array, Number, Shape

# per metre of slab face, per radian of cylinder, per steradian of sphere -> what a user expects (J/m2, J/m, J)
WHOLE = {"plane": 1.0, "cylinder": 2.0 * np.pi, "sphere": 4.0 * np.pi}
UNIT = {"plane": "J/m2", "cylinder": "J/m", "sphere": "J"}


CORNER = 1e-7  # K within which a cell counts as resting on a curve


@dataclass(frozen=True)
class Rod:
    """A body of n cells, assembled. Arrays are (n,) for one case, (n, cases) or (n, 1) in a batch.

    edges (n+1, .), centres (n, .) [m from the inner face]; volume : per m2, radian or steradian; half_in, half_out :
    resistance of the half cell towards the inner and outer neighbour times k; joint (n-1, .) : contact resistance;
    area_in, area_out : face areas (0 where there is no inner face). capacity : J per unit of the energy coordinate.
    energy : coordinate -> temperature, with ``melting`` and ``crystallising`` where a layer has two curves;
    share_scale : L/dh of such layers. conductivity : coordinate in temperature -> k, or ``k`` where it is constant.
    """

    shape: Shape
    slices: tuple[slice, ...]
    edges: Array
    centres: Array
    volume: Array
    half_in: Array
    half_out: Array
    joint: Array
    area_in: Number
    area_out: Number
    capacity: Array
    spacing: Array
    energy: Tables
    melting: Tables | None
    crystallising: Tables | None
    share_scale: Array | None
    share_start: Array | None
    k: Array | None
    conductivity: Tables | None
    k_first: Array | None
    k_scale: Array | None
    start: Array

    @property
    def cells(self) -> int:
        """Number of cells."""
        return len(self.centres)

    def temperature(self, y: Array, shift: Array | None = None) -> tuple[Array, Array]:
        """(T [K], dT/dy) of energy coordinates; ``shift`` = share_scale * (1 - X) where a layer has two curves."""
        if self.melting is None or self.crystallising is None or shift is None:
            return self.energy(y)
        t_rest, b_rest = self.energy(y - shift)
        t_melt, b_melt = self.melting(y)
        t_cool, b_cool = self.crystallising(y)
        on_cool = t_cool > t_rest
        t = np.where(on_cool, t_cool, t_rest)
        b = np.where(on_cool, b_cool, b_rest)
        on_melt = t_melt < t
        return np.where(on_melt, t_melt, t), np.where(on_melt, b_melt, b)

    def slope_along(self, y: Array, shift: Array, direction: Array) -> Array:
        """dT/dy for a cell that begins to move in a direction (sign of dy/dt), where a layer has two curves.

        A cell that rests on a curve is at a corner: it goes on along the curve if it is pushed that way, and leaves along
        its resting line if not. Values alone cannot tell the two apart.
        """
        assert self.melting is not None and self.crystallising is not None
        t_rest, b_rest = self.energy(y - shift)
        t_melt, b_melt = self.melting(y)
        t_cool, b_cool = self.crystallising(y)
        b = np.where((t_melt < t_rest + CORNER) & (direction > 0.0), b_melt, b_rest)
        return np.where((t_cool > t_rest - CORNER) & (direction < 0.0), b_cool, b)

    def crystalline_shift(self, y: Array, shift: Array) -> Array:
        """The shift after a step that ends at ``y``: unchanged between the curves, moved where a curve was met."""
        assert self.melting is not None and self.crystallising is not None
        t_rest, _ = self.energy(y - shift)
        t, _ = self.temperature(y, shift)
        # on a curve the resting line must pass through (y, T): its coordinate there is y - new shift
        moved = t != t_rest
        new = np.where(moved, y - coordinate_of(self.energy, t), shift)
        return np.clip(new, 0.0, self.share_scale)

    def conductivity_at(self, temperature: Array) -> tuple[Array, Array]:
        """(k [W/m/K], dk/dT) at cell temperatures."""
        if self.k is not None:
            return np.broadcast_to(self.k, temperature.shape), np.zeros_like(temperature)
        assert self.conductivity is not None and self.k_first is not None and self.k_scale is not None
        k, slope = self.conductivity((temperature - self.k_first) * self.k_scale + self.conductivity.first)
        return k, slope * self.k_scale


def _half(shape: Shape, a: Array, b: Array) -> Array:
    """Resistance times conductivity between radii (or depths) a <= b; infinite from an axis or a centre."""
    with np.errstate(divide="ignore"):
        if shape == "plane":
            return b - a
        if shape == "cylinder":
            return np.log(b / a)
        return 1.0 / a - 1.0 / b


def _power(shape: Shape) -> int:
    return {"plane": 0, "cylinder": 1, "sphere": 2}[shape]


def _numbers_of(value: Any) -> list[Any]:
    """All numeric leaves of a medium, for finding out whether cases differ in it."""
    if value is None:
        return []
    if isinstance(value, Curve):
        return [value.value] if np.ndim(value.value) > 1 else []
    if isinstance(value, Transition):
        return [v for v in (value.heat, value.low, value.high, value.peak) if v is not None and np.ndim(v) > 0]
    return [value] if np.ndim(value) > 0 else []


def case_of(value: Any, i: int) -> Any:
    """One case of a number, curve or transition that may hold many."""
    if isinstance(value, Curve):
        return Curve(value.temperature, value.value[:, i] if np.ndim(value.value) > 1 else value.value)
    if isinstance(value, Transition):
        return Transition(*(case_of(v, i) for v in (value.heat, value.low, value.high, value.peak)))
    return value[i] if np.ndim(value) > 0 else value


def _media_tables(medium: Medium, cases: int) -> tuple[list[tuple[EnergyTable, ...]], Array]:
    """(tables, one or one a case; spacing (1,) or (cases,)) of a layer's medium.

    Cases that differ only by a factor on the specific heat share a table: its spacing carries the factor.
    """
    latent = _numbers_of(medium.melting) + _numbers_of(medium.crystallising)
    cp = medium.specific_heat
    if not latent and not _numbers_of(cp):
        tables = energy_tables(medium)
        return [tables], np.array([tables[0].spacing])
    values = cp.value if isinstance(cp, Curve) else np.asarray(cp)
    if not latent and medium.melting is None and _numbers_of(cp):
        factor = values[0] / values[0, 0] if isinstance(cp, Curve) else values / values[0]
        same = not isinstance(cp, Curve) or np.allclose(values / factor, values[:, :1], rtol=1e-12, atol=0.0)
        if same:
            tables = energy_tables(Medium(1.0, 1.0, case_of(cp, 0)))
            return [tables], tables[0].spacing * np.asarray(factor)
    all_tables = [
        energy_tables(Medium(1.0, 1.0, case_of(cp, i), case_of(medium.melting, i), case_of(medium.crystallising, i)))
        for i in range(cases)
    ]
    return all_tables, np.array([t[0].spacing for t in all_tables])


def _column(value: Any) -> Any:
    """A number as it is, an array of cases as a row that broadcasts against (cells, cases)."""
    return value if np.ndim(value) == 0 else np.asarray(value, float)[None, :]


def _spread(parts: list[Any], lengths: list[int], cases: int | None) -> Array:
    """Per-layer values laid out over the cells: (n,) or (n, 1) or (n, cases)."""
    if cases is None:
        return np.concatenate([np.full(m, float(p)) for p, m in zip(parts, lengths, strict=True)])
    wide = any(np.size(p) > 1 for p in parts)
    width = cases if wide else 1
    return np.concatenate(
        [np.broadcast_to(np.reshape(p, (1, -1)), (m, width)) for p, m in zip(parts, lengths, strict=True)]
    )


def assemble(problem: Problem, cases: int | None = None) -> Rod:
    """Arrays of the body; ``cases`` is None for one run, else the number of cases in a batch."""
    layers = problem.layers
    lengths = [layer.cells for layer in layers]
    ends = np.cumsum([0, *lengths])
    slices = tuple(slice(int(a), int(b)) for a, b in pairwise(ends))
    edges, centres, volume, half_in, half_out, radius = _geometry(problem, cases)
    power = _power(problem.shape)
    joint = np.zeros((sum(lengths) - 1, *edges.shape[1:]))
    for layer, cut in zip(layers[:-1], slices[:-1], strict=True):
        if layer.contact is not None:
            row = 1.0 / (layer.contact * radius[cut.stop] ** power)
            if np.ndim(row) and joint.shape[1:] != np.shape(row):
                joint = np.broadcast_to(joint, (len(joint), *np.shape(row))).copy()
            joint[cut.stop - 1] = row

    spacing_parts: list[Any] = []
    node_lists: list[list[Array]] = [[], [], []]
    firsts: list[Any] = []
    two_curves = any(layer.medium.crystallising is not None for layer in layers)
    count = 0
    for layer in layers:
        tables, spacing = _media_tables(layer.medium, cases or 1)
        spacing_parts.append(spacing if cases is not None else float(spacing[0]))
        if len(tables) == 1 and len(tables[0][0].temperature) == 2:
            firsts.append(np.array([-1]))  # all media of constant specific heat share the last entry
            continue
        firsts.append(np.arange(count, count + len(tables)))
        count += len(tables)
        for of_case in tables:
            for j in range(3 if two_curves else 1):
                node_lists[j].append(of_case[j if len(of_case) == 3 else 0].temperature)

    def tables_from(nodes: list[Array]) -> Tables:
        nodes = [*nodes, np.array([0.0, 1.0])] if any(f[0] == -1 for f in firsts) else nodes
        intercept, slope, first, last = concatenated(nodes)
        pick = [np.asarray(first)[f] for f in firsts], [np.asarray(last)[f] for f in firsts]
        if cases is None:
            pick = [p[0] for p in pick[0]], [p[0] for p in pick[1]]
        return Tables(intercept, slope, *(_spread(p, lengths, cases).astype(np.intp) for p in pick))

    energy = tables_from(node_lists[0])
    spacing_all = _spread(spacing_parts, lengths, cases)
    density = _spread([layer.medium.density for layer in layers], lengths, cases)
    k_parts = [layer.medium.conductivity for layer in layers]
    k: Array | None = None
    k_tables = k_first = k_scale = None
    if any(isinstance(p, Curve) for p in k_parts):
        k_tables, k_first, k_scale = _conductivity_tables(k_parts, lengths, cases)
    else:
        k = _spread(k_parts, lengths, cases)

    start = _start(layers, lengths, energy, cases)
    share_scale = share_start = None
    melting = crystallising = None
    if two_curves:
        melting, crystallising = tables_from(node_lists[1]), tables_from(node_lists[2])
        share_scale, share_start, start = _crystalline_start(layers, slices, spacing_all, melting, start, cases)
    has_inner = not (problem.shape != "plane" and np.all(np.asarray(problem.inner_radius) == 0.0))
    return Rod(
        shape=problem.shape,
        slices=slices,
        edges=edges,
        centres=centres,
        volume=volume,
        half_in=half_in,
        half_out=half_out,
        joint=joint,
        area_in=radius[0] ** power if has_inner else 0.0,
        area_out=radius[-1] ** power,
        capacity=density * volume * spacing_all,
        spacing=spacing_all,
        energy=energy,
        melting=melting,
        crystallising=crystallising,
        share_scale=share_scale,
        share_start=share_start,
        k=k,
        conductivity=k_tables,
        k_first=k_first,
        k_scale=k_scale,
        start=start,
    )


def _geometry(problem: Problem, cases: int | None) -> tuple[Array, Array, Array, Array, Array, Array]:
    """(edges, centres [m from the inner face], volume, half_in, half_out, radius of the edges)."""
    position: Any = 0.0
    rows: list[Any] = [0.0]
    for layer in problem.layers:
        thickness = layer.thickness
        rows += [position + thickness * share for share in layer.edges[1:]]
        position = position + thickness
    if cases is None:
        edges = np.asarray(rows, float)
    else:
        width = max(np.size(row) for row in rows)
        edges = np.stack([np.broadcast_to(np.asarray(row, float), (width,)) for row in rows])
    radius = edges + _column(problem.inner_radius) if problem.shape != "plane" else edges
    centres = (edges[1:] + edges[:-1]) / 2
    middle = (radius[1:] + radius[:-1]) / 2
    power = _power(problem.shape) + 1
    volume = (radius[1:] ** power - radius[:-1] ** power) / power
    half_in = _half(problem.shape, radius[:-1], middle)
    half_out = _half(problem.shape, middle, radius[1:])
    if problem.shape != "plane":
        _at_axis(problem, radius, middle, half_in, half_out)
    return edges, centres, volume, half_in, half_out, radius


def _at_axis(problem: Problem, radius: Array, middle: Array, half_in: Array, half_out: Array) -> None:
    """Resistances of the layer that touches an axis or centre, in place: (r2 - r1)/A(face between).

    There T goes with r^2, for which that form is exact; the integral of dr/A is 9 % (cylinder) or 25 % (sphere) wrong at
    the first face and would spoil the order of the method.
    """
    first = 0
    for before, layer in zip((None, *problem.layers), problem.layers, strict=False):
        # one stuff through and through, cut into layers, is one layer
        if before is not None and (before.contact is not None or layer.medium is not before.medium):
            break
        first += layer.cells
    solid = np.broadcast_to(np.asarray(problem.inner_radius) == 0.0, radius.shape[1:])
    power = _power(problem.shape)
    with np.errstate(divide="ignore"):
        inward = (middle[:first] - radius[:first]) / radius[:first] ** power
        outward = (radius[1 : first + 1] - middle[:first]) / radius[1 : first + 1] ** power
    half_in[:first] = np.where(solid, inward, half_in[:first])
    half_out[:first] = np.where(solid, outward, half_out[:first])


def _conductivity_tables(parts: list[Any], lengths: list[int], cases: int | None) -> tuple[Tables, Array, Array]:
    nodes: list[Array] = []
    picks: list[Any] = []
    lows: list[Any] = []
    scales: list[Any] = []
    for part in parts:
        many = bool(_numbers_of(part))
        made = [conductivity_table(case_of(part, i)) for i in range(cases or 1)] if many else [conductivity_table(part)]
        picks.append(np.arange(len(nodes), len(nodes) + len(made)))
        nodes += [m[0] for m in made]
        lows.append(np.array([m[1] for m in made]))
        scales.append(np.array([1.0 / m[2] for m in made]))
    intercept, slope, first, last = concatenated(nodes)
    first_parts: list[Any] = [np.asarray(first)[p] for p in picks]
    last_parts: list[Any] = [np.asarray(last)[p] for p in picks]
    if cases is None:
        first_parts, last_parts, lows, scales = ([p[0] for p in q] for q in (first_parts, last_parts, lows, scales))
    tables = Tables(
        intercept,
        slope,
        _spread(first_parts, lengths, cases).astype(np.intp),
        _spread(last_parts, lengths, cases).astype(np.intp),
    )
    return tables, _spread(lows, lengths, cases), _spread(scales, lengths, cases)


def _start(layers: tuple[Layer, ...], lengths: list[int], energy: Tables, cases: int | None) -> Array:
    """Energy coordinates at the beginning; in a batch a profile is (cells, 1) or (cells, cases), a row is the cases."""
    parts: list[Any] = []
    for layer, m in zip(layers, lengths, strict=True):
        value = np.asarray(layer.start, float)
        if cases is None:
            parts.append(np.broadcast_to(value, (m,)))
        else:
            parts.append(np.broadcast_to(_column(value) if value.ndim < 2 else value, (m, cases)))
    return coordinate_of(energy, np.concatenate(parts))


def _crystalline_start(
    layers: tuple[Layer, ...],
    slices: tuple[slice, ...],
    spacing: Array,
    melting: Tables,
    start: Array,
    cases: int | None,
) -> tuple[Array, Array, Array]:
    """(L/dh, shift, coordinates) at the beginning: a body starts as if it had been heated to its start temperature."""
    scale = np.zeros(np.broadcast_shapes(spacing.shape, start.shape))
    shift = np.zeros_like(scale)
    moved = np.array(np.broadcast_to(start, scale.shape))
    for layer, cut in zip(layers, slices, strict=True):
        medium = layer.medium
        if medium.crystallising is None or medium.melting is None:
            continue
        scale[cut] = _column(medium.melting.heat) / spacing[cut]
        value = np.asarray(layer.start, float)
        if layer.crystalline_start is not None:
            share = 1.0 - np.asarray(layer.crystalline_start, float)
        else:
            share = melted_share(value, Transition(1.0, *(getattr(medium.melting, n) for n in ("low", "high", "peak"))))
        shift[cut] = scale[cut] * (_column(share) if cases is not None and np.ndim(share) < 2 else share)
        moved[cut] = start[cut] + shift[cut]
    return scale, shift, moved


def joints_of(layers: Sequence[Layer]) -> list[tuple[int, bool]]:
    """(cell before it, whether that is the one that counts) of every joint between a layer that counts and one that does not."""
    found, cell = [], -1
    for layer, after in pairwise(layers):
        cell += layer.cells
        if layer.counts != after.counts:
            found.append((cell, layer.counts))
    return found


def at_joint(before: Any, after: Any, own: Any, other: Any, contact: Any, first: bool) -> Any:
    """Temperature of a face at a joint [K]: of the cell before it where ``first``, else of the one after it.

    before, after : temperatures of both cells; own, other : resistances of the half cells between their centres and the
    joint, contact : that of the joint itself. All pass the same heat.
    """
    flux = (after - before) / (own + other + contact)
    return before + flux * own if first else after - flux * other
