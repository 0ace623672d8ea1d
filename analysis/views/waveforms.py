"""Waveforms of any length: a few samples, some turns around the moment, or the whole capture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture, Channel
from analysis.model.results import Floats, Trace
from analysis.model.setup import Probe
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.pair import Off
from analysis.rotor.revolutions import fault_mask
from analysis.signal.envelope import envelope

from .overview import CaptureOverview, overview_trace
from .time_window import window_around

MOST_READ = 1 << 22
"""Samples a channel that one answer reads at most; longer windows need the overview."""

_BLOCK = 1 << 18
"""Samples read at a time; windows that hold more come from the overview where there is one."""


def gap_trace(
    capture: Capture,
    probe: Probe,
    window: TimeSpan,
    columns: int,
    *,
    moment_s: float,
    overview: CaptureOverview | None = None,
    beyond: bool = False,
    progress: Progress = SILENT,
    runout: Off | None = None,
) -> tuple[Trace, tuple[float, float] | None]:
    """Gap of a window of any length, µm against s from the window's start.

    Short windows are read from the samples. Long ones come from the overview where there is one,
    else from as many samples around the moment as can be read at once.

    Args:
        capture: the capture.
        probe: gives scale and healthy voltages; samples at fault become NaN. Columns of the
            overview do, in which any sample is at fault.
        window: the window, s of capture time.
        columns: pixel columns that there are; the trace has at most two points for each.
        moment_s: the moment, s of capture time.
        overview: what there is of the overview.
        beyond: whether two samples beyond either end belong to it, for a line up to the edges.
        progress: told after every block, which is where the reading can be stopped.
        runout: displacement, µm at given times of capture time, that is taken off; then all is
            read from the samples.

    Returns:
        The trace, and the part of the window that it knows, s from its start; `None`: all of it.
    """
    channel = capture.channels[probe.channel]
    readable_s = MOST_READ / channel.sample_rate_hz
    if (
        overview is not None
        and runout is None
        and window.length_s * channel.sample_rate_hz > _BLOCK
    ):
        done = min(overview.done_s - window.start_s, window.length_s)
        if done >= min(window.length_s, readable_s):
            trace = _from_overview(overview, capture, probe, window, columns)
            return trace, None if done >= window.length_s else (0.0, done)
    part = window_around(moment_s, readable_s, window)
    trace = _from_samples(channel, probe, part, columns, 2 if beyond else 0, progress, runout)
    if part == window:
        return trace, None
    late = part.start_s - window.start_s
    return replace(trace, x=trace.x + late), (late, late + part.length_s)


def _from_overview(
    overview: CaptureOverview, capture: Capture, probe: Probe, window: TimeSpan, columns: int
) -> Trace:
    found = overview_trace(overview, capture, probe.channel, window, columns)
    bad = fault_mask(found.low, probe) | fault_mask(found.high, probe)
    # The higher voltage is the smaller gap.
    ends = [gap_from_volts(volts, probe) for volts in (found.high, found.low)]
    pairs = np.stack(ends, axis=1)
    # Turn and turn about, so that the line goes from column to column on the shorter way.
    pairs[1::2] = pairs[1::2, ::-1]
    y = pairs.ravel()
    y[np.repeat(bad, 2)] = np.nan
    return Trace(np.repeat(found.x, 2), y, envelope=True)


def _from_samples(
    channel: Channel,
    probe: Probe,
    window: TimeSpan,
    columns: int,
    more: int,
    progress: Progress,
    runout: Off | None,
) -> Trace:
    """The samples of a window and `more` beyond either end, cut to columns block by block."""
    start = max(channel.index_at_or_after(window.start_s) - more, 0)
    stop = min(channel.index_at_or_after(window.end_s) + more, len(channel))
    count = max(stop - start, 0)
    width = max(-(-count // max(columns, 1)), 1)
    if count <= 2 * columns or count <= _BLOCK:
        x, y = _gap(channel, probe, start, start + count, runout)
        return envelope(x - window.start_s, y, columns)
    # Whole columns a block, so that no column is drawn twice.
    block = max(_BLOCK // width, 1) * width
    parts = []
    for first in range(start, stop, block):
        progress.report(0.5 * (first - start) / count, "reading the waveform")
        last = min(first + block, stop)
        x, y = _gap(channel, probe, first, last, runout)
        parts.append(_columns(x - window.start_s, y, width))
    return Trace(
        np.concatenate([part.x for part in parts]),
        np.concatenate([part.y for part in parts]),
        envelope=True,
    )


def _gap(
    channel: Channel, probe: Probe, start: int, stop: int, runout: Off | None
) -> tuple[Floats, Floats]:
    volts = channel.volts(start, stop)
    gap = gap_from_volts(volts, probe)
    gap[fault_mask(volts, probe)] = np.nan
    times = channel.times(start, stop)
    # A displacement towards the probe makes the gap smaller; without it the gap is larger.
    return times, gap if runout is None else gap + runout(times)


def _columns(x: Floats, y: Floats, width: int) -> Trace:
    return envelope(x, y, -(-len(x) // width))
