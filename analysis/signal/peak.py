"""The strongest line of a signal, with its amplitude between the FFT lines too."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .sine_fit import SineFit, fit_sine
from .windows import window

Floats = NDArray[np.float64]

_CLEAR = 6.0
"""A line counts when it stands this many standard deviations of its own noise above nothing."""


def hann_two_bin(magnitude_low: float, magnitude_high: float) -> float:
    """Place of a line between two neighbouring FFT lines of a Hann-windowed signal, 0 to 1.

    Args:
        magnitude_low: magnitude of the lower line.
        magnitude_high: magnitude of the upper line.

    Source: Grandke, IEEE Trans. IM-32(2), 1983.
    """
    ratio = magnitude_high / magnitude_low
    return (2.0 * ratio - 1.0) / (ratio + 1.0)


def strongest_line(
    values: Floats,
    sample_rate_hz: float,
    *,
    low_hz: float = 0.0,
    high_hz: float | None = None,
) -> SineFit | None:
    """The strongest sinusoid of a signal between two frequencies.

    An FFT with a Hann window finds it, two-bin interpolation places it between the lines, a
    four-parameter sine fit settles it.

    Args:
        values: the signal, shape (n,); NaN samples are left out of the fit.
        sample_rate_hz: samples a second.
        low_hz: lowest frequency looked at; 0 stands for one and a half lines above zero.
        high_hz: highest frequency looked at; half the sampling rate when not given.

    Returns:
        The fit, or `None` when nothing stands clear of the noise or the signal is too short.
    """
    finite = np.isfinite(values)
    n = len(values)
    if n < 16 or np.count_nonzero(finite) < 0.5 * n:
        return None
    centred = np.where(finite, values - np.mean(values[finite]), 0.0)
    magnitude = np.abs(np.fft.rfft(centred * window("hann", n)))
    line_hz = sample_rate_hz / n
    low = max(int(np.ceil(low_hz / line_hz)), 2)
    high = len(magnitude) - 2
    if high_hz is not None:
        high = min(int(np.floor(high_hz / line_hz)), high)
    if high < low:
        return None
    peak = low + int(np.argmax(magnitude[low : high + 1]))
    lower = peak if magnitude[peak + 1] >= magnitude[peak - 1] else peak - 1
    if magnitude[lower] <= 0.0:
        return None
    place = lower + hann_two_bin(float(magnitude[lower]), float(magnitude[lower + 1]))
    times = np.arange(n) / sample_rate_hz
    fit = fit_sine(times[finite], values[finite], place * line_hz)
    noise = fit.residual_rms * np.sqrt(2.0 / np.count_nonzero(finite))
    clear = fit.amplitude > _CLEAR * noise and abs(fit.frequency_hz / line_hz - place) < 2.0
    return fit if clear else None
