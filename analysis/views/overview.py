"""The overview of a capture: the zoomed-out picture of every channel, filled while it is read."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.files.overview_cache import CacheEntry, OverviewCache
from analysis.files.overview_key import capture_key, joined_key, method_of
from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture, Channel
from analysis.model.results import Floats
from analysis.model.span import TimeSpan
from analysis.signal.overview import Level, Overview, OverviewBuilder, finest_block

_MADE_BY = ("analysis.signal",)
_STEP_SAMPLES = 1 << 19
_STEP_BYTES = 4 * 1024 * 1024
_TELL_EVERY_S = 0.5
_TELL_EVERY = 0.1
_PARTS = ("low", "high", "mean")


@dataclass(frozen=True, eq=False)
class CaptureOverview:
    """The overview of each channel, by its id; `done_s` is how far the reading has come.

    While it fills, channels are read side by side; every one of them is there from the start.
    """

    channels: Mapping[str, Overview]
    done_s: float
    complete: bool


class OverviewTrace(NamedTuple):
    """Columns of a picture: `x` seconds from the start of the span, `low` and `high` volts.

    All of shape (n,), n at most the columns asked for, or twice that where `exact` and `low` is
    `high`: the samples themselves. `exact` tells that the columns were made from the samples; from
    the overview they are rounded to its blocks, by a quarter of a column at most. NaN: nothing
    there, or not read yet.
    """

    x: Floats
    low: Floats
    high: Floats
    exact: bool


def answer_overview(
    capture: Capture,
    *,
    progress: Progress = SILENT,
    partial: Callable[[CaptureOverview], None] | None = None,
    cache: OverviewCache | None = None,
) -> CaptureOverview:
    """The overview from the cache, else of one pass over the samples, which is then cached.

    Args:
        capture: the capture.
        progress: told after each block of at most 4 MiB, which is also where the pass is stopped.
        partial: called with what there is so far, every tenth of the way and every half second.
        cache: where overviews are kept; `None` to read the samples whatever there is.

    Raises:
        InputError: when the samples cannot be read.
        JobCancelled: through `progress`; nothing is kept then.
    """
    block = finest_block(sum(len(channel) for channel in capture.channels.values()))
    key = None if cache is None else _key(capture, block)
    if cache is not None and key is not None:
        known = _loaded(cache, key, capture)
        if known is not None:
            return known
    found = _read(capture, block, progress, partial)
    # Once more: a file that changed while it was read is not what the key says.
    if cache is not None and key is not None and _key(capture, block) == key:
        cache.store(key, _entry(found))
    return found


def overview_trace(
    overview: CaptureOverview, capture: Capture, channel_id: str, span: TimeSpan, columns: int
) -> OverviewTrace:
    """A channel over a span as extremes of `columns` columns, or as its samples where they fit.

    From the overview where a column holds several of its blocks, else from the samples, of which
    it then reads a few thousand a column at most.

    Raises:
        KeyError: no such channel.
        InputError: when the samples cannot be read.
    """
    channel = capture.channels[channel_id]
    start = channel.index_at_or_after(span.start_s)
    stop = max(start, channel.index_at_or_after(span.end_s))
    origin = channel.start_s - span.start_s
    if stop - start <= 2 * columns:
        volts = channel.volts(start, stop)
        x = origin + np.arange(start, stop) / channel.sample_rate_hz
        return OverviewTrace(x, volts, volts, exact=True)
    levels = overview.channels[channel_id]
    exact = not levels.can_draw(start, stop, columns)
    if exact:
        edges = np.linspace(start, stop, columns + 1).astype(np.int64)
        first, end = edges[:-1], edges[1:]
        low, high = _sample_extremes(channel, start, stop, first - start)
    else:
        first, end = levels.column_edges(start, stop, columns)
        low, high, _mean = levels.extremes(start, stop, columns)
    # The middle of the samples of a column, `end` being one past the last.
    x = origin + (first + end - 1) / (2.0 * channel.sample_rate_hz)
    return OverviewTrace(x, low, high, exact)


def _sample_extremes(
    channel: Channel, start: int, stop: int, at: NDArray[np.int64]
) -> tuple[Floats, Floats]:
    """Smallest and largest volts of the stretches that start `at`; extremes first, then volts."""
    raw = channel.source.read(start, stop)
    low = np.fmin.reduceat(raw, at).astype(np.float64)
    high = np.fmax.reduceat(raw, at).astype(np.float64)
    for values in (low, high):
        values *= channel.volts_per_count
        values += channel.volts_offset
    return (high, low) if channel.volts_per_count < 0.0 else (low, high)


def _read(
    capture: Capture,
    block: int,
    progress: Progress,
    partial: Callable[[CaptureOverview], None] | None,
) -> CaptureOverview:
    """One pass, the channels side by side, so that all of them fill from the left together."""
    channels = capture.channels
    builders = {
        name: OverviewBuilder(
            len(channel),
            channel.source.dtype,
            volts_per_count=channel.volts_per_count,
            volts_offset=channel.volts_offset,
            block=block,
        )
        for name, channel in channels.items()
    }
    steps = _steps(channels, block)
    total = sum(len(channel) for channel in channels.values())
    shown, shown_at = 0.0, time.monotonic()
    while unfinished := [n for n in channels if builders[n].samples < len(channels[n])]:
        done = sum(builder.samples for builder in builders.values()) / total
        progress.report(done, "reading the overview")
        now = time.monotonic()
        due = done - shown >= _TELL_EVERY or now - shown_at >= _TELL_EVERY_S
        if partial is not None and due:
            shown, shown_at = done, now
            partial(_so_far(capture, builders))
        for name in unfinished:
            _read_on(channels[name], builders[name], steps[name])
    progress.report(1.0, "reading the overview")
    return _so_far(capture, builders)


def _read_on(channel: Channel, builder: OverviewBuilder, step: int) -> None:
    start = builder.samples
    stop = min(start + step, len(channel))
    builder.add(channel.source.read(start, stop))
    channel.release(start, stop)


def _steps(channels: Mapping[str, Channel], block: int) -> dict[str, int]:
    """Samples that are read of each channel at a time: the same stretch of time of all."""
    rates = {name: channel.sample_rate_hz for name, channel in channels.items()}
    fastest = max(rates.values(), default=1.0)
    steps = {}
    for name, channel in channels.items():
        most = min(_STEP_SAMPLES, _STEP_BYTES // channel.source.dtype.itemsize)
        wanted = int(most * rates[name] / fastest)
        steps[name] = max(block, wanted // block * block)
    return steps


def _so_far(capture: Capture, builders: Mapping[str, OverviewBuilder]) -> CaptureOverview:
    made = {name: builder.overview() for name, builder in builders.items()}
    return _capture_overview(capture, made)


def _capture_overview(capture: Capture, made: Mapping[str, Overview]) -> CaptureOverview:
    reached = [
        capture.channels[name].start_s + one.samples / capture.channels[name].sample_rate_hz
        for name, one in made.items()
        if one.samples < one.length
    ]
    done_s = min(reached, default=capture.span.end_s)
    return CaptureOverview(MappingProxyType(dict(made)), done_s, complete=not reached)


def _key(capture: Capture, block: int) -> str | None:
    of_capture = capture_key(capture)
    if of_capture is None:
        return None
    return joined_key("overview", of_capture, block, method_of(*_MADE_BY))


def _entry(overview: CaptureOverview) -> CacheEntry:
    arrays = {
        f"{index}/{depth}/{part}": values
        for index, one in enumerate(overview.channels.values())
        for depth, level in enumerate(one.levels)
        for part, values in _arrays(level).items()
    }
    blocks = [[level.block for level in one.levels] for one in overview.channels.values()]
    return CacheEntry(arrays, {"channels": list(overview.channels), "blocks": blocks})


def _loaded(cache: OverviewCache, key: str, capture: Capture) -> CaptureOverview | None:
    """The overview as it was kept; its arrays are maps of the entry's file."""
    entry = cache.load(key)
    if entry is None or entry.facts.get("channels") != list(capture.channels):
        return None
    made = {}
    for index, (name, channel) in enumerate(capture.channels.items()):
        levels = []
        for depth, block in enumerate(entry.facts["blocks"][index]):
            low, high, mean = (entry.arrays[f"{index}/{depth}/{part}"] for part in _PARTS)
            count = entry.arrays.get(f"{index}/{depth}/count")
            levels.append(Level(block, low, high, mean, count))
        made[name] = Overview(
            len(channel),
            len(channel),
            channel.volts_per_count,
            channel.volts_offset,
            tuple(levels),
        )
    return _capture_overview(capture, made)


def _arrays(level: Level) -> dict[str, NDArray[Any]]:
    arrays = {part: getattr(level, part) for part in _PARTS}
    return arrays if level.count is None else {**arrays, "count": level.count}
