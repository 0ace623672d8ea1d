"""How far the measures of a limit's probes are beyond it, and what their votes make of that.

All arrays have shape (k,): one value a revolution, or one a tick of the monitor. **Beyond** is
`max(value - above, below - value)` in µm: the condition (`>= above` or `<= below`, contract,
section 5) is met where it is 0 or more. NaN: void, nothing can be judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from analysis.model.replay_results import MonitoredProbe
from analysis.model.results import Bools, Complexes, Floats, RevolutionTable
from analysis.model.setup import Limit, Region


class ProbeBeyond(NamedTuple):
    """One probe of a limit: its measure, how far beyond the limit, and where it is at fault."""

    name: str
    value_um: Floats
    beyond_um: Floats
    fault: Bools


def probes_beyond(
    limit: Limit,
    probes: Mapping[str, MonitoredProbe],
    speed_rpm: Floats,
    *,
    phase_known: bool,
) -> tuple[ProbeBeyond, ...]:
    """How far each of a limit's probes is beyond it; probes that are not there are left out.

    `above` is taken with the multiplier put in where the speed is inside its window. A probe
    outside a 1X region is beyond by its distance from it in the complex plane, µm p-p.
    """
    above = above_over(limit, speed_rpm)
    found = []
    for name in limit.probes:
        probe = probes.get(name)
        if probe is None:
            continue
        value = measure_over(limit, probe)
        if limit.region is not None:
            beyond = outside_region(probe.first_order, limit.region)
            if not phase_known:
                beyond = np.full(len(value), np.nan)
        else:
            beyond = np.full(len(value), -np.inf) if above is None else value - above
            if limit.below is not None:
                beyond = np.maximum(beyond, limit.below - value)
        # A fault voids the measures, whatever stands there.
        beyond = np.where(probe.fault | np.isnan(value), np.nan, beyond)
        found.append(ProbeBeyond(name, value, beyond, probe.fault))
    return tuple(found)


def voted(limit: Limit, probes: tuple[ProbeBeyond, ...], rows: int) -> Floats:
    """The value that decides: the `votes`-th largest beyond of the probes; shape (rows,).

    Where more than one vote is asked for, a circuit fault counts as one (infinitely beyond). A
    `peak_to_peak` limit does not act on faults alone: one healthy probe at least must be beyond it.
    Source: API 670 on two-out-of-two voting, from memory.
    """
    return nth_largest(
        limit, [each.beyond_um for each in probes], [each.fault for each in probes], rows
    )


def nth_largest(limit: Limit, values: list[Floats], faults: list[Bools], rows: int) -> Floats:
    """The `votes`-th largest of the probes' values by the rules of `voted`; NaN where void."""
    if not values:
        return np.full(rows, np.nan)
    if len(values) == 1 and limit.votes == 1:
        return values[0]
    stacked = np.array(values)
    unknown = np.isnan(stacked)
    stacked[unknown] = -np.inf
    void = unknown.all(axis=0)
    if limit.votes == 1:
        largest: Floats = stacked.max(axis=0)
        return np.where(void, np.nan, largest)
    healthy_most = stacked.max(axis=0)
    fault = np.array(faults)
    stacked[fault] = np.inf
    if limit.votes > len(values):
        # A probe that is not there never votes.
        decided = np.full(rows, -np.inf)
    else:
        decided = np.sort(stacked, axis=0)[-limit.votes]
    if limit.measure == "peak_to_peak":
        decided = np.minimum(decided, healthy_most)
    else:
        void &= ~fault.any(axis=0)
    return np.where(void, np.nan, decided)


def above_over(limit: Limit, speed_rpm: Floats) -> Floats | None:
    """`above` with the multiplier put in, where the speed is inside its window.

    The multiplier raises vibration limits; a position is no level that a factor could raise, so
    position limits stay as they are.
    """
    if limit.above is None:
        return None
    return limit.above * factor_over(limit, speed_rpm)


def factor_over(limit: Limit, speed_rpm: Floats) -> Floats:
    """The multiplier's factor where it is in force, 1 elsewhere; shape (k,)."""
    if limit.multiplier is None or limit.measure == "position":
        return np.ones(len(speed_rpm))
    low, high = limit.multiplier.rpm
    # A speed that is not known (NaN) compares false.
    inside = (speed_rpm >= low) & (speed_rpm <= high)
    return np.where(inside, limit.multiplier.factor, 1.0)


def measure_over(limit: Limit, probe: MonitoredProbe) -> Floats:
    """The measure that a limit looks at, µm; of a 1X limit the amplitude p-p."""
    if limit.measure == "peak_to_peak":
        return probe.peak_to_peak_um
    if limit.measure == "position":
        return probe.gap_um
    amplitude: Floats = np.abs(probe.first_order)
    return amplitude


def outside_region(vectors: Complexes, region: Region) -> Floats:
    """Distance of 1X vectors from a region, µm p-p: positive outside, negative inside.

    Measured in the complex plane to the nearest point of the region's border, which is made of two
    arcs (the amplitudes) and two straight edges (the phase lags).
    """
    low, high = region.amplitude_um
    start, end = region.lag_deg
    width = (end - start) % 360.0 or 360.0
    amplitude = np.abs(vectors)
    lag = -np.degrees(np.angle(vectors))
    off_middle = np.abs((lag - start - width / 2.0 + 180.0) % 360.0 - 180.0)
    past_edge = np.radians(off_middle - width / 2.0)
    # By symmetry the edge on this side of the middle is the nearer one.
    along = amplitude * np.cos(past_edge)
    edge = np.hypot(along - np.clip(along, low, high), amplitude * np.sin(past_edge))
    if width == 360.0:
        edge = np.full(len(vectors), np.inf)
    arc = np.maximum(amplitude - high, low - amplitude if low > 0.0 else -np.inf)
    outside_lag = past_edge > 0.0
    outside: Floats = np.where(outside_lag, edge, np.where(arc > 0.0, arc, -np.minimum(-arc, edge)))
    return outside


def measures_of_revolutions(table: RevolutionTable) -> dict[str, MonitoredProbe]:
    """What limits look at in each revolution of a table, by probe."""
    unknown = np.full(len(table), complex(np.nan, np.nan))
    return {
        name: MonitoredProbe(
            peak_to_peak_um=probe.peak_to_peak_um,
            gap_um=probe.gap_um,
            first_order=probe.vectors.get(1, unknown),
            fault=probe.fault,
        )
        for name, probe in table.probes.items()
    }
