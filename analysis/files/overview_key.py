"""What an entry of the cache is found by: a key that changes when the capture does."""

from __future__ import annotations

import hashlib
import json
import os
from functools import lru_cache
from pathlib import Path
from typing import Any

from analysis.model.capture import Capture

from .access import file_stamp

_READ_BY = ("analysis.files", "analysis.model")
_SAMPLED_BLOCKS = 32
_SAMPLED_BYTES = 4096


def capture_key(capture: Capture) -> str | None:
    """A key of what the capture holds; `None` when nothing of it may be cached.

    It is made of the resolved path, the file's stamp as it was *before* the capture was opened
    (`file_stamp`), everything that turns its bytes into volts and times, the program text that
    reads it, and 32 blocks of 4 KiB spread evenly over the file. A file that has changed since it
    was opened has no key, for then nobody can say which of the two was read.

    How far this can be trusted: where the file system keeps a time of change that programs cannot
    set (POSIX), every change made after the clock's next tick is noticed. Elsewhere, a change that
    leaves the size, sets the modification time back and touches none of the sampled blocks is not;
    only reading the whole file would show it.
    """
    if capture.path is None or capture.stamp is None:
        return None
    if file_stamp(capture.path) != capture.stamp:
        return None
    facts = [
        (
            channel.id,
            channel.sample_rate_hz,
            channel.start_s,
            channel.volts_per_count,
            channel.volts_offset,
            len(channel),
            channel.source.dtype.str,
        )
        for channel in capture.channels.values()
    ]
    try:
        where = os.fspath(capture.path.resolve())
        sampled = _sampled(capture.path, capture.stamp[0])
    except OSError:
        return None
    return joined_key(where, capture.stamp, capture.read_as, facts, sampled, method_of(*_READ_BY))


def joined_key(*parts: Any) -> str:
    """A key of letters and digits made of parts that fit into JSON."""
    text = json.dumps(parts, ensure_ascii=True)
    return hashlib.blake2b(text.encode(), digest_size=20).hexdigest()


@lru_cache
def method_of(*packages: str) -> str:
    """A hash of the source of packages: results are kept no longer than the program that made them.

    Where the source is not at hand (a program frozen into one file) it is the program's version.
    """
    from importlib import resources  # not before it is needed: the window comes first

    found = hashlib.blake2b(digest_size=20)
    for package in packages:
        files = [item for item in resources.files(package).iterdir() if item.name.endswith(".py")]
        for item in sorted(files, key=lambda item: item.name):
            found.update(item.name.encode() + b"\0" + item.read_bytes())
        if not files:
            found.update(_version().encode())
    return found.hexdigest()


def _version() -> str:
    from importlib import metadata

    try:
        return metadata.version("runtrue")
    except metadata.PackageNotFoundError:
        return ""


def _sampled(path: Path, size: int) -> str:
    found = hashlib.blake2b(digest_size=20)
    room = max(0, size - _SAMPLED_BYTES)
    with path.open("rb", buffering=0) as file:
        for block in range(_SAMPLED_BLOCKS):
            file.seek(room * block // (_SAMPLED_BLOCKS - 1))
            found.update(file.read(_SAMPLED_BYTES))
    return found.hexdigest()
