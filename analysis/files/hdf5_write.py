"""Writing a capture as HDF5 (contract, section 2): the same content gives the same bytes."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Literal

import h5py
import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture, Channel

from .access import as_path
from .atomic import refuse_same_file, replacing
from .capture_facts import SCHEMA_VERSION
from .hdf5_sources import READ_BLOCK_BYTES
from .wording import file_error, one_line, system_error

Compression = Literal["gzip"]

CHUNK_SAMPLES = 65536
"""Fixed, so that the same capture gives the same file; 128 to 512 KiB a chunk."""

_KINDS = {("i", 2): "<i2", ("i", 4): "<i4", ("f", 4): "<f4", ("f", 8): "<f8"}


def write_hdf5(
    path: str | os.PathLike[str],
    capture: Capture,
    *,
    compression: Compression | None = None,
    progress: Progress = SILENT,
) -> None:
    """Write a capture; raw counts and their conversion to volts stay as they are.

    Little-endian, contiguous (so that it can be mapped) or, with `compression="gzip"`, shuffled
    and deflated in chunks of `CHUNK_SAMPLES`. The file takes the place of an older one only when
    it is whole. Times are not tracked: the same content gives the same bytes.

    Raises:
        InputError: the target cannot be written, is the input, or a name cannot stand in HDF5.
        JobCancelled: through `progress`; the older file is untouched.
    """
    target = as_path(path)
    refuse_same_file(capture.path, target)
    _check(target, capture)
    with replacing(target) as temporary:
        try:
            with h5py.File(temporary, "w") as file:
                _write(file, capture, compression, progress)
        except OSError as error:
            raise system_error(target, error, "writing it") from error


def _write(
    file: Any, capture: Capture, compression: Compression | None, progress: Progress
) -> None:
    file.attrs["runtrue_capture"] = SCHEMA_VERSION
    for name in ("title", "started_at", "notes"):
        text = getattr(capture, name)
        if text or name == "title":
            file.attrs[name] = _storable(text)
    if capture.setup_toml is not None:
        file.attrs["setup"] = _storable(capture.setup_toml)
    group = file.create_group("channels")
    total = sum(len(channel) for channel in capture.channels.values())
    done = 0
    for channel in capture.channels.values():
        done = _write_channel(group, channel, compression, progress, done, total)
    progress.report(1.0, "closing the file")


def _write_channel(
    group: Any,
    channel: Channel,
    compression: Compression | None,
    progress: Progress,
    done: int,
    total: int,
) -> int:
    dtype = np.dtype(_KINDS[channel.source.dtype.kind, channel.source.dtype.itemsize])
    packing: dict[str, Any] = {}
    if compression is not None:
        packing = {
            "chunks": (min(CHUNK_SAMPLES, len(channel)),),
            "compression": compression,
            "shuffle": True,
        }
    dataset = group.create_dataset(
        channel.id, shape=(len(channel),), dtype=dtype, track_times=False, **packing
    )
    dataset.attrs["sample_rate_hz"] = float(channel.sample_rate_hz)
    dataset.attrs["volts_per_count"] = float(channel.volts_per_count)
    dataset.attrs["volts_offset"] = float(channel.volts_offset)
    dataset.attrs["start_s"] = float(channel.start_s)
    rows = READ_BLOCK_BYTES // 8
    for start in range(0, len(channel), rows):
        stop = min(len(channel), start + rows)
        progress.report((done + start) / total, f"writing {channel.id}")
        values = channel.source.read(start, stop)
        dataset[start:stop] = values.astype(dtype, copy=False)
    return done + len(channel)


def _check(target: Path, capture: Capture) -> None:
    if not capture.channels:
        raise file_error(target, "there is no channel to write", "open a capture with channels")
    for channel in capture.channels.values():
        name = one_line(channel.id)
        if not _fits_hdf5(channel.id):
            raise file_error(
                target,
                f"the channel name '{name}' cannot stand in an HDF5 file",
                "rename the channel (no slash, not a single dot, no control characters)",
            )
        dtype = channel.source.dtype
        if (dtype.kind, dtype.itemsize) not in _KINDS:
            raise file_error(
                target,
                f"channel {name} holds {dtype}",
                "captures hold int16, int32, float32 or float64",
            )
        if len(channel) == 0:
            raise file_error(target, f"channel {name} has no samples", "leave it out")


def _fits_hdf5(name: str) -> bool:
    if not name.strip() or name == "." or "/" in name or not name.isprintable():
        return False
    try:
        return len(name.encode("utf-8")) < 4096
    except UnicodeEncodeError:
        return False


def _storable(text: str) -> str:
    """HDF5 texts end at a NUL."""
    return text.replace("\0", " ")
