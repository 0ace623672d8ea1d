"""The envelope keeps every extreme and no more points than the picture has room for."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.signal.envelope import envelope


@settings(deadline=None)
@given(n=st.integers(0, 5000), columns=st.integers(1, 400), seed=st.integers(0, 99))
def test_extremes_stay_and_points_do_not_pile_up(n, columns, seed):
    y = np.random.default_rng(seed).standard_normal(n)
    x = np.arange(n) / 10.0
    trace = envelope(x, y, columns)
    assert trace.envelope == (n > 2 * columns)
    if not trace.envelope:
        assert trace.x is x
        return
    assert len(trace.x) <= 2 * columns
    assert np.all(np.diff(trace.x) >= 0.0)
    assert trace.y.min() == y.min()
    assert trace.y.max() == y.max()
    # Every point is a sample of the signal, where it was taken.
    assert np.array_equal(y[np.rint(trace.x * 10.0).astype(int)], trace.y)


def test_a_gap_stays_a_gap():
    y = np.sin(np.arange(10_000) / 50.0)
    y[4000:6000] = np.nan
    y[100] = np.nan  # one dropped sample does not blank its column
    trace = envelope(np.arange(10_000) / 1.0, y, 100)
    inside = (trace.x >= 4000) & (trace.x < 5900)
    assert np.isnan(trace.y[inside]).all()
    assert np.isfinite(trace.y[trace.x < 3900]).all()
