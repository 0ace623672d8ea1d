"""The measure of a limit against time, cut to what a picture can show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.signal.envelope import envelope

if TYPE_CHECKING:
    from analysis.model.replay_results import MonitorSeries
    from analysis.model.results import Trace
    from analysis.model.setup import Limit
    from analysis.model.span import TimeSpan

Floats = NDArray[np.float64]


def values_of(series: MonitorSeries, measure: str, probe: str) -> Floats:
    """The measure of a probe at each tick, µm; NaN throughout for a probe that is not there."""
    monitored = series.probes.get(probe)
    if monitored is None:
        return np.full(len(series), np.nan)
    if measure == "peak_to_peak":
        return monitored.peak_to_peak_um
    if measure == "position":
        return monitored.gap_um
    amplitudes: Floats = np.abs(monitored.first_order)
    return amplitudes


class LevelCurves:
    """The measures of one limit's probes, worked out once a series."""

    def __init__(self, series: MonitorSeries, limit: Limit) -> None:
        self.series = series
        self.measure = limit.measure
        self.probes = limit.probes
        self.values = {
            name: values_of(series, limit.measure, name) for name in dict.fromkeys(limit.probes)
        }
        finite = [each[np.isfinite(each)] for each in self.values.values()]
        ends = [(float(each.min()), float(each.max())) for each in finite if len(each)]
        self.ends = (min(low for low, _ in ends), max(high for _, high in ends)) if ends else None

    def are_of(self, series: MonitorSeries, limit: Limit) -> bool:
        """Whether these are the curves of that limit in that series."""
        return (
            series is self.series and limit.measure == self.measure and limit.probes == self.probes
        )

    def trace(self, name: str, part: TimeSpan, columns: int) -> Trace:
        """A probe's curve within a part, with the tick before and the one after it."""
        time = self.series.time_s
        first = max(int(np.searchsorted(time, part.start_s)) - 1, 0)
        last = int(np.searchsorted(time, part.end_s, side="right")) + 1
        return envelope(time[first:last], self.values[name][first:last], columns)

    def at(self, name: str, time_s: float) -> float | None:
        """The measure that stood at a time: that of the last tick; `None` when there is none."""
        time = self.series.time_s
        place = int(np.searchsorted(time, time_s + 1e-9, side="right")) - 1
        if place < 0 or (place == len(time) - 1 and time_s > time[-1] + 0.1):
            return None
        value = float(self.values[name][place])
        return value if np.isfinite(value) else None
