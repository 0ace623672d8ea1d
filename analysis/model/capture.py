"""A capture: channels of gap voltage that are read only where they are looked at."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from .span import TimeSpan

Floats = NDArray[np.float64]


class SampleSource(Protocol):
    """Where a channel's raw samples come from: a map into the file, a chunked file, an array.

    `read` may be called from any thread. It returns the raw samples `start <= i < stop`, as they
    are stored (possibly a view that must not be written to).
    """

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the raw samples."""

    def __len__(self) -> int: ...

    def read(self, start: int, stop: int) -> NDArray[Any]:
        """Raw samples from `start` up to, not including, `stop`."""


@dataclass(frozen=True)
class ArraySource:
    """Samples that are already in memory."""

    values: NDArray[Any]

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the samples."""
        return self.values.dtype

    def __len__(self) -> int:
        return len(self.values)

    def read(self, start: int, stop: int) -> NDArray[Any]:
        """A view of the samples."""
        return self.values[start:stop]


@dataclass(frozen=True, eq=False)
class Channel:
    """One recorded voltage, `raw * volts_per_count + volts_offset`; NaN is a dropped sample.

    Sample `i` was taken at `start_s + i / sample_rate_hz` seconds of capture time.
    """

    id: str
    sample_rate_hz: float
    source: SampleSource
    start_s: float = 0.0
    volts_per_count: float = 1.0
    volts_offset: float = 0.0

    def __len__(self) -> int:
        return len(self.source)

    @property
    def span(self) -> TimeSpan:
        """From the first sample to one sampling interval after the last."""
        return TimeSpan(self.start_s, self.start_s + len(self) / self.sample_rate_hz)

    def release(self, start: int, stop: int) -> None:
        """Tell that the samples `start <= i < stop` are not wanted for now: a pass went over them.

        Sources that hold memory for what was read (a map of a file) have a `release` of their own.
        """
        release = getattr(self.source, "release", None)
        if release is not None:
            release(start, stop)

    def index_at_or_after(self, time_s: float) -> int:
        """Index of the first sample taken at `time_s` or later, 0 to `len(self)`."""
        # A sample that lies on the time but for rounding counts as lying on it.
        index = math.ceil((time_s - self.start_s) * self.sample_rate_hz - 1e-6)
        return min(max(index, 0), len(self))

    def times(self, start: int, stop: int) -> Floats:
        """Capture times, s, of the samples `start <= i < stop`."""
        return self.start_s + np.arange(start, stop, dtype=np.float64) / self.sample_rate_hz

    def volts(self, start: int, stop: int) -> Floats:
        """Volts of the samples `start <= i < stop`, float64, a copy of one's own."""
        return self.to_volts(self.source.read(start, stop))

    def to_volts(self, raw: NDArray[Any]) -> Floats:
        """Volts of raw samples, or of means of them; float64, a copy of one's own."""
        volts = raw.astype(np.float64)
        if self.volts_per_count != 1.0:
            volts *= self.volts_per_count
        if self.volts_offset != 0.0:
            volts += self.volts_offset
        return volts

    def volts_in(self, span: TimeSpan) -> tuple[Floats, Floats]:
        """Times (s) and volts of the samples with `span.start_s <= t < span.end_s`."""
        start = self.index_at_or_after(span.start_s)
        stop = max(start, self.index_at_or_after(span.end_s))
        return self.times(start, stop), self.volts(start, stop)


@dataclass(frozen=True, eq=False)
class Capture:
    """A file of channels, open for reading. Compared by identity.

    `setup_toml` is the setup that the file carries, as text; `warnings` are things about the file
    that a reader should know but that do not stop the reading, one sentence each. `stamp` is what
    the file looked like from outside before it was opened (`analysis.files.access.file_stamp`), so
    that a change can be told; `None` for a capture that is no file. `read_as` tells how a table of
    another layout was read: the same file read in another way is another capture.
    """

    name: str
    channels: Mapping[str, Channel]
    path: Path | None = None
    title: str = ""
    started_at: str = ""
    notes: str = ""
    setup_toml: str | None = field(default=None, repr=False)
    warnings: tuple[str, ...] = ()
    stamp: tuple[int, int, int] | None = field(default=None, repr=False)
    read_as: str = field(default="", repr=False)
    closer: Callable[[], None] | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "channels", MappingProxyType(dict(self.channels)))

    @cached_property
    def span(self) -> TimeSpan:
        """From the earliest start of a channel to the latest end."""
        spans = [channel.span for channel in self.channels.values()]
        if not spans:
            return TimeSpan(0.0, 0.0)
        return TimeSpan(min(s.start_s for s in spans), max(s.end_s for s in spans))

    def close(self) -> None:
        """Let the file go. Reading afterwards is an error."""
        if self.closer is not None:
            self.closer()
