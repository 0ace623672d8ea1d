"""How sure amplitude, frequency and phase of a sine can be.

Source: Kay, *Fundamentals of Statistical Signal Processing: Estimation Theory*, 1993, example 3.14
(formulas **from memory**), numbers **computed**; they agree with the exact inverse of the Fisher
matrix within 0.5 %, which is done over again here. Then the program's own estimators are held
against the bounds in seeded trials.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.rotor.revolutions import revolution_table
from analysis.signal.bounds import cramer_rao_sine
from analysis.signal.sine_fit import fit_known_frequency, fit_sine
from tests.analysis.synthetic import Signal, capture_of, setup_of, steady


def test_numbers() -> None:
    """A 1 (zero-to-peak), noise 0.1, N 1000."""
    bounds = cramer_rao_sine(1.0, 0.1, 1000)
    assert bounds.amplitude == pytest.approx(0.004472, abs=5e-7)
    assert bounds.frequency_rad == pytest.approx(1.5492e-5, abs=5e-10)
    assert bounds.phase_rad == pytest.approx(0.008938, abs=1e-6)
    assert math.degrees(bounds.phase_rad) == pytest.approx(0.512, abs=5e-4)
    assert bounds.phase_known_rad == pytest.approx(0.004472, abs=5e-7)
    assert math.degrees(bounds.phase_known_rad) == pytest.approx(0.256, abs=5e-4)
    assert bounds.offset == pytest.approx(0.003162, abs=5e-7)


def fisher_deviations(amplitude: float, noise: float, n: int, w: float, phase: float) -> np.ndarray:
    """Least deviations of amplitude, w, phase and offset by the inverse Fisher matrix."""
    i = np.arange(n)
    angle = w * i + phase
    slopes = np.column_stack(
        [np.cos(angle), -amplitude * i * np.sin(angle), -amplitude * np.sin(angle), np.ones(n)]
    )
    return np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes / noise**2)))


@pytest.mark.parametrize(("amplitude", "noise", "n"), [(1.0, 0.1, 1000), (50.0, 2.0, 4000)])
def test_inverse_fisher_matrix(amplitude: float, noise: float, n: int) -> None:
    bounds = cramer_rao_sine(amplitude, noise, n)
    exact = fisher_deviations(amplitude, noise, n, 0.3, 0.5)
    formula = [bounds.amplitude, bounds.frequency_rad, bounds.phase_rad, bounds.offset]
    assert formula == pytest.approx(exact, rel=5e-3)


def test_sine_fit_reaches_the_bound() -> None:
    """Scatter of the four-parameter fit over 1500 trials; ±5 % is nearly three of its own sd."""
    amplitude, noise, n, w, lag, offset = 1.0, 0.1, 1000, 0.3, 0.8, -4.0
    rate, trials = 1000.0, 1500
    t = np.arange(n) / rate
    clean = offset + amplitude * np.cos(w * np.arange(n) - lag)
    draw = np.random.default_rng(1993)
    start = w * rate / (2.0 * np.pi) + 0.3 * rate / n  # 0.3 of an FFT line off
    fits = [fit_sine(t, clean + noise * draw.standard_normal(n), start) for _ in range(trials)]
    bounds = cramer_rao_sine(amplitude, noise, n)
    scatter = {
        "amplitude": (np.array([f.amplitude for f in fits]), amplitude, bounds.amplitude),
        "offset": (np.array([f.offset for f in fits]), offset, bounds.offset),
        "phase": (np.array([f.lag_rad for f in fits]), lag, bounds.phase_rad),
        "frequency": (
            np.array([f.frequency_hz for f in fits]) * 2.0 * np.pi / rate,
            w,
            bounds.frequency_rad,
        ),
    }
    for what, (values, truth, bound) in scatter.items():
        ratio = values.std(ddof=1) / bound
        assert 0.95 < ratio < 1.05, (what, ratio)
        assert abs(values.mean() - truth) < 4.0 * bound / math.sqrt(trials), what


def test_known_frequency_fit_reaches_the_bound() -> None:
    amplitude, noise, n, trials = 2.0, 0.3, 400, 1500
    t = np.arange(n) / 400.0
    clean = amplitude * np.cos(2.0 * np.pi * 20.0 * t - 2.0)
    draw = np.random.default_rng(3)
    fits = [
        fit_known_frequency(t, clean + noise * draw.standard_normal(n), 20.0) for _ in range(trials)
    ]
    bounds = cramer_rao_sine(amplitude, noise, n)
    lags = np.std([f.lag_rad for f in fits], ddof=1)
    assert lags / bounds.phase_known_rad == pytest.approx(1.0, abs=0.06)
    assert np.std([f.amplitude for f in fits], ddof=1) / bounds.amplitude == pytest.approx(
        1.0, abs=0.06
    )


@pytest.mark.parametrize(
    ("rpm", "rate"), [(3000.7, 5120.0), (5391.0, 10_240.0), (612.3, 5120.0), (2971.0, 2000.0)]
)
def test_vectors_of_revolutions(rpm: float, rate: float) -> None:
    """1X vectors in white noise: scatter within 12 % of the bound of all samples in the turn.

    Both parts, along the mean vector and across it; the reference has edges that several samples
    lie on, so that its events are exact and the scatter is the probe's alone.
    """
    noise, amplitude, lag = 2.0, 80.0, 120.0
    signals = {"X": Signal(1250.0, {1: (amplitude, lag)}), "Y": Signal(1200.0, {1: (60.0, 30.0)})}
    seconds = 1500 * 60.0 / rpm
    capture = capture_of(
        steady(rpm), seconds, rate, signals=signals, edge_turns=0.05, noise_um=noise
    )
    table = revolution_table(capture, setup_of(), capture.span)
    vectors = table.probes["X"].vectors[1]
    assert len(vectors) >= 1490
    samples = rate * 60.0 / rpm
    turned = vectors * np.exp(1j * math.radians(lag))
    # p-p is twice zero-to-peak.
    bound = 2.0 * noise * math.sqrt(2.0 / samples)
    for part in (turned.real, turned.imag):
        # 1500 turns: the scatter itself is known to 1.8 %.
        assert 0.95 < part.std(ddof=1) / bound < 1.12
    assert turned.real.mean() == pytest.approx(amplitude, rel=0.001)
    assert abs(math.degrees(turned.imag.mean() / amplitude)) < 0.1
