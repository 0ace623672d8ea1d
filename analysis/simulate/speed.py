"""The shaft's speed and its angle, exactly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .curve import Curve
from .recipe_parts import Speed

Floats = NDArray[np.float64]


class ShaftSpeed:
    """Speed (r/min) against capture time, and its integral in closed form.

    The angle is counted in turns; an event of the phase reference comes at every whole turn.
    """

    def __init__(self, speed: Speed) -> None:
        self._curve = Curve(speed.points)
        self._start_turns = speed.start_angle_deg / 360.0

    def rpm(self, time_s: Floats) -> Floats:
        """Speed at capture times, r/min; never negative."""
        rpm: Floats = np.maximum(self._curve(time_s), 0.0)
        return rpm

    def turns(self, time_s: Floats) -> Floats:
        """Shaft angle at capture times, turns."""
        turns: Floats = self._start_turns + self._curve.integral_from_zero(time_s) / 60.0
        return turns

    def time_of(self, turns: Floats, start_s: float, end_s: float) -> Floats:
        """Capture times at which the shaft passes angles (turns) that lie within a span.

        By bisection: the angle rises with time, and 60 halvings reach the last bit.
        """
        low = np.full(turns.shape, start_s)
        high = np.full(turns.shape, end_s)
        for _ in range(60):
            middle = (low + high) / 2.0
            below = self.turns(middle) < turns
            low = np.where(below, middle, low)
            high = np.where(below, high, middle)
        middle_at_last: Floats = (low + high) / 2.0
        return middle_at_last


def cycle_of(turns: Floats, order: float) -> Floats:
    """`order · θ` in radians, reduced to one cycle so that long captures lose no digits."""
    cycles = turns * order
    out: Floats = (cycles - np.floor(cycles)) * (2.0 * np.pi)
    return out
