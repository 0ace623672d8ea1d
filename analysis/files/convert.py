"""From one capture format to another."""

from __future__ import annotations

import os

from analysis.jobs import SILENT, Progress

from .access import as_path
from .atomic import refuse_same_file
from .csv_layout import CsvLayout
from .hdf5_write import Compression, write_hdf5
from .open import HDF5_SUFFIXES, open_capture
from .wording import file_error


def convert(
    in_path: str | os.PathLike[str],
    out_path: str | os.PathLike[str],
    *,
    layout: CsvLayout | None = None,
    compression: Compression | None = None,
    progress: Progress = SILENT,
) -> tuple[str, ...]:
    """Read a capture and write it in the format that the output's suffix names.

    From HDF5 to HDF5 the raw counts and their conversion to volts stay as they are. What the
    contract does not name in an HDF5 file is left behind: the input itself is never changed.
    Returns the warnings about the input.

    Raises:
        InputError: the input is bad, the output's suffix is unknown, or it cannot be written.
        JobCancelled: through `progress`; an older output is untouched.
    """
    source, target = as_path(in_path), as_path(out_path)
    refuse_same_file(source, target)
    suffix = target.suffix.lower()
    if suffix not in (*HDF5_SUFFIXES, ".csv"):
        raise file_error(
            target, f"'{suffix}' names no format that is written", "end the name in .h5 or .csv"
        )
    capture = open_capture(source, layout=layout, progress=_Part(progress, 0.0, 0.5))
    try:
        writing = _Part(progress, 0.5, 1.0)
        if suffix in HDF5_SUFFIXES:
            write_hdf5(target, capture, compression=compression, progress=writing)
        else:
            from .csv_write import write_csv

            write_csv(target, capture, progress=writing)
        return capture.warnings
    finally:
        capture.close()


class _Part:
    """A part of a longer job."""

    def __init__(self, whole: Progress, start: float, end: float) -> None:
        self._whole, self._start, self._end = whole, start, end

    def report(self, fraction: float, what: str = "") -> None:
        self._whole.report(self._start + fraction * (self._end - self._start), what)
