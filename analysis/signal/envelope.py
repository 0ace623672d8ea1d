"""Waveforms cut to what a picture can show: the extremes of each pixel column."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Trace

Floats = NDArray[np.float64]


def envelope(x: Floats, y: Floats, columns: int) -> Trace:
    """The waveform itself where it has at most two points a column, else min and max of each.

    Args:
        x: rising abscissae, shape (n,), evenly spaced: a column holds a fixed number of samples.
        y: values, shape (n,); NaN is a gap, and a column with nothing else stays one.
        columns: pixel columns that the picture has.

    Returns:
        A trace with at most `2 * columns` points; `envelope` tells whether it was cut.
    """
    n = len(x)
    if columns < 1 or n <= 2 * columns:
        return Trace(x, y, envelope=False)
    width = -(-n // columns)
    filled = -(-n // width)
    padded = np.full(filled * width, np.nan)
    padded[:n] = y
    rows = padded.reshape(filled, width)
    gap = np.isnan(rows)
    low = np.argmin(np.where(gap, np.inf, rows), axis=1)
    high = np.argmax(np.where(gap, -np.inf, rows), axis=1)
    # Both where they were sampled, the earlier first, so that a steep line stays a line.
    places = np.empty((filled, 2), dtype=np.int64)
    places[:, 0], places[:, 1] = np.minimum(low, high), np.maximum(low, high)
    places += np.arange(filled)[:, np.newaxis] * width
    kept = np.minimum(places.ravel(), n - 1)
    return Trace(x[kept], y[kept], envelope=True)
