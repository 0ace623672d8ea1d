"""Three- and four-parameter sine fits of IEEE Std 1057, annex A.

The method was **seen** in notes on it: columns cos ωt, sin ωt and 1; A = hypot(A0, B0),
lag = atan2(B0, A0); the fourth column t(-A0 sin ωt + B0 cos ωt), repeated. Values are **computed**
by `scipy.optimize.curve_fit`, the reference library.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from analysis.signal.peak import strongest_line
from analysis.signal.sine_fit import fit_known_frequency, fit_sine

T = np.arange(512) / 1000.0


def model(t: np.ndarray, f: float, a: float, b: float, c: float) -> np.ndarray:
    return a * np.cos(2.0 * np.pi * f * t) + b * np.sin(2.0 * np.pi * f * t) + c


@given(
    st.floats(0.1, 500.0),
    st.floats(0.0, 2.0 * math.pi - 1e-6),
    st.floats(-2000.0, 2000.0),
    st.floats(10.0, 450.0),
    st.floats(-0.4, 0.4),
)
def test_an_exact_sine_comes_back(
    amplitude: float, lag: float, offset: float, frequency: float, off_lines: float
) -> None:
    values = offset + amplitude * np.cos(2.0 * np.pi * frequency * T - lag)
    size = amplitude + 1e-9 * abs(offset)
    for fit in (
        fit_known_frequency(T, values, frequency),
        fit_sine(T, values, frequency + off_lines * 1000.0 / len(T)),
    ):
        assert fit.frequency_hz == pytest.approx(frequency, rel=1e-7)
        assert fit.amplitude == pytest.approx(amplitude, abs=1e-6 * size)
        assert fit.offset == pytest.approx(offset, abs=1e-6 * size)
        turned = (fit.lag_rad - lag + math.pi) % (2.0 * math.pi) - math.pi
        assert abs(turned) < 1e-4
        assert 0.0 <= fit.lag_rad < 2.0 * math.pi
        assert fit.residual_rms < 1e-5 * size


@pytest.mark.parametrize("seed", range(5))
def test_against_curve_fit(seed: int) -> None:
    draw = np.random.default_rng(seed)
    frequency = float(draw.uniform(20.0, 400.0))
    values = model(T, frequency, 3.0, -2.0, 10.0) + 0.5 * draw.standard_normal(len(T))
    ours = fit_sine(T, values, frequency + 0.4)
    (f, a, b, c), _ = curve_fit(model, T, values, p0=(frequency, 3.0, -2.0, 10.0))
    assert ours.frequency_hz == pytest.approx(f, rel=1e-7)
    assert ours.amplitude == pytest.approx(math.hypot(a, b), rel=1e-6)
    assert ours.lag_rad == pytest.approx(math.atan2(b, a) % (2.0 * math.pi), abs=1e-5)
    assert ours.offset == pytest.approx(c, rel=1e-6)
    left = values - model(T, f, a, b, c)
    assert ours.residual_rms == pytest.approx(math.sqrt(np.mean(left**2)), rel=1e-6)


def test_a_sine_without_a_reference() -> None:
    """49.37 Hz in 4 s (197.48 lines): amplitude within 0.5 %, computed truth."""
    rate, draw = 2000.0, np.random.default_rng(8)
    t = np.arange(round(4.0 * rate)) / rate
    values = 1250.0 - 25.0 * np.cos(2.0 * np.pi * 49.37 * t + 1.0)
    values += 0.5 * draw.standard_normal(len(t))
    found = strongest_line(values, rate)
    assert found is not None
    assert found.amplitude == pytest.approx(25.0, rel=0.005)
    assert found.frequency_hz == pytest.approx(49.37, abs=0.001)
    at_line = 2.0 * abs(np.mean((values - values.mean()) * np.exp(-2j * np.pi * 49.25 * t)))
    assert at_line < 0.75 * 25.0  # what the nearest line alone would have read
