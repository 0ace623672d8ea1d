"""Writing captures that were made: which format, and what is not overwritten."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from analysis.files.wording import file_error
from analysis.model.errors import InputError

if TYPE_CHECKING:
    from analysis.jobs import Progress
    from analysis.model.capture import Capture

Format = Literal["hdf5", "csv"]


def format_of(out: Path) -> Format:
    """The format that a file's ending asks for.

    Raises:
        InputError: for another ending.
    """
    suffix = out.suffix.lower()
    if suffix in (".h5", ".hdf5"):
        return "hdf5"
    if suffix == ".csv":
        return "csv"
    raise file_error(out, "captures are written as .h5, .hdf5 or .csv", "give it such an ending")


def check_writable(out: Path) -> None:
    """Find out before the work that nothing can be written there.

    Raises:
        InputError: a folder in its place, no folder to put it in, or no permission.
    """
    if out.is_dir():
        raise file_error(out, "this is a folder", "name a file to write")
    if not out.parent.is_dir():
        raise file_error(out, f"there is no folder {out.parent}", "make it first")
    if not os.access(out.parent, os.W_OK):
        raise file_error(out, f"no permission to write into {out.parent}", "choose another folder")


def setup_beside(out: Path, recipe: Path, setup_toml: str | None) -> Path | None:
    """Where a setup that is not to go inside goes; `None` when there is nothing to write.

    Raises:
        InputError: when another file is there already, the recipe itself not least.
    """
    if setup_toml is None:
        return None
    beside = out.with_suffix(".toml")
    if not beside.exists():
        return beside
    if beside.samefile(recipe):
        raise file_error(
            beside,
            f"is the recipe, and the setup of {out.name} would be written over it",
            "give --out another name or folder",
        )
    try:
        same = beside.read_bytes() == setup_toml.encode()
    except OSError:
        same = False
    if not same:
        raise file_error(
            beside,
            f"is there already, and the setup of {out.name} would be written over it",
            "move it away, or give --out another name",
        )
    return None


def write_capture(out: Path, capture: Capture, kind: Format, progress: Progress) -> None:
    """Write a capture that was made; the file takes its place when it is whole.

    Raises:
        InputError: when it cannot be written.
    """
    if kind == "hdf5":
        from analysis.files.hdf5_write import write_hdf5

        write_hdf5(out, capture, compression="gzip", progress=progress)
    else:
        from analysis.files.csv_write import write_csv

        write_csv(out, capture, progress=progress)


def write_text(path: Path, text: str) -> None:
    """Write a small text; the file takes its place when it is whole.

    Raises:
        InputError: when it cannot be written.
    """
    from analysis.files.atomic import replacing

    with replacing(path) as temporary:
        try:
            temporary.write_bytes(text.encode("utf-8"))
        except OSError as error:
            raise InputError(f"{path.name}: cannot be written ({error.strerror})") from error
