"""The revolution table: every whole revolution of a span, every probe (contract, section 5).

One pass in blocks of whole revolutions, so that memory does not grow with the capture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture, Channel
from analysis.model.results import Bools, Floats, ProbeRevolutions, RevolutionTable
from analysis.model.setup import Probe, Setup
from analysis.model.span import TimeSpan

from .gap import gap_from_volts, volts_from_gap
from .projection import Projector, make_projector
from .turns import Turns, find_turns

_BLOCK_SAMPLES = 1 << 18


def revolution_table(
    capture: Capture,
    setup: Setup,
    span: TimeSpan,
    *,
    orders: tuple[int, ...] = (1, 2),
    speed_rpm: float | None = None,
    progress: Progress = SILENT,
    partial: Callable[[RevolutionTable], None] | None = None,
) -> RevolutionTable:
    """Every whole revolution of a span.

    Args:
        capture: the capture.
        setup: its setup; probes whose channel is not in the capture have no column.
        span: the span, s.
        orders: whole orders n > 0 that vectors are wanted of.
        speed_rpm: speed for a capture without a phase reference.
        progress: told after each block.
        partial: called with what there is so far, about ten times in a long pass.
    """
    turns = find_turns(capture, setup, span, speed_rpm=speed_rpm)
    return table_of(capture, setup, turns, orders=orders, progress=progress, partial=partial)


def table_of(
    capture: Capture,
    setup: Setup,
    turns: Turns,
    *,
    orders: tuple[int, ...] = (1, 2),
    progress: Progress = SILENT,
    partial: Callable[[RevolutionTable], None] | None = None,
) -> RevolutionTable:
    """The table of the given revolutions; see `revolution_table`."""
    probes = [p for p in setup.probe if p.channel in capture.channels]
    columns = {probe.name: _Columns.empty(len(turns), orders, turns.kind) for probe in probes}
    shown = 0.0
    for rows in _blocks_of(turns, [capture.channels[p.channel] for p in probes]):
        done = rows.stop / max(len(turns), 1)
        progress.report(rows.start / max(len(turns), 1), "reading revolutions")
        _fill(capture, probes, turns, rows, orders, columns)
        if partial is not None and done - shown >= 0.1 and done < 1.0:
            partial(_table(turns.at(np.arange(rows.stop)), columns, rows.stop))
            shown = done
    progress.report(1.0, "reading revolutions")
    return _table(turns, columns, len(turns))


@dataclass(eq=False)
class _Columns:
    gap_v: Floats
    gap_um: Floats
    min_um: Floats
    max_um: Floats
    vectors: dict[int, np.ndarray]
    samples: np.ndarray
    fault: Bools

    @classmethod
    def empty(cls, rows: int, orders: tuple[int, ...], kind: str) -> _Columns:
        wanted = () if kind == "blocks" else orders
        vectors = {n: np.full(rows, complex(np.nan, np.nan)) for n in wanted}
        # A revolution that the channel does not cover is void, like one with a fault.
        return cls(
            gap_v=np.full(rows, np.nan),
            gap_um=np.full(rows, np.nan),
            min_um=np.full(rows, np.nan),
            max_um=np.full(rows, np.nan),
            vectors=vectors,
            samples=np.zeros(rows, dtype=np.int64),
            fault=np.ones(rows, dtype=bool),
        )

    def up_to(self, rows: int) -> ProbeRevolutions:
        return ProbeRevolutions(
            gap_v=self.gap_v[:rows],
            gap_um=self.gap_um[:rows],
            min_um=self.min_um[:rows],
            max_um=self.max_um[:rows],
            vectors={n: v[:rows] for n, v in self.vectors.items()},
            samples=self.samples[:rows],
            fault=self.fault[:rows],
        )


def _table(turns: Turns, columns: dict[str, _Columns], rows: int) -> RevolutionTable:
    return RevolutionTable(
        kind=turns.kind,
        start_s=turns.start_s,
        end_s=turns.end_s,
        speed_rpm=turns.speed_rpm,
        repaired=turns.put_in,
        probes={name: column.up_to(rows) for name, column in columns.items()},
        notices=turns.notices,
    )


def _blocks_of(turns: Turns, channels: list[Channel]) -> Iterator[slice]:
    """Runs of revolutions that hold about `_BLOCK_SAMPLES` samples of the fastest channel."""
    rate = max((c.sample_rate_hz for c in channels), default=1.0)
    row = 0
    while row < len(turns):
        limit = turns.start_s[row] + _BLOCK_SAMPLES / rate
        stop = int(np.searchsorted(turns.end_s, limit, side="right"))
        stop = max(stop, row + 1)
        yield slice(row, stop)
        row = stop


def _fill(
    capture: Capture,
    probes: list[Probe],
    turns: Turns,
    rows: slice,
    orders: tuple[int, ...],
    columns: dict[str, _Columns],
) -> None:
    """Work out the rows of one block for all probes; sample times are shared where they agree."""
    shared: dict[tuple[float, float, int], tuple[_Samples, Projector | None]] = {}
    for probe in probes:
        channel = capture.channels[probe.channel]
        key = (channel.sample_rate_hz, channel.start_s, len(channel))
        if key not in shared:
            samples = _samples_of(channel, turns, rows)
            projector = _projector_of(channel, turns, samples, orders)
            shared[key] = samples, projector
        samples, projector = shared[key]
        if len(samples.rows):
            _measure(channel, probe, samples, projector, columns[probe.name])


@dataclass(frozen=True, eq=False)
class _Samples:
    """Samples of one channel that lie in the rows of a block, one stretch a row.

    `first` is the channel's sample that the block starts with, `keep` the samples of the block that
    lie in a revolution, `starts` the first kept sample of each of `rows`.
    """

    first: int
    stop: int
    keep: slice | np.ndarray
    rows: np.ndarray
    starts: np.ndarray
    counts: np.ndarray


def _samples_of(channel: Channel, turns: Turns, rows: slice) -> _Samples:
    start = _index_at_or_after(channel, turns.start_s[rows])
    stop = _index_at_or_after(channel, turns.end_s[rows])
    # A revolution counts only where the channel covers the whole of it.
    tiny = 0.5 / channel.sample_rate_hz
    covered = (turns.start_s[rows] >= channel.span.start_s - tiny) & (
        turns.end_s[rows] <= channel.span.end_s + tiny
    )
    good = np.flatnonzero(covered & (stop > start))
    if len(good) == 0:
        empty = np.empty(0, dtype=np.int64)
        return _Samples(0, 0, slice(0, 0), empty, empty, empty)
    start, stop = start[good], stop[good]
    counts = stop - start
    first, last = int(start[0]), int(stop[-1])
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    keep: slice | np.ndarray = slice(0, last - first)
    if int(counts.sum()) != last - first:  # gaps between the revolutions
        keep = np.repeat(start - first - starts, counts) + np.arange(int(counts.sum()))
    return _Samples(first, last, keep, good + rows.start, starts, counts)


def _index_at_or_after(channel: Channel, times_s: Floats) -> np.ndarray:
    index = np.ceil((times_s - channel.start_s) * channel.sample_rate_hz - 1e-6)
    return np.clip(index, 0, len(channel)).astype(np.int64)


def _projector_of(
    channel: Channel, turns: Turns, samples: _Samples, orders: tuple[int, ...]
) -> Projector | None:
    if turns.kind == "blocks" or len(samples.rows) == 0:
        return None
    times = channel.times(samples.first, samples.stop)[samples.keep]
    fraction = np.empty(len(times))
    ends = samples.starts + samples.counts
    for piece in np.unique(turns.piece[samples.rows]):
        of_piece = np.flatnonzero(turns.piece[samples.rows] == piece)
        part = slice(int(samples.starts[of_piece[0]]), int(ends[of_piece[-1]]))
        place = np.repeat(turns.place[samples.rows[of_piece]], samples.counts[of_piece])
        fraction[part] = turns.angles[piece].within_turn(times[part], place)
    np.clip(fraction, 0.0, 1.0, out=fraction)
    return make_projector(fraction, samples.starts, orders)


def _measure(
    channel: Channel,
    probe: Probe,
    samples: _Samples,
    projector: Projector | None,
    column: _Columns,
) -> None:
    volts = channel.volts(samples.first, samples.stop)[samples.keep]
    gap = gap_from_volts(volts, probe)
    rows, starts = samples.rows, samples.starts
    bad = fault_mask(volts, probe)
    faulty = np.logical_or.reduceat(bad, starts)
    low, high = np.minimum.reduceat(gap, starts), np.maximum.reduceat(gap, starts)
    mean_volts: Floats | None = None
    if projector is None:
        mean = np.add.reduceat(gap, starts) / samples.counts
        if probe.calibration is not None:
            mean_volts = np.add.reduceat(volts, starts) / samples.counts
    else:
        mean, phasors = projector.solve(gap)
        for k, order in enumerate(projector.orders):
            # A phasor of the gap; the displacement is its negative, vectors are p-p. A phasor c
            # with Re[c exp(jnθ)] already has the lag as its negative angle.
            vector = -2.0 * phasors[k]
            vector[faulty] = complex(np.nan, np.nan)
            column.vectors[order][rows] = vector
        if probe.calibration is not None:
            mean_volts = projector.solve(volts)[0]
    if mean_volts is None:
        # A straight line: the mean of the volts is the volts of the mean.
        mean_volts = volts_from_gap(mean, probe)
    for target, values in (
        (column.gap_um, mean),
        (column.gap_v, mean_volts),
        (column.min_um, low),
        (column.max_um, high),
    ):
        target[rows] = np.where(faulty, np.nan, values)
    column.samples[rows] = samples.counts
    column.fault[rows] = faulty


def fault_mask(volts: Floats, probe: Probe) -> Bools:
    """Where the circuit is at fault: NaN, or a voltage outside `fault_v` (contract, section 5)."""
    bad: Bools = np.isnan(volts)
    if probe.fault_v is not None:
        low, high = probe.fault_v
        # NaN compares false on both sides and is in `bad` already.
        bad |= (volts < low) | (volts > high)
    return bad
