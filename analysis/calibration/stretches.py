"""Steady stretches of a calibrator run: where neither position nor vibration changes.

The gap is looked at through a row of overlapping Hann-weighted blocks, each with its mean and the
p-p that a sinusoid of the same weighted rms would have. A stretch is a run of blocks over which
both keep within a tolerance and do not drift: a slow ramp keeps within any tolerance for a while.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Channel
from analysis.model.setup import Probe
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.revolutions import fault_mask
from analysis.signal.windows import window

Floats = NDArray[np.float64]

_SAMPLES_AT_ONCE = 1 << 20
_OVERLAP = 4
"""Blocks start this many times in the length of one."""
_DRIFT_SHARE = 0.6
"""A run that drifts over more than this share of its tolerance is a slow change."""


@dataclass(frozen=True)
class StepSettings:
    """How steady is steady. Lengths µm, times s.

    `lowest_hz` is the lowest frequency of vibration: a block holds four periods of it. Within a
    stretch the mean keeps within `position_um`, the vibration within `vibration_um_pp` or
    `vibration_percent` of itself, whichever is more. Shorter than `least_s` is no stretch.
    """

    lowest_hz: float = 20.0
    position_um: float = 3.0
    vibration_um_pp: float = 2.0
    vibration_percent: float = 4.0
    least_s: float = 1.0

    def __post_init__(self) -> None:
        if not (self.lowest_hz > 0.0 and self.least_s > 0.0 and self.position_um > 0.0):
            raise ValueError("frequency, length and tolerance of a stretch must be above zero")

    @property
    def block_s(self) -> float:
        """Length of a block."""
        return 4.0 / self.lowest_hz


@dataclass(frozen=True, eq=False)
class _Blocks:
    """One element a block: middle of it (s), mean gap, p-p of a sinusoid of its rms; NaN: fault."""

    middle_s: Floats
    mean_um: Floats
    level_um: Floats
    length_s: float


def steady_stretches(
    channel: Channel,
    probe: Probe,
    span: TimeSpan,
    settings: StepSettings | None = None,
    progress: Progress = SILENT,
) -> tuple[TimeSpan, ...]:
    """The steady stretches of a span, in order, kept away from every change.

    Args:
        channel: gap voltage of the probe.
        probe: the probe; a block with a circuit fault in it belongs to no stretch.
        span: what to look at, s.
        settings: how steady is steady.
        progress: told as the channel is read.
    """
    settings = settings or StepSettings()
    blocks = _blocks(channel, probe, span, settings.block_s, progress)
    if len(blocks.middle_s) == 0:
        return ()
    half = blocks.length_s / 2.0
    spans = []
    for first, last in _runs(blocks, settings):
        # The outer parts of the first and the last block are weighed lightly and may hold the
        # beginning of a change; at the ends of what is looked at there is none.
        start = float(blocks.middle_s[first]) + half / 2.0
        end = float(blocks.middle_s[last]) - half / 2.0
        if first == 0:
            start = max(start - 1.5 * half, span.start_s)
        if last == len(blocks.middle_s) - 1:
            end = min(end + 1.5 * half, span.end_s)
        if end - start >= settings.least_s:
            spans.append(TimeSpan(start, end))
    return tuple(sorted(spans, key=lambda found: found.start_s))


def _blocks(
    channel: Channel, probe: Probe, span: TimeSpan, block_s: float, progress: Progress
) -> _Blocks:
    rate = channel.sample_rate_hz
    first = channel.index_at_or_after(span.start_s)
    stop = max(first, channel.index_at_or_after(span.end_s))
    length = max(round(block_s * rate), 8)
    hop = max(length // _OVERLAP, 1)
    count = (stop - first - length) // hop + 1
    if count < 1:
        none = np.empty(0)
        return _Blocks(none, none, none, length / rate)
    weights = window("hann", length)
    weights = weights / weights.sum()
    means, levels = np.empty(count), np.empty(count)
    at_once = max(_SAMPLES_AT_ONCE // length, 1)
    for start in range(0, count, at_once):
        progress.report(start / count, "looking for steady stretches")
        end = min(start + at_once, count)
        at = first + start * hop
        volts = channel.volts(at, at + (end - start - 1) * hop + length)
        gap = gap_from_volts(volts, probe)
        gap[fault_mask(volts, probe)] = np.nan
        rows = np.lib.stride_tricks.sliding_window_view(gap, length)[::hop]
        middle = np.nanmean(gap) if np.isfinite(gap).any() else 0.0
        # Squares about a near value lose no digits to a mean of a thousand µm.
        near = rows - middle
        mean = near @ weights
        square = (near**2) @ weights - mean**2
        means[start:end] = mean + middle
        levels[start:end] = 2.0 * math.sqrt(2.0) * np.sqrt(np.maximum(square, 0.0))
    # The middle of the samples, each of which stands for its moment.
    steps = np.arange(count, dtype=np.float64) * hop
    times: Floats = channel.start_s + (steps + (first + (length - 1) / 2.0)) / rate
    return _Blocks(times, means, levels, length / rate)


def _runs(blocks: _Blocks, settings: StepSettings) -> Iterator[tuple[int, int]]:
    """Runs of blocks (first, last) within tolerance: the longest first, and never one twice."""
    candidates = _longest_from_each(blocks, settings)
    taken = np.zeros(len(blocks.middle_s) + 1, dtype=bool)
    order = sorted(candidates, key=lambda run: run[0] - run[1])
    for first, last in order:
        # What is left of a run that a longer one has cut is within tolerance all the same.
        free = np.flatnonzero(~taken[first : last + 1])
        if len(free) == 0:
            continue
        pieces = np.split(free, np.flatnonzero(np.diff(free) > 1) + 1)
        piece = max(pieces, key=len)
        start, end = first + int(piece[0]), first + int(piece[-1])
        if blocks.middle_s[end] - blocks.middle_s[start] < settings.least_s - blocks.length_s:
            continue
        if _drifts(blocks, settings, start, end):
            continue
        taken[start : end + 1] = True
        yield start, end


def _longest_from_each(blocks: _Blocks, settings: StepSettings) -> list[tuple[int, int]]:
    """For each block the longest run within tolerance that starts there and no earlier run holds.

    Both tolerances only get harder to keep as a run grows, so that one pass with two ends does.
    """
    mean, level = _Extremes(blocks.mean_um), _Extremes(blocks.level_um)
    runs: list[tuple[int, int]] = []
    first = 0
    for last in range(len(blocks.middle_s)):
        if math.isnan(blocks.mean_um[last]):
            if first < last:
                runs.append((first, last - 1))
            first = last + 1
            mean.clear()
            level.clear()
            continue
        mean.add(last)
        level.add(last)
        start = first
        while not _within(mean, level, settings):
            first += 1
            mean.drop_before(first)
            level.drop_before(first)
        if first > start and start < last:
            runs.append((start, last - 1))
    if first < len(blocks.middle_s):
        runs.append((first, len(blocks.middle_s) - 1))
    return runs


def _within(mean: _Extremes, level: _Extremes, settings: StepSettings) -> bool:
    allowed = max(settings.vibration_um_pp, settings.vibration_percent / 100.0 * level.high)
    return mean.high - mean.low <= settings.position_um and level.high - level.low <= allowed


def _drifts(blocks: _Blocks, settings: StepSettings, first: int, last: int) -> bool:
    mean, level = blocks.mean_um[first : last + 1], blocks.level_um[first : last + 1]
    if len(mean) < 3:
        return False
    x = np.arange(len(mean)) - (len(mean) - 1) / 2.0
    length = (len(mean) - 1) / float(x @ x)
    allowed = max(settings.vibration_um_pp, settings.vibration_percent / 100.0 * float(level.max()))
    return (
        abs(float(x @ mean)) * length > _DRIFT_SHARE * settings.position_um
        or abs(float(x @ level)) * length > _DRIFT_SHARE * allowed
    )


class _Extremes:
    """Least and largest value of a window that only moves forward, in constant time a step."""

    def __init__(self, values: Floats) -> None:
        self._values = values
        self._least: list[int] = []
        self._most: list[int] = []
        self._least_at = self._most_at = 0

    def clear(self) -> None:
        self._least, self._most = [], []
        self._least_at = self._most_at = 0

    def add(self, index: int) -> None:
        value = self._values[index]
        while len(self._least) > self._least_at and self._values[self._least[-1]] >= value:
            self._least.pop()
        while len(self._most) > self._most_at and self._values[self._most[-1]] <= value:
            self._most.pop()
        self._least.append(index)
        self._most.append(index)

    def drop_before(self, index: int) -> None:
        while self._least[self._least_at] < index:
            self._least_at += 1
        while self._most[self._most_at] < index:
            self._most_at += 1

    @property
    def low(self) -> float:
        return float(self._values[self._least[self._least_at]])

    @property
    def high(self) -> float:
        return float(self._values[self._most[self._most_at]])
