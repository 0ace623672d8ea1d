"""Which files in a folder are opened meanwhile? Asked of the Linux kernel, not of Python.

Python's audit hooks do not see what C libraries open, so this uses inotify.
"""

from __future__ import annotations

import ctypes
import os
import struct
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

IN_OPEN = 0x20  # linux/inotify.h
_HEAD = struct.Struct("iIII")

available = sys.platform.startswith("linux")


@contextmanager
def opened_in(folder: Path) -> Iterator[set[str]]:
    """Collects the names of the files in `folder` that are opened inside the block."""
    libc = ctypes.CDLL(None, use_errno=True)
    watch = libc.inotify_init1(os.O_NONBLOCK)
    if watch < 0:
        raise OSError(ctypes.get_errno(), "inotify_init1")
    try:
        if libc.inotify_add_watch(watch, os.fsencode(folder), IN_OPEN) < 0:
            raise OSError(ctypes.get_errno(), "inotify_add_watch")
        names: set[str] = set()
        yield names
        while True:
            try:
                events = os.read(watch, 65536)
            except BlockingIOError:
                break
            at = 0
            while at < len(events):
                *_, length = _HEAD.unpack_from(events, at)
                at += _HEAD.size
                names.add(os.fsdecode(events[at : at + length].rstrip(b"\0")))
                at += length
    finally:
        os.close(watch)
