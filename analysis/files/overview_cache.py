"""A folder of results that can be made again: what a capture opened once shows at once next time.

An entry is one file `<key>.cache`: a head of 64 bytes (magic with the version of this layout,
CRC-32 and length of all that follows, length of the index), an index in JSON (key, facts, and name,
type, shape and place of each array), then the arrays, each at a multiple of 64 bytes. It is written
beside its place and moved there when it is whole; whatever is wrong with one that is read, it
counts as not there and is made again. Nothing here raises for what the disk holds or does: a
program without a cache is only slower.
"""

from __future__ import annotations

import json
import mmap
import os
import struct
import sys
import time
import zlib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.errors import InputError

from .access import on_network
from .atomic import replacing

LIMIT_BYTES = 1 << 30
"""Size of the folder at which the entries not used for longest go."""

_MAGIC = b"RUNTRUE-CACHE-1\n"
_HEAD = struct.Struct("<16sIIQ")
_ALIGN = 64
_KINDS = frozenset("biufc")
_ABANDONED_S = 600.0
"""A part that nobody has written to for so long belongs to a process that was ended."""


def cache_folder() -> Path | None:
    """Where the user's system keeps what can be made again; `None` when there is no such place.

    `XDG_CACHE_HOME` where it is set (XDG Base Directory Specification: absolute, else ignored),
    else `~/.cache`, on macOS `~/Library/Caches`, on Windows `%LOCALAPPDATA%`. It need not exist.
    """
    named = os.environ.get("XDG_CACHE_HOME", "")
    if named and Path(named).is_absolute():
        return Path(named) / "runtrue"
    local = os.environ.get("LOCALAPPDATA", "") if sys.platform == "win32" else ""
    if local:
        return Path(local) / "Runtrue" / "Cache"
    try:
        home = Path.home()
    except RuntimeError:
        return None
    if sys.platform == "win32":
        return home / "AppData" / "Local" / "Runtrue" / "Cache"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "runtrue"
    return home / ".cache" / "runtrue"


@dataclass(frozen=True, eq=False)
class CacheEntry:
    """Arrays of numbers by name, and facts that fit into JSON. Loaded arrays are read-only."""

    arrays: Mapping[str, NDArray[Any]]
    facts: Mapping[str, Any] = field(default_factory=dict)


class OverviewCache:
    """The cache; safe for several threads and processes at once.

    `folder` is the user's own by default. An entry larger than half of `limit_bytes` is not
    kept, so that one capture does not push out all the others.
    """

    def __init__(self, folder: Path | None = None, limit_bytes: int = LIMIT_BYTES) -> None:
        self.folder = folder if folder is not None else cache_folder()
        self._limit = limit_bytes

    def load(self, key: str) -> CacheEntry | None:
        """The entry of that key (letters and digits), checked; `None` when there is none in order.

        Its arrays are maps of the file: pages of them are read when they are touched.
        """
        if self.folder is None:
            return None
        path = self.folder / f"{key}.cache"
        try:
            entry = _decode(_bytes_of(path), key)
        except (OSError, MemoryError):
            return None
        except (ValueError, KeyError, TypeError, RecursionError):
            with suppress(OSError):
                path.unlink()
            return None
        with suppress(OSError):  # the time tells when it was used last
            os.utime(path)
        return entry

    def store(self, key: str, entry: CacheEntry) -> bool:
        """Keep an entry, in place of an older one of that key; tells whether it was kept."""
        if self.folder is None:
            return False
        try:
            pieces = list(_encode(key, entry))
            if sum(len(piece) for piece in pieces) > self._limit // 2:
                return False
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            path = self.folder / f"{key}.cache"
            with replacing(path) as part, part.open("wb") as file:
                _write(file, pieces)
        except (OSError, InputError):
            return False
        self._trim(path)
        return True

    def _trim(self, newest: Path) -> None:
        """Keep within the limit, and clear away what ended processes have left."""
        now = time.time()
        found: list[tuple[float, int, Path]] = []
        for path, stat in _files_in(newest.parent):
            if path.suffix == ".cache":
                found.append((stat.st_mtime, stat.st_size, path))
            elif now - stat.st_mtime > _ABANDONED_S:
                with suppress(OSError):
                    path.unlink()
        total = sum(size for _, size, _ in found)
        for _used, size, path in sorted(found):
            if total <= self._limit:
                break
            if path != newest:  # its clock may be behind that of the others
                with suppress(OSError):
                    path.unlink()
                    total -= size


def _files_in(folder: Path) -> Iterator[tuple[Path, os.stat_result]]:
    with suppress(OSError), os.scandir(folder) as listing:
        for item in listing:
            if item.name.endswith((".cache", ".part")):
                with suppress(OSError):
                    yield Path(item.path), item.stat()


def _encode(key: str, entry: CacheEntry) -> Iterator[bytes | memoryview]:
    """The index, then each array with what fills up to its place."""
    arrays = {name: np.ascontiguousarray(values) for name, values in entry.arrays.items()}
    listed = []
    at = 0
    for name, values in arrays.items():
        if values.dtype.kind not in _KINDS:
            raise TypeError(f"{name}: arrays of {values.dtype} are not kept")
        listed.append([name, values.dtype.str, list(values.shape), at])
        at += _padded(values.nbytes)
    index = json.dumps({"key": key, "facts": dict(entry.facts), "arrays": listed}).encode()
    yield index.ljust(_padded(len(index)))
    for values in arrays.values():
        if values.nbytes:
            yield values.reshape(-1).view(np.uint8).data
            yield bytes(_padded(values.nbytes) - values.nbytes)


def _write(file: IO[bytes], pieces: list[bytes | memoryview]) -> None:
    checksum = 0
    for piece in pieces:
        checksum = zlib.crc32(piece, checksum)
    length = sum(len(piece) for piece in pieces)
    file.write(_HEAD.pack(_MAGIC, checksum, len(pieces[0]), length).ljust(_ALIGN, b"\0"))
    for piece in pieces:
        file.write(piece)


def _bytes_of(path: Path) -> bytes | mmap.mmap:
    with path.open("rb") as file:
        # A map of a file on a network drive ends the process when the connection breaks.
        if on_network(path):
            return file.read()
        return mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)


def _decode(data: bytes | mmap.mmap, key: str) -> CacheEntry:
    """The entry in these bytes.

    Raises:
        ValueError: the bytes are not what was written under that key.
    """
    if len(data) < _ALIGN:
        raise ValueError("no head")
    magic, checksum, index_length, length = _HEAD.unpack(data[: _HEAD.size])
    body = memoryview(data)[_ALIGN:]
    if magic != _MAGIC or length != len(body) or zlib.crc32(body) != checksum:
        raise ValueError("damaged, or of another version")
    index = json.loads(bytes(body[:index_length]))
    if index["key"] != key:
        raise ValueError("of another key")
    arrays = {}
    for name, dtype, shape, at in index["arrays"]:
        count = int(np.prod(shape, dtype=np.int64))
        start = index_length + at
        if count == 0:
            arrays[name] = np.empty(shape, dtype=np.dtype(dtype))
        else:
            flat = np.frombuffer(body, dtype=np.dtype(dtype), count=count, offset=start)
            arrays[name] = flat.reshape(shape)
    return CacheEntry(arrays, index["facts"])


def _padded(length: int) -> int:
    return -(-length // _ALIGN) * _ALIGN
