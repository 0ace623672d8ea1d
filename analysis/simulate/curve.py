"""Smooth curves through a few points: speed against time, position against speed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

Floats = NDArray[np.float64]


class Curve:
    """Monotone between its points, constant outside them, with a continuous slope everywhere.

    The slope at a point beside a level stretch is zero, and so it is at both ends: nothing
    overshoots, and a hold stays a hold. Source: Fritsch & Carlson 1980, as in scipy's
    `PchipInterpolator`.

    Args:
        points: pairs (x, y), x rising, at least one pair.
    """

    def __init__(self, points: Sequence[tuple[float, float]]) -> None:
        x = np.array([point[0] for point in points], dtype=np.float64)
        y = np.array([point[1] for point in points], dtype=np.float64)
        # A level stretch before and after makes the slope zero at both ends.
        pad = max(1.0, float(x[-1] - x[0]))
        self._low, self._high = float(x[0]), float(x[-1])
        self._first, self._last = float(y[0]), float(y[-1])
        self._curve = PchipInterpolator(
            np.concatenate([[x[0] - pad], x, [x[-1] + pad]]),
            np.concatenate([y[:1], y, y[-1:]]),
        )
        self._integral = self._curve.antiderivative()
        self._integral_at_low = float(self._integral(self._low))
        self._integral_at_high = float(self._integral(self._high))

    def __call__(self, x: Floats) -> Floats:
        """Values at `x`; any shape."""
        out: Floats = np.asarray(self._curve(np.clip(x, self._low, self._high)))
        return out

    def integral_from_zero(self, x: Floats) -> Floats:
        """Integral from 0 to `x`, exact (the curve is a piecewise cubic); any shape."""
        return self._integral_to(x) - self._integral_to(np.zeros(1))

    def _integral_to(self, x: Floats) -> Floats:
        inside = np.asarray(self._integral(np.clip(x, self._low, self._high)))
        before = np.minimum(x - self._low, 0.0) * self._first
        after = np.maximum(x - self._high, 0.0) * self._last
        out: Floats = inside - self._integral_at_low + before + after
        return out
