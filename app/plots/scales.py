"""Scales that only grow, so that nothing jumps while the moment moves."""

from __future__ import annotations

import math

from .axes import nice_step


class GrowingScale:
    """The part of an axis that is shown: grows to round numbers, shrinks only when reset."""

    def __init__(self, least_span: float) -> None:
        self._least_span = least_span
        self._ends: tuple[float, float] | None = None

    @property
    def ends(self) -> tuple[float, float] | None:
        """Lowest and highest value shown; `None` while nothing was."""
        return self._ends

    def reset(self) -> None:
        """Forget, so that the next value sets the scale anew."""
        self._ends = None

    def include(self, low: float, high: float) -> tuple[float, float]:
        """Grow until `low` to `high` is inside; what is inside already changes nothing."""
        if not (math.isfinite(low) and math.isfinite(high)):
            return self._ends or (0.0, self._least_span)
        if self._ends is not None:
            if self._ends[0] <= low and high <= self._ends[1]:
                return self._ends
            low, high = min(low, self._ends[0]), max(high, self._ends[1])
        if high - low < self._least_span:
            middle = (low + high) / 2
            low, high = middle - self._least_span / 2, middle + self._least_span / 2
        step = nice_step((high - low) / 20)
        self._ends = (math.floor(low / step) * step, math.ceil(high / step) * step)
        return self._ends


def nice_length(length: float) -> float:
    """The 1-2-5 number at or just above a length; rounding noise does not lift it a step."""
    return nice_step(length * (1 - 1e-3)) if length > 0 else 1.0
