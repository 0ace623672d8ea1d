"""Writing a capture as CSV (contract, section 3)."""

from __future__ import annotations

import math
import os
from pathlib import Path
from typing import IO

import numpy as np
import polars as pl

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture, Channel

from .access import as_path
from .atomic import refuse_same_file, replacing
from .capture_facts import SCHEMA_VERSION
from .csv_columns import TIME_COLUMN
from .csv_head import attribute_line
from .wording import file_error, one_line, system_error

_BLOCK_ROWS = 100_000


def write_csv(
    path: str | os.PathLike[str], capture: Capture, *, progress: Progress = SILENT
) -> None:
    """Write a capture as a table of volts, with the times and the root attributes.

    Numbers are the shortest that read back as the same float32 or float64; counts are written as
    volts to a thousandth of a count. Dropped samples are empty fields. The rate stands in the head
    too, so that it reads back exactly.

    Raises:
        InputError: channels with different rates, starts or lengths; names that cannot stand in a
            header; a target that cannot be written or is the input.
        JobCancelled: through `progress`; the older file is untouched.
    """
    target = as_path(path)
    refuse_same_file(capture.path, target)
    channels = list(capture.channels.values())
    _check(target, channels)
    with replacing(target) as temporary:
        try:
            with temporary.open("wb") as file:
                _write(file, capture, channels, progress)
        except OSError as error:
            raise system_error(target, error, "writing it") from error


def _write(file: IO[bytes], capture: Capture, channels: list[Channel], progress: Progress) -> None:
    rate, start = channels[0].sample_rate_hz, channels[0].start_s
    # A nanosecond, or a ten-thousandth of an interval: enough to see that the times are even.
    decimals = max(9, math.ceil(math.log10(rate)) + 4)
    file.write(_head(capture, rate, start, decimals).encode("utf-8"))
    rows = len(channels[0])
    for first in range(0, rows, _BLOCK_ROWS):
        progress.report(first / rows, "writing rows")
        stop = min(rows, first + _BLOCK_ROWS)
        times = np.round(channels[0].times(first, stop), decimals)
        columns = [pl.Series(TIME_COLUMN, times)]
        columns += [_column(channel, first, stop) for channel in channels]
        frame = pl.DataFrame(columns)
        frame.write_csv(file, include_header=first == 0, line_terminator="\n")
    progress.report(1.0, "closing the file")


def _head(capture: Capture, rate: float, start: float, decimals: int) -> str:
    lines = attribute_line("runtrue_capture", str(SCHEMA_VERSION))
    for key, value in (
        ("title", capture.title),
        ("started_at", capture.started_at),
        ("notes", capture.notes),
        ("setup", capture.setup_toml),
    ):
        if value or (key == "setup" and value is not None):
            lines += attribute_line(key, value.encode("utf-8", "replace").decode("utf-8"))
    lines += attribute_line("sample_rate_hz", repr(float(rate)))
    if float(np.round(start, decimals)) != start:
        lines += attribute_line("start_s", repr(float(start)))
    return lines


def _column(channel: Channel, first: int, stop: int) -> pl.Series:
    """One column of volts; NaN becomes null, which is an empty field."""
    plain = channel.volts_per_count == 1.0 and channel.volts_offset == 0.0
    raw = channel.source.read(first, stop)
    if plain and raw.dtype.kind == "f" and raw.dtype.itemsize == 4:
        return pl.Series(channel.id, raw.astype(np.float32)).fill_nan(None)
    volts = channel.volts(first, stop)
    if raw.dtype.kind == "i":
        decimals = max(0, 3 - math.floor(math.log10(abs(channel.volts_per_count))))
        volts = np.round(volts, decimals) if decimals < 300 else volts
    return pl.Series(channel.id, volts).fill_nan(None)


def _check(target: Path, channels: list[Channel]) -> None:
    if not channels:
        raise file_error(target, "there is no channel to write", "open a capture with channels")
    first = channels[0]
    for channel in channels:
        _check_name(target, channel.id)
        for what, mine, common in (
            ("sampling rate", channel.sample_rate_hz, first.sample_rate_hz),
            ("start", channel.start_s, first.start_s),
            ("number of samples", len(channel), len(first)),
        ):
            if mine != common:
                raise file_error(
                    target,
                    f"a CSV file has one {what} for all channels, but that of "
                    f"{one_line(first.id, 60)} is {common:.12g} and that of "
                    f"{one_line(channel.id, 60)} is {mine:.12g}",
                    "write HDF5 (.h5), which keeps one for each",
                )


def _check_name(target: Path, name: str) -> None:
    faulty = not name.strip() or name != name.strip() or not name.isprintable()
    if faulty or name == TIME_COLUMN:
        raise file_error(
            target,
            f"the channel name '{one_line(name, 60)}' cannot stand in the header of a CSV file",
            "rename the channel, or write HDF5 (.h5)",
        )
