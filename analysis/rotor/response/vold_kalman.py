"""Second-generation Vold-Kalman order filter: envelopes of orders that cross or are swept fast.

A vector of one turn holds whatever else is within that turn: the orders of another shaft, a free
vibration, a peak that is passed in a few turns. This filter looks for slowly changing complex
envelopes `x_k(n)` of given orders over the whole stretch at once, so that

    y(n) = Re[ Σ x_k(n) exp(jΘ_k(n)) ] + noise,   the p-th difference of x_k small.

Least squares: `(r² A'A + I) x = C^H y` for one order, its blocks coupled for several. The weight
`r` sets the bandwidth: the -3 dB width B of the filter around the order, two-sided.

Source: Vold and Leuridan, SAE 931288, 1993; weights: Tůma, 2005 (seen in slides and in code).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.model.results import Complexes, Floats

MOST_SAMPLES = 1 << 20
"""Longest stretch that is solved at once: a matrix of three bands an order."""

POLES = (1, 2, 3, 4)
"""Orders of the difference that is kept small: more make the filter's flanks steeper."""

_STIFFEST = 1e13
"""Largest entry of the matrix over the 1 that samples count with; digits run out at 10^16."""

_DIFFERENCES = {
    1: (1.0, -1.0),
    2: (1.0, -2.0, 1.0),
    3: (1.0, -3.0, 3.0, -1.0),
    4: (1.0, -4.0, 6.0, -4.0, 1.0),
}

_SHORTEST_ENDS = 1.0
"""An envelope is not to be believed within this over the bandwidth (s) of the stretch's ends."""


@dataclass(frozen=True, eq=False)
class OrderEnvelopes:
    """Envelopes of m components, zero-lag; `vectors[k]` is `A exp(-jφ)`, A p-p, shape (m, n).

    `bandwidth_hz` is the -3 dB width around each, two-sided. `settled`: first sample, and the one
    after the last, that are far enough from the ends, where the filter has one side only.
    """

    vectors: Complexes
    bandwidth_hz: float
    poles: int
    settled: tuple[int, int]


def weight(bandwidth_hz: float, sample_rate_hz: float, poles: int = 2) -> float:
    """The weight r of a -3 dB bandwidth (two-sided) for a filter of p poles.

    `r = sqrt((√2 - 1) / (2 - 2 cos(π B / fs))^p)`: a constant envelope passes unchanged, one that
    turns at B/2 comes out 3 dB lower.

    Raises:
        ValueError: for a bandwidth that is not between 0 and the sampling rate, or other poles.
    """
    if poles not in POLES:
        raise ValueError(f"poles are one of {POLES}, not {poles}")
    if not 0.0 < bandwidth_hz < sample_rate_hz:
        raise ValueError("the bandwidth lies between 0 and the sampling rate")
    # 2 - 2 cos x as 4 sin²(x/2), which keeps its digits for narrow filters.
    bend = 4.0 * math.sin(math.pi * bandwidth_hz / sample_rate_hz / 2.0) ** 2
    return math.sqrt((math.sqrt(2.0) - 1.0) / bend**poles)


def order_envelopes(
    values: Floats,
    phases: Floats,
    sample_rate_hz: float,
    bandwidth_hz: float,
    *,
    poles: int = 2,
) -> OrderEnvelopes:
    """The envelopes of some orders of a signal, solved for together.

    Args:
        values: displacement, µm, evenly sampled, finite, its mean taken out, shape (n,).
        phases: phase of each component at each sample, radians, shape (m, n): for an order of a
            shaft the order times the shaft angle from an event; for another shaft its own angle.
        sample_rate_hz: samples a second.
        bandwidth_hz: -3 dB width of each filter, two-sided. Components are told apart where
            they are further than this from each other for longer than about its inverse.
        poles: 1 to 4.

    Raises:
        ValueError: with shapes that differ, no component, or a stretch too short or too long.
    """
    m, n = phases.shape
    if len(values) != n or m == 0:
        raise ValueError("values and phases must be of one length, and there must be a component")
    if n <= 2 * poles or n * m > MOST_SAMPLES:
        raise ValueError(
            f"{n} samples of {m} components: a stretch has more than {2 * poles} samples and at "
            f"most {MOST_SAMPLES // m}"
        )
    r = weight(bandwidth_hz, sample_rate_hz, poles)
    if r * r * 4.0**poles > _STIFFEST:
        raise ValueError(
            f"a bandwidth of {bandwidth_hz:g} Hz with {poles} poles at {sample_rate_hz:g} samples "
            f"a second is beyond the digits of the arithmetic; take fewer poles or samples"
        )
    envelopes = _solved(values, np.exp(1j * phases), r, poles)
    edge = min(int(_SHORTEST_ENDS / bandwidth_hz * sample_rate_hz), n // 2)
    return OrderEnvelopes(
        # Zero to peak to p-p; the envelope x of Re[x exp(jΘ)] is A/2 exp(-jφ) already.
        vectors=2.0 * envelopes,
        bandwidth_hz=bandwidth_hz,
        poles=poles,
        settled=(edge, n - edge),
    )


def _solved(values: Floats, carriers: Complexes, r: float, poles: int) -> Complexes:
    """Envelopes, zero to peak: the normal equations, banded, samples outside and orders inside.

    A real signal is half of a turning phasor and half of its mirror image, which the filter throws
    out when the order is further than the bandwidth from zero: `y = Σ x_k e^{jΘ_k}` with twice the
    real signal. Orders are coupled at each sample by `conj(c_i) c_k`.
    """
    from scipy.linalg import solveh_banded

    m, n = carriers.shape
    stiffness = _difference_bands(n, poles) * r * r
    size = n * m
    # Lower form: bands[d, i] = M[i + d, i]; unknown of sample s and order k stands at s*m + k.
    bands = np.zeros((poles * m + 1, size), dtype=np.complex128)
    for away in range(poles + 1):
        for k in range(m):
            bands[away * m, k : size - away * m : m][: n - away] = stiffness[away, : n - away]
    for k in range(m):
        for i in range(k, m):
            coupling = carriers[i].conj() * carriers[k]
            bands[i - k, k::m] += coupling
    right = np.asarray(2.0 * values * carriers.conj(), dtype=np.complex128).T.reshape(size)
    solution = solveh_banded(bands, right, lower=True, overwrite_ab=True, overwrite_b=True)
    return np.asarray(solution.reshape(n, m).T, dtype=np.complex128)


def _difference_bands(n: int, poles: int) -> Floats:
    """Lower bands of A'A, with A the p-th difference, shape (p + 1, n)."""
    coefficients = _DIFFERENCES[poles]
    bands = np.zeros((poles + 1, n))
    rows = n - poles
    for away in range(poles + 1):
        for k in range(poles + 1 - away):
            bands[away, k : k + rows] += coefficients[k] * coefficients[k + away]
    return bands
