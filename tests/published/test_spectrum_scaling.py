"""What a line of a spectrum reads: p-p, peak, rms, and the power of the whole.

Sources: p-p = 2 peak = 2√2 rms of a sinusoid (definition, **computed**); Parseval's theorem with
the window's equivalent noise bandwidth (Harris 1978, **computed**).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.signal.spectrum import spectrum
from analysis.signal.windows import WINDOW_NAMES, window

RATE = 2048.0
N = 2048


@pytest.mark.parametrize("name", WINDOW_NAMES)
@pytest.mark.parametrize(
    ("scaling", "factor"), [("p-p", 2.0), ("peak", 1.0), ("rms", 1.0 / math.sqrt(2.0))]
)
def test_a_sine_on_a_line(name: str, scaling: str, factor: float) -> None:
    values = -40.0 + 25.0 * np.cos(2.0 * np.pi * 60.0 * np.arange(N) / RATE - 1.1)
    result = spectrum(values, RATE, window_name=name, scaling=scaling)
    peak = int(np.argmax(result.amplitude_um))
    assert result.frequency[peak] == 60.0
    assert result.amplitude_um[peak] == pytest.approx(25.0 * factor, rel=1e-9)


@pytest.mark.parametrize("name", WINDOW_NAMES)
@pytest.mark.parametrize("n", [1500, 1501])
def test_parseval(name: str, n: int) -> None:
    """Σ rms² / ENBW is the mean square of the signal under the window."""
    values = np.random.default_rng(4).normal(size=n)
    result = spectrum(values, RATE, window_name=name, scaling="rms")
    squares = result.amplitude_um**2
    # A constant, and a line at half the rate, have a mean square of peak² and not of half that.
    squares[0] *= 2.0
    if n % 2 == 0:
        squares[-1] *= 2.0
    weights = window(name, n)
    under_window = np.sum((weights * (values - values.mean())) ** 2) / np.sum(weights**2)
    assert squares.sum() / result.enbw == pytest.approx(under_window, rel=1e-9)


@pytest.mark.parametrize("name", WINDOW_NAMES)
def test_level_of_white_noise(name: str) -> None:
    """A line of white noise of density d reads rms sqrt(d · ENBW · resolution)."""
    draw = np.random.default_rng(5)
    sd, n, trials = 3.0, 512, 400
    density = sd**2 / (RATE / 2.0)
    squares = np.zeros(n // 2 + 1)
    for _ in range(trials):
        result = spectrum(draw.normal(0.0, sd, n), RATE, window_name=name, scaling="rms")
        squares += result.amplitude_um**2 / trials
    wanted = density * result.enbw * result.resolution
    assert result.resolution == RATE / n
    # Away from zero, where the mean was taken out. 400 trials × 240 lines: better than 1 %.
    assert squares[12:-8].mean() == pytest.approx(wanted, rel=0.01)


@pytest.mark.parametrize("name", WINDOW_NAMES)
def test_circles_stand_on_their_own_side(name: str) -> None:
    """Radius 30 counter-clockwise at +50 Hz, radius 8 clockwise: 2R p-p on either side."""
    t = np.arange(N) / RATE
    values = (
        5.0
        + 2.0j
        + 30.0 * np.exp(1j * (2.0 * np.pi * 50.0 * t + 0.3))
        + 8.0 * np.exp(-1j * (2.0 * np.pi * 50.0 * t - 0.9))
    )
    result = spectrum(values, RATE, window_name=name, scaling="p-p")
    at = {f: a for f, a in zip(result.frequency, result.amplitude_um, strict=True)}
    assert at[50.0] == pytest.approx(60.0, rel=1e-9)
    assert at[-50.0] == pytest.approx(16.0, rel=1e-9)
    others = [a for f, a in at.items() if abs(abs(f) - 50.0) > 6.0]
    assert max(others) < 1e-9


def test_what_a_probe_beside_a_circle_reads() -> None:
    """A forward circle reads the same p-p two-sided and, from one probe, one-sided."""
    t = np.arange(N) / RATE
    circle = 30.0 * np.exp(2j * np.pi * 50.0 * t)
    both = spectrum(circle, RATE, scaling="p-p").amplitude_um.max()
    one = spectrum(circle.real, RATE, scaling="p-p").amplitude_um.max()
    assert both == pytest.approx(60.0, rel=1e-9)
    assert one == pytest.approx(both, rel=1e-9)
