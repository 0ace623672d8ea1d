"""Where the samples of an HDF5 channel come from: a map of the file, or reads in blocks."""

from __future__ import annotations

import mmap
import os
import threading
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.errors import InputError

from .wording import file_error, one_line

READ_BLOCK_BYTES = 4 * 1024 * 1024
"""Largest piece that is asked of h5py at once: it holds its one lock while it works."""


class MappedSource:
    """Contiguous, uncompressed samples mapped into memory: no copy and no lock.

    The size of the file is compared before every read, since touching the map of a file that has
    become shorter ends the process.
    """

    def __init__(self, path: Path, dtype: np.dtype[Any], offset: int, length: int) -> None:
        self._path = path
        self._dtype = dtype
        self._length = length
        self._end = offset + length * dtype.itemsize
        # Kept open: the size that counts is that of the mapped file, not of what has its name now.
        self._file = path.open("rb")
        try:
            self._refuse_if_shorter()
            whole = mmap.mmap(self._file.fileno(), 0, access=mmap.ACCESS_READ)
        except BaseException:
            self._file.close()
            raise
        self._offset = offset
        self._map: mmap.mmap | None = whole
        # The values keep the map for as long as a view of them is held.
        self._values: NDArray[Any] | None = np.frombuffer(
            whole, dtype=dtype, count=length, offset=offset
        )

    def __del__(self) -> None:
        self.close()

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the raw samples."""
        return self._dtype

    def __len__(self) -> int:
        return self._length

    def read(self, start: int, stop: int) -> NDArray[Any]:
        """A view into the file.

        Raises:
            InputError: when the file has become shorter since it was opened.
            ValueError: after `close`.
        """
        values = self._values
        if values is None:
            raise ValueError("the capture is closed")
        self._refuse_if_shorter()
        return values[start:stop]

    def release(self, start: int, stop: int) -> None:
        """Give back the memory that holds these samples; reading them again fetches them again.

        For passes over a whole file, which else would count as memory of ours page by page.
        """
        whole, size = self._map, self._dtype.itemsize
        if whole is None or not hasattr(mmap, "MADV_DONTNEED"):
            return
        first = -(-(self._offset + start * size) // mmap.PAGESIZE) * mmap.PAGESIZE
        end = (self._offset + stop * size) // mmap.PAGESIZE * mmap.PAGESIZE
        if end > first:
            whole.madvise(mmap.MADV_DONTNEED, first, end - first)

    def close(self) -> None:
        """Let the file go as soon as no view of it is held."""
        self._values = None
        self._map = None
        self._file.close()

    def _refuse_if_shorter(self) -> None:
        if os.fstat(self._file.fileno()).st_size < self._end:
            raise file_error(
                self._path, "the file is shorter than it says", "copy it again from its source"
            )


class DatasetSource:
    """Samples read through h5py in blocks of at most 4 MiB.

    For what is neither mapped nor unpacked here: compact data, the rarer filters of HDF5, and
    contiguous data on a network drive.
    """

    def __init__(self, path: Path, channel: str, dataset: Any) -> None:
        self._path = path
        self._channel = channel
        self._dataset = dataset
        self._length = int(dataset.shape[0])
        self._dtype: np.dtype[Any] = dataset.dtype
        self._rows = READ_BLOCK_BYTES // self._dtype.itemsize
        self._lock = threading.Lock()

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the raw samples."""
        return self._dtype

    def __len__(self) -> int:
        return self._length

    def read(self, start: int, stop: int) -> NDArray[Any]:
        """The samples, a new array.

        Raises:
            InputError: when a block cannot be decoded.
            ValueError: after the file was closed.
        """
        start = min(max(start, 0), self._length)
        stop = min(max(stop, start), self._length)
        values = np.empty(stop - start, dtype=self._dtype)
        at = start
        while at < stop:
            until = min(stop, (at // self._rows + 1) * self._rows)
            self._read_block(values, at, until, at - start)
            at = until
        return values

    def _read_block(self, into: NDArray[Any], start: int, stop: int, at: int) -> None:
        with self._lock:
            if not self._dataset.id.valid:
                raise ValueError("the capture is closed")
            try:
                self._dataset.read_direct(into, np.s_[start:stop], np.s_[at : at + stop - start])
            except (OSError, RuntimeError, ValueError, MemoryError) as error:
                raise _damaged_block(self._path, self._channel, start, stop) from error


def _damaged_block(path: Path, channel: str, start: int, stop: int) -> InputError:
    return file_error(
        path,
        f"channel {one_line(channel)}: samples {start} to {stop - 1} cannot be decoded",
        "the file is damaged, copy it again from its source",
    )
