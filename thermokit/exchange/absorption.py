"""What a slab of clear sheet takes in, throws back and lets through, and at what depth it does so.

Symbols, for one entry of the bands: L thickness, r reflectance of a face, t = exp(-kappa p L) what is left after one way
through, p the mean length of a ray over its depth, R what lies behind reflects. Radiation that falls on one face goes
down, is thrown back at the far face and by what lies behind (all passes to and fro between the two summed), goes up, is
thrown back at the near face, and so on::

    R_far = r + (1 - r)^2 R/(1 - r R)
    D     = (1 - r)/(1 - r R_far t^2)             what goes down just inside the near face
    reflected = r + (1 - r) D t^2 R_far,  absorbed = D (1 - t)(1 + t R_far),  passed = D t (1 - R_far)

Source: R. Siegel and J. R. Howell, Thermal Radiation Heat Transfer, chapter on partially transmitting windows (net
radiation and ray tracing for a thick plate, no interference).

Reciprocity (Kirchhoff): what a cell takes in of radiation that falls on a face is also what it gives off through that
face, as a share of the black radiation of the entry's band at the cell's temperature.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from thermokit.exchange.bands import Bands

    Array = NDArray[np.float64]

Side = Literal["inner", "outer"]
_BLOCK = 1_000_000  # numbers held at once while entries are added up


@dataclass(frozen=True, eq=False)
class SlabShares:
    """Shares of the radiation that falls on a slab: they sum to 1.

    absorbed, reflected : [-]; passed : what the slab lets through and is not thrown back from behind [-].
    """

    absorbed: Array
    reflected: Array
    passed: Array


def slab_shares(
    bands: Bands, thickness: ArrayLike, source_temperature: ArrayLike, path: ArrayLike = 1.0, behind: ArrayLike = 0.0
) -> SlabShares:
    """What share of a grey source's radiation a slab absorbs, reflects and lets through, over all wavelengths.

    thickness : number or (cases,) [m]; source_temperature : likewise [K]; path : mean length of a ray in the slab over
    its depth, 1 (square on) to 2 (thin slab in diffuse radiation), likewise; behind : reflectance of what lies behind, 0
    to 1, likewise. Returns shares, () or (cases,) [-].

    >>> from thermokit.exchange.bands import grey_bands
    >>> clear = grey_bands(coefficient=1000.0, reflectance=0.0)
    >>> round(float(slab_shares(clear, 1.5e-3, 623.15).absorbed), 4)  # 1 - exp(-1.5)
    0.7769
    """
    parts = slab_shares_of_entries(bands, thickness, path, behind)
    weights = bands.weights(source_temperature)
    if weights.ndim < parts.absorbed.ndim:
        weights = weights[:, None]
    elif parts.absorbed.ndim < weights.ndim:
        parts = SlabShares(*(x[:, None] for x in (parts.absorbed, parts.reflected, parts.passed)))
    return SlabShares(*(np.sum(weights * x, axis=0) for x in (parts.absorbed, parts.reflected, parts.passed)))


def slab_shares_of_entries(
    bands: Bands, thickness: ArrayLike, path: ArrayLike = 1.0, behind: ArrayLike = 0.0
) -> SlabShares:
    """The same for each entry of the bands, (entries,) or (entries, cases); see ``slab_shares``."""
    given = np.asarray(thickness, dtype=float), np.asarray(path, dtype=float), np.asarray(behind, dtype=float)
    optics = _optics(bands, *given)
    t, far, down = optics.through, optics.far, optics.down
    shares = (down * (1.0 - t) * (1.0 + t * far), optics.reflected, down * t * (1.0 - far))
    return SlabShares(*(x if optics.cases else x[:, 0] for x in shares))


def absorbed_in_cells(
    bands: Bands,
    edges: ArrayLike,
    path: ArrayLike = 1.0,
    behind: ArrayLike = 0.0,
    own: ArrayLike = 0.0,
    side: Side = "inner",
) -> Array:
    """Share of the radiation falling on one face that each cell takes in, for each entry of the bands.

    Going down, a cell between the distances a < b from the lit face takes D [T(a) - T(b)] with T(x) = exp(-kappa p x);
    going up, D t R_far [T(L - b) - T(L - a)]. Over the cells this sums to 1 - reflected - passed of ``slab_shares``.

    edges : of the cells, ascending, (cells + 1,) or (cells + 1, cases) [m]; path, behind : as in ``slab_shares``;
    own : reflectance of the source itself, for a source that fills the whole view of the face: the result is then the
    share of the source's black radiation, (1 - own)/(1 - own reflected) times that of what falls on the face;
    side : the face that is lit, "inner" at edges[0] or "outer" at edges[-1].
    Returns (entries, cells) or (entries, cells, cases) [-].
    """
    ray = _Ray.of(bands, edges, path, behind, own, side)
    taken = np.concatenate([ray.taken(entries) for entries in ray.blocks()])
    return np.asarray(taken if ray.cases else taken[:, :, 0])


def share_in_cells(
    bands: Bands,
    edges: ArrayLike,
    weights: ArrayLike,
    path: ArrayLike = 1.0,
    behind: ArrayLike = 0.0,
    own: ArrayLike = 0.0,
    side: Side = "inner",
) -> Array:
    """Share of the radiation falling on one face that each cell takes in, over all wavelengths.

    weights : of the entries in that radiation, (entries,) or (entries, cases): ``Bands.weights`` of the source's
    temperature, or ``Bands.mixture`` of several. The rest as in ``absorbed_in_cells``. Divided by the cells' thickness
    and with the temperature of the sheet for the weights, it is the emission of each cell through that face over
    sigma T^4 [1/m]. Returns (cells,) or (cells, cases) [-].
    """
    ray = _Ray.of(bands, edges, path, behind, own, side)
    w = np.asarray(weights, dtype=float)
    columns = w if w.ndim == 2 else w[:, None]
    total = sum(np.sum(columns[part, None, :] * ray.taken(part), axis=0) for part in ray.blocks(columns.shape[1]))
    return np.asarray(total if ray.cases or w.ndim == 2 else np.asarray(total)[:, 0])


@dataclass(frozen=True, eq=False)
class _Optics:
    """Factors of a slab by entry, each (entries, cases); cases : whether any of them had a case axis."""

    kappa: Array
    reflectance: Array
    through: Array
    far: Array
    down: Array
    cases: bool

    @property
    def reflected(self) -> Array:
        """Share that the slab throws back."""
        r = self.reflectance
        return np.asarray(r + (1.0 - r) * self.down * self.through**2 * self.far)


def _optics(bands: Bands, thickness: Array, path: Array, behind: Array, part: slice = slice(None)) -> _Optics:
    """The factors D, t, R_far of the module's equations, of some of the entries."""
    given = bands.coefficient, bands.reflectance
    kappa, r = (a[part, None] if a.ndim == 1 else a[part] for a in given)
    through = np.exp(-kappa * path * thickness)
    far = r + (1.0 - r) ** 2 * behind / (1.0 - r * behind)
    down = (1.0 - r) / (1.0 - r * far * through**2)
    cases = any(a.ndim == 2 for a in given) or any(a.ndim == 1 for a in (thickness, path, behind))
    return _Optics(kappa, r, through, far, down, cases)


@dataclass(frozen=True, eq=False)
class _Ray:
    """Radiation on one face of a slab cut into cells: depth of the edges from that face, (edges, cases) [m]."""

    bands: Bands
    depth: Array
    thickness: Array
    path: Array
    behind: Array
    own: Array
    cases: bool

    @classmethod
    def of(cls, bands: Bands, edges: ArrayLike, path: ArrayLike, behind: ArrayLike, own: ArrayLike, side: Side) -> _Ray:
        """Arrays made of what the public functions are given."""
        x, length, back, source = (np.asarray(a, dtype=float) for a in (edges, path, behind, own))
        depth = x - x[0] if side == "inner" else x[-1] - x
        cases = x.ndim == 2 or any(a.ndim == 1 for a in (length, back, source))
        cases = cases or bands.coefficient.ndim == 2 or bands.reflectance.ndim == 2
        return cls(bands, depth if x.ndim == 2 else depth[:, None], x[-1] - x[0], length, back, source, cases)

    def blocks(self, columns: int = 1) -> Iterator[slice]:
        """Entries in blocks, so that many cases do not fill the memory."""
        widest = max(columns, self.depth.shape[1], self.path.size, self.behind.size, self.own.size)
        for given in (self.bands.coefficient, self.bands.reflectance):
            widest = max(widest, given[0].size)
        step = max(1, _BLOCK // (widest * len(self.depth)))
        for first in range(0, len(self.bands), step):
            yield slice(first, first + step)

    def taken(self, part: slice) -> Array:
        """Shares of some entries by cell, (entries, cells, cases)."""
        optics = _optics(self.bands, self.thickness, self.path, self.behind, part)
        rate = optics.kappa[:, None, :] * self.path
        down, through, far = (a[:, None, :] for a in (optics.down, optics.through, optics.far))
        going = np.abs(np.diff(np.exp(-rate * self.depth), axis=1))
        coming = np.abs(np.diff(np.exp(-rate * (self.thickness - self.depth)), axis=1))
        arriving = (1.0 - self.own) / (1.0 - self.own * optics.reflected)
        return np.asarray(down * (going + through * far * coming) * arriving[:, None, :])
