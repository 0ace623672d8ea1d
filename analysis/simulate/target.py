"""A straight motion towards probes: a thrust collar, the target of a calibrator."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .curve import Curve
from .recipe_parts import Target
from .shaft import LineCourse
from .speed import ShaftSpeed

Floats = NDArray[np.float64]


class StraightMotion:
    """Movement towards the probes in µm, counted from the rest gap."""

    def __init__(self, target: Target, speed: ShaftSpeed | None) -> None:
        self._speed = speed
        self._position = Curve(target.position_um) if target.position_um else None
        self._lines = [(part, LineCourse(part)) for part in target.vibration]

    def mean(self, time_s: Floats) -> Floats:
        """Mean position."""
        return np.zeros_like(time_s) if self._position is None else self._position(time_s)

    def vibration(self, time_s: Floats, order: float | None = None) -> Floats:
        """Motion about the mean position: all lines, or those of one order."""
        total = np.zeros_like(time_s)
        for part, course in self._lines:
            if order is None or part.order == order:
                cycle = course.cycle(time_s, self._speed)
                wave = np.cos(cycle - math.radians(part.lag_deg))
                total += course.factor(time_s, self._speed) * (part.um_pp / 2.0) * wave
        return total

    def vector(self, time_s: Floats, order: float) -> NDArray[np.complex128]:
        """The vector `A exp(-jφ)` of an order, µm p-p."""
        total: NDArray[np.complex128] = np.zeros(time_s.shape, dtype=np.complex128)
        for part, course in self._lines:
            if part.order == order:
                lag = np.exp(-1j * math.radians(part.lag_deg))
                total += course.factor(time_s, self._speed) * part.um_pp * lag
        return total
