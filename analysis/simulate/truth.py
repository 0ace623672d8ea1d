"""The exact truth of a synthetic capture, for tests and for the Lab."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.model.span import TimeSpan

from .recipe import Recipe
from .scene import Scene
from .speed import ShaftSpeed

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class TrueEllipse:
    """Ellipse of one order: axes in µm p-p, direction of the major one (degrees from +x, ccw)."""

    major_um: float
    minor_um: float
    inclination_deg: float
    precession: Literal["forward", "backward"]


class Truth:
    """What a recipe's measures are, without noise, rounding and sampling.

    Every method raises `KeyError` for a probe or plane that the recipe does not have, and
    `ValueError` for an angle or speed where the recipe has no [speed].
    """

    def __init__(self, recipe: Recipe) -> None:
        self._scene = Scene(recipe)

    def speed_rpm(self, time_s: float) -> float:
        """Speed at a capture time, r/min."""
        return float(self._speed().rpm(np.array([time_s]))[0])

    def turns(self, time_s: float) -> float:
        """Shaft angle at a capture time, turns; whole at every event."""
        return float(self._speed().turns(np.array([time_s]))[0])

    def event_times(self, span: TimeSpan) -> Floats:
        """Capture times within the span at which the shaft passes θ = 0."""
        first, last = (self.turns(t) for t in (span.start_s, span.end_s))
        whole = np.arange(math.ceil(first), math.floor(last) + 1, dtype=np.float64)
        return self._speed().time_of(whole, span.start_s, span.end_s)

    def gap_um(self, probe: str, time_s: Floats) -> Floats:
        """Gap that the probe sees, µm; any shape."""
        return self._scene.gap_um(probe, time_s)

    def mean_gap_um(self, probe: str, time_s: float) -> float:
        """Gap without vibration and runout, µm."""
        return float(self._scene.mean_gap_um(probe, np.array([time_s]))[0])

    def peak_to_peak_um(self, probe: str, span: TimeSpan, points: int = 100_001) -> float:
        """Largest minus smallest gap over a span, by fine sampling, µm."""
        gap = self.gap_um(probe, np.linspace(span.start_s, span.end_s, points))
        return float(gap.max() - gap.min())

    def vector(self, probe: str, order: float, time_s: float) -> complex:
        """Vector `A exp(-jφ)` of an order as the probe sees it (with runout), µm p-p.

        The amplitudes are those of the instant; at constant speed they are the vector of a turn.
        A `ValueError` under a preload or a stop, which leave no closed form.
        """
        return complex(self._scene.vector(probe, order, np.array([time_s]))[0])

    def ellipse(self, plane: str, order: float, time_s: float) -> TrueEllipse:
        """The shaft's own orbit of an order (without runout), free of preload and stop.

        Precession is told by how the shaft turns in truth.
        """
        if not self._scene.shafts[plane].is_free:
            raise ValueError("a preload or a stop has no ellipse in closed form")
        forward, backward = 0j, 0j
        for circles in self._scene.shafts[plane].circles(np.array([time_s]), order):
            forward += complex(circles.forward[0])
            backward += complex(circles.backward[0])
        inclination = math.degrees(cmath.phase(forward) + cmath.phase(backward)) / 2.0
        return TrueEllipse(
            major_um=2.0 * (abs(forward) + abs(backward)),
            minor_um=2.0 * abs(abs(forward) - abs(backward)),
            inclination_deg=inclination % 180.0,
            precession="forward" if abs(forward) > abs(backward) else "backward",
        )

    def moved_from_rest(self, plane: str, time_s: float) -> complex:
        """Mean position of the shaft counted from rest, `x + jy`, µm."""
        return complex(self._scene.shafts[plane].mean_from_rest(np.array([time_s]))[0])

    def _speed(self) -> ShaftSpeed:
        if self._scene.speed is None:
            raise ValueError("the recipe has no [speed]")
        return self._scene.speed
