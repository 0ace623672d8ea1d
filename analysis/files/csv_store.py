"""Where the numbers of a CSV file are kept after the one pass that reads it."""

from __future__ import annotations

import tempfile
from bisect import bisect_right
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.capture import ArraySource, Floats, SampleSource
from analysis.model.errors import InputError

from .wording import one_line

_MEMORY_BYTES = 32 * 1024 * 1024


class ColumnStore:
    """Columns of float64 that grow block by block: small ones in memory, others in one file.

    In the scratch file each block holds its columns one after the other, so that a channel is read
    without touching the rest. The file has no name on most systems and goes with `close`, or with
    the process.
    """

    def __init__(self, columns: int) -> None:
        self._columns = columns
        self._blocks: list[Floats] = []
        self._rows: list[int] = []
        self._file: IO[bytes] | None = None
        self._map: Floats | None = None

    def __del__(self) -> None:
        self.close()

    @property
    def rows(self) -> int:
        """Rows appended so far."""
        return sum(self._rows)

    def append(self, block: Floats) -> None:
        """Add rows; `block` has one row a column: shape (columns, rows), C-contiguous.

        Raises:
            InputError: when the scratch file cannot be written.
        """
        self._rows.append(block.shape[1])
        if self._file is None:
            self._blocks.append(block)
            if sum(kept.nbytes for kept in self._blocks) > _MEMORY_BYTES:
                self._spill()
        else:
            self._write(block)

    def finish(self) -> list[SampleSource]:
        """One source a column. Nothing can be appended afterwards."""
        if self._file is None:
            joined = np.concatenate(self._blocks, axis=1)
            self._blocks = []
            return [ArraySource(joined[column]) for column in range(self._columns)]
        self._file.flush()
        total = self._columns * self.rows
        # Over the open file: its name, if it has one, is nobody else's business.
        mapped = np.memmap(self._file, dtype=np.float64, mode="r", shape=(total,))
        self._map = np.asarray(mapped)
        starts = [0, *np.cumsum(self._rows).tolist()]
        return [_ScratchSource(self, starts, column) for column in range(self._columns)]

    def close(self) -> None:
        """Let the numbers go."""
        self._map = None
        self._blocks = []
        if self._file is not None:
            self._file.close()

    def block(self, starts: list[int], index: int, column: int) -> Floats:
        """The rows of one block of one column, a view of the scratch file."""
        if self._map is None:
            raise ValueError("the capture is closed")
        first = starts[index] * self._columns
        rows = starts[index + 1] - starts[index]
        return self._map[first + column * rows : first + (column + 1) * rows]

    def _spill(self) -> None:
        try:
            self._file = tempfile.TemporaryFile(prefix="runtrue-")  # noqa: SIM115
        except OSError as error:
            raise _no_scratch(error) from error
        for block in self._blocks:
            self._write(block)
        self._blocks = []

    def _write(self, block: Floats) -> None:
        assert self._file is not None
        try:
            self._file.write(np.ascontiguousarray(block).data)
        except OSError as error:
            raise _no_scratch(error) from error


class _ScratchSource:
    """One column of the scratch file."""

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
        """A view where the samples lie in one block, else a copy."""
        start = min(max(start, 0), len(self))
        stop = min(max(stop, start), len(self))
        pieces = []
        index = bisect_right(self._starts, start) - 1
        while start < stop:
            first, end = self._starts[index], self._starts[index + 1]
            rows = self._store.block(self._starts, index, self._column)
            pieces.append(rows[start - first : stop - first])
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
