"""Where the numbers of a CSV file are kept after the one pass that reads it."""

from __future__ import annotations

import tempfile
from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.capture import Floats, SampleSource
from analysis.model.errors import InputError

from .wording import one_line

_MEMORY_BYTES = 64 * 1024 * 1024

Columns = Sequence[Sequence[Floats]]
"""Rows of a table: for each column the pieces that it lies in, one after the other."""


class ColumnStore:
    """Columns of float64 that grow block by block: the first in memory, what follows in one file.

    What is in memory stays where it was parsed. In the scratch file each block holds its columns
    one after the other, so that a channel is read without touching the rest. The file has no name
    on most systems and goes with `close`, or with the process.
    """

    def __init__(self, columns: int) -> None:
        self._kept: list[list[Floats]] = [[] for _ in range(columns)]
        self._kept_bytes = 0
        self._file: IO[bytes] | None = None
        self._file_starts = [0]
        self._map: Floats | None = None
        self._rows = 0
        self._closed = False

    def __del__(self) -> None:
        self.close()

    @property
    def rows(self) -> int:
        """Rows appended so far."""
        return self._rows

    def append(self, block: Columns) -> None:
        """Add rows; each column of `block` holds the same number of them. They are not copied.

        Raises:
            InputError: when the scratch file cannot be written.
        """
        rows = sum(len(piece) for piece in block[0])
        size = rows * len(block) * np.dtype(np.float64).itemsize
        self._rows += rows
        if self._file is None and self._kept_bytes + size <= _MEMORY_BYTES:
            self._kept_bytes += size
            for kept, pieces in zip(self._kept, block, strict=True):
                kept.extend(pieces)
        else:
            self._write(block)
            self._file_starts.append(self._file_starts[-1] + rows)

    def finish(self) -> list[SampleSource]:
        """One source a column. Nothing can be appended afterwards."""
        if self._file is not None:
            self._file.flush()
            total = len(self._kept) * self._file_starts[-1]
            # Over the open file: its name, if it has one, is nobody else's business.
            mapped = np.memmap(self._file, dtype=np.float64, mode="r", shape=(total,))
            self._map = np.asarray(mapped)
        sources: list[SampleSource] = []
        for column, kept in enumerate(self._kept):
            starts = [0, *accumulate(len(piece) for piece in kept)]
            starts += [starts[-1] + rows for rows in self._file_starts[1:]]
            sources.append(_ColumnSource(self, starts, column))
        return sources

    def close(self) -> None:
        """Let the numbers go."""
        self._closed = True
        self._map = None
        self._kept = []
        if self._file is not None:
            self._file.close()

    def piece(self, index: int, column: int) -> Floats:
        """One piece of one column: as it was parsed, or a view of the scratch file.

        Raises:
            ValueError: when the store is closed.
        """
        # Taken once: another thread may close the store meanwhile.
        all_kept, mapped = self._kept, self._map
        if self._closed:
            raise ValueError("the capture is closed")
        kept = all_kept[column]
        if index < len(kept):
            return kept[index]
        assert mapped is not None
        start, stop = self._file_starts[index - len(kept) : index - len(kept) + 2]
        first = start * len(all_kept) + column * (stop - start)
        return mapped[first : first + stop - start]

    def _write(self, block: Columns) -> None:
        try:
            if self._file is None:
                self._file = tempfile.TemporaryFile(prefix="runtrue-")  # noqa: SIM115
            for pieces in block:
                for piece in pieces:
                    self._file.write(piece.data)
        except OSError as error:
            raise _no_scratch(error) from error


class _ColumnSource:
    """One column of the store."""

    def __init__(self, store: ColumnStore, starts: list[int], column: int) -> None:
        self._store = store
        self._starts = starts
        self._column = column

    @property
    def dtype(self) -> np.dtype[Any]:
        return np.dtype(np.float64)

    def __len__(self) -> int:
        return self._starts[-1]

    def read(self, start: int, stop: int) -> NDArray[Any]:
        """A view where the samples lie in one piece, else a copy."""
        start = min(max(start, 0), len(self))
        stop = min(max(stop, start), len(self))
        pieces = []
        index = bisect_right(self._starts, start) - 1
        while start < stop:
            first, end = self._starts[index], self._starts[index + 1]
            piece = self._store.piece(index, self._column)
            pieces.append(piece[start - first : stop - first])
            start = min(end, stop)
            index += 1
        if not pieces:
            return np.empty(0)
        return pieces[0] if len(pieces) == 1 else np.concatenate(pieces)


def _no_scratch(error: OSError) -> InputError:
    return InputError(
        f"the scratch file in {one_line(tempfile.gettempdir())} cannot be written "
        f"({one_line(error.strerror or error)}); make room there, or set TMPDIR to another folder"
    )
