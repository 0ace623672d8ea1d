"""The revolutions of a timeline, ready to be cut to any part: in full, and in coarser levels.

A picture has some thousand columns, a capture may have a million revolutions. Looking at all of
them at every turn of the wheel would take tens of milliseconds; a level keeps lowest, highest and
worst of 16 rows of the one below, and a redraw takes the coarsest that still has several rows a
column. The part that is seen is found by bisection.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .timeline_shapes import severity_ranks

if TYPE_CHECKING:
    from analysis.views.timeline import TimelineResult

Floats = NDArray[np.float64]
Ranks = NDArray[np.int8]

_STEP = 16
_A_COLUMN = 4
"""Rows that a column has at least when they are taken from a coarser level."""


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows in order of time; one of these arrays a measure, NaN where it is not known.

    `time_s` is the middle of a revolution, or the first one of several.
    """

    time_s: Floats
    speed_low: Floats
    speed_high: Floats
    level_low: Floats
    level_high: Floats
    ranks: Ranks

    def __len__(self) -> int:
        return len(self.time_s)

    def cut(self, start: int, stop: int) -> Rows:
        """The rows `start` up to, not including, `stop`; views, no copies."""
        return Rows(
            self.time_s[start:stop],
            self.speed_low[start:stop],
            self.speed_high[start:stop],
            self.level_low[start:stop],
            self.level_high[start:stop],
            self.ranks[start:stop],
        )

    def coarser(self) -> Rows:
        """One row for every 16."""
        return Rows(
            self.time_s[::_STEP],
            _reduced(np.fmin, self.speed_low),
            _reduced(np.fmax, self.speed_high),
            _reduced(np.fmin, self.level_low),
            _reduced(np.fmax, self.level_high),
            _reduced(np.maximum, self.ranks),
        )


class RowLevels:
    """The rows of one result and one probe, and their coarser levels, made where needed."""

    def __init__(self, result: TimelineResult, probe: str) -> None:
        self.result = result
        self.probe = probe
        count = len(result.time_s)
        level = result.peak_to_peak_um.get(probe)
        if level is None:
            level = np.full(count, np.nan)
        speed = result.speed_rpm
        ranks = severity_ranks(result.condition, count)
        self._levels = [Rows(result.time_s, speed, speed, level, level, ranks)]
        self.speed_known = count == 0 or bool(np.isfinite(speed).any())
        self._edges: tuple[Floats, Floats] | None = None

    def prepare(self, columns: int) -> None:
        """Make the levels that the whole capture is drawn from, in a thread that has the time."""
        while len(self._levels[-1]) >= _STEP * _A_COLUMN * columns:
            self._levels.append(self._levels[-1].coarser())

    def edges(self) -> tuple[Floats, Floats]:
        """Start and end of every revolution, s."""
        if self._edges is None:
            table = self.result.table
            if len(table) and bool((table.end_s > table.start_s).all()):
                self._edges = (table.start_s, table.end_s)
            else:
                self._edges = _edges_between(self.result.time_s)
        return self._edges

    def count_in(self, low: float, high: float) -> int:
        """Revolutions whose middle lies in a part of the capture."""
        first, last = np.searchsorted(self.result.time_s, (low, high))
        return int(last - first)

    def within(self, low: float, high: float, columns: int) -> Rows:
        """Rows whose time lies in a part, of the coarsest level that fills the columns."""
        count = self.count_in(low, high)
        place = 0
        while count >= _STEP * _A_COLUMN * columns:
            count //= _STEP
            place += 1
        while len(self._levels) <= place:
            self._levels.append(self._levels[-1].coarser())
        rows = self._levels[place]
        first, last = np.searchsorted(rows.time_s, (low, high))
        # A coarse row that starts before the part reaches into it.
        return rows.cut(max(int(first) - (place > 0), 0), int(last))

    def around(self, low: float, high: float) -> tuple[Rows, Floats, Floats]:
        """The revolutions that reach into a part, with their starts and ends."""
        starts, ends = self.edges()
        first = int(np.searchsorted(ends, low, side="right"))
        last = int(np.searchsorted(starts, high, side="left"))
        return self._levels[0].cut(first, last), starts[first:last], ends[first:last]


def _reduced(function: np.ufunc, values: NDArray) -> NDArray:  # type: ignore[type-arg]
    """`function` over every 16 values, the last ones included; strided, which is fast."""
    whole = len(values) // _STEP * _STEP
    out = values[0:whole:_STEP].copy()
    for offset in range(1, _STEP):
        function(out, values[offset:whole:_STEP], out=out)
    if whole < len(values):
        out = np.append(out, function.reduce(values[whole:]))
    return out


def _edges_between(times: Floats) -> tuple[Floats, Floats]:
    """Starts and ends half-way between the middles."""
    if len(times) < 2:
        return times - 0.05, times + 0.05
    between = (times[1:] + times[:-1]) / 2.0
    first, last = times[0] - (between[0] - times[0]), times[-1] + (times[-1] - between[-1])
    return np.concatenate([[first], between]), np.concatenate([between, [last]])
