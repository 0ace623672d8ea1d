"""The trip boundary: for every delay the level that would just have acted.

A limit with a delay of n ticks acts when the measure is at its level or beyond at n + 1 ticks in a
row, so the highest level that acts is the largest of the smallest values of every n + 1 ticks: a
sliding minimum, each delay's from that of the delay before.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal

import numpy as np

from analysis.model.replay_results import BoundaryCurve, Margin, MonitorSeries, TripBoundary
from analysis.model.results import Floats
from analysis.model.setup import Limit

from .condition import factor_over, measure_over, nth_largest
from .limit_logic import delay_ticks, runs_of

Side = Literal["above", "below"]
_SIDES: tuple[Side, Side] = ("above", "below")


def trip_boundary(
    series_by_name: Mapping[str, MonitorSeries],
    limit: Limit,
    index: int,
    *,
    longest_s: float = 15.0,
) -> TripBoundary:
    """The boundary of one limit in every capture, and in all of them together.

    Each side of the limit is judged by itself; hysteresis and latch play no part in what just
    acts. Levels on the side `"above"` are settings without the multiplier: where it is in force the
    measure is divided by its factor. A level is infinite where circuit faults alone would have
    acted, whatever the setting. A region of 1X has no level, so no curves and no margins.

    Args:
        series_by_name: what the limits look at, of one capture or several, by name.
        limit: the limit.
        index: its place in the setup.
        longest_s: the longest delay of the curves, s; they go on for the limit's own if it is
            longer.
    """
    sides = [side for side in _SIDES if getattr(limit, side) is not None]
    own = delay_ticks(limit.delay_s)
    delays = np.arange(max(delay_ticks(longest_s), own) + 1)
    curves: dict[str, tuple[BoundaryCurve, ...]] = {}
    values: dict[Side, list[Floats]] = {side: [] for side in sides}
    for name, series in series_by_name.items():
        found = []
        for side in sides:
            deciding = _deciding(limit, series, side)
            values[side].append(deciding)
            found.append(_curve(side, _highest_levels(deciding, len(delays))))
        curves[name] = tuple(found)
    together = tuple(
        _together(side, [curve for own_curves in curves.values() for curve in own_curves])
        for side in sides
        if curves
    )
    margins = tuple(_margin(limit, curve, own, values[curve.side]) for curve in together)
    return TripBoundary(index, curves, together, margins)


def _deciding(limit: Limit, series: MonitorSeries, side: Side) -> Floats:
    """The value that a setting is compared with, growing the further it is beyond; NaN for void."""
    present = [series.probes[name] for name in limit.probes if name in series.probes]
    factor = factor_over(limit, series.speed_rpm)
    values = [
        measure_over(limit, probe) / factor if side == "above" else -measure_over(limit, probe)
        for probe in present
    ]
    faults = [probe.fault for probe in present]
    return nth_largest(limit, values, faults, len(series))


def _highest_levels(values: Floats, delays: int) -> Floats:
    """For each number of ticks the highest level that was held for so long; NaN: none was."""
    levels = np.full(delays, np.nan)
    # Where it is void no level acts.
    filled = np.where(np.isnan(values), -np.inf, values)
    lowest = filled
    for delay in range(min(delays, len(values))):
        if delay:
            lowest = np.minimum(lowest[:-1], filled[delay:])
        highest = lowest.max()
        if highest == -np.inf:
            break  # and none for longer
        levels[delay] = highest
    return levels


def _curve(side: Side, levels: Floats) -> BoundaryCurve:
    delays = np.arange(len(levels)) / 10.0
    return BoundaryCurve(side, delays, levels if side == "above" else -levels)


def _together(side: Side, curves: Sequence[BoundaryCurve]) -> BoundaryCurve:
    own = [curve for curve in curves if curve.side == side]
    best = np.fmax if side == "above" else np.fmin
    return BoundaryCurve(side, own[0].delay_s, best.reduce([curve.level_um for curve in own]))


def _margin(limit: Limit, curve: BoundaryCurve, delay: int, values: list[Floats]) -> Margin:
    """Level and delay of the present setting against the boundary of all captures together."""
    sign = 1.0 if curve.side == "above" else -1.0
    setting = limit.above if curve.side == "above" else limit.below
    assert setting is not None  # only sides that have one have a curve
    level = float(curve.level_um[delay])
    held = [_longest_held(series, sign * setting) for series in values]
    longest = max((each for each in held if each is not None), default=None)
    return Margin(
        side=curve.side,
        acts=longest is not None and longest >= delay,
        level_um=sign * (setting - level) if math.isfinite(level) else None,
        delay_s=None if longest is None else limit.delay_s - longest / 10.0,
    )


def _longest_held(values: Floats, level: float) -> int | None:
    """For how many ticks after its first one the condition held at the longest."""
    # NaN (void) compares false.
    runs = runs_of(values >= level)
    return int((runs.last - runs.first).max()) if len(runs.first) else None
