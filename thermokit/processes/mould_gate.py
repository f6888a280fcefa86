"""When is a gate, a runner, a sprue or a thick place cold enough? One body in a mould of given face temperature.

A slab (flat gate, a place of a wall, the root of a rib) or a long cylinder (round gate, runner, sprue), hot all through at
first, its faces in contact with the mould. Solved as a layered body, all cases in one batch; latent heat and properties that
change with temperature count. The closed formulas stand beside. All numbers may be arrays over cases.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Span
from thermokit.processes.mould_wall import at_temperature, cases_of, cooling_only, one_sided_edges

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from thermokit.conduction.batch_record import BatchHistory
    from thermokit.conduction.problem import Array, Number

CELLS, RATIO = 40, 1.04  # from the middle to the face, finer there: a cold face is a jump at first
ROWS = 240
ROUNDS = 6  # each three times as long as the one before, until all are cold
REACH = 3.0
TOLERANCE = 0.05  # K
BESSEL = 2.404825557695773  # first zero of J0
#: seconds that the pressure is held beyond the freezing of the gate; common practice, no source
HOLD_AFTER = (0.5, 1.0)


@dataclass(frozen=True)
class Piece:
    """A slab or a long cylinder in the mould.

    medium : its stuff; shape : ``plane`` or ``cylinder``; size : full thickness or diameter [m]; start : the melt [K];
    wall : the mould face [K]; contact [W/m2/K] between them (both faces alike).
    """

    medium: Medium
    shape: str
    size: Number
    start: Number
    wall: Number
    contact: Number

    def problem(self, duration: Number) -> Problem:
        """Half of it, from the middle (insulated) to the face."""
        if self.shape not in ("plane", "cylinder"):
            raise ValueError(f"a piece is 'plane' or 'cylinder', not {self.shape!r}")
        layer = Layer(cooling_only(self.medium), np.asarray(self.size) / 2, _edges(), self.start, name="piece")
        span = Span(duration, outer=Face(exchange=(Exchange(self.contact, self.wall),)))
        return Problem((layer,), (span,), "plane" if self.shape == "plane" else "cylinder")

    def by_hand(self, target: ArrayLike, criterion: str = "hottest") -> Array:
        """First term of the series with a perfect contact [s], NaN where it says nothing: t = d^2/(4 z^2 a) ln(C/left).

        left = (target - wall)/(start - wall). Slab: z = pi/2, C = 4/pi (middle), 8/pi^2 (mean); cylinder: z = 2.4048,
        C = 1.6020 (axis), 0.6917 (mean). a : half-way between start and target, without latent heat.
        """
        target = np.asarray(target, float)
        left = (target - self.wall) / (np.asarray(self.start, float) - self.wall)
        root = np.pi / 2 if self.shape == "plane" else BESSEL
        mean = criterion == "mean"
        factor = (8 / np.pi**2 if mean else 4 / np.pi) if self.shape == "plane" else (0.691660 if mean else 1.601975)
        T = (target + self.start) / 2
        density, k = np.asarray(self.medium.density), at_temperature(self.medium.conductivity, T)
        a = k / (density * at_temperature(self.medium.specific_heat, T))
        good = (left > 0.0) & (left < min(factor, 0.9))
        time = np.asarray(self.size) ** 2 / (4 * root**2 * a)
        return np.asarray(np.where(good, time * np.log(factor / np.where(good, left, 1.0)), np.nan))


def time_until(piece: Piece, target: ArrayLike, criterion: str = "hottest", tolerance: float = TOLERANCE) -> Array:
    """Time [s] until a piece is as cold as a temperature [K], (cases,); NaN where it never is (the wall is not as cold).

    criterion : ``hottest`` (its middle) or ``mean``. tolerance [K] : local error of the time steps.
    """
    cases = max(cases_of(piece), np.size(target))
    wanted = np.broadcast_to(np.asarray(target, float), (cases,))
    wall = np.broadcast_to(np.asarray(piece.wall, float), (cases,))
    start = np.broadcast_to(np.asarray(piece.start, float), (cases,))
    length = np.broadcast_to(_first_length(piece), (cases,)).copy()
    found = np.where(start <= wanted, 0.0, np.nan)
    open_ = (wanted > wall) & (start > wanted)
    for _ in range(ROUNDS):
        if not np.any(open_ & np.isnan(found)):
            break
        shares = np.linspace(0.0, 1.0, ROWS + 1)[1:] ** 2
        run = solve_batch(piece.problem(length), cases, shares[:, None] * length, tolerance)
        t = np.concatenate([np.zeros((1, cases)), shares[:, None] * length])
        y = np.concatenate([start[None], _judged(piece, run, criterion)])
        crossed = _crossing(t, y, wanted, wall)
        found = np.where(open_ & np.isnan(found), crossed, found)
        length = np.where(np.isnan(found), REACH * length, length)
    return np.asarray(found)


def frozen_share(piece: Piece, target: ArrayLike, time: ArrayLike, tolerance: float = TOLERANCE) -> Array:
    """Share of the thickness (or radius) that is colder than a temperature [K] at a time [s], from both faces, (cases,)."""
    cases = max(cases_of(piece), np.size(target), np.size(time))
    length = np.maximum(np.broadcast_to(np.asarray(time, float), (cases,)), 1e-6)
    run = solve_batch(piece.problem(length), cases, None, tolerance)
    T, wanted = run.end_temperature[-1], np.broadcast_to(np.asarray(target, float), (cases,))
    # temperatures fall from the middle out: cells and face as one falling line
    x = np.concatenate([[0.0], (_edges()[1:] + _edges()[:-1]) / 2, [1.0]])
    line = np.concatenate([_middle(T)[None], T, run.end_outer_face[-1][None]])
    return np.array([1.0 - np.interp(-wanted[c], -line[:, c], x) for c in range(cases)])


def _first_length(piece: Piece) -> Array:
    """Time [s] of the first round: a body with its contact, and with its latent heat, to 5 % of the difference."""
    T = (np.asarray(piece.start, float) + piece.wall) / 2
    k, cp = at_temperature(piece.medium.conductivity, T), at_temperature(piece.medium.specific_heat, T)
    curve = piece.medium.crystallising or piece.medium.melting
    if curve is not None:
        cp = cp + np.asarray(curve.heat) / np.maximum(np.asarray(piece.start, float) - piece.wall, 1.0)
    half = np.asarray(piece.size, float) / 2
    stored = np.asarray(piece.medium.density) * cp * half
    weight = 0.4 if piece.shape == "plane" else 0.17
    return np.asarray(3.0 * stored * (weight * half / k + (1.0 if piece.shape == "plane" else 0.5) / piece.contact))


def _edges() -> Array:
    """Edges of the cells as shares of the half thickness or radius, from the middle."""
    return np.asarray(1.0 - one_sided_edges(CELLS, RATIO)[::-1])


def _middle(temperature: Array) -> Array:
    """Temperature in the middle from the two cells beside it, (rows, cells, cases) or (cells, cases): T = c0 + c2 x^2."""
    edges = _edges()
    first, second = temperature[..., 0, :], temperature[..., 1, :]
    a, b = ((edges[i] + edges[i + 1]) ** 2 for i in (0, 1))
    return np.asarray((first * b - second * a) / (b - a))


def _judged(piece: Piece, run: BatchHistory, criterion: str) -> Array:
    """What the criterion looks at, (rows, cases)."""
    if criterion == "mean":
        edges = _edges()
        weight = np.diff(edges if piece.shape == "plane" else edges**2)
        return np.asarray(np.einsum("rnc,n->rc", run.temperature, weight))
    return _middle(run.temperature)


def _crossing(t: Array, y: Array, wanted: Array, wall: Array) -> Array:
    """First time at which y (rows, cases) is down to what is wanted; between rows straight in the logarithm of y - wall."""
    with np.errstate(invalid="ignore"):
        met = y <= wanted
    i = np.maximum(met.argmax(axis=0), 1)
    c = np.arange(y.shape[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b, w = (np.log(np.maximum(v - wall, 1e-9)) for v in (y[i - 1, c], y[i, c], wanted))
        share = np.where(a > b, (a - w) / np.where(a > b, a - b, 1.0), 1.0)
    return np.asarray(np.where(met.any(axis=0), t[i - 1, c] + share * (t[i, c] - t[i - 1, c]), np.nan))


# -- gates and thick places --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class GateTimes:
    """freeze [s] after filling; by_hand : the formula; hold_least, hold_most [s] : freeze and 0.5 to 1 s (common practice)."""

    freeze: Array
    by_hand: Array
    hold_least: Array
    hold_most: Array


def gate_times(gate: Piece, no_flow: ArrayLike) -> GateTimes:
    """When does a gate close, and how long is pressure to be held? no_flow [K] : its melt flows no more.

    Counted from the end of filling, the gate then full of melt at its start temperature: flow that keeps it hot while the
    mould is packed makes it later. Check by weighing parts against the time of hold.
    """
    freeze = time_until(gate, no_flow)
    return GateTimes(freeze, gate.by_hand(no_flow), freeze + HOLD_AFTER[0], freeze + HOLD_AFTER[1])


def thickness_at_rib(wall: ArrayLike, rib: ArrayLike, root_radius: ArrayLike = 0.0) -> Array:
    """Diameter [m] of the largest circle in the root of a rib on a wall: the local thickness.

    wall s, rib b (width at its root), root_radius r [m]. The circle touches the far face and both fillets,
    R = [(b/2 + r)^2 + (s + r)^2 - r^2]/(2 (s + 2 r)); with sharp corners D = s + b^2/(4 s). A rib so wide that the circle
    lies in it has D = b. A slab of that thickness takes as long to cool as the root does, within 5 % and mostly longer (ribs
    of 0.4 to 1 of the wall, by finite volumes in the section; a cylinder would take half). The same holds for the sphere
    under a solid boss of diameter b, where the slab is on the safe side. Geometry.

    >>> round(1e3 * float(thickness_at_rib(0.003, 0.0018)), 3)
    3.27
    """
    s, b, r = (np.asarray(x, float) for x in (wall, rib, root_radius))
    radius = ((b / 2 + r) ** 2 + (s + r) ** 2 - r**2) / (2 * (s + 2 * r))
    return np.asarray(np.where(radius <= s + r, np.maximum(2 * radius, s), np.maximum(b, s)))
