"""The revolution table: every whole revolution of a span, every probe (contract, section 5).

One pass in blocks of whole revolutions, so that memory does not grow with the capture.
"""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.jobs import SILENT, Part, Progress
from analysis.model.capture import Capture, Channel
from analysis.model.results import (
    Bools,
    Complexes,
    Floats,
    ProbeRevolutions,
    RevolutionTable,
)
from analysis.model.setup import Probe, Setup
from analysis.model.span import TimeSpan

from .gap import gap_from_volts
from .gap_samples import GapOfSamples, gap_of_samples
from .projection import RowAngles, project
from .sample_rows import SampleRows, blocks_of, sample_rows
from .turns import Turns, find_turns

_PARTIAL_EVERY_S = 0.5

_EVENTS_SHARE = 0.15
"""Part of the time that finding the revolutions takes."""

_FEW_BLOCKS = 8
"""Up to here starting threads costs more than it gains."""


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
        partial: called with what there is so far, ten times or every half second.
    """
    turns = find_turns(
        capture, setup, span, speed_rpm=speed_rpm, progress=Part(progress, 0.0, _EVENTS_SHARE)
    )
    rest = Part(progress, _EVENTS_SHARE, 1.0)
    return table_of(capture, setup, turns, orders=orders, progress=rest, partial=partial)


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
    readers = [
        _ProbeReader.of(capture.channels[probe.channel], probe)
        for probe in setup.probe
        if probe.channel in capture.channels
    ]
    columns = {r.probe.name: _Columns.empty(len(turns), orders, turns.kind) for r in readers}
    rate = max((r.channel.sample_rate_hz for r in readers), default=1.0)
    blocks = list(blocks_of(turns, rate, sum(r.bytes_a_sample for r in readers)))

    def fill(rows: slice) -> None:
        _fill(readers, turns, rows, orders, columns)

    shown, shown_at = 0.0, time.monotonic()
    for rows in _done_in_order(fill, blocks, len(blocks) > _FEW_BLOCKS):
        done = rows.stop / len(turns)
        progress.report(done, "reading revolutions")
        late = time.monotonic() - shown_at > _PARTIAL_EVERY_S
        if partial is not None and done < 1.0 and (late or done - shown >= 0.1):
            partial(_table(turns.at(np.arange(rows.stop)), columns, rows.stop))
            shown, shown_at = done, time.monotonic()
    progress.report(1.0, "reading revolutions")
    return _table(turns, columns, len(turns))


def _done_in_order(
    work: Callable[[slice], None], blocks: list[slice], parallel: bool
) -> Iterator[slice]:
    """Do the work of all blocks, on all cores when it is worth it; each block once it is done.

    Stops after the blocks under way when whoever iterates stops.
    """
    if not parallel:
        for rows in blocks:
            work(rows)
            yield rows
        return
    # numpy lets go of the interpreter in long loops, so threads run side by side.
    with ThreadPoolExecutor(os.cpu_count() or 1, thread_name_prefix="revolutions") as pool:
        waiting = deque((rows, pool.submit(work, rows)) for rows in blocks)
        try:
            while waiting:
                rows, future = waiting.popleft()
                future.result()
                yield rows
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


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


def _fill(
    readers: list[_ProbeReader],
    turns: Turns,
    rows: slice,
    orders: tuple[int, ...],
    columns: dict[str, _Columns],
) -> None:
    """Work out the rows of one block for all probes; the angle once for equal sample times."""
    groups: dict[tuple[float, float, int], list[_ProbeReader]] = {}
    for reader in readers:
        channel = reader.channel
        key = (channel.sample_rate_hz, channel.start_s, len(channel))
        groups.setdefault(key, []).append(reader)
    for group in groups.values():
        channel = group[0].channel
        samples = sample_rows(channel, turns, rows)
        if len(samples) == 0:
            continue
        angles = None if turns.kind == "blocks" else samples.angles(channel, turns)
        read = [reader.read(samples) for reader in group]
        signals = [signal for each in read for signal in each.signals]
        means, phasors = _project(signals, samples, angles, orders)
        at = 0
        for each in read:
            own = slice(at, at + len(each.signals))
            _write(each, samples, means[own], phasors[own], orders, columns[each.probe.name])
            at = own.stop
            each.channel.release(samples.first, samples.first + int(samples.starts[-1]))


@dataclass(frozen=True, eq=False)
class _ProbeRows:
    """One probe in one block, read: its extremes, and the signals that are to be projected.

    The first signal is the raw samples. Where the line from volts to gap is straight it is the only
    one, and results are scaled: a value a revolution in place of one a sample. With a calibration
    table the gap, µm, is the second.
    """

    channel: Channel
    probe: Probe
    signals: tuple[NDArray[Any], ...]
    low_um: Floats
    high_um: Floats
    fault: Bools


@dataclass(frozen=True, eq=False)
class _ProbeReader:
    channel: Channel
    probe: Probe
    bent: GapOfSamples | None

    @classmethod
    def of(cls, channel: Channel, probe: Probe) -> _ProbeReader:
        return cls(channel, probe, gap_of_samples(channel, probe))

    @property
    def bytes_a_sample(self) -> int:
        """What a block holds of each sample."""
        return self.channel.source.dtype.itemsize + (0 if self.bent is None else 8)

    def read(self, samples: SampleRows) -> _ProbeRows:
        raw = samples.read(self.channel)
        low, high = (self.channel.to_volts(ends) for ends in samples.extremes(raw))
        fault = fault_mask(low, self.probe) | fault_mask(high, self.probe)
        # The curve falls throughout: extremes of the volts are extremes of the gap.
        gaps = gap_from_volts(low, self.probe), gap_from_volts(high, self.probe)
        signals = (raw,) if self.bent is None else (raw, self.bent(raw))
        least, most = np.minimum(*gaps), np.maximum(*gaps)
        return _ProbeRows(self.channel, self.probe, signals, least, most, fault)


def _write(
    rows: _ProbeRows,
    samples: SampleRows,
    means: Floats,
    phasors: Complexes,
    orders: tuple[int, ...],
    column: _Columns,
) -> None:
    """Put one probe's rows of a block into its columns; void where the circuit is at fault."""
    volts = rows.channel.to_volts(means[0])
    if len(rows.signals) == 2:
        gap, to_gap = means[1], 1.0
    else:
        gap = gap_from_volts(volts, rows.probe)
        to_gap = -rows.channel.volts_per_count / rows.probe.scale_factor_v_per_um
    for target, values in (
        (column.gap_um, gap),
        (column.gap_v, volts),
        (column.min_um, rows.low_um),
        (column.max_um, rows.high_um),
    ):
        target[samples.rows] = np.where(rows.fault, np.nan, values)
    # A phasor of the gap; the displacement is its negative, vectors are p-p. A phasor p with
    # Re[p exp(jnθ)] already has the lag as its negative angle.
    void = complex(np.nan, np.nan)
    for order, phasor in zip(orders, phasors[-1], strict=False):
        column.vectors[order][samples.rows] = np.where(rows.fault, void, -2.0 * to_gap * phasor)
    column.samples[samples.rows] = samples.counts
    column.fault[samples.rows] = rows.fault


def _project(
    signals: list[NDArray[Any]],
    samples: SampleRows,
    angles: RowAngles | None,
    orders: tuple[int, ...],
) -> tuple[Floats, Complexes]:
    """Means (c, r) and phasors (c, m, r) of c signals; plain means and no phasors in blocks."""
    # A revolution with a value that is none is void; its neighbours in a row must not be.
    finite = [
        np.where(np.isfinite(signal), signal, _near(signal))
        if signal.dtype.kind == "f" and not np.isfinite(signal).all()
        else signal
        for signal in signals
    ]
    if angles is not None:
        return project(finite, samples.starts, angles, orders)
    # About a value close by: sums would lose the digits of a large mean.
    means = [samples.means(each.astype(np.float64) - each[0]) + each[0] for each in finite]
    return np.stack(means), np.empty((len(signals), 0, len(samples)), dtype=np.complex128)


def _near(values: NDArray[Any]) -> float:
    first = float(values[0])
    if np.isfinite(first):
        return first
    finite = values[np.isfinite(values)]
    return float(finite[0]) if len(finite) else 0.0


def fault_mask(volts: Floats, probe: Probe) -> Bools:
    """Where the circuit is at fault: NaN, or a voltage outside `fault_v` (contract, section 5)."""
    bad: Bools = np.isnan(volts)
    if probe.fault_v is not None:
        low, high = probe.fault_v
        # NaN compares false on both sides and is in `bad` already.
        bad |= (volts < low) | (volts > high)
    return bad
