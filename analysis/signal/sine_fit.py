"""Least-squares sine fits, the three- and four-parameter methods of IEEE Std 1057 (annex A)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class SineFit:
    """`x ≈ offset + amplitude · cos(2π f t - lag)`.

    `amplitude` is zero-to-peak in the unit of the signal, `lag_rad` within 0 to 2π, `residual_rms`
    what the fit leaves over.
    """

    frequency_hz: float
    amplitude: float
    lag_rad: float
    offset: float
    residual_rms: float


def fit_known_frequency(times_s: Floats, values: Floats, frequency_hz: float) -> SineFit:
    """Three-parameter fit: amplitude, lag and offset at a known frequency.

    Args:
        times_s: sample times, s, shape (n,), n >= 3.
        values: the signal, shape (n,), finite.
        frequency_hz: the frequency, above 0.
    """
    angle = 2.0 * np.pi * frequency_hz * times_s
    basis = np.column_stack([np.cos(angle), np.sin(angle), np.ones_like(angle)])
    (a, b, c), *_ = np.linalg.lstsq(basis, values, rcond=None)
    return _result(frequency_hz, a, b, c, values - basis @ np.array([a, b, c]))


def fit_sine(times_s: Floats, values: Floats, frequency_hz: float, passes: int = 8) -> SineFit:
    """Four-parameter fit, starting from a frequency that is right to within about half an FFT line.

    Args:
        times_s: sample times, s, shape (n,), n >= 4.
        values: the signal, shape (n,), finite.
        frequency_hz: first guess.
        passes: linearised steps at most; it ends earlier when the frequency stands still.
    """
    # Time from the middle keeps the columns nearly orthogonal.
    middle = (times_s[0] + times_s[-1]) / 2.0
    t = times_s - middle
    length = max(times_s[-1] - times_s[0], np.finfo(float).tiny)
    first = fit_known_frequency(t, values, frequency_hz)
    frequency = frequency_hz
    a, b = first.amplitude * math.cos(first.lag_rad), first.amplitude * math.sin(first.lag_rad)
    for _ in range(passes):
        angle = 2.0 * np.pi * frequency * t
        cosine, sine = np.cos(angle), np.sin(angle)
        slope = 2.0 * np.pi * t * (b * cosine - a * sine)
        basis = np.column_stack([cosine, sine, np.ones_like(t), slope])
        (a, b, _c, step), *_ = np.linalg.lstsq(basis, values, rcond=None)
        # More than half a line a step would leave the neighbourhood that the method is true in.
        step = float(np.clip(step, -0.5 / length, 0.5 / length))
        frequency += step
        if abs(step) < 1e-12 * max(frequency, 1.0 / length):
            break
    return fit_known_frequency(times_s, values, frequency)


def _result(frequency: float, a: float, b: float, c: float, residual: Floats) -> SineFit:
    lag = math.atan2(b, a) % (2.0 * math.pi)
    return SineFit(
        frequency_hz=float(frequency),
        amplitude=math.hypot(a, b),
        # A tiny negative angle rounds up to the whole turn itself.
        lag_rad=0.0 if lag >= 2.0 * math.pi else lag,
        offset=float(c),
        residual_rms=float(np.sqrt(np.mean(residual**2))),
    )
