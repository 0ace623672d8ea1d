"""HDF5 captures: lazily, whole, without a copy, and the same bytes for the same content."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import h5py
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.files import hdf5_read
from analysis.files.hdf5_chunks import ChunkSource
from analysis.files.hdf5_sources import DatasetSource, MappedSource
from analysis.files.hdf5_write import write_hdf5
from analysis.files.open import open_capture
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.errors import InputError
from tests.analysis.good_files import good_hdf5

DTYPES = ("int16", "int32", "float32", "float64")


def _capture(samples: int = 300_000, **keywords) -> Capture:
    rng = np.random.default_rng(204)
    channels = {}
    for number, dtype in enumerate(DTYPES):
        values = (rng.normal(size=samples) * 1000).astype(dtype)
        if values.dtype.kind == "f":
            values[::997] = np.nan
        channels[f"C{number}"] = Channel(
            f"C{number}", 1000.0 * (number + 1), ArraySource(values), -0.5 * number, 0.001, -2.0
        )
    return Capture("made", channels, title="Brine pump P-204 µ", **keywords)


def _same(first: Capture, second: Capture) -> None:
    assert list(first.channels) == list(second.channels)
    for name, channel in first.channels.items():
        other = second.channels[name]
        assert channel.source.dtype == other.source.dtype
        assert (channel.sample_rate_hz, channel.start_s) == (other.sample_rate_hz, other.start_s)
        assert channel.volts_per_count == other.volts_per_count
        assert channel.volts_offset == other.volts_offset
        a, b = channel.source.read(0, len(channel)), other.source.read(0, len(other))
        np.testing.assert_array_equal(a, b)
    for name in ("title", "started_at", "notes", "setup_toml"):
        assert getattr(first, name) == getattr(second, name)


@pytest.mark.parametrize("compression", [None, "gzip"])
def test_raw_counts_and_attributes_come_back(tmp_path: Path, compression) -> None:
    capture = _capture(
        started_at="2026-03-02T08:15:00+01:00",
        notes="two\nlines",
        setup_toml="version = 1\n" * 9999,
    )
    path = tmp_path / "a.h5"
    write_hdf5(path, capture, compression=compression)
    back = open_capture(path)
    _same(capture, back)
    kind = MappedSource if compression is None else ChunkSource
    assert all(isinstance(c.source, kind) for c in back.channels.values())
    assert back.warnings == ()
    back.close()


def test_mapped_reads_are_views(tmp_path: Path) -> None:
    path = tmp_path / "a.h5"
    write_hdf5(path, _capture())
    capture = open_capture(path)
    source = capture.channels["C0"].source
    first, second = source.read(0, 100), source.read(50, 150)
    assert np.shares_memory(first, second)
    assert not first.flags.writeable
    capture.close()
    with pytest.raises(ValueError, match="closed"):
        source.read(0, 1)


def test_on_a_network_drive_nothing_is_mapped(tmp_path: Path, monkeypatch) -> None:
    """A map of a file whose drive goes away would end the process."""
    path = tmp_path / "a.h5"
    capture = _capture(3_000_000)
    write_hdf5(path, capture)
    monkeypatch.setattr(hdf5_read, "on_network", lambda path: True)
    back = open_capture(path)
    _same(capture, back)
    assert all(isinstance(c.source, DatasetSource) for c in back.channels.values())
    back.close()


@pytest.mark.parametrize("layout", ["contiguous", "chunked", "compact"])
@pytest.mark.parametrize("dtype", [">i2", ">i4", ">f4", ">f8"])
def test_big_endian_files_read_true(tmp_path: Path, layout: str, dtype: str) -> None:
    path = tmp_path / "big.h5"
    values = np.arange(-500, 500).astype(dtype)
    with h5py.File(path, "w", userblock_size=512) as file:
        file.attrs["runtrue_capture"] = np.int64(1)
        group = file.create_group("channels")
        if layout == "compact":
            properties = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
            properties.set_layout(h5py.h5d.COMPACT)
            space = h5py.h5s.create_simple((1000,))
            kind = h5py.h5t.py_create(np.dtype(dtype))
            dataset = h5py.Dataset(h5py.h5d.create(group.id, b"X", kind, space, properties))
            dataset[:] = values
        else:
            chunks = (64,) if layout == "chunked" else None
            dataset = group.create_dataset("X", data=values, chunks=chunks)
        dataset.attrs["sample_rate_hz"] = 10
    capture = open_capture(path)
    np.testing.assert_array_equal(capture.channels["X"].volts(100, 900), np.arange(-400.0, 400.0))
    capture.close()


@pytest.mark.parametrize(
    ("filters", "kind"),
    [
        ({}, ChunkSource),
        ({"compression": "gzip", "compression_opts": 9}, ChunkSource),
        ({"shuffle": True}, ChunkSource),
        ({"fletcher32": True}, ChunkSource),
        ({"shuffle": True, "compression": "gzip", "fletcher32": True}, ChunkSource),
        ({"scaleoffset": 0}, DatasetSource),
    ],
)
@pytest.mark.parametrize("samples", [1, 63, 64, 65, 1000])
@pytest.mark.parametrize("dtype", ["<i2", ">i4", "<f4", ">f8"])
def test_every_built_in_filter_reads_like_h5py(
    tmp_path: Path, filters: dict, kind: type, samples: int, dtype: str
) -> None:
    """h5py's own reading is the reference."""
    if "scaleoffset" in filters and "f" in dtype:
        filters = {"scaleoffset": 3}
    path = tmp_path / "a.h5"
    values = np.random.default_rng(204).integers(-3000, 3000, samples).astype(dtype)
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        dataset = file.create_dataset(
            "channels/X", data=values, chunks=(64,), maxshape=(None,), **filters
        )
        dataset.attrs["sample_rate_hz"] = 10.0
    with h5py.File(path, "r") as file:
        due = file["channels/X"][:]
    capture = open_capture(path)
    source = capture.channels["X"].source
    assert isinstance(source, kind)
    for start, stop in ((0, samples), (0, 1), (samples - 1, samples), (samples // 3, samples // 2)):
        np.testing.assert_array_equal(source.read(start, stop), due[start:stop])
    capture.close()
    with pytest.raises(ValueError, match="closed"):
        source.read(0, 1)


def test_a_wrong_checksum_is_told(tmp_path: Path) -> None:
    path = tmp_path / "a.h5"
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        values = np.arange(1000, dtype="i2")
        dataset = file.create_dataset("channels/X", data=values, chunks=(100,), fletcher32=True)
        dataset.attrs["sample_rate_hz"] = 10.0
        place = dataset.id.get_chunk_info(3).byte_offset
    raw = bytearray(path.read_bytes())
    raw[place + 5] ^= 1
    path.write_bytes(raw)
    capture = open_capture(path)
    np.testing.assert_array_equal(capture.channels["X"].source.read(0, 300), values[:300])
    with pytest.raises(InputError, match="samples 300 to 399"):
        capture.channels["X"].source.read(0, 1000)
    capture.close()


def test_texts_may_be_bytes_and_single_values_lists_of_one(tmp_path: Path) -> None:
    path = tmp_path / "a.h5"
    good_hdf5(path)
    with h5py.File(path, "r+") as file:
        file.attrs["title"] = np.bytes_(b"Pumpe")
        file.attrs["notes"] = np.array(["one"], dtype=h5py.string_dtype())
        file.attrs["started_at"] = "yesterday"
        file["channels/DE_X"].attrs["sample_rate_hz"] = np.array([500], dtype="i4")
        file["channels"].create_group("folder")
    capture = open_capture(path)
    assert (capture.title, capture.notes) == ("Pumpe", "one")
    assert capture.channels["DE_X"].sample_rate_hz == 500.0
    assert len(capture.warnings) == 2
    assert any("yesterday" in warning for warning in capture.warnings)
    assert any("folder" in warning for warning in capture.warnings)
    capture.close()


@pytest.mark.parametrize("compression", [None, "gzip"])
def test_the_same_content_gives_the_same_bytes(tmp_path: Path, compression) -> None:
    for name in ("a.h5", "b.h5"):
        write_hdf5(tmp_path / name, _capture(70_000), compression=compression)
    assert (tmp_path / "a.h5").read_bytes() == (tmp_path / "b.h5").read_bytes()


def test_a_file_that_shrinks_is_an_error_and_no_crash(tmp_path: Path) -> None:
    path = tmp_path / "a.h5"
    write_hdf5(path, _capture())
    capture = open_capture(path)
    os.truncate(path, 10_000)
    with pytest.raises(InputError, match="shorter"):
        capture.channels["C0"].volts(0, 300_000)
    capture.close()


def test_damaged_chunks_are_told_when_they_are_read(tmp_path: Path) -> None:
    path = tmp_path / "a.h5"
    write_hdf5(path, _capture(200_000), compression="gzip")
    with h5py.File(path, "r") as file:
        place = file["channels/C1"].id.get_chunk_info(1)
    raw = bytearray(path.read_bytes())
    raw[place.byte_offset : place.byte_offset + place.size] = bytes(place.size)
    path.write_bytes(raw)
    capture = open_capture(path)
    assert len(capture.channels["C1"].volts(0, 1000)) == 1000
    with pytest.raises(InputError, match=r"a\.h5: channel C1: samples \d+ to \d+"):
        capture.channels["C1"].volts(0, 200_000)
    capture.close()


def test_chunked_data_read_from_many_threads(tmp_path: Path) -> None:
    path = tmp_path / "a.h5"
    capture = _capture()
    write_hdf5(path, capture, compression="gzip")
    opened = open_capture(path)
    wrong: list[str] = []

    def work(name: str) -> None:
        for start in range(0, 300_000, 50_000):
            got = opened.channels[name].source.read(start, start + 70_000)
            due = capture.channels[name].source.read(start, start + 70_000)
            if not np.array_equal(got, due, equal_nan=got.dtype.kind == "f"):
                wrong.append(name)

    threads = [threading.Thread(target=work, args=(name,)) for name in capture.channels]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    opened.close()
    assert wrong == []


@settings(max_examples=30, deadline=None)
@given(
    values=st.lists(st.integers(-32768, 32767), min_size=1, max_size=60),
    rate=st.floats(1e-3, 1e6),
    start=st.floats(-1e6, 1e6),
    scale=st.floats(1e-6, 10.0),
    offset=st.floats(-30.0, 30.0),
    title=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
    setup=st.none() | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
    compression=st.sampled_from([None, "gzip"]),
)
def test_round_trip(
    tmp_path_factory, values, rate, start, scale, offset, title, setup, compression
) -> None:
    source = ArraySource(np.array(values, dtype=np.int16))
    channel = Channel("DE_X", rate, source, start, scale, offset)
    capture = Capture("made", {"DE_X": channel}, title=title, setup_toml=setup)
    path = tmp_path_factory.mktemp("h5") / "a.h5"
    write_hdf5(path, capture, compression=compression)
    back = open_capture(path)
    _same(capture, back)
    back.close()
