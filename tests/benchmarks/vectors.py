"""Bias and scatter of the 1X vector against exact truth and the Cramér-Rao bound."""

from __future__ import annotations

import numpy as np

from analysis.rotor.revolutions import revolution_table
from tests.analysis import synthetic

RATE_HZ, RPM, SECONDS, NOISE_UM = 20_000.0, 2400.0, 60.0, 2.0


def vector_figures() -> tuple[float, float, float]:
    """Bias of amplitude (per cent) and of lag (degrees), and scatter over its bound.

    Bound of the amplitude of a sine in white noise, p-p: `2 σ sqrt(2/N)` with N samples a turn
    (Kay, *Fundamentals of Statistical Signal Processing*, 1993, example 3.14).
    """
    capture = synthetic.capture_of(synthetic.steady(RPM), SECONDS, RATE_HZ, noise_um=NOISE_UM)
    table = revolution_table(capture, synthetic.setup_of(), capture.span)
    amplitude, lag = synthetic.X.orders[1]
    turned = table.probes["X"].vectors[1] * np.exp(1j * np.radians(lag))
    bound = 2.0 * NOISE_UM * np.sqrt(2.0 / (RATE_HZ * 60.0 / RPM))
    mean = turned.mean()
    bias = 100.0 * (abs(mean) / amplitude - 1.0)
    return float(bias), float(-np.degrees(np.angle(mean))), float(np.std(turned.real) / bound)
