"""Broken HDF5 captures, most of them a good one with one thing changed."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from tests.analysis.good_files import NUMBERS, BrokenFile, folder, good_hdf5, nothing, of_bytes


def _spoilt(change: Callable[[Any], None]) -> Callable[[Path], None]:
    """A good HDF5 capture with one thing changed."""

    def build(path: Path) -> None:
        good_hdf5(path)
        with h5py.File(path, "r+") as file:
            change(file)

    return build


def _attribute(name: str, value: Any, where: str = "channels/DE_X") -> Callable[[Path], None]:
    def change(file: Any) -> None:
        file[where].attrs[name] = value

    return _spoilt(change)


def _dataset(**keywords: Any) -> Callable[[Path], None]:
    """A good capture with one more channel made of the given arguments."""

    def change(file: Any) -> None:
        dataset = file.create_dataset("channels/X", **keywords)
        dataset.attrs["sample_rate_hz"] = 1000.0

    return _spoilt(change)


def _other_capture(path: Path) -> Path:
    other = path.with_name("other.h5")
    good_hdf5(other)
    return other


def _external_link(path: Path) -> None:
    other = _other_capture(path)
    good_hdf5(path)
    with h5py.File(path, "r+") as file:
        file["channels/LINK"] = h5py.ExternalLink(other.name, "/channels/DE_X")


def _external_group(path: Path) -> None:
    other = _other_capture(path)
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        file["channels"] = h5py.ExternalLink(other.name, "/channels")


def _soft_group(path: Path) -> None:
    good_hdf5(path)
    with h5py.File(path, "r+") as file:
        file.move("channels", "elsewhere")
        file["channels"] = h5py.SoftLink("/elsewhere")


def _virtual(path: Path) -> None:
    other = _other_capture(path)
    good_hdf5(path)
    layout = h5py.VirtualLayout(shape=(50,), dtype="i2")
    layout[:] = h5py.VirtualSource(other.name, "channels/DE_X", shape=(50,))
    with h5py.File(path, "r+") as file:
        dataset = file.create_virtual_dataset("channels/V", layout)
        dataset.attrs["sample_rate_hz"] = 1000.0


def _external_storage(path: Path) -> None:
    path.with_name("raw.bin").write_bytes(bytes(100))
    good_hdf5(path)
    with h5py.File(path, "r+") as file:
        dataset = file.create_dataset(
            "channels/E", shape=(50,), dtype="i2", external=[("raw.bin", 0, 100)]
        )
        dataset.attrs["sample_rate_hz"] = 1000.0


def _foreign_filter(path: Path) -> None:
    """A filter that is registered outside HDF5 (code 32000), marked as one that may be missing."""
    good_hdf5(path)
    with h5py.File(path, "r+") as file:
        properties = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
        properties.set_chunk((50,))
        properties.set_filter(32000, h5py.h5z.FLAG_OPTIONAL)
        space = h5py.h5s.create_simple((50,))
        identifier = h5py.h5d.create(
            file["channels"].id, b"F", h5py.h5t.STD_I16LE, space, properties
        )
        dataset = h5py.Dataset(identifier)
        dataset[:] = np.arange(50, dtype=np.int16)
        dataset.attrs["sample_rate_hz"] = 1000.0


def _odd_integers(path: Path) -> None:
    """12-bit integers in 16 bits: numpy would take them for int16."""
    good_hdf5(path)
    with h5py.File(path, "r+") as file:
        kind = h5py.h5t.STD_I16LE.copy()
        kind.set_precision(12)
        space = h5py.h5s.create_simple((50,))
        identifier = h5py.h5d.create(file["channels"].id, b"T", kind, space)
        h5py.Dataset(identifier).attrs["sample_rate_hz"] = 1000.0


def _truncated(path: Path) -> None:
    good_hdf5(path, samples=100_000)
    os.truncate(path, 20_000)


def _lying_header(path: Path) -> None:
    """The size of the samples in the headers made a hundred million times what is stored."""
    samples = 51_237
    good_hdf5(path, samples)
    raw = path.read_bytes()
    for number in (samples, 2 * samples):
        old, new = number.to_bytes(8, "little"), (number * 10**8).to_bytes(8, "little")
        assert old in raw
        raw = raw.replace(old, new)
    path.write_bytes(raw)


def _heap(path: Path, index: int, size: int) -> None:
    """An entry of the global heap, which holds the texts, given another size.

    HDF5 comes back from neither of those below by itself.
    """
    good_hdf5(path)
    raw = bytearray(path.read_bytes())
    at = raw.index(b"GCOL") + 16
    while int.from_bytes(raw[at : at + 2], "little") != index:
        at += 16 + (int.from_bytes(raw[at + 8 : at + 16], "little") + 7) // 8 * 8
    raw[at + 8 : at + 16] = size.to_bytes(8, "little")
    path.write_bytes(raw)


def _endless_text(path: Path) -> None:
    """A title that claims 4 GiB in a file of a few KiB."""
    good_hdf5(path)
    raw = path.read_bytes()
    heap = raw.index(b"GCOL").to_bytes(8, "little")
    length = len("Brine pump P-204").to_bytes(4, "little")
    assert raw.count(length + heap) == 1
    path.write_bytes(raw.replace(length + heap, b"\xf0\xff\xff\xff" + heap))


def _empty_chunk(path: Path) -> None:
    """A chunk of no bytes under a checksum: HDF5 reads before its buffer."""
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        dataset = file.create_dataset(
            "channels/DE_X", data=NUMBERS, chunks=(50,), fletcher32=True, compression="gzip"
        )
        dataset.attrs["sample_rate_hz"] = 1000.0
        chunk = dataset.id.get_chunk_info(0)
    raw = path.read_bytes()
    entry = chunk.size.to_bytes(4, "little") + bytes(4) + bytes(8) + bytes(8)
    place = chunk.byte_offset.to_bytes(8, "little")
    assert raw.count(entry + place) == 1
    path.write_bytes(raw.replace(entry + place, bytes(4) + entry[4:] + place))


def _no_channels(path: Path) -> None:
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        file.create_group("channels")


def _no_group(path: Path) -> None:
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1


def _without(name: str, where: str) -> Callable[[Path], None]:
    def change(file: Any) -> None:
        del file[where].attrs[name]

    return _spoilt(change)


def _pipe(path: Path) -> None:
    os.mkfifo(path)


BROKEN_HDF5 = [
    BrokenFile("missing", "gone.h5", ("no such file",), nothing),
    BrokenFile("folder", "folder.h5", ("folder",), folder),
    BrokenFile("empty", "empty.h5", ("empty",), of_bytes(b"")),
    BrokenFile("not-hdf5", "text.h5", ("no HDF5",), of_bytes(b"time_s,a\n0,1\n")),
    BrokenFile("signature-only", "sig.h5", ("HDF5",), of_bytes(b"\x89HDF\r\n\x1a\n")),
    BrokenFile("truncated", "cut.h5", ("cut short",), _truncated),
    BrokenFile("lying-header", "lie.h5", ("channel DE_X",), _lying_header),
    BrokenFile("heap-stands", "heap0.h5", ("damaged",), lambda path: _heap(path, 0, 0)),
    BrokenFile("heap-wraps", "heapw.h5", ("damaged",), lambda path: _heap(path, 1, 2**64 - 16)),
    BrokenFile("endless-text", "endless.h5", ("damaged",), _endless_text),
    BrokenFile("empty-chunk", "chunk0.h5", ("DE_X is damaged",), _empty_chunk),
    BrokenFile("external-link", "link.h5", ("LINK", "external link"), _external_link),
    BrokenFile("external-group", "group.h5", ("/channels", "external link"), _external_group),
    BrokenFile("soft-group", "soft.h5", ("/channels", "soft link"), _soft_group),
    BrokenFile(
        "soft-link",
        "softlink.h5",
        ("LINK", "soft link"),
        _spoilt(lambda f: f["channels"].__setitem__("LINK", h5py.SoftLink("/channels/DE_X"))),
    ),
    BrokenFile("virtual", "virtual.h5", ("channel V", "virtual"), _virtual),
    BrokenFile("external-storage", "ext.h5", ("channel E", "other files"), _external_storage),
    BrokenFile("foreign-filter", "filter.h5", ("channel F", "32000"), _foreign_filter),
    BrokenFile("odd-integers", "odd.h5", ("channel T", "int16, int32"), _odd_integers),
    BrokenFile("uint16", "u2.h5", ("uint16",), _dataset(data=NUMBERS.astype("u2"))),
    BrokenFile("int64", "i8.h5", ("int64",), _dataset(data=NUMBERS.astype("i8"))),
    BrokenFile("float16", "f2.h5", ("float16",), _dataset(data=NUMBERS.astype("f2"))),
    BrokenFile("complex", "c8.h5", ("int16, int32",), _dataset(data=NUMBERS.astype("c8"))),
    BrokenFile("texts", "s.h5", ("int16, int32",), _dataset(data=["a", "b"])),
    BrokenFile("compound", "v.h5", ("int16, int32",), _dataset(data=np.zeros(4, "i2,f4"))),
    BrokenFile("two-d", "2d.h5", ("2 dimensions",), _dataset(data=NUMBERS.reshape(5, 10))),
    BrokenFile("scalar", "0d.h5", ("0 dimensions",), _dataset(data=np.int16(3))),
    BrokenFile("no-samples", "none.h5", ("no samples",), _dataset(data=NUMBERS[:0])),
    BrokenFile("null-space", "null.h5", ("0 dimensions",), _dataset(data=h5py.Empty("i2"))),
    BrokenFile(
        "claims-contiguous", "claim.h5", ("holds fewer",), _dataset(shape=(10**12,), dtype="i2")
    ),
    BrokenFile(
        "claims-chunked",
        "claimc.h5",
        ("holds fewer",),
        _dataset(shape=(10**12,), dtype="i2", chunks=(1000,)),
    ),
    BrokenFile(
        "huge-chunk",
        "chunk.h5",
        ("chunks of",),
        _dataset(shape=(10**9,), dtype="i2", chunks=(10**9,), compression="gzip"),
    ),
    BrokenFile("no-version", "nov.h5", ("runtrue_capture",), _without("runtrue_capture", "/")),
    BrokenFile("newer", "new.h5", ("newer", "update"), _attribute("runtrue_capture", 2, "/")),
    BrokenFile("version-0", "v0.h5", ("no version",), _attribute("runtrue_capture", 0, "/")),
    BrokenFile("text-version", "vt.h5", ("whole number",), _attribute("runtrue_capture", "1", "/")),
    BrokenFile("list-version", "vl.h5", ("one value",), _attribute("runtrue_capture", [1, 1], "/")),
    BrokenFile("number-title", "tn.h5", ("title", "text"), _attribute("title", 4, "/")),
    BrokenFile("null-title", "te.h5", ("title",), _attribute("title", h5py.Empty("i2"), "/")),
    BrokenFile("no-group", "nogroup.h5", ("/channels is missing",), _no_group),
    BrokenFile("no-channels", "nochan.h5", ("no channel",), _no_channels),
    BrokenFile(
        "group-is-data",
        "groupdata.h5",
        ("/channels is missing",),
        _spoilt(lambda f: (f.move("channels", "x"), f.create_dataset("channels", data=1))),
    ),
    BrokenFile("no-rate", "norate.h5", ("sample_rate_hz", "missing"),
               _without("sample_rate_hz", "channels/DE_X")),
    BrokenFile("rate-zero", "r0.h5", ("sample_rate_hz is 0",), _attribute("sample_rate_hz", 0.0)),
    BrokenFile("rate-negative", "rn.h5", ("sample_rate_hz",), _attribute("sample_rate_hz", -5)),
    BrokenFile("rate-nan", "rnan.h5", ("is nan",), _attribute("sample_rate_hz", np.nan)),
    BrokenFile("rate-inf", "rinf.h5", ("is inf",), _attribute("sample_rate_hz", np.inf)),
    BrokenFile("rate-text", "rtext.h5", ("no number",), _attribute("sample_rate_hz", "1000")),
    BrokenFile("rate-list", "rlist.h5", ("one value",), _attribute("sample_rate_hz", [1.0, 2.0])),
    BrokenFile("rate-bool", "rbool.h5", ("sample_rate_hz",), _attribute("sample_rate_hz", True)),
    BrokenFile("rate-huge", "rhuge.h5", ("sample_rate_hz",), _attribute("sample_rate_hz", 1e300)),
    BrokenFile("scale-zero", "s0.h5", ("volts_per_count",), _attribute("volts_per_count", 0.0)),
    BrokenFile("scale-nan", "snan.h5", ("volts_per_count",), _attribute("volts_per_count", np.nan)),
    BrokenFile("offset-nan", "onan.h5", ("volts_offset",), _attribute("volts_offset", np.nan)),
    BrokenFile("start-inf", "stinf.h5", ("start_s",), _attribute("start_s", -np.inf)),
]  # fmt: skip

if hasattr(os, "mkfifo"):
    BROKEN_HDF5.append(BrokenFile("pipe", "pipe.h5", ("no plain file",), _pipe))
