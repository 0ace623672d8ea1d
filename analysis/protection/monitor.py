"""What limits look at: the measures of a capture every 0.1 s (contract, section 5, limit state).

Each tick is judged by the whole revolutions that ended in the 0.1 s before it, else by the last
one that ended, which at low speed is the longer window. Where there are no revolutions (a stopped
shaft, a reference that dropped out) blocks of 0.1 s stand for them: position limits and circuit
faults go on, 1X is not known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture
from analysis.model.replay_results import MonitoredProbe, MonitorSeries
from analysis.model.results import Bools, Complexes, Floats, Ints, RevolutionTable
from analysis.model.setup import Setup
from analysis.rotor.revolutions import table_of
from analysis.rotor.turns import Turns

from .condition import measures_of_revolutions
from .limit_logic import TICK_S, runs_of

_ROUNDING = 1e-6
_REST_OF_TURN_S = 0.2
"""A stretch without revolutions up to this long at the start of a capture is the rest of a turn:
nothing is judged by a part of one."""


def monitor_series(
    capture: Capture,
    setup: Setup,
    table: RevolutionTable,
    *,
    progress: Progress = SILENT,
) -> MonitorSeries:
    """The measures of every probe at every tick.

    Ticks lie at whole tenths of a second from the capture's start, the first one once a window is
    full: after the first revolution, or after 0.1 s where none begins soon. p-p and gap are means
    over the revolutions of a tick, 1X the mean vector; a fault in one of them is a fault. Where a
    channel has no samples its measures are NaN without a fault.

    Args:
        capture: the capture.
        setup: its setup.
        table: every revolution of the whole capture, with order 1 (`revolution_table`).
        progress: told on the way.
    """
    start_s = capture.span.start_s
    ticks = _ticks(table, start_s, math.floor(capture.span.length_s / TICK_S + _ROUNDING))
    probes = {
        name: _probe(own, table.probes[name].samples > 0, ticks)
        for name, own in measures_of_revolutions(table).items()
    }
    blocks = _Blocks(capture, setup, ticks, start_s, progress)
    blocks.stand_for(ticks.still, probes, faults=True)
    for name, probe in probes.items():
        # Too few samples a revolution for its mean: a channel slower than the shaft.
        seen = _mean(np.ones(len(table)), table.probes[name].samples > 0, ticks) > 0.0
        blocks.stand_for(seen & np.isnan(probe.gap_um) & ~probe.fault, {name: probe})
    progress.report(1.0, "taking the measures")
    return MonitorSeries(
        # k/10 and not k*0.1: the float nearest to the tenth.
        time_s=start_s + ticks.number / 10.0,
        speed_rpm=_speed(table, ticks),
        probes=probes,
        phase_known=table.kind == "events",
        notices=table.notices + _notices(ticks, start_s),
    )


@dataclass(frozen=True, eq=False)
class _Ticks:
    """What each tick is judged by; arrays of shape (k,), `number` counts tenths of a second.

    `begin` to `end` are the rows of the table, where `known`; `fresh` where they ended in the tick,
    so that the rows of all fresh ticks follow each other. `still`: the whole tick lies between
    revolutions or none is known, so that a block of 0.1 s is looked at.
    """

    number: Ints
    begin: Ints
    end: Ints
    fresh: Bools
    known: Bools
    still: Bools

    def __len__(self) -> int:
        return len(self.number)


def _ticks(table: RevolutionTable, start_s: float, count: int) -> _Ticks:
    number = np.arange(1, count + 1)
    if len(table) == 0:
        zeros, none = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=bool)
        return _Ticks(number, zeros, zeros, none, none, ~none)
    # The tick that each revolution is first seen at: it ended in the 0.1 s before.
    seen = np.ceil((table.end_s - start_s) / TICK_S - _ROUNDING).astype(np.int64)
    if table.start_s[0] - start_s <= _REST_OF_TURN_S:
        number = number[seen[0] - 1 :]
    begin = np.searchsorted(seen, number, side="left")
    end = np.searchsorted(seen, number, side="right")
    fresh = end > begin
    last = np.maximum(end - 1, 0)
    known = fresh | ((end > 0) & (number <= _good_until(table, seen, start_s)[last]))
    time = start_s + number / 10.0
    following = np.append(table.start_s, np.inf)[end]
    between = (table.end_s[last] <= time - TICK_S + 1e-9) & (following >= time - 1e-9)
    return _Ticks(
        number=number,
        begin=np.where(fresh, begin, last),
        end=np.where(fresh, end, last + 1),
        fresh=fresh,
        known=known,
        still=~known | between,
    )


def _good_until(table: RevolutionTable, seen: Ints, start_s: float) -> Ints:
    """The last tick that each revolution may be taken for, when no newer one has ended.

    That is until the next one ends, if it follows at once; else about as long as it took.
    """
    length = table.end_s - table.start_s
    stale = np.floor((table.end_s + length - start_s) / TICK_S + 1.0 + _ROUNDING).astype(np.int64)
    at_once = table.start_s[1:] - table.end_s[:-1] < 1e-3 * length[1:]
    stale[:-1][at_once] = seen[1:][at_once]
    return stale


def _probe(rows: MonitoredProbe, sampled: Bools, ticks: _Ticks) -> MonitoredProbe:
    """One probe's measures from its revolutions; NaN at ticks that none is known for."""
    # A revolution that the channel does not cover is void without a fault: it does not count.
    at_fault = _mean(rows.fault.astype(np.float64), sampled, ticks) > 0.0
    measures = MonitoredProbe(
        peak_to_peak_um=_mean(rows.peak_to_peak_um, sampled, ticks),
        gap_um=_mean(rows.gap_um, sampled, ticks),
        first_order=_mean_vector(rows.first_order, sampled, ticks),
        fault=at_fault,
    )
    _void(measures)
    return measures


def _void(probe: MonitoredProbe) -> None:
    """No measure where the circuit is at fault."""
    probe.peak_to_peak_um[probe.fault] = np.nan
    probe.gap_um[probe.fault] = np.nan
    probe.first_order[probe.fault] = complex(np.nan, np.nan)


def _mean_vector(values: Complexes, counts: Bools, ticks: _Ticks) -> Complexes:
    out = np.empty(len(ticks), dtype=np.complex128)
    out.real = _mean(values.real, counts, ticks)
    out.imag = _mean(values.imag, counts, ticks)
    return out


def _mean(values: Floats, counts: Bools, ticks: _Ticks) -> Floats:
    """Mean over the rows of each tick, of those that count; NaN where there are none."""
    out = np.full(len(ticks), np.nan)
    held = ticks.known & ~ticks.fresh
    rows = ticks.begin[held]
    out[held] = np.where(counts[rows], values[rows], np.nan)
    if ticks.fresh.any():
        begin, end = ticks.begin[ticks.fresh], ticks.end[ticks.fresh]
        part = slice(begin[0], end[-1])
        # About the first of each: the mean of equal values is that value, to the last digit.
        near = np.where(counts[begin], values[begin], 0.0)
        off = np.where(counts[part], values[part] - np.repeat(near, end - begin), 0.0)
        taken = np.add.reduceat(counts[part].astype(np.float64), begin - begin[0])
        total = np.add.reduceat(off, begin - begin[0])
        taken[taken == 0.0] = np.nan
        out[ticks.fresh] = near + total / taken
    return out


def _speed(table: RevolutionTable, ticks: _Ticks) -> Floats:
    """Mean speed over the rows of each tick: whole turns by the time they took."""
    if table.kind == "blocks" or len(table) == 0:
        return np.full(len(ticks), np.nan)
    every = np.ones(len(table), dtype=bool)
    speed: Floats = 60.0 / _mean(table.end_s - table.start_s, every, ticks)
    return speed


@dataclass(frozen=True, eq=False)
class _Blocks:
    """Blocks of 0.1 s, read at the ticks that need them."""

    capture: Capture
    setup: Setup
    ticks: _Ticks
    start_s: float
    progress: Progress

    def stand_for(
        self, wanted: Bools, probes: Mapping[str, MonitoredProbe], *, faults: bool = False
    ) -> None:
        """Put the measures of blocks where the probes have none at the ticks wanted.

        With `faults` a circuit fault in a block voids the tick, whatever is known of it.
        """
        number = self.ticks.number[wanted]
        if len(number) == 0:
            return
        empty = np.empty(0, dtype=np.int64)
        no = np.zeros(len(number), dtype=bool)
        begin, end = self.start_s + (number - 1) / 10.0, self.start_s + number / 10.0
        turns = Turns("blocks", begin, end, no, (), empty, empty)
        own = tuple(probe for probe in self.setup.probe if probe.name in probes)
        setup = self.setup.model_copy(update={"probe": own})
        blocks = table_of(self.capture, setup, turns, progress=self.progress)
        for name, probe in probes.items():
            block = blocks.probes[name]
            if faults:
                probe.fault[wanted] |= block.fault & (block.samples > 0)
            for values, stand_ins in (
                (probe.peak_to_peak_um, block.peak_to_peak_um),
                (probe.gap_um, block.gap_um),
            ):
                values[wanted] = np.where(np.isnan(values[wanted]), stand_ins, values[wanted])
            _void(probe)


def _notices(ticks: _Ticks, start_s: float) -> tuple[str, ...]:
    if len(ticks) == 0:
        return ("the capture is too short for limits to be judged, which takes 0.1 s or a turn",)
    if not ticks.known.any():
        return ()  # the table itself tells
    runs = runs_of(~ticks.known)
    if len(runs.first) == 0:
        return ()
    begin, end = ticks.number[runs.first[0]] - 1, ticks.number[runs.last[0]]
    more = f" and {len(runs.first) - 1} more stretches" if len(runs.first) > 1 else ""
    return (
        f"no revolutions from {start_s + begin / 10.0:.1f} to {start_s + end / 10.0:.1f} s{more}: "
        f"limits are judged there in blocks of 0.1 s, 1X is not known",
    )
