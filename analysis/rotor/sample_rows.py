"""Where the samples of each revolution of a block lie in a channel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.capture import Channel
from analysis.model.results import Bools, Floats, Ints

from .condensing import most_width
from .projection import RowAngles
from .turns import Turns

_FEWEST_SAMPLES, _MOST_SAMPLES = 256 * 1024, 2048 * 1024
"""Samples of a block: enough for what each numpy call costs to be spread thin, few enough for the
cores to end together."""

_MOST_BYTES = 32 * 2**20
"""What a block may hold of all probes, times the number of threads."""

_BLOCKS = 16
"""Blocks that a shorter capture is cut into: something to show before it has been read."""


def blocks_of(turns: Turns, rate_hz: float, bytes_a_sample: int) -> Iterator[slice]:
    """Runs of revolutions to be worked on at once, without long pauses.

    Args:
        turns: the revolutions.
        rate_hz: the highest sampling rate.
        bytes_a_sample: what is held in memory for each sample, of all probes together.
    """
    if len(turns) == 0:
        return
    share_s = float(turns.end_s[-1] - turns.start_s[0]) / _BLOCKS
    most = min(_MOST_SAMPLES, max(_MOST_BYTES // max(bytes_a_sample, 1), _FEWEST_SAMPLES))
    block_s = min(max(share_s, _FEWEST_SAMPLES / rate_hz), most / rate_hz)
    pause = np.append(turns.start_s[1:] - turns.end_s[:-1], 0.0)
    paused = np.flatnonzero(pause > 0.1 * block_s) + 1
    row = 0
    while row < len(turns):
        limit = turns.start_s[row] + block_s
        stop = max(int(np.searchsorted(turns.end_s, limit, side="right")), row + 1)
        after = int(np.searchsorted(paused, row, side="right"))
        if after < len(paused):
            stop = min(stop, int(paused[after]))
        yield slice(row, stop)
        row = stop


@dataclass(frozen=True, eq=False)
class SampleRows:
    """Stretches of a channel, one a revolution, arrays of shape (r,).

    `first` is the channel's sample that `starts` count from; `rows` are the numbers of the
    revolutions in the table: those that the channel covers wholly, with at least one sample.
    """

    first: int
    starts: Ints
    counts: Ints
    rows: Ints

    def __len__(self) -> int:
        return len(self.rows)

    def read(self, channel: Channel) -> NDArray[Any]:
        """Raw samples from `first` on, and so many beyond the last row as `project` looks at.

        Fewer where the channel ends before; it would have to make a longer copy first.
        """
        wanted = int(self.starts[-1]) + most_width(int(self.counts.max()))
        return channel.source.read(self.first, min(self.first + wanted, len(channel)))

    def extremes(self, values: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any]]:
        """Least and largest value of each revolution; NaN where one is NaN."""
        edges, step = self._edges(len(values))
        values = values[: self.starts[-1] + self.counts[-1]] if step == 1 else values
        low, high = np.minimum.reduceat(values, edges), np.maximum.reduceat(values, edges)
        return low[::step], high[::step]

    def means(self, values: Floats) -> Floats:
        """Plain mean of each revolution."""
        edges, step = self._edges(len(values))
        values = values[: self.starts[-1] + self.counts[-1]] if step == 1 else values
        means: Floats = np.add.reduceat(values, edges)[::step] / self.counts
        return means

    def _edges(self, length: int) -> tuple[Ints, int]:
        """Edges for `reduceat`, and which of its pieces are revolutions: each, or each second."""
        ends = self.starts + self.counts
        if np.array_equal(self.starts[1:], ends[:-1]):
            return self.starts, 1
        edges = np.column_stack([self.starts, ends]).ravel()
        return (edges[:-1] if edges[-1] >= length else edges), 2

    def angles(self, channel: Channel, turns: Turns) -> RowAngles:
        """Shaft angle of the samples; the turns must have one."""
        start_s, length_s = turns.start_s[self.rows], (turns.end_s - turns.start_s)[self.rows]
        at = channel.start_s + (self.first + self.starts) / channel.sample_rate_hz
        slope_in, slope_out = np.empty(len(self)), np.empty(len(self))
        piece, place = turns.piece[self.rows], turns.place[self.rows]
        for number in np.unique(piece):
            own = piece == number
            rates = turns.angles[number].rates
            slope_in[own], slope_out[own] = rates[place[own]], rates[place[own] + 1]
        return RowAngles(
            start=(at - start_s) / length_s,
            step=1.0 / (channel.sample_rate_hz * length_s),
            slope_in=slope_in * length_s,
            slope_out=slope_out * length_s,
            counts=self.counts,
        )


def sample_rows(channel: Channel, turns: Turns, rows: slice) -> SampleRows:
    """The rows of a block in a channel."""
    start = _index_at_or_after(channel, turns.start_s[rows])
    stop = _index_at_or_after(channel, turns.end_s[rows])
    tiny = 0.5 / channel.sample_rate_hz
    covered: Bools = (turns.start_s[rows] >= channel.span.start_s - tiny) & (
        turns.end_s[rows] <= channel.span.end_s + tiny
    )
    good = np.flatnonzero(covered & (stop > start))
    if len(good) == 0:
        none = np.empty(0, dtype=np.int64)
        return SampleRows(0, none, none, none)
    first = int(start[good[0]])
    return SampleRows(first, start[good] - first, (stop - start)[good], good + rows.start)


def _index_at_or_after(channel: Channel, times_s: Floats) -> Ints:
    index = np.ceil((times_s - channel.start_s) * channel.sample_rate_hz - 1e-6)
    return np.clip(index, 0, len(channel)).astype(np.int64)
