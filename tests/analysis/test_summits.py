"""Summits and the gliding parabola against scipy's own (reference library)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import find_peaks, savgol_filter

from analysis.signal.summits import gliding_parabola, summits


@pytest.mark.parametrize("seed", range(20))
def test_summits_are_those_of_scipy(seed):
    rng = np.random.default_rng(seed)
    curve = np.cumsum(rng.normal(size=300))
    if seed % 2:
        curve = np.round(curve)  # level summits, and equal ones
    for least in (0.0, 0.5, 3.0):
        places, prominence = summits(curve, least)
        expected, facts = find_peaks(curve, prominence=least)
        assert places.tolist() == expected.tolist()
        np.testing.assert_allclose(prominence, facts["prominences"], atol=1e-12)


@pytest.mark.parametrize("curve", [[1.0], [1.0, 2.0], [3.0, 3.0, 3.0], [1.0, 2.0, 3.0], []])
def test_no_summit_is_none(curve):
    places, prominence = summits(np.array(curve), 0.0)
    assert len(places) == len(prominence) == 0


@pytest.mark.parametrize("count", [11, 12, 40, 333])
def test_the_parabola_glides_as_scipys(count):
    values = np.random.default_rng(count).normal(3000.0, 10.0, count)
    expected = savgol_filter(values, 11, 2, mode="interp")
    np.testing.assert_allclose(gliding_parabola(values, 11), expected, rtol=1e-12)
