"""A line between FFT lines.

Source: Grandke, "Interpolation algorithms for discrete Fourier transforms of weighted signals",
IEEE Trans. IM-32(2), 1983. The place δ = (2α - 1)/(α + 1) was **seen**; the check (N 1024, bin
100.3: α 0.764706, δ 0.3, highest line 0.943290 of the amplitude) is **computed**.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.signal.peak import hann_two_bin, strongest_line
from analysis.signal.spectrum import spectrum

N = 1024


def sine(bins: float, amplitude: float = 1.0) -> np.ndarray:
    return amplitude * np.cos(2.0 * np.pi * bins * np.arange(N) / N + 0.7)


def test_two_bins() -> None:
    lines = spectrum(sine(100.3), N, window_name="hann", scaling="peak").amplitude_um
    assert lines[100] == pytest.approx(0.943290, abs=2e-6)
    assert lines[101] / lines[100] == pytest.approx(0.764706, abs=2e-6)
    assert hann_two_bin(lines[100], lines[101]) == pytest.approx(0.3, abs=5e-6)


@pytest.mark.parametrize("fraction", [0.0, 0.1, 0.3, 0.5, 0.77, 0.999])
def test_place_of_a_line(fraction: float) -> None:
    lines = spectrum(sine(100.0 + fraction), N, window_name="hann", scaling="peak").amplitude_um
    # 3e-5: what the line at negative frequency leaks up here.
    assert hann_two_bin(lines[100], lines[101]) == pytest.approx(fraction, abs=3e-5)


@pytest.mark.parametrize("bins", [100.3, 100.5, 12.49, 400.0])
def test_the_amplitude_does_not_fall_between_lines(bins: float) -> None:
    found = strongest_line(sine(bins, 37.0) - 1200.0, float(N))
    assert found is not None
    assert found.amplitude == pytest.approx(37.0, rel=1e-9)
    assert found.frequency_hz == pytest.approx(bins, rel=1e-9)
