"""Chunked samples, decoded here: HDF5 keeps the table of chunks, we read and unpack them.

HDF5 trusts the sizes in that table and crashes on damaged ones (a stored size of zero under a
checksum is enough), and h5py holds one lock over all decoding. So the table is checked once, and
the three usual filters (deflate, shuffle, Fletcher-32) are undone with zlib and numpy, which keep
to their buffers and let other threads run.
"""

from __future__ import annotations

import threading
import zlib
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from analysis.model.errors import InputError

from .wording import file_error, one_line

_DEFLATE, _SHUFFLE, _FLETCHER32 = 1, 2, 3  # H5Zpublic.h
UNDONE_HERE = frozenset((_DEFLATE, _SHUFFLE, _FLETCHER32))

_KEPT_BYTES = 16 * 1024 * 1024
_MOST_CHUNKS = 4_000_000
_SMALLEST_PACKED = 8


@dataclass(frozen=True)
class ChunkTable:
    """Where the chunks of a channel lie: place and stored size in bytes, in order."""

    samples: int
    offsets: NDArray[np.int64]
    sizes: NDArray[np.int64]


def read_chunk_table(
    path: Path, channel: str, dataset: Any, itemsize: int, length: int, file_size: int
) -> ChunkTable:
    """The table of chunks of a low-level dataset, checked against the file.

    Raises:
        InputError: chunks that are missing, twice, outside the file, or too small to be decoded.
    """
    properties = dataset.get_create_plist()
    (samples,) = properties.get_chunk()
    count = -(-length // samples)
    if count > _MOST_CHUNKS:
        raise file_error(
            path,
            f"channel {one_line(channel)} is stored in {count} chunks",
            "save it with chunks of 1 MiB or so",
        )
    offsets, sizes = np.full(count, -1, np.int64), np.zeros(count, np.int64)
    smallest = _SMALLEST_PACKED if properties.get_nfilters() else samples * itemsize
    wrong: list[str] = []

    def visit(chunk: Any) -> None:
        index, rest = divmod(int(chunk.chunk_offset[0]), samples)
        inside = chunk.byte_offset >= 0 and chunk.byte_offset + chunk.size <= file_size
        plain = chunk.filter_mask == 0
        if rest or not 0 <= index < count or offsets[index] >= 0 or not plain:
            wrong.append("its chunks do not fit together")
        elif not inside or chunk.size < smallest:
            wrong.append("a chunk reaches beyond the file or is too small")
        else:
            offsets[index], sizes[index] = chunk.byte_offset, chunk.size

    dataset.chunk_iter(visit)
    if not wrong and (offsets < 0).any():
        wrong.append("chunks are missing")
    if wrong:
        raise file_error(
            path,
            f"channel {one_line(channel)} is damaged: {wrong[0]}",
            "copy the file again from its source",
        )
    return ChunkTable(samples, offsets, sizes)


def filters_of(dataset: Any) -> tuple[int, ...]:
    """The codes of a dataset's filters, in the order in which they were applied."""
    properties = dataset.get_create_plist()
    return tuple(int(properties.get_filter(i)[0]) for i in range(properties.get_nfilters()))


class ChunkSource:
    """Samples in chunks, decoded one chunk at a time; the last few are kept."""

    def __init__(
        self,
        path: Path,
        channel: str,
        dtype: np.dtype[Any],
        length: int,
        table: ChunkTable,
        filters: tuple[int, ...],
    ) -> None:
        self._path, self._channel = path, channel
        self._dtype, self._length = dtype, length
        self._table, self._filters = table, filters
        self._file = path.open("rb", buffering=0)
        self._lock = threading.Lock()
        self._kept: OrderedDict[int, NDArray[Any]] = OrderedDict()
        self._keep = max(2, _KEPT_BYTES // (table.samples * dtype.itemsize))

    def __del__(self) -> None:
        self.close()

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the raw samples."""
        return self._dtype

    def __len__(self) -> int:
        return self._length

    def read(self, start: int, stop: int) -> NDArray[Any]:
        """The samples: a view of a decoded chunk, or a new array over several.

        Raises:
            InputError: when a chunk cannot be decoded.
            ValueError: after `close`.
        """
        start = min(max(start, 0), self._length)
        stop = min(max(stop, start), self._length)
        samples = self._table.samples
        first = start // samples
        if start < stop <= (first + 1) * samples:
            return self._chunk(first)[start - first * samples : stop - first * samples]
        values = np.empty(stop - start, dtype=self._dtype)
        at = start
        while at < stop:
            index = at // samples
            until = min(stop, (index + 1) * samples)
            chunk = self._chunk(index)
            values[at - start : until - start] = chunk[
                at - index * samples : until - index * samples
            ]
            at = until
        return values

    def close(self) -> None:
        """Let the file go."""
        self._file.close()
        self._kept.clear()

    def _chunk(self, index: int) -> NDArray[Any]:
        with self._lock:
            if self._file.closed:
                raise ValueError("the capture is closed")
            kept = self._kept.get(index)
            if kept is not None:
                self._kept.move_to_end(index)
                return kept
            try:
                self._file.seek(int(self._table.offsets[index]))
                raw = self._file.read(int(self._table.sizes[index]))
            except OSError as error:
                raise self._damaged(index) from error
        values = self._decoded(raw, index)
        values.flags.writeable = False
        with self._lock:
            self._kept[index] = values
            while len(self._kept) > self._keep:
                self._kept.popitem(last=False)
        return values

    def _decoded(self, raw: bytes, index: int) -> NDArray[Any]:
        due = self._table.samples * self._dtype.itemsize
        if len(raw) != self._table.sizes[index]:
            raise self._damaged(index)
        for code in reversed(self._filters):
            if code == _DEFLATE:
                # A checksum under the deflated bytes adds four.
                raw = self._inflated(raw, due + 4, index)
            elif code == _FLETCHER32:
                if len(raw) < 4 or not _checksum_fits(raw):
                    raise self._damaged(index)
                raw = raw[:-4]
            elif len(raw) == due:
                raw = _unshuffled(raw, self._dtype.itemsize)
            else:
                raise self._damaged(index)
        if len(raw) != due:
            raise self._damaged(index)
        return np.frombuffer(raw, dtype=self._dtype)

    def _inflated(self, raw: bytes, most: int, index: int) -> bytes:
        try:
            return zlib.decompressobj().decompress(raw, most)
        except zlib.error as error:
            raise self._damaged(index) from error

    def _damaged(self, index: int) -> InputError:
        first = index * self._table.samples
        last = min(self._length, first + self._table.samples) - 1
        return file_error(
            self._path,
            f"channel {one_line(self._channel)}: samples {first} to {last} cannot be decoded",
            "the file is damaged, copy it again from its source",
        )


def _unshuffled(raw: bytes, itemsize: int) -> bytes:
    """The bytes of each number side by side again; they were stored plane by plane."""
    planes = np.frombuffer(raw, dtype=np.uint8).reshape(itemsize, -1)
    numbers = np.empty(planes.shape[::-1], dtype=np.uint8)
    # Plane by plane: several times faster than transposing at once.
    for place, plane in enumerate(planes):
        numbers[:, place] = plane
    return numbers.tobytes()


def _checksum_fits(raw: bytes) -> bool:
    """Does the Fletcher-32 checksum in the last four bytes fit what is before it?

    Sums of big-endian 16-bit words modulo 65535 (HDF5 file format, filter 3; RFC 1146 for the
    algorithm). Zero and 65535 are the same in such sums.
    """
    data, stored = raw[:-4], int.from_bytes(raw[-4:], "little")
    if len(data) % 2:
        data += b"\0"
    words = np.frombuffer(data, dtype=">u2").astype(np.int64)
    weights = np.arange(len(words), 0, -1, dtype=np.int64) % 65535
    first, second = int(words.sum()) % 65535, int((words * weights).sum()) % 65535
    return (stored & 0xFFFF) % 65535 == first and (stored >> 16) % 65535 == second


def open_chunked(
    path: Path, channel: str, dataset: Any, dtype: np.dtype[Any], length: int, file_size: int
) -> ChunkSource | None:
    """A source over the chunks of a low-level dataset; `None` when a filter is not undone here.

    Raises:
        InputError: when the table of chunks is damaged.
    """
    if dataset.get_create_plist().get_layout() != h5py.h5d.CHUNKED:
        return None
    table = read_chunk_table(path, channel, dataset, dtype.itemsize, length, file_size)
    filters = filters_of(dataset)
    if not UNDONE_HERE.issuperset(filters):
        return None
    return ChunkSource(path, channel, dtype, length, table, filters)
