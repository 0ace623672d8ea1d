"""Windows and spectra against `scipy.signal` (BSD), the **reference library**.

`scipy.signal.windows` in its periodic form (`sym=False`); `periodogram` and `welch` with
`scaling="spectrum"` and the mean taken out, whose lines are mean squares: a sine of peak A on a
line reads A²/2. At zero and half the rate a mean square of a constant has no such factor, so those
two lines are left out.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from analysis.signal.spectrum import spectrum
from analysis.signal.windows import WINDOW_NAMES, window

REFERENCE = {
    "rectangular": "boxcar",
    "hann": "hann",
    "hamming": "hamming",
    "blackman": "blackman",
    "blackman-harris": "blackmanharris",
    "flat-top": "flattop",
}


@pytest.mark.parametrize("name", WINDOW_NAMES)
@pytest.mark.parametrize("length", [16, 255, 1024])
def test_windows(name: str, length: int) -> None:
    wanted = getattr(signal.windows, REFERENCE[name])(length, sym=False)
    assert window(name, length) == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("name", WINDOW_NAMES)
@pytest.mark.parametrize("length", [1000, 1001])
def test_one_sided_lines_of_noise(name: str, length: int) -> None:
    values = np.random.default_rng(1).normal(3.0, 2.0, length)
    ours = spectrum(values, 5120.0, window_name=name, scaling="rms")
    frequency, squares = signal.periodogram(
        values, 5120.0, window=REFERENCE[name], detrend="constant", scaling="spectrum"
    )
    assert ours.frequency == pytest.approx(frequency)
    last = -1 if length % 2 == 0 else None
    assert ours.amplitude_um[1:last] == pytest.approx(np.sqrt(squares)[1:last], rel=1e-9)


@pytest.mark.parametrize("name", WINDOW_NAMES)
def test_two_sided_lines_of_noise(name: str) -> None:
    draw = np.random.default_rng(2)
    values = draw.normal(size=900) + 1j * draw.normal(size=900)
    ours = spectrum(values, 900.0, window_name=name, scaling="peak")
    frequency, squares = signal.periodogram(
        values,
        900.0,
        window=REFERENCE[name],
        detrend="constant",
        scaling="spectrum",
        return_onesided=False,
    )
    order = np.argsort(frequency)
    assert ours.two_sided
    assert ours.frequency == pytest.approx(frequency[order])
    # A circle of radius R has the mean square R².
    assert ours.amplitude_um == pytest.approx(np.sqrt(squares[order]), rel=1e-9)


def test_mean_of_segments_is_welch() -> None:
    """Mean square of our segments' lines, half overlapped, against `welch`."""
    values = np.random.default_rng(3).normal(size=8192)
    length, step = 1024, 512
    squares = [
        spectrum(values[i : i + length], 2048.0, window_name="hann", scaling="rms").amplitude_um
        ** 2
        for i in range(0, len(values) - length + 1, step)
    ]
    _, wanted = signal.welch(values, 2048.0, nperseg=length, scaling="spectrum", window="hann")
    assert np.mean(squares, axis=0)[1:-1] == pytest.approx(wanted[1:-1], rel=1e-9)
