"""Once-per-turn events of the phase reference, found in its signal and put in order.

An event is where the signal crosses the threshold in the direction of `edge`, with the time between
the two samples taken on the straight line through them. The signal must have been beyond the
threshold by the hysteresis on the other side before the next event counts, so that noise on a slow
edge gives one event and not several.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Channel
from analysis.model.results import Bools, Floats
from analysis.model.setup import PhaseReference
from analysis.model.span import TimeSpan

HYSTERESIS_SHARE = 0.2
"""Hysteresis that is used where the setup gives none, as a share of the signal's swing."""

_BLOCK = 4096
_BLOCKS = 128
_READ = 1 << 18


@dataclass(frozen=True)
class TriggerLevels:
    """Threshold and hysteresis, in V or in the counts of a channel."""

    threshold_v: float
    hysteresis_v: float


def trigger_levels(channel: Channel, reference: PhaseReference) -> TriggerLevels | None:
    """Threshold and hysteresis for a channel: the setup's, else found from the signal.

    Found from blocks spread over the whole channel, so that every span of one capture uses the same
    levels: the threshold lies midway between the robust extremes.

    Returns:
        `None` when the signal has no pulses to be found (a stopped shaft, noise alone) and the
        setup gives no threshold.
    """
    if reference.threshold_v is not None and reference.hysteresis_v is not None:
        return TriggerLevels(reference.threshold_v, reference.hysteresis_v)
    if channel not in _swings:
        _swings[channel] = _find_swing(channel)
    swing = _swings[channel]
    if swing is None:
        if reference.threshold_v is None:
            return None
        return TriggerLevels(reference.threshold_v, reference.hysteresis_v or 0.0)
    low, high = swing
    threshold = reference.threshold_v
    hysteresis = reference.hysteresis_v
    return TriggerLevels(
        (low + high) / 2.0 if threshold is None else threshold,
        HYSTERESIS_SHARE * (high - low) if hysteresis is None else hysteresis,
    )


_swings: WeakKeyDictionary[Channel, tuple[float, float] | None] = WeakKeyDictionary()


def _find_swing(channel: Channel) -> tuple[float, float] | None:
    length = len(channel)
    if length <= _BLOCK * _BLOCKS:
        volts = channel.volts(0, length)
    else:
        starts = np.linspace(0, length - _BLOCK, _BLOCKS).astype(np.int64)
        volts = np.concatenate([channel.volts(int(s), int(s) + _BLOCK) for s in starts])
    volts = volts[np.isfinite(volts)]
    if len(volts) < 2:
        return None
    # Robust, so that a spike or a short circuit fault does not move the threshold; narrow, so that
    # a notch of half a per cent of the turn still counts.
    low, high = np.percentile(volts, [0.1, 99.9])
    swing = high - low
    if swing <= 0.0:
        return None
    # Pulses spend little time half-way; noise alone (81 % of a normal distribution) spends most
    # of it there.
    half_way = np.mean(np.abs(volts - (low + high) / 2.0) < 0.2 * swing)
    return None if half_way > 0.6 else (float(low), float(high))


def crossings(
    values: NDArray[Any], levels: TriggerLevels, *, falling: bool, armed: bool = False
) -> tuple[Floats, bool]:
    """Places of the events in samples (fractional, from the first sample), and the trigger's state.

    NaN samples are no level at all: an event between a sample and a NaN is not known and left out.

    Args:
        values: the signal in the unit of the levels, floats or integers, shape (n,).
        levels: threshold and hysteresis.
        falling: direction of the edge.
        armed: the state that the trigger was left in by the samples before; it needs the last of
            them again as `values[0]`.

    Returns:
        Places, shape (k,), rising; and whether the trigger is armed after the last sample.
    """
    if len(values) == 0:
        return np.empty(0), armed
    threshold, hysteresis = levels.threshold_v, levels.hysteresis_v
    # Integers are compared with integers: no conversion of a long array.
    whole = values.dtype.kind == "i"
    highest, lowest = (np.maximum, np.minimum) if whole else (np.fmax, np.fmin)
    if falling:
        beyond = values < (math.ceil(threshold) if whole else threshold)
    else:
        beyond = values > (math.floor(threshold) if whole else threshold)
    first_beyond = np.flatnonzero(beyond[1:] > beyond[:-1]) + 1
    # From one crossing to the next the signal comes back once: it is armed again when it came far.
    pieces = np.append(0, first_beyond)
    if falling:
        far = highest.reduceat(values, pieces) >= threshold + hysteresis
    else:
        far = lowest.reduceat(values, pieces) <= threshold - hysteresis
    far[0] |= armed
    events = first_beyond[far[:-1]]
    before, after = values[events - 1].astype(np.float64), values[events].astype(np.float64)
    places: Floats = events - 1 + (threshold - before) / (after - before)
    return places[np.isfinite(places)], bool(far[-1])


def events_between(
    channel: Channel, reference: PhaseReference, span: TimeSpan, progress: Progress = SILENT
) -> Floats:
    """Raw event times (s) in a span, rising, shape (k,); empty when no trigger level is known."""
    levels = trigger_levels(channel, reference)
    if levels is None:
        return np.empty(0)
    scale = channel.volts_per_count
    stored = TriggerLevels(
        (levels.threshold_v - channel.volts_offset) / scale, levels.hysteresis_v / abs(scale)
    )
    falling = (reference.edge == "falling") == (scale > 0.0)
    first = channel.index_at_or_after(span.start_s)
    last = channel.index_at_or_after(span.end_s)
    found: list[Floats] = [np.empty(0)]
    armed = False
    for start in range(first, last, _READ):
        early = max(start - 1, first)
        raw = channel.source.read(early, min(start + _READ, last))
        places, armed = crossings(raw, stored, falling=falling, armed=armed)
        found.append(places + early)
        channel.release(max(start - _READ, first), start)
        progress.report((start - first) / (last - first), "finding revolutions")
    times: Floats = channel.start_s + np.concatenate(found) / channel.sample_rate_hz
    return times


@dataclass(frozen=True, eq=False)
class OrderedEvents:
    """Events with extra ones taken out and missing ones put in.

    `put_in[i]` marks events that the signal did not have; `gap_after[i]` tells that the time up to
    event `i + 1` is no whole number of turns (a drop-out of the reference, a standstill).
    """

    times_s: Floats
    put_in: Bools
    gap_after: Bools
    missing_s: tuple[float, ...]
    extra_s: tuple[float, ...]


def order_events(times_s: Floats) -> OrderedEvents:
    """Find extra and missing pulses by the intervals around them.

    An interval is judged by the geometric mean of the medians of up to three intervals before and
    after it: that follows any steady ramp, and one faulty neighbour does not move it. An event is
    extra when a run of short intervals adds up to one; pulses are missing when an interval is two
    or three whole ones long; anything longer is a gap.
    """
    intervals = np.diff(times_s)
    expected = _expected(intervals)
    times, extra = _without_extra(times_s, intervals, expected)
    if extra:
        intervals = np.diff(times)
        expected = _expected(intervals)
    ratio = intervals / expected
    whole = np.rint(ratio)
    lost_here = ((whole == 2) | (whole == 3)) & (np.abs(ratio - whole) < 0.25)
    # An interval that cannot be judged (NaN) compares false throughout.
    gap = (ratio > 1.75) & ~lost_here
    if not lost_here.any():
        none = np.zeros(len(times), dtype=bool)
        return OrderedEvents(times, none, np.append(gap, False)[: len(times)], (), extra)
    missing: list[float] = []
    for place in np.flatnonzero(lost_here):
        i, parts = int(place), int(whole[place])
        missing += (times[i] + intervals[i] * _shares(intervals, i, parts)).tolist()
    everything = np.concatenate([times, missing])
    order = np.argsort(everything, kind="stable")
    put_in = np.append(np.zeros(len(times), bool), np.ones(len(missing), bool))[order]
    gap_after = np.append(np.append(gap, False), np.zeros(len(missing), bool))[order]
    return OrderedEvents(everything[order], put_in, gap_after, tuple(missing), extra)


def _shares(intervals: Floats, place: int, parts: int) -> Floats:
    """Where the pulses that an interval lacks lie in it, as shares of it, shape (parts - 1,).

    Whole intervals grow or shrink by one ratio from the one before to the one after, as in a steady
    ramp; they are equal where there is none on either side, or none that is like the other.
    """
    ratio = 1.0
    if 0 < place < len(intervals) - 1:
        between = intervals[place + 1] / intervals[place - 1]
        if 0.75 < between < 1.0 / 0.75:
            ratio = float(between) ** (1.0 / (parts + 1))
    done = np.cumsum(ratio ** np.arange(parts))
    shares: Floats = done[:-1] / done[-1]
    return shares


def _without_extra(
    times: Floats, intervals: Floats, expected: Floats
) -> tuple[Floats, tuple[float, ...]]:
    keep = np.ones(len(times), dtype=bool)
    done = -1
    for i in np.flatnonzero(intervals < 0.98 * expected).tolist():
        if i <= done:
            continue
        for run in (2, 3, 4):
            total = float(np.sum(intervals[i : i + run]))
            if i + run <= len(intervals) and abs(total / expected[i] - 1.0) < 0.2:
                keep[i + 1 : i + run] = False
                done = i + run - 1
                break
    return times[keep], tuple(float(t) for t in times[~keep])


def _expected(intervals: Floats) -> Floats:
    """What each interval should be by its neighbours, shape as given; NaN where none can tell."""
    n = len(intervals)
    if n == 0:
        return intervals
    padded = np.concatenate([np.full(3, np.nan), intervals, np.full(3, np.nan)])
    around = np.lib.stride_tricks.sliding_window_view(padded, 3)
    left, right = _median_of_three(around[:n]), _median_of_three(around[4 : 4 + n])
    expected = np.sqrt(left * right)
    # At an end there is no telling a missing pulse from a ramp, unless the speed is steady there.
    for i, side in ((0, intervals[1:4]), (n - 1, intervals[max(n - 4, 0) : n - 1])):
        if len(side) == 3 and side.max() < 1.05 * side.min():
            expected[i] = np.median(side)
    return expected


def _median_of_three(rows: Floats) -> Floats:
    """Median of each row of three, of those that are not NaN; shape (n, 3) to (n,)."""
    ordered = np.sort(rows, axis=1)  # NaN comes last
    count = 3 - np.count_nonzero(np.isnan(rows), axis=1)
    two = (ordered[:, 0] + ordered[:, 1]) / 2.0
    out: Floats = np.choose(count, [np.full(len(rows), np.nan), ordered[:, 0], two, ordered[:, 1]])
    return out
