"""Opening a capture, whatever format it is in."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture

from .access import as_path, file_stamp, plain_file_size
from .csv_layout import CsvLayout
from .wording import file_error, system_error

HDF5_SUFFIXES = (".h5", ".hdf5")
CSV_SUFFIXES = (".csv", ".tsv", ".txt")
_HDF5_SIGNATURE = b"\x89HDF\r\n\x1a\n"


def open_capture(
    path: str | os.PathLike[str],
    *,
    layout: CsvLayout | None = None,
    progress: Progress = SILENT,
) -> Capture:
    """Open a capture for reading; what the file holds decides, not what it is called.

    HDF5 is opened at once and read where it is looked at. A CSV file is read through once (with
    progress) into a scratch file that goes when the capture is closed. `layout` says what the
    columns of a CSV file are that does not follow the contract; HDF5 takes no notice of it.

    Raises:
        InputError: one clear line with the file's name, what is wrong and the mend.
        JobCancelled: through `progress`.
    """
    file = as_path(path)
    size = plain_file_size(file)
    # Before anything is read: a change from now on shows.
    stamp = file_stamp(file)
    # Each format's library is only loaded when a file of that format is opened.
    if _is_hdf5(file, size):
        from .hdf5_read import open_hdf5

        return replace(open_hdf5(file), stamp=stamp)
    suffix = file.suffix.lower()
    if suffix in HDF5_SUFFIXES:
        raise file_error(
            file,
            "this is no HDF5 file, or a damaged one",
            "copy it again from its source, or name it .csv if it is text",
        )
    if suffix == ".toml":
        raise file_error(
            file, "a TOML file is a setup, no capture", "name the capture, and this as its setup"
        )
    from .csv_read import open_csv

    read_as = "" if layout is None else repr(layout)
    return replace(open_csv(file, layout, progress), stamp=stamp, read_as=read_as)


def _is_hdf5(file: Path, size: int) -> bool:
    """The signature stands at 0, 512, 1024, 2048 … (HDF5 file format, superblock)."""
    try:
        with file.open("rb") as stream:
            offset = 0
            while offset + len(_HDF5_SIGNATURE) <= size:
                stream.seek(offset)
                if stream.read(len(_HDF5_SIGNATURE)) == _HDF5_SIGNATURE:
                    return True
                offset = max(512, offset * 2)
    except OSError as error:
        raise system_error(file, error, "reading it") from error
    return False
