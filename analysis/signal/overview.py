"""Overview of a channel: smallest, largest and mean sample of every block, in several levels.

The levels are kept in the raw type of the samples (counts of an int16 channel stay int16), so that
building runs near the speed of memory and the extremes are those of the samples, to the bit. Volts
are made where a picture asks for its columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FACTOR = 8
"""Blocks of one level that make a block of the next."""

SMALLEST_BLOCK = 256
"""Samples in a block of the finest level, unless the capture is very long."""

_FEWEST_BLOCKS = 64
_BLOCKS_A_COLUMN = 4
_BYTES_A_BLOCK = 10
_MOST_BYTES = 64 * 1024 * 1024


def finest_block(samples: int) -> int:
    """Samples in a block of the finest level, for a capture of `samples` in all its channels.

    256 up to about 1.7 thousand million samples; then doubled as often as it takes to keep the
    overview of the capture near 64 MiB (int16; up to three times that for float64).
    """
    block = SMALLEST_BLOCK
    while samples // block * _BYTES_A_BLOCK > _MOST_BYTES:
        block *= 2
    return block


@dataclass(frozen=True, eq=False)
class Level:
    """One level: `low`, `high`, `mean` of each block of `block` samples, in raw units.

    `low` and `high` have the type of the samples; `mean` is float32 for int16 and float32, else
    float64. `count` is the number of samples that are not NaN; `None` for integers, which have
    none. Blocks without any hold NaN.
    """

    block: int
    low: NDArray[Any]
    high: NDArray[Any]
    mean: NDArray[Any]
    count: NDArray[Any] | None

    def __len__(self) -> int:
        return len(self.low)


@dataclass(frozen=True, eq=False)
class Overview:
    """What there is of one channel: its first `samples` of `length`.

    Level 0 is the finest; each further one joins `FACTOR` blocks. The last block of a level is cut
    off at the end of the channel. While the overview fills, blocks that are not whole are missing.
    `volts = raw * volts_per_count + volts_offset`.
    """

    length: int
    samples: int
    volts_per_count: float
    volts_offset: float
    levels: tuple[Level, ...]

    @property
    def nbytes(self) -> int:
        """Memory that the levels take."""
        return sum(
            part.nbytes
            for level in self.levels
            for part in (level.low, level.high, level.mean, level.count)
            if part is not None
        )

    def can_draw(self, start: int, stop: int, columns: int) -> bool:
        """True when a column holds several blocks, so that rounding to blocks does not show."""
        return stop - start >= columns * _BLOCKS_A_COLUMN * self.levels[0].block

    def column_edges(self, start: int, stop: int, columns: int) -> tuple[Ints, Ints]:
        """First sample of each column of `extremes`, and one past its last; shapes (columns,).

        Edges lie on edges of blocks: at most one block beyond `start` and `stop`, a quarter of a
        column where `can_draw` is true. Columns narrower than a block share it.
        """
        level, first, last = self._columns(start, stop, columns)
        return first * level.block, np.minimum(last * level.block, self.length)

    def extremes(self, start: int, stop: int, columns: int) -> tuple[Floats, Floats, Floats]:
        """Smallest, largest and mean volts of each column of the samples `start <= i < stop`.

        Args:
            start: first sample, 0 to `length`.
            stop: one past the last.
            columns: number of columns, at least 1; `column_edges` tells where they lie.

        Returns:
            Three arrays of shape (columns,). NaN samples count nowhere; a column that has nothing
            else, or that the overview has not reached yet, is NaN.
        """
        level, first, last = self._columns(start, stop, columns)
        low, high, mean = (np.full(columns, np.nan) for _ in range(3))
        reached = int(np.searchsorted(first, len(level)))
        if reached == 0:
            return low, high, mean
        begin, end = int(first[0]), min(int(last[reached - 1]), len(level))
        at = first[:reached] - begin
        part = slice(begin, end)
        # Where two columns share a block, reduceat gives the block itself.
        low[:reached] = np.fmin.reduceat(level.low[part], at)
        high[:reached] = np.fmax.reduceat(level.high[part], at)
        mean[:reached] = _weighted(level.mean[part], self._weights(level, begin, end), at)
        scale, offset = self.volts_per_count, self.volts_offset
        for values in (low, high, mean):
            if scale != 1.0:
                values *= scale
            if offset != 0.0:
                values += offset
        return (high, low, mean) if scale < 0.0 else (low, high, mean)

    def _columns(self, start: int, stop: int, columns: int) -> tuple[Level, Ints, Ints]:
        """The level to draw from, first block of each column and one past its last."""
        if columns < 1 or not 0 <= start < stop <= self.length:
            raise ValueError(f"no columns in samples {start} to {stop} of {self.length}")
        width = (stop - start) / columns
        fitting = [level for level in self.levels if level.block * _BLOCKS_A_COLUMN <= width]
        level = fitting[-1] if fitting else self.levels[0]
        edges = np.linspace(start, stop, columns + 1)
        blocks = np.floor_divide(edges, level.block).astype(np.int64)
        blocks[-1] = -(-stop // level.block)
        first = np.minimum(blocks[:-1], blocks[-1] - 1)
        return level, first, np.maximum(blocks[1:], first + 1)

    def _weights(self, level: Level, begin: int, end: int) -> Floats:
        if level.count is not None:
            return level.count[begin:end].astype(np.float64)
        starts = np.arange(begin, end, dtype=np.float64) * level.block
        return np.minimum(self.length - starts, level.block)


def _weighted(mean: NDArray[Any], weights: Floats, at: Ints) -> Floats:
    """Mean of each stretch of blocks that starts at `at`; NaN where no sample counts."""
    total = np.add.reduceat(weights, at)
    with np.errstate(invalid="ignore", divide="ignore"):
        sums = np.add.reduceat(np.where(weights > 0.0, mean * weights, 0.0), at)
        return np.asarray(sums / total)


class OverviewBuilder:
    """Builds the overview of one channel while its samples are read, in blocks of any length.

    Not safe for several threads at once. Memory is that of the levels: about a sixtieth of the
    samples of an int16 channel.
    """

    def __init__(
        self,
        length: int,
        dtype: np.dtype[Any] | type,
        *,
        volts_per_count: float = 1.0,
        volts_offset: float = 0.0,
        block: int = SMALLEST_BLOCK,
    ) -> None:
        self._length = length
        self._scale, self._offset = volts_per_count, volts_offset
        raw = np.dtype(dtype).newbyteorder("=")
        self._floats = raw.kind == "f"
        # A sum of int16 fits 32 bits while the block is short, and takes half the time.
        short = raw.itemsize <= 2 and block < 65536
        self._sum_type = np.float64 if self._floats else np.int32 if short else np.int64
        self._levels: list[Level] = []
        size = block
        while not self._levels or length > size // FACTOR * _FEWEST_BLOCKS:
            self._levels.append(_empty_level(-(-length // size), size, raw))
            size *= FACTOR
        self._done = [0] * len(self._levels)
        self._samples = 0
        self._rest: NDArray[Any] = np.empty(block, dtype=raw)
        self._kept = 0
        self._sums: NDArray[Any] = np.empty(0, dtype=self._sum_type)

    @property
    def samples(self) -> int:
        """Samples added so far."""
        return self._samples

    def add(self, raw: NDArray[Any]) -> None:
        """Add the next samples, as they are stored (or volts, where the scale is 1).

        Raises:
            ValueError: when the channel would become longer than was said.
        """
        if self._samples + len(raw) > self._length:
            raise ValueError(f"more than the {self._length} samples of the channel")
        block = len(self._rest)
        at = 0
        if self._kept:
            at = min(block - self._kept, len(raw))
            self._rest[self._kept : self._kept + at] = raw[:at]
            self._kept += at
            if self._kept == block:
                self._add_blocks(self._rest.reshape(1, block))
                self._kept = 0
        whole = (len(raw) - at) // block
        if whole:
            self._add_blocks(raw[at : at + whole * block].reshape(whole, block))
            at += whole * block
        if at < len(raw):
            self._rest[: len(raw) - at] = raw[at:]
            self._kept = len(raw) - at
        self._samples += len(raw)
        last = self._samples == self._length
        if last and self._kept:
            self._add_blocks(self._rest[: self._kept].reshape(1, self._kept))
            self._kept = 0
        for upper in range(1, len(self._levels)):
            self._join(upper, last)

    def overview(self) -> Overview:
        """What there is so far. It stays as it is while the building goes on."""
        levels = tuple(
            Level(
                level.block,
                _kept(level.low, done),
                _kept(level.high, done),
                _kept(level.mean, done),
                None if level.count is None else _kept(level.count, done),
            )
            for level, done in zip(self._levels, self._done, strict=True)
        )
        return Overview(self._length, self._samples, self._scale, self._offset, levels)

    def _add_blocks(self, rows: NDArray[Any]) -> None:
        level, start = self._levels[0], self._done[0]
        stop = start + len(rows)
        low, high, mean = level.low[start:stop], level.high[start:stop], level.mean[start:stop]
        if len(self._sums) < len(rows):
            self._sums = np.empty(len(rows), dtype=self._sum_type)
        sums = self._sums[: len(rows)]
        # Along an axis, not `reduceat`: a little slower, but it lets other threads run.
        np.minimum.reduce(rows, axis=1, out=low)
        np.maximum.reduce(rows, axis=1, out=high)
        with np.errstate(invalid="ignore", over="ignore"):
            np.add.reduce(rows, axis=1, dtype=self._sum_type, out=sums)
            np.divide(sums, rows.shape[1], out=mean, casting="same_kind")
        if level.count is not None:
            level.count[start:stop] = rows.shape[1]
            # NaN goes through all of it, so only the blocks that show one are looked at again.
            holed = np.flatnonzero(np.isnan(low))
            if len(holed):
                self._mend(rows[holed], holed + start)
        self._done[0] = stop

    def _mend(self, rows: NDArray[Any], blocks: Ints) -> None:
        """The values of blocks with NaN in them."""
        level = self._levels[0]
        assert level.count is not None
        gone = np.isnan(rows)
        count = rows.shape[1] - np.count_nonzero(gone, axis=1)
        level.count[blocks] = count
        level.low[blocks] = np.fmin.reduce(rows, axis=1)
        level.high[blocks] = np.fmax.reduce(rows, axis=1)
        rows[gone] = 0.0
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            sums = np.add.reduce(rows, axis=1, dtype=np.float64)
            level.mean[blocks] = sums / count

    def _join(self, upper: int, last: bool) -> None:
        """Make the blocks of a level for which there are enough of the one below."""
        level, below = self._levels[upper], self._levels[upper - 1]
        start, there = self._done[upper], self._done[upper - 1]
        stop = -(-there // FACTOR) if last else there // FACTOR
        if stop == start:
            return
        part = slice(start * FACTOR, there if last else stop * FACTOR)
        at = np.arange(0, part.stop - part.start, FACTOR)
        level.low[start:stop] = np.fmin.reduceat(below.low[part], at)
        level.high[start:stop] = np.fmax.reduceat(below.high[part], at)
        if below.count is not None and level.count is not None:
            weights = below.count[part].astype(np.float64)
            level.count[start:stop] = np.add.reduceat(below.count[part], at)
        else:
            starts = np.arange(part.start, part.stop, dtype=np.float64) * below.block
            weights = np.minimum(self._length - starts, below.block)
        level.mean[start:stop] = _weighted(below.mean[part], weights, at)
        self._done[upper] = stop


def _empty_level(blocks: int, size: int, raw: np.dtype[Any]) -> Level:
    small = raw.itemsize <= (4 if raw.kind == "f" else 2)
    return Level(
        size,
        np.empty(blocks, dtype=raw),
        np.empty(blocks, dtype=raw),
        np.empty(blocks, dtype=np.float32 if small else np.float64),
        np.empty(blocks, dtype=np.int64) if raw.kind == "f" else None,
    )


def _kept(part: NDArray[Any], done: int) -> NDArray[Any]:
    view = part[:done]
    view.flags.writeable = False
    return view
