"""One probe's place on its range: what the revolution table knows, and what samples add to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from analysis.model.capture import Capture, Channel
from analysis.model.position_results import Clip, HiddenPeak, ProbePosition, RangeEnd, RangeUse
from analysis.model.results import Bools, Floats, RevolutionTable
from analysis.model.setup import Level, Probe, Setup
from analysis.model.span import TimeSpan
from analysis.protection.two_readings import position_marks, two_readings
from analysis.rotor.clipping import Recorder, clips_in, is_wall, off_cuts, over_turns
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.hidden_peaks import hidden_peak, order_shares, trusted_gap
from analysis.rotor.range_use import forecast, range_use, rows_around, with_fraction
from analysis.rotor.revolutions import fault_mask
from analysis.rotor.working_point import working_point

LOOK_TURNS: Final = 6
"""Turns that cuts are looked for in: enough for one to repeat, few enough to be read at once."""

_MOST_SAMPLES: Final = 1 << 14
_SAME_PLACE: Final = 0.02
_VOID_LOOKS: Final = 4


@dataclass(frozen=True, eq=False)
class Look:
    """Samples of some turns: volts, gap (µm, NaN at fault) and shaft angle (turns), shape (n,)."""

    span: TimeSpan
    volts: Floats
    gap_um: Floats
    turns: Floats

    def clips(self, probe: Probe, channel: Channel) -> tuple[Clip, ...]:
        """The cuts in them."""
        return clips_in(self.volts, probe, Recorder.of(channel))


@dataclass(frozen=True, eq=False)
class ProbeCapture:
    """What a whole capture tells of one probe; see `ProbePosition`.

    `shares` are the sizes of the orders in calm turns (`order_shares`), by the end that these are
    far from; only of ends where something may have been lost.
    """

    use: RangeUse | None
    clips: tuple[Clip, ...]
    hidden: HiddenPeak | None
    shares: Mapping[RangeEnd, Floats]


def look_at(capture: Capture, probe: Probe, table: RevolutionTable, rows: slice) -> Look | None:
    """Read some revolutions of a table, the first ones only where they are very long."""
    channel = capture.channels[probe.channel]
    first, last = rows.start, rows.stop
    if first >= last:
        return None
    held = np.cumsum(table.probes[probe.name].samples[first:last])
    fits = max(int(np.searchsorted(held, _MOST_SAMPLES, side="right")), 1)
    last = min(last, first + fits)
    span = TimeSpan(float(table.start_s[first]), float(table.end_s[last - 1]))
    begin = channel.index_at_or_after(span.start_s)
    stop = min(channel.index_at_or_after(span.end_s), begin + _MOST_SAMPLES)
    if stop <= begin:
        return None
    volts = channel.volts(begin, stop)
    gap = gap_from_volts(volts, probe)
    gap[fault_mask(volts, probe)] = np.nan
    edges = np.append(table.start_s[first:last], table.end_s[last - 1])
    turns = np.interp(channel.times(begin, stop), edges, np.arange(len(edges), dtype=np.float64))
    return Look(span, volts, gap, turns)


def probe_capture(capture: Capture, probe: Probe, table: RevolutionTable) -> ProbeCapture:
    """Extremes and stretches from the table; cuts from the samples of its most extreme turns.

    A cut shows where the gap is most extreme, so that few samples need to be read.
    """
    use = range_use(table, probe)
    channel = capture.channels[probe.channel]
    if use is not None:
        use = with_fraction(use, table, probe, channel)
    clips = _capture_clips(capture, probe, table)
    ends = {stretch.end for stretch in use.stretches} if use is not None else set()
    ends |= {clip.end for clip in clips}
    calm = {end: _calm_shares(capture, probe, table, end, clips) for end in ends}
    shares = {end: each for end, each in calm.items() if each is not None}
    hidden = None
    worst = _worst_end(use, clips)
    if worst is not None:
        look = look_at(capture, probe, table, _extreme_rows(table, probe, worst))
        hidden = _hidden(look, probe, clips, shares.get(worst))
    return ProbeCapture(use, clips, hidden, shares)


def _worst_end(use: RangeUse | None, clips: tuple[Clip, ...]) -> RangeEnd | None:
    """The end at which something of the waveform may have been lost."""
    if use is not None and use.outside_turns and use.nearer_end is not None:
        return use.nearer_end
    return clips[0].end if clips else None


def _extreme_rows(table: RevolutionTable, probe: Probe, end: RangeEnd) -> slice:
    """Turns around the one that comes nearest to an end.

    Where a cut holds many at the same place, the one with the largest p-p: the deepest cut.
    """
    column = table.probes[probe.name]
    values = -column.min_um if end == "near" else column.max_um
    if not np.isfinite(values).any():
        return slice(0, 0)
    spread = column.peak_to_peak_um
    top = int(np.nanargmax(values))
    level = values >= values[top] - _SAME_PLACE * spread[top]  # NaN compares false
    return _around(int(np.argmax(np.where(level, spread, -np.inf))), len(table))


def _calm_rows(table: RevolutionTable, probe: Probe, end: RangeEnd) -> slice:
    """Turns around the one that stays furthest from an end."""
    column = table.probes[probe.name]
    values = -column.min_um if end == "near" else column.max_um
    if not np.isfinite(values).any():
        return slice(0, 0)
    return _around(int(np.nanargmin(values)), len(table))


def _around(row: int, count: int) -> slice:
    first = min(max(row - LOOK_TURNS // 2, 0), max(count - LOOK_TURNS, 0))
    return slice(first, min(first + LOOK_TURNS, count))


def _capture_clips(capture: Capture, probe: Probe, table: RevolutionTable) -> tuple[Clip, ...]:
    column = table.probes[probe.name]
    places = [_extreme_rows(table, probe, "near"), _extreme_rows(table, probe, "far")]
    # Stretches at fault may have unlike reasons: a dropped sample, peaks beyond the limit.
    void = np.flatnonzero(column.fault & (column.samples > 0))
    begins = void[np.diff(void, prepend=-2) > 1]
    every = max(-(-len(begins) // _VOID_LOOKS), 1)
    places += [_around(int(row) + LOOK_TURNS // 2, len(table)) for row in begins[::every]]
    found: dict[RangeEnd, Clip] = {}
    void_from = len(table)
    for rows in places:
        look = look_at(capture, probe, table, rows)
        if look is None:
            continue
        for clip in look.clips(probe, capture.channels[probe.channel]):
            if found.setdefault(clip.end, clip).cause == "fault_limit":
                void_from = min(void_from, rows.start)
    return tuple(
        over_turns(
            clip,
            probe,
            start_s=table.start_s,
            end_s=table.end_s,
            extremes_um=column.min_um if clip.end == "near" else column.max_um,
            # What was void before may have had another reason.
            fault=column.fault & (column.samples > 0) & (np.arange(len(table)) >= void_from),
        )
        for clip in found.values()
    )


def _calm_shares(
    capture: Capture,
    probe: Probe,
    table: RevolutionTable,
    end: RangeEnd,
    clips: tuple[Clip, ...],
) -> Floats | None:
    """Sizes of the orders where the gap stays furthest from an end, and whole."""
    if table.kind == "blocks":
        return None
    calm = look_at(capture, probe, table, _calm_rows(table, probe, end))
    if calm is None or not _inside(calm, probe, clips).all():
        return None
    return order_shares(calm.gap_um, calm.turns)


def _hidden(
    look: Look | None, probe: Probe, clips: tuple[Clip, ...], shares: Floats | None
) -> HiddenPeak | None:
    """The p-p that some turns would have had, going by calm turns of the same probe."""
    if look is None or shares is None:
        return None
    trusted = trusted_gap(look.gap_um, probe.linear_range_um) & off_cuts(look.volts, clips)
    return hidden_peak(look.gap_um, look.turns, trusted, look.span, shares)


def _inside(look: Look, probe: Probe, clips: tuple[Clip, ...]) -> Bools:
    good: Bools = np.isfinite(look.gap_um) & off_cuts(look.volts, clips)
    if probe.linear_range_um is not None:
        low, high = probe.linear_range_um
        good &= (look.gap_um >= low) & (look.gap_um <= high)
    return good


def probe_position(
    capture: Capture,
    setup: Setup,
    probe: Probe,
    whole: ProbeCapture | None,
    table: RevolutionTable | None,
    chosen_rows: slice | None,
    moment_table: RevolutionTable,
    moment_rows: slice,
    resistance_ohm: float,
) -> ProbePosition:
    """Everything about one probe at a moment, over a chosen span, and over the capture.

    Args:
        capture: the capture.
        setup: its setup.
        probe: the probe.
        whole: what the capture tells, where it is known.
        table: the capture's revolutions, where they are known.
        chosen_rows: those of the chosen span, in `table`.
        moment_table: a table with the revolutions around the moment.
        moment_rows: which they are.
        resistance_ohm: what loop currents are measured across, Ω.
    """
    channel = capture.channels[probe.channel]
    moment = range_use(moment_table, probe, moment_rows)
    if moment is not None:
        moment = with_fraction(moment, moment_table, probe, channel, moment_rows)
    chosen = None
    if table is not None and chosen_rows is not None:
        chosen = range_use(table, probe, chosen_rows)
        if chosen is not None:
            chosen = with_fraction(chosen, table, probe, channel, chosen_rows)
    look = look_at(capture, probe, moment_table, moment_rows)
    clips = look.clips(probe, channel) if look is not None else ()
    if table is not None:
        column = table.probes[probe.name]
        ends = {"near": column.min_um, "far": column.max_um}
        clips = tuple(clip for clip in clips if is_wall(clip, probe, ends[clip.end]))
    hidden = None
    turning = moment_table.kind != "blocks"  # blocks have no shaft angle
    if whole is not None and turning and (end := _worst_end(moment, clips)):
        hidden = _hidden(look, probe, clips, whole.shares.get(end))
    # Void only where nothing is healthy, like every reading.
    fault = moment is None and bool(moment_table.probes[probe.name].fault[moment_rows].any())
    p2p = None if moment is None else moment.peak_to_peak_um
    return ProbePosition(
        name=probe.name,
        kind=probe.kind,
        linear_range_um=probe.linear_range_um,
        stops_um=_stops(probe, channel),
        marks=position_marks(probe, setup),
        moment=moment,
        chosen=chosen,
        capture=whole.use if whole else None,
        forecast=forecast(moment, probe, _p2p_limits(probe, setup)) if moment else None,
        working_point=(
            working_point(moment.mean_um, moment.min_um, moment.max_um, probe) if moment else None
        ),
        moment_clips=clips,
        clips=whole.clips if whole else (),
        moment_hidden=hidden,
        hidden=whole.hidden if whole else None,
        loops=two_readings(
            probe,
            setup,
            None if moment is None else moment.mean_um,
            p2p,
            fault=fault,
            resistance_ohm=resistance_ohm,
        ),
    )


def _p2p_limits(probe: Probe, setup: Setup) -> tuple[tuple[Level, float], ...]:
    return tuple(
        (limit.level, limit.above)
        for limit in setup.limits_of(probe.name)
        if limit.measure == "peak_to_peak" and limit.above is not None
    )


def _stops(probe: Probe, channel: Channel) -> tuple[float | None, float | None]:
    """Gaps at which nothing more is seen: the fault limits or the converter's ends."""
    recorder = Recorder.of(channel)
    fault = probe.fault_v or (None, None)
    highs = [v for v in (fault[1], recorder.high_v) if v is not None]
    lows = [v for v in (fault[0], recorder.low_v) if v is not None]
    # More volts are a smaller gap: the near stop is the lowest of the upper voltages.
    near = _gap_of(min(highs), probe) if highs else None
    far = _gap_of(max(lows), probe) if lows else None
    return near, far


def _gap_of(volts: float, probe: Probe) -> float:
    return float(gap_from_volts(np.array([volts]), probe)[0])


def moment_rows_of(table: RevolutionTable, moment_s: float, count: int) -> slice | None:
    """The revolutions of a table around a moment; `None` where it has none within reach."""
    if len(table) == 0:
        return None
    rows = rows_around(table, moment_s, count)
    start, end = float(table.start_s[rows.start]), float(table.end_s[rows.stop - 1])
    turn = (end - start) / (rows.stop - rows.start)
    return rows if start - turn <= moment_s <= end + turn else None
