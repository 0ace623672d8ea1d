"""Amplitude spectra with a named window and a stated scaling."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Floats, SpectrumResult

from .windows import WindowName, coherent_gain, equivalent_noise_bandwidth, window

Scaling = Literal["p-p", "peak", "rms"]

_OF_PEAK: Final[dict[Scaling, float]] = {"p-p": 2.0, "peak": 1.0, "rms": math.sqrt(0.5)}


def spectrum(
    values: NDArray[Any],
    sample_rate: float,
    *,
    window_name: WindowName = "hann",
    scaling: Scaling = "p-p",
    axis: Literal["hz", "orders"] = "hz",
) -> SpectrumResult:
    """Amplitude spectrum: a sinusoid on a line reads its amplitude in the scaling asked for.

    Real values give the one-sided spectrum (lines 0 to half the rate; a cosine of peak A reads 2A
    p-p). Complex values `x + jy` give the two-sided one, with a circle of radius R turning
    counter-clockwise at +f reading 2R p-p there, since that is what a probe beside it would read.
    The mean is taken out first.

    Args:
        values: the signal, shape (n,), n >= 2, finite.
        sample_rate: samples a second, or samples a turn for `axis="orders"`.
        window_name: one of `WINDOW_NAMES`; periodic form.
        scaling: what is read: p-p, peak or rms of each line as a sinusoid (rms of a circle: of
            either probe).
        axis: what the frequencies are; only carried along.
    """
    n = len(values)
    weights, mean_weight, enbw = _weighing(window_name, n)
    weighted = (values - np.mean(values)) * weights
    two_sided = bool(np.iscomplexobj(values))
    gain = n * mean_weight
    if two_sided:
        frequency = np.fft.fftshift(np.fft.fftfreq(n, 1.0 / sample_rate))
        peak = np.abs(np.fft.fftshift(np.fft.fft(weighted))) / gain
    else:
        frequency = np.fft.rfftfreq(n, 1.0 / sample_rate)
        peak = np.abs(np.fft.rfft(weighted)) * (2.0 / gain)
        peak[0] /= 2.0
        if n % 2 == 0:
            peak[-1] /= 2.0
    amplitude: Floats = peak * _OF_PEAK[scaling]
    result = SpectrumResult(
        frequency=frequency,
        amplitude_um=amplitude,
        axis=axis,
        two_sided=two_sided,
        scaling=scaling,
        window=window_name,
        resolution=sample_rate / n,
        enbw=enbw,
    )
    _ = result.median_um  # worked out here, not where the picture is drawn
    return result


@lru_cache(maxsize=4)
def _weighing(name: WindowName, n: int) -> tuple[Floats, float, float]:
    """A window, its coherent gain and its noise bandwidth; while a moment moves, the same again."""
    weights = window(name, n)
    weights.setflags(write=False)
    return weights, coherent_gain(weights), equivalent_noise_bandwidth(weights)
