"""Shaft angle as a smooth function of time through the phase-reference events."""

from __future__ import annotations

import numpy as np

from analysis.model.results import Floats, Ints


class ShaftAngle:
    """Turns as a function of time through turn events, smooth from turn to turn.

    Piecewise cubic: at each event the speed is that of the parabola through the event and its two
    neighbours, so that constant acceleration is followed exactly, a step in acceleration or one
    late event disturbs only its two neighbouring turns, and nothing overshoots further away (which
    a spline through all events does).

    Args:
        times_s: times of consecutive whole turns, rising, shape (k,), k >= 2.
    """

    def __init__(self, times_s: Floats) -> None:
        self.times_s = times_s
        self.rates = _rates(times_s)
        """Speed at each event in turns a second, shape (k,)."""

    def within_turn(self, times_s: Floats, turn: np.ndarray) -> Floats:
        """Share of the turn done, 0 to 1, at times that lie in the given turns (indices)."""
        length = np.diff(self.times_s)
        h = length[turn]
        u = (times_s - self.times_s[turn]) / h
        # Hermite cubic from 0 to 1 with end slopes a and b (per unit of u).
        a = (self.rates[:-1] * length)[turn]
        b = (self.rates[1:] * length)[turn]
        done: Floats = u * (a + u * ((3.0 - 2.0 * a - b) + u * (a + b - 2.0)))
        return done

    def turns_at(self, times_s: Floats) -> Floats:
        """Turns since the first event at any times between the first and the last event."""
        turn = np.searchsorted(self.times_s, times_s, side="right") - 1
        turn = np.clip(turn, 0, len(self.times_s) - 2)
        turns: Floats = turn + self.within_turn(times_s, turn)
        return turns


_AT_ONCE = 1 << 12
"""Events smoothed at once: the work arrays hold dozens of numbers for each, and stay in the
processor's cache."""

HALF_WINDOW = 5
"""Turns to either side that take part in smoothing an event."""


def smoothed(times_s: Floats, sample_interval_s: float) -> Floats:
    """Event times with the jitter of sampling taken out.

    An edge that is steeper than the sampling is known to half a sample only; the shaft is heavier
    than that. Each event moves to where the parabola of the angle through the eleven events around
    it has it, but by half a sampling interval at most: a true change of speed is larger at low
    speed, and at high speed eleven turns are too short for it to show.

    Args:
        times_s: times of consecutive whole turns, rising, shape (k,).
        sample_interval_s: sampling interval of the phase reference, s.

    Returns:
        Times, rising, shape (k,).
    """
    count = len(times_s)
    width = min(2 * HALF_WINDOW + 1, count)
    if width < 5:
        return times_s
    half = sample_interval_s / 2.0
    moved = np.empty(count)
    for start in range(0, count, _AT_ONCE):
        events = np.arange(start, min(start + _AT_ONCE, count))
        moved[events] = times_s[events] + np.clip(_shift(times_s, events, width), -half, half)
    return moved


def _shift(times: Floats, events: Ints, width: int) -> Floats:
    """How far off its parabola each of some events is, s; shape (len(events),)."""
    first = np.clip(events - HALF_WINDOW, 0, len(times) - width)
    turns = first[:, np.newaxis] + np.arange(width)
    # Time from the event in units of the window keeps all sums of one size.
    scale = times[turns[:, -1]] - times[turns[:, 0]]
    t = (times[turns] - times[events][:, np.newaxis]) / scale[:, np.newaxis]
    angle = (turns - events[:, np.newaxis]).astype(np.float64)
    square = t * t
    s1, s2 = t.sum(axis=1), square.sum(axis=1)
    s3, s4 = np.einsum("ij,ij->i", square, t), np.einsum("ij,ij->i", square, square)
    y0 = angle.sum(axis=1)
    y1, y2 = np.einsum("ij,ij->i", angle, t), np.einsum("ij,ij->i", angle, square)
    # Normal equations of angle = a + b t + c t² by Cramer's rule; a and b times the determinant.
    m0, m1, m2 = s2 * s4 - s3 * s3, s2 * s3 - s1 * s4, s1 * s3 - s2 * s2
    constant = y0 * m0 + y1 * m1 + y2 * m2
    linear = y0 * m1 + y1 * (width * s4 - s2 * s2) + y2 * (s1 * s2 - width * s3)
    # Where the parabola passes the event's whole turn (one Newton step: the way is tiny).
    shift: Floats = -constant / linear * scale
    return shift


def _rates(times: Floats) -> Floats:
    slopes = 1.0 / np.diff(times)
    if len(slopes) == 1:
        return np.repeat(slopes, 2)
    h = np.diff(times)
    rates = np.empty(len(times))
    rates[1:-1] = (h[1:] * slopes[:-1] + h[:-1] * slopes[1:]) / (h[:-1] + h[1:])
    # End slopes of the same parabolas; bounded, so that a stop or a start cannot turn them round.
    rates[0] = 2.0 * slopes[0] - rates[1]
    rates[-1] = 2.0 * slopes[-1] - rates[-2]
    # Fritsch & Carlson 1980: a cubic rises throughout when its end slopes stay below three times
    # the mean slope of either neighbouring piece.
    limit = np.empty(len(times))
    limit[1:-1] = 3.0 * np.minimum(slopes[:-1], slopes[1:])
    limit[0], limit[-1] = 3.0 * slopes[0], 3.0 * slopes[-1]
    return np.clip(rates, 0.0, limit)
