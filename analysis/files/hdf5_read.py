"""Reading a capture from HDF5 (contract, section 2), lazily and without trusting the file."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import h5py

from analysis.model.capture import Capture, Channel, SampleSource
from analysis.model.errors import InputError

from .access import on_network, plain_file_size
from .capture_facts import (
    check_rate,
    check_scale,
    check_start,
    check_version,
    started_at_warning,
)
from .hdf5_attributes import Attributes
from .hdf5_bytes import CheckedBytes
from .hdf5_chunks import ChunkSource, open_chunked
from .hdf5_guard import check_sizes, check_storage, check_type, forbid_plugins, hard_child
from .hdf5_sources import DatasetSource, MappedSource
from .wording import file_error, one_line

_MOST_CHANNELS = 4096

# What h5py raises, by type, when the library below finds a file damaged.
_DAMAGE = (
    OSError,
    RuntimeError,
    KeyError,
    ValueError,
    TypeError,
    NotImplementedError,
    OverflowError,
    MemoryError,
    UnicodeError,
    SystemError,
)


def open_hdf5(path: Path) -> Capture:
    """Open a capture file. No sample is read yet; contiguous data are mapped, the rest is chunked.

    Anything in the file that the contract does not name is left alone.

    Raises:
        InputError: when it is no capture, damaged, or would make the program open another file.
    """
    size = plain_file_size(path)
    forbid_plugins()
    with ExitStack() as stack:
        try:
            checked = stack.enter_context(CheckedBytes(path))
            file = stack.enter_context(h5py.File(checked, "r", locking=False))
            capture = _read_capture(path, file, checked, size, stack)
        except InputError:
            raise
        except _DAMAGE as error:
            raise _damaged(path, error) from error
        stack.pop_all()
    return capture


def _read_capture(
    path: Path, file: Any, checked: CheckedBytes, size: int, stack: ExitStack
) -> Capture:
    root = Attributes(path, file.id)
    if not root.has("runtrue_capture"):
        raise file_error(
            path,
            "the root attribute runtrue_capture is missing: this is no Runtrue capture",
            "write runtrue_capture = 1, or export the data as CSV",
        )
    check_version(path, root.integer("runtrue_capture"))
    warnings: list[str] = []
    title, started_at, notes = root.text("title"), root.text("started_at"), root.text("notes")
    late = started_at_warning(started_at)
    if late:
        warnings.append(late)
    setup = root.text("setup") if root.has("setup") else None
    channels, closers, needs_file = _read_channels(path, file, size, stack, warnings)
    if needs_file:
        closers += [file.close, checked.close]
    else:
        file.close()
        checked.close()

    def close() -> None:
        for closer in closers:
            closer()

    return Capture(
        name=path.name,
        channels=channels,
        path=path,
        title=title,
        started_at=started_at,
        notes=notes,
        setup_toml=setup,
        warnings=tuple(warnings),
        closer=close,
    )


def _read_channels(
    path: Path, file: Any, size: int, stack: ExitStack, warnings: list[str]
) -> tuple[dict[str, Channel], list[Callable[[], None]], bool]:
    """The channels, what closes them, and whether one of them still reads through the file."""
    found = hard_child(path, file, "channels", "/channels")
    if not isinstance(found, h5py.h5g.GroupID):
        raise file_error(
            path, "the group /channels is missing", "put one dataset a channel into it"
        )
    group = h5py.Group(found)
    if len(group) > _MOST_CHANNELS:
        raise file_error(
            path, f"{len(group)} channels are too many", f"keep to {_MOST_CHANNELS} in one file"
        )
    maps = not on_network(path)
    channels: dict[str, Channel] = {}
    closers: list[Callable[[], None]] = []
    needs_file = False
    for name in group:
        _check_name(path, name)
        try:
            child = hard_child(path, group, name, f"channel {name}")
            if not isinstance(child, h5py.h5d.DatasetID):
                warnings.append(f"/channels/{one_line(name)} is no dataset and was left out")
                continue
            source = _open_source(path, name, child, size, maps)
            if isinstance(source, (MappedSource, ChunkSource)):
                stack.callback(source.close)
                closers.append(source.close)
            else:
                needs_file = True
            channels[name] = _channel(path, name, child, source)
        except _DAMAGE as error:
            raise file_error(
                path, f"channel {one_line(name)} is damaged", "copy the file again from its source"
            ) from error
    if not channels:
        raise file_error(
            path, "the group /channels holds no channel", "put one dataset a channel into it"
        )
    return channels, closers, needs_file


def _open_source(path: Path, name: str, child: Any, size: int, maps: bool) -> SampleSource:
    check_storage(path, name, child)
    dtype = check_type(path, name, child)
    length = check_sizes(path, name, child, dtype.itemsize, size)
    properties = child.get_create_plist()
    offset = child.get_offset()
    if maps and offset is not None and properties.get_layout() == h5py.h5d.CONTIGUOUS:
        return MappedSource(path, dtype, int(offset), length)
    chunked = open_chunked(path, name, child, dtype, length, size)
    return chunked or DatasetSource(path, name, h5py.Dataset(child))


def _channel(path: Path, name: str, child: Any, source: SampleSource) -> Channel:
    where = f"channel {one_line(name)}: "
    attributes = Attributes(path, child, where)
    rate = check_rate(path, where, attributes.number("sample_rate_hz"))
    scale = attributes.number("volts_per_count", 1.0)
    offset = attributes.number("volts_offset", 0.0)
    check_scale(path, where, scale, offset)
    start = check_start(path, where, attributes.number("start_s", 0.0))
    return Channel(name, rate, source, start, scale, offset)


def _check_name(path: Path, name: str | bytes) -> None:
    # h5py gives bytes for a name that is not UTF-8.
    if not isinstance(name, str) or not name.isprintable() or not name.strip():
        raise file_error(
            path, f"the channel name '{one_line(name)}' cannot be shown", "rename the channel"
        )


def _damaged(path: Path, error: BaseException) -> InputError:
    reason = str(error)
    if "already open for write" in reason or "flags" in reason:
        return file_error(
            path,
            "the file is still open for writing, or was not closed by what wrote it",
            "stop the recording, or copy the file again once it is closed",
        )
    if "truncated" in reason:
        return file_error(
            path, "the file is cut short (truncated)", "copy it again from its source"
        )
    return file_error(
        path, "this is no HDF5 file, or a damaged one", "copy it again from its source"
    )
