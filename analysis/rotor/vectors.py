"""nX vectors as complex numbers: `A exp(-jφ)`, `A` µm p-p, `φ` the phase lag (contract, 1)."""

from __future__ import annotations

import cmath
import math

import numpy as np

from analysis.model.results import Complexes, Reading, VectorReading


def vector_from(amplitude_um_pp: float, phase_lag_deg: float) -> complex:
    """The vector of an amplitude (µm p-p) and a phase lag (degrees)."""
    return cmath.rect(amplitude_um_pp, -math.radians(phase_lag_deg))


def amplitude_and_lag(vector: complex) -> tuple[float, float]:
    """Amplitude (µm p-p) and phase lag (degrees, `0 <= lag < 360`) of a vector."""
    lag = math.degrees(-cmath.phase(vector)) % 360.0
    # A tiny negative angle rounds up to 360 itself.
    return abs(vector), 0.0 if lag >= 360.0 else lag


def synchronous_average(order: int, vectors: Complexes, phase_known: bool) -> VectorReading | None:
    """Mean of the complex vectors of a span's revolutions, with its scatter.

    The scatter of the amplitude is the standard deviation along the mean vector, that of the lag
    the standard deviation across it, as an angle: amplitudes alone would be biased by noise, and
    angles alone wrap.

    Args:
        order: the order n.
        vectors: one vector a revolution; NaN where the revolution is void.
        phase_known: whether θ has its origin at a phase-reference event.

    Returns:
        The reading, or `None` when no revolution is valid.
    """
    valid = vectors[np.isfinite(vectors)]
    if len(valid) == 0:
        return None
    mean = complex(valid.mean())
    amplitude, lag = amplitude_and_lag(mean)
    along: float | None = None
    across_deg: float | None = None
    if len(valid) > 1 and amplitude > 0.0:
        # By hand: np.std takes several times as long over so few values.
        turned = (valid - mean) * (mean.conjugate() / amplitude)
        free = len(valid) - 1
        along = math.sqrt(float(turned.real @ turned.real) / free)
        across = math.sqrt(float(turned.imag @ turned.imag) / free)
        across_deg = math.degrees(math.atan2(across, amplitude))
    return VectorReading(
        order=order,
        vector=mean,
        amplitude=Reading(amplitude, along),
        phase_lag_deg=Reading(lag, across_deg) if phase_known else None,
    )
