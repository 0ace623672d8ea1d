"""Stretches of a run in which the speed goes one way."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from analysis.model.response_results import Direction, Passage, ResponsePoints
from analysis.model.results import Floats, Ints
from analysis.signal.summits import gliding_parabola

HALF_WINDOW = 5
"""Turns to either side that take part in smoothing a speed."""

_LEAST_TURNABOUT = 0.05
"""A change of direction counts when the speed goes this share of its whole range back."""

_LEAST_RANGE = 0.05
"""A run whose speeds differ by less than this share of the highest passes through nothing."""

_MOST_PASSAGES = 12
"""More legs than this, without times, are rows out of order and no runs up and down."""


def smoothed_speed(points: ResponsePoints) -> Floats:
    """Speeds of consecutive revolutions with the jitter of single pulses taken out.

    A parabola through the eleven turns around each, which follows constant acceleration. Tables
    whose rows are not consecutive revolutions are left as they are.
    """
    speed = points.speed_rpm
    width = 2 * HALF_WINDOW + 1
    if not points.consecutive or len(speed) < width or not np.isfinite(speed).all():
        return speed
    return gliding_parabola(speed, width)


def passages_of(points: ResponsePoints) -> tuple[Passage, ...]:
    """The runs up and down, in the order they were measured; none in a steady stretch.

    Dwells at one speed belong to the passage before them. Rows without times that jump to and fro
    are taken as one passage of unknown direction.
    """
    speed = smoothed_speed(points)
    valid = np.flatnonzero(np.isfinite(speed) & np.isfinite(points.vectors))
    if len(valid) < 2:
        return ()
    span = float(np.ptp(speed[valid]))
    if span < _LEAST_RANGE * float(speed[valid].max()):
        return ()
    timed = bool(np.isfinite(points.time_s[valid]).all())
    legs = _legs(speed[valid], _LEAST_TURNABOUT * span)
    if not timed and len(legs) > _MOST_PASSAGES:
        return (_passage("unknown", valid, speed, points.time_s),)
    out = []
    for first, last in legs:
        rows = valid[first : last + 1]
        direction: Direction = "up" if speed[rows[-1]] > speed[rows[0]] else "down"
        out.append(_passage(direction, rows, speed, points.time_s))
    return tuple(out)


def rate_at(
    points_s: Floats, speed_rpm: Floats, rows: Ints, at_rpm: float, within: float
) -> tuple[float | None, float | None]:
    """Sweep rate (r/min a second) and time where a passage goes through a speed.

    A straight line through the points within a share `within` of that speed, or the nearest nine.
    """
    time, speed = points_s[rows], speed_rpm[rows]
    if not np.isfinite(time).all() or len(rows) < 3:
        return None, None
    distance = np.abs(speed / at_rpm - 1.0)
    count = max(int(np.count_nonzero(distance <= within)), min(9, len(rows)))
    near = np.argsort(distance, kind="stable")[:count]
    t, n = time[near], speed[near]
    if np.ptp(t) <= 0.0:
        return None, None
    slope, offset = np.polyfit(t - t.mean(), n, 1)
    moment = t.mean() + (at_rpm - offset) / slope if slope != 0.0 else t.mean()
    return float(slope), float(np.clip(moment, t.min(), t.max()))


def _passage(direction: Direction, rows: Ints, speed: Floats, time: Floats) -> Passage:
    from_s, to_s = float(time[rows[0]]), float(time[rows[-1]])
    timed = np.isfinite(from_s) and np.isfinite(to_s) and to_s > from_s
    first, last = float(speed[rows[0]]), float(speed[rows[-1]])
    if direction == "unknown":
        first, last = float(speed[rows].min()), float(speed[rows].max())
    return Passage(
        direction=direction,
        rows=rows,
        from_rpm=first,
        to_rpm=last,
        from_s=from_s if timed else None,
        to_s=to_s if timed else None,
        rate=(last - first) / (to_s - from_s) if timed and direction != "unknown" else None,
    )


def _legs(speed: Floats, turnabout: float) -> list[tuple[int, int]]:
    """First and last place of each leg between turning points of at least `turnabout`."""
    turning = [0]
    low = high = extreme = 0
    way = 0
    for place in range(1, len(speed)):
        value = speed[place]
        if way == 0:
            high = place if value > speed[high] else high
            low = place if value < speed[low] else low
            if speed[high] - speed[low] > turnabout:
                way, extreme = (1 if high > low else -1), place
        elif way * (value - speed[extreme]) >= 0.0:
            extreme = place
        elif way * (speed[extreme] - value) > turnabout:
            turning.append(extreme)
            way, extreme = -way, place
    turning.append(len(speed) - 1)
    return [(a, b) for a, b in pairwise(turning) if b > a]
