"""Geometry of what surrounds an orbit: limit boxes, probe axes, clearance, direction."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from analysis.model.results import Floats, OrbitPath, PlaneReading, ProbeReading
    from analysis.model.setup import Level, Plane, Setup

Array = NDArray[np.float64]

FAR = 1e6
"""Half-size, µm, of a box towards a probe that has no such limit: a strip, cut by the picture."""


@dataclass(frozen=True, eq=False)
class LimitBox:
    """The region inside which neither probe reaches its p-p limit; corners in µm, shape (4, 2)."""

    level: Level
    corners: Array
    settings_um: tuple[float | None, float | None]

    @property
    def reach_um(self) -> float:
        """Largest coordinate of its corners, strips left out."""
        finite = self.corners[np.abs(self.corners) < FAR / 10]
        return float(np.abs(finite).max()) if len(finite) else math.inf

    @property
    def least_um(self) -> float:
        """The smaller of the settings."""
        return min(value for value in self.settings_um if value is not None)


def limit_boxes(
    plane: Plane, probe_readings: dict[str, ProbeReading], setup: Setup
) -> tuple[LimitBox, ...]:
    """The tightest p-p limit of each probe and level, as boxes along the probe axes."""
    first, second = (setup.probe_named(name) for name in plane.probes)
    if first.angle_deg is None or second.angle_deg is None:
        return ()
    from analysis.rotor.orbit import limit_box

    boxes = []
    for level in ("trip", "alarm"):
        settings = tuple(_setting(name, level, probe_readings, setup) for name in plane.probes)
        if settings == (None, None):
            continue
        halves = [FAR if value is None else value / 2 for value in settings]
        try:
            corners = limit_box(first.angle_deg, second.angle_deg, *halves)
        except ValueError:  # closer than 15° to parallel: there is no orbit either
            return ()
        boxes.append(LimitBox(level, corners, settings))
    return tuple(boxes)


def _setting(
    name: str, level: str, readings: dict[str, ProbeReading], setup: Setup
) -> float | None:
    if name not in readings:
        return None
    found = [
        each.above_um
        for each in readings[name].limits
        if each.above_um is not None
        and setup.limit[each.index].measure == "peak_to_peak"
        and setup.limit[each.index].level == level
    ]
    return min(found, default=None)


@dataclass(frozen=True)
class Clearance:
    """The bearing clearance about the mean shaft position: centre and radius, µm."""

    x_um: float
    y_um: float
    radius_um: float

    @property
    def reach_um(self) -> float:
        """Largest coordinate of the circle."""
        return max(abs(self.x_um), abs(self.y_um)) + self.radius_um


def clearance_circle(plane: Plane, reading: PlaneReading) -> Clearance | None:
    """The circle that the shaft centre can reach; `None` where clearance or position is unknown."""
    if plane.clearance_um is None or reading.centreline is None:
        return None
    line = reading.centreline
    return Clearance(-line.x_um, -line.y_um, plane.clearance_um / 2)


def with_gaps(path: OrbitPath, gap_um: float) -> tuple[Floats, Floats]:
    """The path, with a gap of that length just before each once-per-turn mark."""
    x, y = path.x, path.y
    count = len(path.marks_x)
    if count == 0 or len(x) < 8:
        return x, y
    x = x.copy()
    for index in mark_indices(path):
        start = _back(path, index, gap_um)
        if start <= index:
            x[start:index] = np.nan
        else:  # a closed path whose mark lies at its start
            x[start:] = np.nan
            x[:index] = np.nan
    return x, y


def thinned(x: Floats, y: Floats, cell_um: float) -> tuple[Floats, Floats]:
    """The path without the samples that fall into the same cell as the one before.

    With cells of a pixel the picture is the same: a slow turn has far more samples than pixels.
    """
    if len(x) < 2 or not cell_um > 0:
        return x, y
    column, row = np.floor(x / cell_um), np.floor(y / cell_um)
    kept = np.ones(len(x), dtype=np.bool_)
    # NaN differs from everything, so that gaps stay.
    kept[1:-1] = (column[1:-1] != column[:-2]) | (row[1:-1] != row[:-2])
    return x[kept], y[kept]


def mark_indices(path: OrbitPath) -> list[int]:
    """Sample of the path nearest to each mark; the marks are taken to be evenly spread over it."""
    n, count = len(path.x), len(path.marks_x)
    if count == 1:
        return [_nearest(path, 0, 0, n)]
    turn = (n - 1) / (count - 1)
    found = []
    for rank in range(count):
        low = max(int((rank - 0.3) * turn), 0)
        found.append(_nearest(path, rank, low, min(int((rank + 0.3) * turn) + 2, n)))
    return found


def _nearest(path: OrbitPath, rank: int, low: int, high: int) -> int:
    dx = path.x[low:high] - path.marks_x[rank]
    dy = path.y[low:high] - path.marks_y[rank]
    squared = np.where(np.isfinite(dx + dy), dx**2 + dy**2, np.inf)
    return low + int(np.argmin(squared)) if len(squared) else low


def _back(path: OrbitPath, index: int, length_um: float) -> int:
    """The sample `length_um` along the path before `index`; a filtered path closes on itself."""
    n = len(path.x)
    at, gone = index, 0.0
    most = n // 4
    for _ in range(most):
        before = at - 1
        if before < 0:
            if path.raw:
                return 0
            before = n - 2  # the last sample repeats the first
        gone += math.hypot(path.x[at] - path.x[before], path.y[at] - path.y[before])
        at = before
        if not gone < length_um:
            break
    return at


def heading(path: OrbitPath) -> tuple[float, float, float, float] | None:
    """A place on the path a fifth of a turn after the first mark, and the unit heading there."""
    n = len(path.x)
    turns = max(len(path.marks_x) - 1, 1) if path.raw else 1
    start = mark_indices(path)[0] if len(path.marks_x) else 0
    turn = n // turns
    at = (start + turn // 5) % n
    reach = max(turn // 60, 1)
    before, after = max(at - reach, 0), min(at + reach, n - 1)
    dx, dy = path.x[after] - path.x[before], path.y[after] - path.y[before]
    length = math.hypot(dx, dy)
    if not length > 0:
        return None
    return float(path.x[at]), float(path.y[at]), dx / length, dy / length
