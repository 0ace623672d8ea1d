"""Windows by name, periodic form, and their figures.

Harris, "On the use of windows for harmonic analysis with the discrete Fourier transform",
Proc. IEEE 66(1), 1978.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
WindowName = Literal["rectangular", "hann", "hamming", "blackman", "blackman-harris", "flat-top"]

# Cosine sums `w[i] = Σ (-1)^k a_k cos(2πki/n)`: the named windows of `scipy.signal.windows`, which
# takes a third of a second to import; the tests hold them against it.
_COEFFICIENTS: Final[dict[WindowName, tuple[float, ...]]] = {
    "rectangular": (1.0,),
    "hann": (0.5, 0.5),
    "hamming": (0.54, 0.46),
    "blackman": (0.42, 0.50, 0.08),
    "blackman-harris": (0.35875, 0.48829, 0.14128, 0.01168),
    "flat-top": (0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368),
}

WINDOW_NAMES: Final[tuple[WindowName, ...]] = tuple(_COEFFICIENTS)


@lru_cache(maxsize=8)
def window(name: WindowName, length: int) -> Floats:
    """The window of that name, periodic form (`sym=False` elsewhere), shape (length,), read-only.

    Kept, since one spectrum after another is taken with the same window while a moment moves.
    """
    angle = 2.0 * np.pi * np.arange(length) / length
    out = np.zeros(length)
    for k, coefficient in enumerate(_COEFFICIENTS[name]):
        out += (-1.0) ** k * coefficient * np.cos(k * angle)
    out.flags.writeable = False
    return out


def coherent_gain(weights: Floats) -> float:
    """Mean of the window: what the amplitude of a line on a bin is multiplied by."""
    return float(np.mean(weights))


def equivalent_noise_bandwidth(weights: Floats) -> float:
    """Equivalent noise bandwidth in bins, `N Σw² / (Σw)²`."""
    return float(len(weights) * np.sum(weights**2) / np.sum(weights) ** 2)
