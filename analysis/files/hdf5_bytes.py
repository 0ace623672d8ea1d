"""The bytes that HDF5 reads from a capture, looked at on their way.

HDF5 (2.0 and before) trusts two things that it should not, and nothing outside the library can
stop it then; so they are looked at before the library gets them:

- a damaged global heap, which is where texts are kept, makes it loop for ever: an entry of size
  zero never moves on, one of nearly 2^64 leads it back (`H5HG__cache_heap_deserialize`);
- the length of a text is allocated and cleared before anybody asks whether the file holds as much:
  eight bytes changed cost 4 GiB and ten seconds.

Reading through one Python object also means that the library opens no file by itself.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

_HEAP_SIGNATURE = b"GCOL"
_HEAP_HEAD = 16
"""Signature, version, 3 reserved bytes, and the size in 8 (HDF5 file format, III.E)."""

_LARGEST_HEAP = 64 * 1024 * 1024
_LARGEST_METADATA = 1024 * 1024

# A variable-length string as a datatype message (HDF5 file format, IV.A.2.d): version 1 to 5 and
# class 9, type 1 (string) in the bit field, 16 bytes in size; then the base type of one byte: its
# class and flags, size 1, and for an integer (class 0) four bytes of properties.
_TEXT_TYPE = re.compile(
    rb"[\x19\x29\x39\x49\x59][\x01\x11\x21].\x00\x10\x00\x00\x00"
    rb"(?:[\x13\x23\x33\x43\x53]...\x01\x00\x00\x00|[\x10\x20\x30\x40\x50]...\x01\x00\x00\x00....)",
    re.DOTALL,
)


class CheckedBytes(io.RawIOBase):
    """A file opened for reading, as h5py's file-object driver wants it."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._file = path.open("rb", buffering=0)
        self._size = self._file.seek(0, io.SEEK_END)

    def readable(self) -> bool:
        """True."""
        return True

    def seekable(self) -> bool:
        """True."""
        return True

    def seek(self, offset: int, whence: int = 0) -> int:
        """Move to a place."""
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        """The place reached."""
        return self._file.tell()

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        """Fill the buffer.

        Raises:
            OSError: when what was read would make HDF5 loop or allocate without end.
        """
        got = self._file.readinto(buffer) or 0
        if bytes(buffer[:4]) == _HEAP_SIGNATURE:
            if not _heap_ends(self._whole_heap(bytes(buffer[:got]))):
                raise OSError("a global heap is damaged")
        elif got <= _LARGEST_METADATA and _has_endless_text(bytes(buffer[:got]), self._size):
            raise OSError("a text claims to be longer than the file")
        return got

    def close(self) -> None:
        """Let the file go."""
        self._file.close()
        super().close()

    def _whole_heap(self, start: bytes) -> bytes:
        """A heap, of which HDF5 reads the first 4 KiB and then the rest."""
        size = int.from_bytes(start[8:16], "little")
        if size > _LARGEST_HEAP:
            raise OSError("a global heap is too large")
        if size <= len(start):
            return start
        place = self._file.tell()
        rest = self._file.read(size - len(start))
        self._file.seek(place)
        return start + rest


def _heap_ends(image: bytes) -> bool:
    """Does walking over the entries of a global heap come to its end, without leaving it?"""
    size = int.from_bytes(image[8:16], "little")
    at = _HEAP_HEAD
    while at + 16 <= min(len(image), size):
        index = int.from_bytes(image[at : at + 2], "little")
        length = int.from_bytes(image[at + 8 : at + 16], "little")
        needed = 16 + (length + 7) // 8 * 8 if index else length
        if needed == 0 or at + needed > size:
            return False
        at += needed
    return True


def _has_endless_text(image: bytes, file_size: int) -> bool:
    """Does a text in these attributes claim more bytes than the whole file has?

    The claim stands behind the datatype and the dataspace, with or without padding to eight bytes,
    depending on the version of the message around them; it only counts when it is too long either
    way, so that no file in order is refused.
    """
    for found in _TEXT_TYPE.finditer(image):
        length = found.end() - found.start()
        claims = []
        for at in (found.end(), found.start() + (length + 7) // 8 * 8):
            if at + 2 > len(image) or image[at] not in (1, 2) or image[at + 1] > 1:
                continue
            space = (8 if image[at] == 1 else 4) + 16 * image[at + 1]
            shapes = (space, space - 8) if image[at + 1] else (space,)
            for width in shapes:
                for place in (at + width, at + (width + 7) // 8 * 8):
                    claims.append(int.from_bytes(image[place : place + 4], "little"))
        if claims and min(claims) > file_size:
            return True
    return False
