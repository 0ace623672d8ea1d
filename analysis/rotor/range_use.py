"""A probe's gap against its linear range, from rows of a revolution table."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from analysis.model.capture import Channel
from analysis.model.position_results import Forecast, OutsideStretch, RangeEnd, RangeUse
from analysis.model.results import Floats, RevolutionTable
from analysis.model.setup import Level, Probe
from analysis.model.span import TimeSpan

from .gap import gap_from_volts
from .revolutions import fault_mask

BRIDGE_S: Final = 0.5
"""Stretches outside that are less than this apart are one: a waveform that touches the end now
and then is one event to a reader."""

_MOST_SAMPLES: Final = 1 << 17
_MOST_READS: Final = 32
_LEAST_READS: Final = 4


def range_use(table: RevolutionTable, probe: Probe, rows: slice = slice(None)) -> RangeUse | None:
    """Extremes, margins and stretches outside over some revolutions.

    Void revolutions (circuit fault) count as nothing but themselves. `outside_fraction` is 0 where
    no turn was outside and else left open: it needs samples, see `with_fraction`.

    Returns:
        `None` when no revolution is valid.
    """
    column = table.probes[probe.name]
    start, end = table.start_s[rows], table.end_s[rows]
    mean, low, high = column.gap_um[rows], column.min_um[rows], column.max_um[rows]
    valid = np.isfinite(mean)
    count = int(np.count_nonzero(valid))
    if count == 0:
        return None
    if count < len(mean):
        start, end, mean, low, high = (each[valid] for each in (start, end, mean, low, high))
    least, most = int(np.argmin(low)), int(np.argmax(high))
    spread = high - low
    use = RangeUse(
        span=TimeSpan(float(start[0]), float(end[-1])),
        turns=count,
        # Where the channel has no samples nothing was at fault.
        void_turns=int(np.count_nonzero(~valid & (column.samples[rows] > 0))),
        mean_um=float(mean.mean()),
        min_um=float(low[least]),
        max_um=float(high[most]),
        min_at_s=float(start[least] + end[least]) / 2.0,
        max_at_s=float(start[most] + end[most]) / 2.0,
        peak_to_peak_um=float(spread.mean()),
        peak_to_peak_max_um=float(spread.max()),
    )
    if probe.linear_range_um is None:
        return use
    near, far = probe.linear_range_um
    stretches = _stretches(start, end, near - low, "near", near - mean)
    stretches += _stretches(start, end, high - far, "far", mean - far)
    outside = (low < near) | (high > far)
    return replace(
        use,
        near_margin_um=use.min_um - near,
        far_margin_um=far - use.max_um,
        near_share=(use.min_um - near) / (far - near),
        far_share=(far - use.max_um) / (far - near),
        outside_turns=int(np.count_nonzero(outside)),
        outside_s=float(np.sum((end - start)[outside])),
        outside_fraction=None if outside.any() else 0.0,
        fraction_from=None if outside.any() else 1.0,
        stretches=tuple(sorted(stretches, key=lambda s: s.span)),
    )


def _stretches(
    start: Floats, end: Floats, beyond: Floats, where: RangeEnd, mean_beyond: Floats
) -> list[OutsideStretch]:
    rows = np.flatnonzero(beyond > 0.0)
    if len(rows) == 0:
        return []
    breaks = np.flatnonzero(start[rows[1:]] - end[rows[:-1]] >= BRIDGE_S) + 1
    first = np.concatenate([[0], breaks])
    last = np.append(breaks, len(rows))
    deepest = np.maximum.reduceat(beyond[rows], first)
    mean_deepest = np.maximum.reduceat(mean_beyond[rows], first)
    out = []
    for a, b, depth, mean_depth in zip(first, last, deepest, mean_deepest, strict=True):
        worst = rows[a + int(np.argmax(beyond[rows[a:b]]))]
        out.append(
            OutsideStretch(
                span=TimeSpan(float(start[rows[a]]), float(end[rows[b - 1]])),
                end=where,
                turns=int(b - a),
                beyond_um=float(depth),
                worst_s=float(start[worst] + end[worst]) / 2.0,
                mean_outside=bool(mean_depth > 0.0),
            )
        )
    return out


def with_fraction(
    use: RangeUse, table: RevolutionTable, probe: Probe, channel: Channel, rows: slice = slice(None)
) -> RangeUse:
    """The same with the share of samples outside, counted in the turns that were outside.

    Samples of other turns are inside without a look. Of very many turns outside, pieces evenly
    spread over them are read and stand for all.
    """
    if use.outside_turns == 0 or probe.linear_range_um is None:
        return use
    near, far = probe.linear_range_um
    column = table.probes[probe.name]
    outside = (column.min_um[rows] < near) | (column.max_um[rows] > far)
    held = column.samples[rows]
    pieces = _pieces(np.flatnonzero(outside), held)
    start_s, end_s = table.start_s[rows], table.end_s[rows]
    beyond = looked = 0
    for first, last in pieces:
        span = TimeSpan(float(start_s[first]), float(end_s[last - 1]))
        begin, stop = channel.index_at_or_after(span.start_s), channel.index_at_or_after(span.end_s)
        volts = channel.volts(begin, stop)
        gap = gap_from_volts(volts[~fault_mask(volts, probe)], probe)
        beyond += int(np.count_nonzero((gap < near) | (gap > far)))
        looked += int(np.sum(held[first:last]))
    healthy = float(np.sum(held[~column.fault[rows]]))
    in_turns = float(np.sum(held[outside]))
    fraction = beyond / max(looked, 1) * in_turns / max(healthy, 1.0)
    return replace(use, outside_fraction=fraction, fraction_from=looked / max(in_turns, 1.0))


def _pieces(rows: np.ndarray, held: np.ndarray) -> list[tuple[int, int]]:
    """Runs of consecutive rows, thinned out where there are too many to read."""
    breaks = np.flatnonzero(np.diff(rows) > 1) + 1
    first = rows[np.concatenate([[0], breaks])]
    last = rows[np.append(breaks, len(rows)) - 1] + 1
    longest = int(np.max(last - first))
    wanted = _MOST_SAMPLES / max(float(np.mean(held[rows])), 1.0)
    if len(rows) <= wanted and len(first) <= _MOST_READS:
        return [(int(a), int(b)) for a, b in zip(first, last, strict=True)]
    # Pieces of a length, begun at rows evenly spread; each stays in its own run.
    reads = min(max(int(wanted), _LEAST_READS), _MOST_READS)
    length = max(int(min(wanted / reads, longest)), 1)
    chosen = rows[np.linspace(0, len(rows) - 1, reads).astype(np.int64)]
    run = np.searchsorted(first, chosen, side="right") - 1
    out: list[tuple[int, int]] = []
    for row, stop in zip(chosen, last[run], strict=True):
        begin = max(int(row), out[-1][1] if out else 0)
        if begin < stop:
            out.append((begin, min(begin + length, int(stop))))
    return out


def forecast(
    use: RangeUse, probe: Probe, limits: tuple[tuple[Level, float], ...]
) -> Forecast | None:
    """What is left of the range for a waveform as it is.

    Args:
        use: the extremes that the forecast is made of.
        probe: gives the linear range.
        limits: p-p limits of the probe, (level, µm p-p).

    Returns:
        `None` without a linear range.
    """
    if probe.linear_range_um is None:
        return None
    near, far = probe.linear_range_um
    up, down = use.max_um - use.mean_um, use.mean_um - use.min_um
    to_far, to_near = far - use.mean_um, use.mean_um - near
    far_times = to_far / up if up > 0.0 else np.inf
    near_times = to_near / down if down > 0.0 else np.inf
    end: RangeEnd = "far" if far_times <= near_times else "near"
    times = min(far_times, near_times)
    # The extremes may be of different turns: p-p as their distance, so that it scales with them.
    cut = (use.max_um - use.min_um) * times if 0.0 < times < np.inf else None
    beyond = tuple(each for each in limits if cut is not None and each[1] > cut)
    return Forecast(
        rise_um=far - use.max_um,
        fall_um=use.min_um - near,
        cut_end=end,
        cut_peak_to_peak_um=None if cut is None else float(cut),
        beyond_cut=beyond if times > 0.0 else limits,
        centred_um=(near + far) / 2.0 - (up - down) / 2.0,
    )


def rows_inside(table: RevolutionTable, span: TimeSpan) -> slice:
    """The revolutions that lie wholly in a span."""
    tiny = 1e-9
    first = int(np.searchsorted(table.start_s, span.start_s - tiny, side="left"))
    last = int(np.searchsorted(table.end_s, span.end_s + tiny, side="right"))
    return slice(first, max(first, last))


def rows_around(table: RevolutionTable, moment_s: float, count: int) -> slice:
    """The `count` consecutive revolutions whose middle is nearest to a moment, or all."""
    rows = len(table)
    if rows <= count:
        return slice(0, rows)
    middles = (table.start_s[: rows - count + 1] + table.end_s[count - 1 :]) / 2.0
    at = int(np.searchsorted(middles, moment_s))
    near = [i for i in (at - 1, at) if 0 <= i < len(middles)]
    best = min(near, key=lambda i: abs(float(middles[i]) - moment_s))
    return slice(best, best + count)
