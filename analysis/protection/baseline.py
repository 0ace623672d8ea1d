"""What is normal: the steady part of a capture at operating speed, and the measures in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from analysis.model.replay_results import MonitoredProbe, MonitorSeries
from analysis.model.results import Bools, Floats

from .limit_logic import TICK_S

STEADY_WINDOW_S: Final = 5.0
"""Within a window of this length the speed may change by no more than `STEADY_SHARE`."""
STEADY_SHARE: Final = 0.01
LEAST_STEADY_S: Final = 3.0


@dataclass(frozen=True)
class NormalValue:
    """A measure over the steady part: its mean, scatter (standard deviation) and extremes, µm."""

    mean_um: float
    scatter_um: float
    least_um: float
    most_um: float


@dataclass(frozen=True)
class Baseline:
    """The steady part, and what each probe showed in it.

    `assumed`: the setup gives no operating speed, so the fastest steady part stands for it.
    """

    start_s: float
    end_s: float
    speed_rpm: float
    assumed: bool
    peak_to_peak: Mapping[str, NormalValue]
    gap: Mapping[str, NormalValue]
    first_order: Mapping[str, NormalValue]

    def of(self, measure: str) -> Mapping[str, NormalValue]:
        """The values of a limit's measure, by probe."""
        if measure == "position":
            return self.gap
        return self.peak_to_peak if measure == "peak_to_peak" else self.first_order

    @property
    def where(self) -> str:
        """Where it comes from, for people."""
        text = (
            f"{self.start_s:.1f} to {self.end_s:.1f} s of this capture, "
            f"steady at {self.speed_rpm:.0f} r/min"
        )
        if self.assumed:
            text += " (the setup gives no operating speed: its fastest steady part is taken)"
        return text


def baseline_of(
    series: MonitorSeries, operating_rpm: tuple[float, float] | None
) -> Baseline | None:
    """The longest steady part at operating speed and its measures.

    Steady: the speed changes by less than 1 % within every 5 s. Without an operating speed, the
    longest part within a tenth of the fastest steady speed. `None` where the speed is not known,
    or was nowhere steady for 3 s. Source: common practice.
    """
    steady = _steady_ticks(series.speed_rpm)
    speeds = series.speed_rpm
    if operating_rpm is not None:
        low, high = operating_rpm
        # Settings are round numbers, speeds are not.
        wanted = steady & (speeds >= 0.99 * low) & (speeds <= 1.01 * high)
    elif steady.any():
        wanted = steady & (speeds >= 0.9 * float(np.max(speeds[steady])))
    else:
        return None
    first, last = _longest_run(wanted)
    if (last - first) * TICK_S < LEAST_STEADY_S:
        return None
    part = slice(first, last)
    return Baseline(
        start_s=float(series.time_s[first]),
        end_s=float(series.time_s[last - 1]),
        speed_rpm=float(np.mean(speeds[part])),
        assumed=operating_rpm is None,
        peak_to_peak=_values(series.probes, part, lambda probe: probe.peak_to_peak_um),
        gap=_values(series.probes, part, lambda probe: probe.gap_um),
        first_order=_values(series.probes, part, _first_order_um),
    )


def _first_order_um(probe: MonitoredProbe) -> Floats:
    amplitude: Floats = np.abs(probe.first_order)
    return amplitude


def _steady_ticks(speed_rpm: Floats) -> Bools:
    if not len(speed_rpm):
        return np.zeros(0, dtype=bool)
    # Imported late: it costs start-up time.
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    known = np.isfinite(speed_rpm) & (speed_rpm > 0)
    size = 2 * round(STEADY_WINDOW_S / TICK_S / 2) + 1
    # Unknown speeds are steady nowhere: they spoil every window that they stand in.
    highest = maximum_filter1d(np.where(known, speed_rpm, np.inf), size, mode="nearest")
    lowest = minimum_filter1d(np.where(known, speed_rpm, -np.inf), size, mode="nearest")
    with np.errstate(invalid="ignore"):
        steady: Bools = known & (highest - lowest <= STEADY_SHARE * highest) & np.isfinite(highest)
    return steady


def _longest_run(wanted: Bools) -> tuple[int, int]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], wanted, [False])).astype(np.int8)))
    if not len(edges):
        return 0, 0
    starts, ends = edges[::2], edges[1::2]
    longest = int(np.argmax(ends - starts))
    return int(starts[longest]), int(ends[longest])


def _values(
    probes: Mapping[str, MonitoredProbe],
    part: slice,
    pick: Callable[[MonitoredProbe], Floats],
) -> dict[str, NormalValue]:
    values = {}
    for name, probe in probes.items():
        column = pick(probe)[part]
        column = column[np.isfinite(column)]
        if len(column):
            values[name] = NormalValue(
                mean_um=float(np.mean(column)),
                scatter_um=float(np.std(column)),
                least_um=float(np.min(column)),
                most_um=float(np.max(column)),
            )
    return values
