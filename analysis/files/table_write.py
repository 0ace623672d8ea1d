"""Writing a table of numbers: CSV, or HDF5 when the name says so."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .access import as_path
from .atomic import refuse_same_file, replacing
from .wording import system_error

if TYPE_CHECKING:
    import polars as pl

HDF5_ENDINGS = frozenset((".h5", ".hdf5"))


def write_table(
    path: str | os.PathLike[str],
    columns: Mapping[str, NDArray[np.generic]],
    *,
    capture_path: Path | None = None,
) -> None:
    """Write columns of equal length; the file that is there is replaced when the new one is whole.

    CSV: one header line, `,` as separator, decimal point, an empty field for NaN. HDF5 (`.h5`,
    `.hdf5`): one dataset a column in the group `/revolutions`, NaN as it is, the root attribute
    `runtrue_revolutions` = 1 and the order of the columns in `columns`.

    Args:
        path: where to.
        columns: arrays of shape (r,) by name.
        capture_path: the capture that they came from, which is never written onto.

    Raises:
        InputError: when the target cannot be written, or is the capture.
    """
    target = as_path(path)
    refuse_same_file(capture_path, target)
    with replacing(target) as temporary:
        try:
            if target.suffix.lower() in HDF5_ENDINGS:
                _write_hdf5(temporary, columns)
            else:
                _write_csv(temporary, columns)
        except OSError as error:
            raise system_error(target, error, "writing it") from error


def _write_csv(path: Path, columns: Mapping[str, NDArray[np.generic]]) -> None:
    import polars as pl

    frame = pl.DataFrame([_series(pl.Series(name, values)) for name, values in columns.items()])
    frame.write_csv(path, line_terminator="\n")


def _series(series: pl.Series) -> pl.Series:
    return series.fill_nan(None) if series.dtype.is_float() else series


def _write_hdf5(path: Path, columns: Mapping[str, NDArray[np.generic]]) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        file.attrs["runtrue_revolutions"] = 1
        group = file.create_group("revolutions")
        group.attrs["columns"] = list(columns)
        for name, values in columns.items():
            # A slash would open a group in the group.
            group.create_dataset(name.replace("/", "_"), data=values)
