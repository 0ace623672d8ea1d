"""What is looked at before any library opens a file: is it there, a plain file, not empty."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

from analysis.model.errors import InputError

from .wording import file_error, one_line, system_error

_NETWORK_TYPES = frozenset(
    ("nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "ceph", "fuse.sshfs", "fuse.rclone")
)


def as_path(path: str | os.PathLike[str]) -> Path:
    """The path, refused when no file can have that name.

    Raises:
        InputError: for an empty name or one with a NUL in it.
    """
    text = os.fspath(path)
    if not text or "\0" in text:
        raise InputError(f"{one_line(text) or 'no name'}: no file can have this name; check it")
    return Path(text)


def plain_file_size(path: Path) -> int:
    """Size in bytes of a file that can be read.

    A pipe or a device is refused before it is opened: opening one may wait for ever.

    Raises:
        InputError: missing, a folder, no plain file, empty, or not readable.
    """
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise file_error(path, "this is a folder", "name the file inside it")
        if not stat.S_ISREG(found.st_mode):
            raise file_error(path, "this is no plain file", "copy the data into a file first")
        with path.open("rb"):
            pass
    except OSError as error:
        raise system_error(path, error, "opening it") from error
    except ValueError as error:
        raise file_error(path, "no file can have this name", "check it") from error
    if found.st_size == 0:
        raise file_error(path, "the file is empty", "copy or export it again from its source")
    return found.st_size


def file_stamp(path: Path) -> tuple[int, int, int] | None:
    """Size, time of modification and, on POSIX, time of the last change of any kind (else 0), ns.

    The first time can be set back by any program, the second by none. `None`: not to be had.
    """
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    changed_ns = found.st_ctime_ns if os.name == "posix" else 0  # on Windows: when it was made
    return found.st_size, found.st_mtime_ns, changed_ns


def read_text(path: Path, largest: int) -> str:
    """A small UTF-8 text file, byte-order mark taken off, line ends as they are.

    Raises:
        InputError: not readable, larger than `largest` bytes, or not UTF-8.
    """
    size = plain_file_size(path)
    if size > largest:
        raise file_error(path, f"{size} bytes are too many (at most {largest})", "is it this file?")
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise system_error(path, error, "reading it") from error
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise file_error(
            path, f"line {line} is not UTF-8 text", "save it again with the encoding UTF-8"
        ) from error


def on_network(path: Path) -> bool:
    """True when the file lies on a network drive, as far as the system tells.

    A map of such a file ends the process when the connection breaks, so these are read, not mapped.
    """
    resolved = str(path.resolve())
    if resolved.startswith(("\\\\", "//")):
        return True
    if not sys.platform.startswith("linux"):
        return False
    try:
        lines = Path("/proc/self/mounts").read_text("utf-8", "replace").splitlines()
    except OSError:
        return False
    best, kind = "", ""
    for line in lines:
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        mount = fields[1].replace("\\040", " ")
        inside = resolved == mount or resolved.startswith(mount.rstrip("/") + "/")
        if inside and len(mount) >= len(best):
            best, kind = mount, fields[2]
    return kind in _NETWORK_TYPES
