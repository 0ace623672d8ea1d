"""Looking before following: nothing in a capture may make the program open another file.

An HDF5 file can name others in four ways: soft and external links, external storage, virtual
datasets, and filters that are loaded as plugins. Each is looked at here before it is touched.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import h5py
import numpy as np

from .wording import file_error, one_line

_FIRST_FOREIGN_FILTER = 256
"""Filter codes below this belong to HDF5 itself (H5Z_FILTER_RESERVED, HDF5 reference manual)."""

_BIGGEST_CHUNK = 256 * 1024 * 1024
"""A chunk is decoded whole, so its size is memory that a small file can make us spend."""

_STORED_TYPES = {
    np.dtype("<i2"): h5py.h5t.STD_I16LE,
    np.dtype(">i2"): h5py.h5t.STD_I16BE,
    np.dtype("<i4"): h5py.h5t.STD_I32LE,
    np.dtype(">i4"): h5py.h5t.STD_I32BE,
    np.dtype("<f4"): h5py.h5t.IEEE_F32LE,
    np.dtype(">f4"): h5py.h5t.IEEE_F32BE,
    np.dtype("<f8"): h5py.h5t.IEEE_F64LE,
    np.dtype(">f8"): h5py.h5t.IEEE_F64BE,
}


def forbid_plugins() -> None:
    """Empty HDF5's list of plugin folders, for this process.

    Groups can carry filters too, in places that h5py cannot look at before they are used; without
    folders to search, an unknown filter is an error and no code is loaded.
    """
    for _ in range(h5py.h5pl.size()):
        h5py.h5pl.remove(0)


def hard_child(path: Path, group: Any, name: str, where: str) -> Any:
    """Low-level identifier of a child that is linked hard; `None` when there is no such child.

    Raises:
        InputError: when the link is soft, external or of an unknown kind.
    """
    raw = name.encode("utf-8", "surrogateescape")
    if not group.id.links.exists(raw):
        return None
    kind = group.id.links.get_info(raw).type
    if kind != h5py.h5l.TYPE_HARD:
        names = {h5py.h5l.TYPE_SOFT: "a soft", h5py.h5l.TYPE_EXTERNAL: "an external"}
        raise file_error(
            path,
            f"{one_line(where)} is {names.get(kind, 'an unknown kind of')} link to elsewhere",
            "captures must hold their own data: copy the data into the file",
        )
    return h5py.h5o.open(group.id, raw)


def check_storage(path: Path, channel: str, dataset: Any) -> None:
    """Refuse data that lies in other files or needs foreign code to decode.

    `dataset` is a low-level identifier; only its creation properties are looked at.

    Raises:
        InputError: virtual, external storage, a filter from outside HDF5, or huge chunks.
    """
    who = f"channel {one_line(channel)}"
    properties = dataset.get_create_plist()
    layout = properties.get_layout()
    if layout == h5py.h5d.VIRTUAL:
        raise file_error(
            path, f"{who} is a virtual dataset made of other files", "copy the data into the file"
        )
    if properties.get_external_count() > 0:
        raise file_error(
            path, f"{who} keeps its data in other files", "copy the data into the capture file"
        )
    for index in range(properties.get_nfilters()):
        code = int(properties.get_filter(index)[0])
        if code >= _FIRST_FOREIGN_FILTER:
            raise file_error(
                path,
                f"{who} is compressed by a filter from outside HDF5 (code {code})",
                "save it with gzip or uncompressed",
            )
        if not h5py.h5z.filter_avail(code):
            raise file_error(
                path,
                f"{who} is compressed by a filter that is not installed (code {code})",
                "save it with gzip or uncompressed",
            )


def check_type(path: Path, channel: str, dataset: Any) -> np.dtype[Any]:
    """The numpy type of the stored samples, when it is one of the four of the contract.

    Raises:
        InputError: any other type, also integers of odd width that only look like one of them.
    """
    try:
        stored = dataset.get_type()
        dtype: np.dtype[Any] = np.dtype(stored.dtype)
    except (TypeError, ValueError, NotImplementedError) as error:
        raise _wrong_type(path, channel, "an unknown type") from error
    wanted = _STORED_TYPES.get(dtype)
    if wanted is None or not stored.equal(wanted):
        raise _wrong_type(path, channel, one_line(dtype, 60))
    return dtype


def _wrong_type(path: Path, channel: str, found: str) -> Exception:
    return file_error(
        path,
        f"channel {one_line(channel)} holds {found}",
        "save it as int16, int32, float32 or float64",
    )


def check_sizes(path: Path, channel: str, dataset: Any, itemsize: int, file_size: int) -> int:
    """Number of samples of a dataset whose claim agrees with what the file stores.

    Raises:
        InputError: not one-dimensional, empty, or claiming more than is stored.
    """
    who = f"channel {one_line(channel)}"
    shape = dataset.get_space().shape
    if shape is None or len(shape) != 1:
        rank = 0 if shape is None else len(shape)
        raise file_error(
            path, f"{who} has {rank} dimensions in place of 1", "save one dataset a channel"
        )
    length = int(shape[0])
    if length == 0:
        raise file_error(path, f"{who} has no samples", "record or export it again")
    properties = dataset.get_create_plist()
    stored = int(dataset.get_storage_size())
    enough = stored <= file_size
    if properties.get_layout() == h5py.h5d.CHUNKED:
        (chunk,) = properties.get_chunk()
        if chunk * itemsize > _BIGGEST_CHUNK:
            raise file_error(
                path,
                f"{who} is stored in chunks of {chunk * itemsize / 2**20:.0f} MiB",
                "save it with chunks of 1 MiB or so (at most 256 MiB)",
            )
        enough = enough and int(dataset.get_num_chunks()) == -(-length // chunk)
        if properties.get_nfilters() == 0:
            enough = enough and stored >= length * itemsize
    else:
        offset = dataset.get_offset() or 0
        enough = enough and stored >= length * itemsize
        enough = enough and offset + length * itemsize <= file_size
    if not enough:
        raise file_error(
            path,
            f"{who} claims {length} samples but the file holds fewer",
            "the recording was cut short or the file is damaged: copy or export it again",
        )
    return length
