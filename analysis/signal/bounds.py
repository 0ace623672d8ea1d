"""Cramér-Rao bounds of a real sinusoid in white noise.

Kay, *Fundamentals of Statistical Signal Processing: Estimation Theory*, 1993, example 3.14.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class SineBounds:
    """Least standard deviations that any unbiased estimator can have.

    `amplitude` and `offset` in the unit of the signal, `frequency_rad` in radians a sample,
    `phase_rad` at the first sample with the frequency unknown, `phase_known_rad` with it known.
    """

    amplitude: float
    offset: float
    frequency_rad: float
    phase_rad: float
    phase_known_rad: float


def cramer_rao_sine(amplitude: float, noise_sd: float, n: int) -> SineBounds:
    """Bounds for a sinusoid of zero-to-peak `amplitude` in white noise, from `n` samples.

    Raises:
        ValueError: when the amplitude or the count leaves nothing to bound.
    """
    if amplitude <= 0 or n < 2:
        raise ValueError("bounds need an amplitude above 0 and at least two samples")
    snr = amplitude**2 / (2.0 * noise_sd**2) if noise_sd > 0 else math.inf
    return SineBounds(
        amplitude=noise_sd * math.sqrt(2.0 / n),
        offset=noise_sd / math.sqrt(n),
        frequency_rad=math.sqrt(12.0 / (snr * n * (n * n - 1.0))),
        phase_rad=math.sqrt(2.0 * (2.0 * n - 1.0) / (snr * n * (n + 1.0))),
        phase_known_rad=math.sqrt(1.0 / (snr * n)),
    )
