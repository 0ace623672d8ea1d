"""Writing a file so that what is there survives any failure."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from .access import as_path
from .wording import file_error, system_error


@contextmanager
def replacing(path: str | os.PathLike[str]) -> Iterator[Path]:
    """A path to write to; it takes the place of `path` when the block ends without an error.

    The temporary file lies beside the target, so that taking its place is one step of the file
    system. It is flushed to the disk first, and removed when anything goes wrong.

    Raises:
        InputError: when the target is a folder, its folder is missing, or the disk refuses.
    """
    target = as_path(path)
    with suppress(OSError):
        target = target.resolve()
    if target.is_dir():
        raise file_error(target, "this is a folder", "name a file to write")
    if not target.parent.is_dir():
        raise file_error(target, f"there is no folder {target.parent}", "make it first")
    if target.exists() and not target.is_file():
        raise file_error(target, "this is no plain file", "name another file to write")
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=".", suffix=".part")
        os.close(handle)
    except OSError as error:
        raise system_error(target, error, "writing beside it") from error
    temporary = Path(name)
    try:
        yield temporary
        try:
            _take_place(temporary, target)
        except OSError as error:
            raise system_error(target, error, "writing it") from error
    finally:
        temporary.unlink(missing_ok=True)


def refuse_same_file(source: Path | None, target: Path) -> None:
    """Refuse to write onto the file that is being read, by whatever name it goes.

    Raises:
        InputError: when both are the same file.
    """
    if source is None:
        return
    with suppress(OSError):
        if source.samefile(target):
            raise file_error(target, "this is the file that is being read", "name another file")


def _take_place(temporary: Path, target: Path) -> None:
    with temporary.open("rb+") as file:
        os.fsync(file.fileno())
    temporary.chmod(_mode_for(target))
    temporary.replace(target)
    if os.name == "posix":
        # The new name is only safe once the folder is on the disk too; some mounts cannot.
        with suppress(OSError):
            folder = os.open(target.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)


def _mode_for(target: Path) -> int:
    """Permissions of the file that is replaced, else what a new file gets here."""
    with suppress(OSError):
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
