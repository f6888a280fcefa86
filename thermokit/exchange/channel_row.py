"""How well does a row of round channels cool a mould face? The exact steady answer, by multipoles.

A face y = z, a back y = -b, channels of radius r with axes at (j p, 0); steel of conductivity k. With u = y + i x the
temperature is the real part of

    T = a_0 ln(2 sinh(pi u/p)) + sum_m a_m sum_j (r/(u - i j p))^m + alpha + beta u
        + sum_n [A_n e^(kappa_n (u - z)) + B_n e^(-kappa_n (u + b))],      kappa_n = 2 pi n/p

the first line a row of sources and their multipoles, the second what face and back answer. Above and below the row each
multipole is a sum of the same exponentials, so that face and back conditions hold harmonic by harmonic; round a channel all
is expanded in powers of u/r (sums over neighbours are zeta functions), and k dT/dr = h (T - T_channel) gives as many
equations as there are a_m. No mesh; the error falls as powers of r over the distance to the nearest image. Method: Lord
Rayleigh, Phil. Mag. 34 (1892) 481, extended to a strip.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

EXACT = 1e-10  # what is left of the series
TERMS = (6, 60)
POINTS = 33  # along half a pitch of the face, where the harmonics are added up
LARGEST = 1e8  # Biot number that counts as a wall of given temperature
FARTHEST = 1.5  # pitches behind the axes, beyond which a back face that is insulated does not show


@dataclass(frozen=True)
class ChannelRow:
    """What a row of channels does to a face.

    resistance [m2 K/W] : (mean temperature at the face - coolant)/mean flux there, by area of the face; shape_factor [-] :
    heat of one channel over (conductivity, that difference), per metre of channel; unevenness [-] : (hottest place of the
    face - mean)/(mean - coolant); spread : (hottest - coolest)/(mean - coolant); bore_share : largest flux at the bore over
    its mean; terms : multipoles that were used.
    """

    resistance: Array
    shape_factor: Array
    unevenness: Array
    spread: Array
    bore_share: Array
    terms: int


def channel_row(
    conductivity: ArrayLike,
    diameter: ArrayLike,
    depth: ArrayLike,
    pitch: ArrayLike,
    coefficient: ArrayLike = np.inf,
    face: str = "flux",
    block: ArrayLike = np.inf,
) -> ChannelRow:
    """Steady conduction from a plane face to an infinite row of round channels below it.

    conductivity [W/m/K] of the steel; diameter, depth (face to axes), pitch [m]; coefficient [W/m2/K] from the bore to the
    coolant, scale included; face : ``flux`` (even heat, as a moulding gives it off) or ``temperature`` (one temperature,
    as the shape factors of handbooks have it: then unevenness is 0); block [m] : thickness from the face to an insulated
    back. All numbers may be arrays over cases that broadcast. Raises ValueError where a channel touches the face, the
    back or its neighbour.

    >>> row = channel_row(1.0, 1.0, 2.0, 3.0, face="temperature")
    >>> round(float(row.shape_factor), 6)  # periodic collocation and finite elements
    1.616561
    """
    if face not in ("flux", "temperature"):
        raise ValueError(f"face is 'flux' or 'temperature', not {face!r}")
    given = (conductivity, diameter, depth, pitch, coefficient, block)
    k, d, z, p, h, thick = np.broadcast_arrays(*(np.asarray(x, float) for x in given))
    shape = k.shape
    k, r, z, p, h, thick = (np.ravel(x).astype(float) for x in (k, d / 2, z, p, h, thick))
    behind = np.minimum(thick - z, FARTHEST * p + r)
    if np.any((r <= 0.0) | (k <= 0.0) | (h <= 0.0)):
        raise ValueError("conductivity, diameter and coefficient are above 0")
    if np.any(z <= r) or np.any(p <= 2 * r) or np.any(behind <= r):
        raise ValueError("a channel reaches the face, the back of the block or the next channel")
    row = _Row(r / p, z / p, behind / p, np.minimum(h * r / k, LARGEST), face == "temperature")
    mean, profile, bore = row.solve()
    highest, lowest = profile.max(axis=1), profile.min(axis=1)
    mean, highest, lowest, bore, p, k = (np.reshape(x, shape) for x in (mean, highest, lowest, bore, p, k))
    return ChannelRow(
        resistance=np.asarray(mean * p / k),
        shape_factor=np.asarray(1.0 / mean),
        unevenness=np.asarray(highest / mean),
        spread=np.asarray((highest - lowest) / mean),
        bore_share=np.asarray(bore),
        terms=row.terms,
    )


class _Row:
    """The problem in pitches: radius, depth of the face, of the back, Biot number h r/k, (cases,) each; heat k dT = 1 a channel."""

    def __init__(self, r: Array, z: Array, b: Array, biot: Array, isothermal: bool):
        self.r, self.z, self.b, self.biot, self.isothermal = r, z, b, biot, isothermal
        near = float(np.max([r / (2 * z - r), r / (1 - r), r / (2 * b - r)]))
        self.terms = int(np.clip(np.ceil(np.log(EXACT) / np.log(near)), *TERMS))
        reach = float(np.min([z - r, b - r]))
        waves = int(np.clip(np.ceil((2 * self.terms + 40) / (4 * np.pi * (reach + float(np.min(r))))), 4, 4000))
        self.kappa = 2 * np.pi * np.arange(1, waves + 1)

    def solve(self) -> tuple[Array, Array, Array]:
        """(mean of the face over the coolant, its excess along half a pitch (cases, points), largest flux of the bore/mean)."""
        M, kappa = self.terms, self.kappa
        r, z, b = self.r, self.z, self.b
        a0 = 1.0 / (2 * np.pi)  # one unit of heat leaves through each channel
        order = np.arange(1.0, M + 1.0)
        # multipole m above the row: sum_n up[n, m] e^(-kappa y); below it: (-1)^m of that; ln(2 sinh): -1/n
        kr = kappa[None] * r[:, None]
        factorial = np.concatenate([[0.0], np.cumsum(np.log(order))])  # ln m!

        def grown(powers: Array, away: Array, log_factorial: Array) -> Array:
            """(kappa r)^power e^(-kappa away)/factorial, (cases, waves, powers): never large, as away > r."""
            exponent = powers * np.log(kr)[..., None] - (kappa[None] * away[:, None])[..., None] - log_factorial
            return np.asarray(np.exp(exponent))

        n = np.arange(1, len(kappa) + 1)[None, :, None]
        sources = {}
        for side, away in (("face", z), ("back", b)):
            poles = grown(order, away, factorial[:-1]) / n
            log = -np.exp(-kappa[None] * away[:, None])[..., None] / n
            sources[side] = np.concatenate([log, poles * (1.0 if side == "face" else (-1.0) ** order)], axis=2)
        # harmonics at face and back: A, B (cases, waves, 1 + M) for one unit of each source
        across = np.exp(-kappa[None] * (z + b)[:, None])[..., None]
        s, t = sources["face"], sources["back"]
        if self.isothermal:  # s + A + B e = 0 and B = t + A e
            A = -(s + t * across) / (1.0 + across**2)
        else:  # A = s + B e and B = t + A e
            A = (s + t * across) / (1.0 - across**2)
        B = t + A * across
        # what they are worth round the channel, as powers of u/r: (cases, powers 0 .. M, 1 + M)
        powers = np.arange(M + 1.0)
        local = np.einsum("cnl,cnm->clm", grown(powers, z, factorial), A)
        local += np.einsum("cnl,cnm->clm", grown(powers, b, factorial) * (-1.0) ** powers, B)
        local += self._neighbours()
        # mean field: beta makes the flux at the back vanish, alpha the mean of the face (or of the bore) what it is
        beta = np.pi * a0
        local[:, 1, 0] += beta * r / a0
        biot, at = self.biot[:, None], order[None]
        share = (at - biot) / (at + biot)  # outward = share times inward of each order, on a bore with a coefficient
        matrix = np.eye(M)[None] - share[..., None] * local[:, 1:, 1:]
        poles = np.linalg.solve(matrix, (share * local[:, 1:, 0] * a0)[..., None])[..., 0]
        strength = np.concatenate([np.full((len(r), 1), a0), poles], axis=1)
        # mean round the bore is the coolant plus the film: a_0/Biot; that fixes alpha, and with it the face
        round_bore = np.einsum("cm,cm->c", local[:, 0], strength) + a0 * np.log(2 * np.pi * r)
        alpha = a0 / self.biot - round_bore
        mean = alpha + beta * z + np.pi * a0 * z + strength[:, 1] * np.pi * r
        wave = np.einsum("cnm,cm->cn", s + A + B * across, strength)
        x = np.linspace(0.0, 0.5, POINTS)
        profile = wave @ np.cos(kappa[:, None] * x[None])
        inward = np.einsum("clm,cm->cl", local[:, 1:], strength)
        angle = np.linspace(0.0, np.pi, POINTS)
        flux = 1.0 + ((inward - poles) * order) @ np.cos(order[:, None] * angle[None]) / a0
        return mean, profile, flux.max(axis=1)

    def _neighbours(self) -> Array:
        """Coefficients of (u/r)^l that all other channels give, (cases, 0 .. M, source 0 .. M), l + m even."""
        M, r = self.terms, self.r
        orders = np.arange(M + 1)
        power, m = orders[:, None], orders[None, :]
        total = power + m
        even = (total % 2 == 0) & (total > 0)
        zeta = np.array([_zeta(n) if n >= 2 and n % 2 == 0 else 0.0 for n in range(2 * M + 1)])[total]
        log = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, 2 * M + 1)))])  # ln n!
        choose = np.exp(log[np.maximum(total - 1, 0)] - log[power] - log[np.maximum(m - 1, 0)])
        sign = (-1.0) ** (m + total // 2)
        table = np.where(even & (m > 0), 2.0 * choose * sign * zeta, 0.0)
        first = np.where(orders > 0, -((-1.0) ** (orders // 2)) * 2.0 * zeta[:, 0] / np.maximum(orders, 1), 0.0)
        table[:, 0] = np.where(orders % 2 == 0, first, 0.0)
        return np.asarray(table[None] * r[:, None, None] ** total[None])


def _zeta(n: int) -> float:
    """Riemann's zeta function of an even number: a direct sum, its tail by Euler and Maclaurin."""
    last, tail = 12.0, 0.0
    rising, power = float(n), last ** (-n - 1.0)
    for j, bernoulli in enumerate((1 / 12, -1 / 720, 1 / 30240)):  # B_2j/(2j)!
        tail += bernoulli * rising * power
        rising, power = rising * (n + 2 * j + 1) * (n + 2 * j + 2), power / last**2
    head = sum(float(j) ** -n for j in range(1, int(last)))
    return float(head + last ** (1.0 - n) / (n - 1.0) + 0.5 * last**-n + tail)


def thin_wire_shape_factor(diameter: ArrayLike, depth: ArrayLike, pitch: ArrayLike) -> Array:
    """The hand formula: 2 pi/ln[(2 p/(pi d)) sinh(2 pi z/p)] of each channel of a row under a face of one temperature.

    For thin channels: 1 to 6 % low at mould proportions (d/p 1/6 to 1/3), 12 % at d/p = 1/2. Tables of shape factors, for
    instance Cengel (from memory).

    >>> round(float(thin_wire_shape_factor(1.0, 2.0, 3.0)), 4)
    1.5168
    """
    d, z, p = (np.asarray(x, float) for x in (diameter, depth, pitch))
    return np.asarray(2 * np.pi / np.log(2 * p / (np.pi * d) * np.sinh(2 * np.pi * z / p)))
