"""A probe's gap against time, cut to what a picture can show: mean, least and largest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .columns import columns_of

if TYPE_CHECKING:
    from analysis.model.results import RevolutionTable
    from analysis.model.span import TimeSpan

Floats = NDArray[np.float64]

_ROWS_A_COLUMN = 2


@dataclass(frozen=True, eq=False)
class GapRows:
    """One element a column (or a revolution, where they are few); NaN where nothing is known."""

    time_s: Floats
    mean_low: Floats
    mean_high: Floats
    least: Floats
    largest: Floats


class GapCurves:
    """The gap of one probe in every revolution of a table."""

    def __init__(self, table: RevolutionTable, probe: str) -> None:
        self.table = table
        self.probe = probe
        column = table.probes.get(probe)
        nothing = np.full(len(table), np.nan)
        self.mean = nothing if column is None else column.gap_um
        self.least = nothing if column is None else column.min_um
        self.largest = nothing if column is None else column.max_um
        self._time = (table.start_s + table.end_s) / 2.0
        both = np.isfinite(self.least) & np.isfinite(self.largest)
        self.ends = (
            (float(self.least[both].min()), float(self.largest[both].max())) if both.any() else None
        )

    def rows(self, part: TimeSpan, columns: int) -> GapRows:
        """What a part of the capture shows in so many pixel columns, with a row on either side."""
        first = max(int(np.searchsorted(self._time, part.start_s)) - 1, 0)
        last = int(np.searchsorted(self._time, part.end_s, side="right")) + 1
        cut = slice(first, last)
        time = self._time[cut]
        if len(time) <= _ROWS_A_COLUMN * columns:
            mean = self.mean[cut]
            return GapRows(time, mean, mean, self.least[cut], self.largest[cut])
        sorted_rows = columns_of(time, float(time[0]), float(time[-1]), columns)
        mean = self.mean[cut]
        return GapRows(
            sorted_rows.centres,
            sorted_rows.lowest(mean),
            sorted_rows.highest(mean),
            sorted_rows.lowest(self.least[cut]),
            sorted_rows.highest(self.largest[cut]),
        )

    def at(self, time_s: float) -> tuple[float, float, float] | None:
        """Mean, least and largest gap of the revolution at a time; `None` where there is none."""
        place = int(np.searchsorted(self.table.end_s, time_s))
        if place >= len(self.table) or time_s < float(self.table.start_s[place]) - 0.2:
            return None
        found = (float(self.mean[place]), float(self.least[place]), float(self.largest[place]))
        return found if np.isfinite(found).all() else None
