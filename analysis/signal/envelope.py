"""Waveforms cut to what a picture can show: the extremes of each pixel column."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import Trace

Floats = NDArray[np.float64]


def envelope(x: Floats, y: Floats, columns: int) -> Trace:
    """The waveform itself where it has at most two points a column, else min and max of each.

    Args:
        x: rising abscissae, shape (n,).
        y: values, shape (n,); NaN is a gap, and a column with nothing else stays one.
        columns: pixel columns that the picture has.

    Returns:
        A trace with at most `2 * columns` points; `envelope` tells whether it was cut.
    """
    n = len(x)
    if columns < 1 or n <= 2 * columns:
        return Trace(x, y, envelope=False)
    starts = np.linspace(0, n, columns + 1).astype(np.int64)[:-1]
    low = np.fmin.reduceat(y, starts)
    high = np.fmax.reduceat(y, starts)
    out_x = np.repeat(x[starts], 2)
    out_y = np.empty(2 * columns)
    # Low and high in turn, swapped every other column, so that the line runs up one column and
    # down the next instead of jumping back.
    out_y[0::4], out_y[1::4] = low[0::2], high[0::2]
    out_y[2::4], out_y[3::4] = high[1::2], low[1::2]
    return Trace(out_x, out_y, envelope=True)
