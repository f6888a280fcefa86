"""How clear sheet takes in radiation: bands of wavelength with absorption coefficients and the reflectance of a face.

Inside one band a plastic's absorption runs over decades, so that Beer's law with one coefficient fails: what passes
through a layer is not exp(-coefficient x depth). A band is therefore held as a mixture of entries, each with a
coefficient of its own and the share of the band's radiation that it stands for; inside an entry Beer's law holds, and
with it everything that is built on it (reflections to and fro, emission from the depth).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import DataError
from thermokit.exchange.planck import band_fraction
from thermokit.units import from_unit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

# thickness of layer for which a record holds an effective coefficient [m]
_LAYERS = {"effective_0p5_mm": 0.5e-3, "effective_1_mm": 1e-3, "effective_3_mm": 3e-3}
_COEFFICIENTS = 16  # in a mixture, evenly spaced in their logarithm
_REACH = (0.25, 8.0)  # from a quarter of that of a thick layer up to eight times the mean
_ROUGHNESS = 0.1  # weight of the second differences of the shares: the smoothest of all mixtures that fit
_FIT = 1e3, 10.0, 10.0  # weights of the sum of shares, of their mean coefficient, of what passes
_FAINT = 1e-2  # what passes is fitted as a share of itself down to here


@dataclass(frozen=True, eq=False)
class Bands:
    """Absorption by wavelength, as entries.

    low, high : ends of the band that an entry belongs to, (entries,) [m], 0 and infinity allowed; coefficient : of
    absorption, (entries,) or (entries, cases) [1/m]; reflectance : of one face from outside, likewise, 0 to below 1 [-];
    share : of the radiation between low and high that the entry stands for, (entries,) [-]; the shares of a band sum to 1.
    """

    low: Array
    high: Array
    coefficient: Array
    reflectance: Array
    share: Array

    def __len__(self) -> int:
        return len(self.share)

    def weights(self, temperature: ArrayLike) -> Array:
        """Share of a black or grey source's radiation that falls to each entry; sums to 1 over entries that cover all.

        temperature : of the source, any shape [K]. Returns (entries, *shape of temperature) [-].
        """
        t = np.asarray(temperature, dtype=float)
        low, high, share = (a.reshape((-1,) + (1,) * t.ndim) for a in (self.low, self.high, self.share))
        return np.asarray(share * band_fraction(low, high, t))

    def mixture(self, temperature: ArrayLike, amount: ArrayLike) -> Array:
        """Weights of what several sources send together, each by how much of its sigma T^4 arrives.

        temperature : (sources,) [K]; amount : (spots, sources) [W/m2 or any]. Returns (entries, spots), each column
        summing to 1 over entries that cover all.
        """
        amounts = np.asarray(amount, dtype=float)
        total = amounts.sum(axis=-1)
        return np.asarray(self.weights(temperature) @ amounts.T / np.where(total > 0.0, total, 1.0))

    def ranges(self) -> list[tuple[float, float, NDArray[np.bool_]]]:
        """(low [m], high [m], which entries) of each band, in the order of wavelength."""
        ends = sorted(set(zip(self.low.tolist(), self.high.tolist(), strict=True)))
        return [(low, high, (self.low == low) & (self.high == high)) for low, high in ends]


def grey_bands(coefficient: ArrayLike, reflectance: ArrayLike = 0.05) -> Bands:
    """One band over all wavelengths; coefficient [1/m] and reflectance of a face [-] may be arrays over cases."""
    return bands_between([0.0], [np.inf], [coefficient], [reflectance])


def bands_between(
    low: Sequence[float], high: Sequence[float], coefficient: Sequence[ArrayLike], reflectance: Sequence[ArrayLike]
) -> Bands:
    """Bands with one coefficient each, as a user gives them, in the order of wavelength.

    low, high : [m]; coefficient : [1/m]; reflectance : of a face [-]; one entry a band, a number or (cases,). The first
    band is held down to 0 and the last up to infinity. Raises DataError where one band does not begin at the end of the
    one before it.
    """
    lower, upper = np.array(low, dtype=float), np.array(high, dtype=float)
    if np.any(lower >= upper):
        raise DataError("absorption bands: a band must end at a longer wavelength than it begins")
    if not np.allclose(lower[1:], upper[:-1], rtol=1e-9, atol=0.0):
        raise DataError(
            "absorption bands: each band must begin where the one before it ends; give them in ascending order"
        )
    lower[0], upper[-1] = 0.0, np.inf
    return Bands(lower, upper, _entries(coefficient), _entries(reflectance), np.ones(len(lower)))


def bands_of(record: Mapping[str, Any]) -> Bands | None:
    """Bands of a material's record (``Material.record``); None where it holds none.

    Where the record gives the mean coefficient and those of layers 0.5, 1 and 3 mm thick, the band becomes a mixture
    that agrees with all four; between them it is the smoothest one. Where it gives one coefficient, that is taken. The
    first band is held down to 0, the last up to infinity.

    Source of the method: W. J. Wiscombe and J. W. Evans, Exponential-sum fitting of radiative transmission functions,
    J. Comput. Phys. 24 (1977) 416-444.
    """
    found = record.get("radiation", {}).get("bands", {}).get("each", ())
    if not found:
        return None
    parts: list[list[Array]] = []
    for place, band in enumerate(found):
        if band["absorption_unit"] != "1/m":
            raise DataError(f"absorption bands: unit {band['absorption_unit']!r} in a record; allowed: 1/m")
        low, high = from_unit(np.array(band["wavelength"], dtype=float), band["unit"], "length")
        low = 0.0 if place == 0 else low
        high = np.inf if place == len(found) - 1 else high
        coefficient, share = _mixture_of(band)
        ones = np.ones(len(share))
        parts.append([low * ones, high * ones, coefficient, band["normal_reflectance"] * ones, share])
    return Bands(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def _entries(values: Sequence[ArrayLike]) -> Array:
    """Values of the bands as (bands,) or (bands, cases)."""
    return np.array(np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in values)))


def _mixture_of(band: Mapping[str, Any]) -> tuple[Array, Array]:
    """(coefficients [1/m], shares) that give what the record says passes through layers, and the mean coefficient.

    Least squares over shares >= 0 of fixed coefficients, the second differences of the shares added so that of the many
    that fit the smoothest is taken.
    """
    from scipy.optimize import nnls

    layers = [name for name in _LAYERS if name in band]
    if "absorption" not in band or len(layers) < 2:
        name = "absorption" if not layers else "effective_1_mm" if "effective_1_mm" in layers else layers[0]
        return np.array([float(band[name])]), np.ones(1)
    mean, thickness = float(band["absorption"]), np.array([_LAYERS[name] for name in layers])
    effective = np.array([float(band[name]) for name in layers])
    lowest = _REACH[0] * effective.min()
    coefficient = np.geomspace(lowest, max(_REACH[1] * mean, 4.0 * lowest), _COEFFICIENTS)
    passes = np.exp(-effective * thickness)
    of_sum, of_mean, of_passing = _FIT
    weight = of_passing / np.maximum(passes, _FAINT)
    rough = _ROUGHNESS * np.diff(np.eye(_COEFFICIENTS), 2, axis=0)
    rows = np.vstack(
        [
            of_sum * np.ones(_COEFFICIENTS),
            of_mean * coefficient / mean,
            weight[:, None] * np.exp(-thickness[:, None] * coefficient),
            rough,
        ]
    )
    wanted = np.concatenate([[of_sum, of_mean], weight * passes, np.zeros(len(rough))])
    share = nnls(rows, wanted)[0]
    kept = share > 1e-12
    return coefficient[kept], share[kept] / share[kept].sum()
