"""Slow roll taken off as a vector: two sums that anybody can do with a pencil.

Source: vector subtraction, **computed**: 50 µm at 120° less 12 µm at 300° is 62.000 µm at 120.00°;
30 µm at 45° less 8 µm at 10° is 23.8916 µm at 56.0730°. That it is a vector (or a whole waveform by
angle) and never a scalar: **common practice**.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.response_results import ResponsePoints
from analysis.rotor.response.slow_roll import compensated, typed
from analysis.rotor.vectors import amplitude_and_lag, vector_from


@pytest.mark.parametrize(
    ("measured", "slow", "left"),
    [((50.0, 120.0), (12.0, 300.0), (62.0, 120.0)), ((30.0, 45.0), (8.0, 10.0), (23.8916, 56.073))],
)
def test_vectors(
    measured: tuple[float, float], slow: tuple[float, float], left: tuple[float, float]
) -> None:
    vectors = np.array([vector_from(*measured)])
    one = ResponsePoints(1, np.array([0.0]), np.array([3000.0]), vectors)
    off = compensated(one, typed(1, vector_from(*slow)))
    amplitude, lag = amplitude_and_lag(complex(off.vectors[0]))
    assert amplitude == pytest.approx(left[0], abs=6e-4)
    assert lag == pytest.approx(left[1], abs=6e-4)
