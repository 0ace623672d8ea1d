"""The cache: what is in it is right or not there, whatever happened to the capture or the disk."""

from __future__ import annotations

import os
import random
import sys
from collections.abc import Iterator
from pathlib import Path

import h5py
import numpy as np
import pytest

from analysis.files import access, overview_key
from analysis.files.csv_layout import CsvLayout
from analysis.files.open import open_capture
from analysis.files.overview_cache import CacheEntry, OverviewCache
from analysis.model.capture import Capture
from analysis.views import overview as overview_view
from analysis.views.overview import CaptureOverview, answer_overview
from tests.analysis.overview_files import LENGTH, check, counts, entries, written


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return written(tmp_path / "brine.h5", counts(1))


@pytest.fixture
def cache(tmp_path: Path) -> OverviewCache:
    return OverviewCache(tmp_path / "cache")


class Passes:
    """Counts how often the samples were really read."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.count = 0
        read = overview_view._read

        def counted(*args: object) -> CaptureOverview:
            self.count += 1
            return read(*args)

        monkeypatch.setattr(overview_view, "_read", counted)


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> Passes:
    return Passes(monkeypatch)


class TestHit:
    def test_the_second_time_no_sample_is_read(
        self, path: Path, cache: OverviewCache, passes: Passes
    ) -> None:
        check(path, cache)
        assert passes.count == 2  # with the cache, and the one it is held against
        check(path, cache)
        assert passes.count == 3
        assert len(entries(cache)) == 1

    def test_by_another_way_to_the_same_file(
        self, path: Path, cache: OverviewCache, passes: Passes, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        check(path, cache)
        monkeypatch.chdir(path.parent)
        check(Path("..") / path.parent.name / path.name, cache)
        assert passes.count == 3

    def test_a_copy_is_another_file(self, path: Path, cache: OverviewCache, passes: Passes) -> None:
        check(path, cache)
        other = path.with_name("copy.h5")
        other.write_bytes(path.read_bytes())
        check(other, cache)
        assert passes.count == 4

    def test_what_is_not_a_file_is_not_cached(self, path: Path, cache: OverviewCache) -> None:
        opened = open_capture(path)
        answer_overview(Capture("made", opened.channels), cache=cache)
        assert entries(cache) == []
        opened.close()


def set_back(path: Path, stat: os.stat_result) -> None:
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert path.stat().st_size == stat.st_size
    assert path.stat().st_mtime_ns == stat.st_mtime_ns


class TestChangedFile:
    @pytest.mark.skipif(os.name != "posix", reason="no time of change that cannot be set")
    @pytest.mark.parametrize("how", ["in place", "replaced"])
    def test_one_sample_changed_and_the_time_set_back(
        self, path: Path, cache: OverviewCache, passes: Passes, how: str
    ) -> None:
        long = 10 * LENGTH
        written(path, counts(1, long))
        check(path, cache)
        stat, content = path.stat(), bytearray(path.read_bytes())
        sampled = overview_key._sampled(path, stat.st_size)
        place = content.find(counts(1, long)[12_345:12_400].tobytes())
        assert place > 0
        content[place : place + 2] = np.int16(-32_000).tobytes()
        if how == "in place":
            path.write_bytes(content)
        else:
            path.with_suffix(".new").write_bytes(content)
            path.with_suffix(".new").replace(path)
        set_back(path, stat)
        # Between the sampled blocks: only the time of change tells.
        assert overview_key._sampled(path, stat.st_size) == sampled
        check(path, cache)
        assert passes.count == 4
        capture = open_capture(path)
        shown = answer_overview(capture, cache=cache).channels["DE_X"]
        assert shown.extremes(0, long, 1)[0][0] == -32.0
        capture.close()

    def test_other_content_where_no_time_of_change_is_kept(
        self,
        path: Path,
        cache: OverviewCache,
        passes: Passes,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        """The sampled blocks alone find content that is other in most places."""
        stamp = access.file_stamp

        def without(where: Path) -> tuple[int, int, int] | None:
            found = stamp(where)
            return found and (found[0], found[1], 0)

        monkeypatch.setattr("analysis.files.open.file_stamp", without)
        monkeypatch.setattr(overview_key, "file_stamp", without)
        check(path, cache)
        stat = path.stat()
        written(path, counts(2))
        set_back(path, stat)
        check(path, cache)
        assert passes.count == 4

    def test_a_file_changed_since_it_was_opened_is_not_looked_up(
        self, path: Path, cache: OverviewCache
    ) -> None:
        """Else the samples of the old file would be kept under the key of the new one."""
        capture = open_capture(path)
        other = written(path.with_name("other.h5"), counts(2))
        other.replace(path)
        answer_overview(capture, cache=cache)
        capture.close()
        assert entries(cache) == []
        check(path, cache)

    def test_a_file_that_changes_while_it_is_read_is_not_kept(
        self, path: Path, cache: OverviewCache
    ) -> None:
        class Meddler:
            def report(self, fraction: float, what: str = "") -> None:
                if fraction == 1.0:
                    os.utime(path, ns=(1, 1))

        capture = open_capture(path)
        answer_overview(capture, progress=Meddler(), cache=cache)
        capture.close()
        assert entries(cache) == []

    @pytest.mark.parametrize("name", ["sample_rate_hz", "volts_per_count"])
    def test_other_facts_are_another_capture(
        self, path: Path, cache: OverviewCache, name: str
    ) -> None:
        capture = open_capture(path)
        before = overview_key.capture_key(capture)
        capture.close()
        with h5py.File(path, "r+") as file:
            file["channels/DE_X"].attrs[name] = 0.5
        capture = open_capture(path)
        assert overview_key.capture_key(capture) not in (before, None)
        capture.close()


class TestDamage:
    """Whatever the entry holds, the answer is right, and the entry is in order afterwards."""

    def spoilt(self, path: Path, cache: OverviewCache, content: bytes) -> None:
        (entry,) = entries(cache)
        good = entry.read_bytes()
        entry.write_bytes(content)
        check(path, cache)
        assert entries(cache) == [entry]
        assert entry.read_bytes() == good

    @pytest.mark.parametrize("keep", [0, 1, 63, 64, 65, 300, 0.5, 0.999])
    def test_cut_short(self, path: Path, cache: OverviewCache, keep: float) -> None:
        check(path, cache)
        content = entries(cache)[0].read_bytes()
        length = keep if isinstance(keep, int) else int(len(content) * keep)
        self.spoilt(path, cache, content[:length])

    def test_one_bit_flipped_anywhere(self, cache: OverviewCache) -> None:
        """Only what fills the head up to its length may change without being noticed."""
        arrays = {"a": np.arange(20, dtype=np.int16), "b": np.array([1.5, np.nan])}
        assert cache.store("key", CacheEntry(arrays, {"title": "µm"}))
        (file,) = entries(cache)
        good = file.read_bytes()
        for bit in range(len(good) * 8):
            spoilt = bytearray(good)
            spoilt[bit // 8] ^= 1 << bit % 8
            file.write_bytes(spoilt)
            found = cache.load("key")
            assert (found is not None) == (32 <= bit // 8 < 64), bit
            assert file.exists() == (found is not None)

    def test_bits_flipped_in_the_entry_of_a_capture(self, path: Path, cache: OverviewCache) -> None:
        check(path, cache)
        dice = random.Random(3)
        content = entries(cache)[0].read_bytes()
        for _ in range(10):
            spoilt = bytearray(content)
            spoilt[dice.randrange(64, len(content))] ^= 1 << dice.randrange(8)
            self.spoilt(path, cache, bytes(spoilt))

    def test_of_another_version(self, path: Path, cache: OverviewCache) -> None:
        check(path, cache)
        content = entries(cache)[0].read_bytes()
        assert content.startswith(b"RUNTRUE-CACHE-1\n")
        self.spoilt(path, cache, content.replace(b"CACHE-1\n", b"CACHE-2\n", 1))

    def test_under_another_name(self, cache: OverviewCache) -> None:
        cache.store("one", CacheEntry({"a": np.arange(3)}))
        (file,) = entries(cache)
        file.rename(file.with_name("two.cache"))
        assert cache.load("two") is None

    def test_a_folder_in_its_place(self, path: Path, cache: OverviewCache) -> None:
        check(path, cache)
        (entry,) = entries(cache)
        entry.unlink()
        entry.mkdir()
        check(path, cache)


class TestEntry:
    def test_it_comes_back_as_it_was(self, cache: OverviewCache) -> None:
        arrays = {
            "nothing": np.empty((0, 3), np.float32),
            "flags": np.array([True, False]),
            "turned": np.arange(12, dtype=np.int64).reshape(3, 4).T,
            "vectors": np.array([1 + 2j, np.nan]),
            "one/two": np.arange(5, dtype=np.int16)[::2],
        }
        assert cache.store("key", CacheEntry(arrays, {"a": [1, None, "µ"]}))
        found = cache.load("key")
        assert found is not None
        assert found.facts == {"a": [1, None, "µ"]}
        assert list(found.arrays) == list(arrays)
        for name, values in arrays.items():
            np.testing.assert_array_equal(found.arrays[name], values)
            assert found.arrays[name].dtype == values.dtype
            assert found.arrays[name].flags.aligned
            assert not found.arrays[name].size or not found.arrays[name].flags.writeable

    def test_a_loaded_entry_outlives_its_file(self, cache: OverviewCache) -> None:
        cache.store("key", CacheEntry({"a": np.arange(100_000)}))
        found = cache.load("key")
        assert found is not None
        cache.store("key", CacheEntry({"a": np.zeros(3)}))
        np.testing.assert_array_equal(found.arrays["a"], np.arange(100_000))

    def test_objects_are_refused(self, cache: OverviewCache) -> None:
        with pytest.raises(TypeError, match="object"):
            cache.store("key", CacheEntry({"a": np.array([object()])}))


class TestTable:
    """The same text file is another capture when its columns are read in another way."""

    def test_read_in_another_unit(self, tmp_path: Path, cache: OverviewCache) -> None:
        path = tmp_path / "turns.csv"
        rows = "".join(f"{i / 1000:.3f},{-9.0 - i % 7}\n" for i in range(2000))
        path.write_text("time_s,DE_X\n" + rows, encoding="utf-8")
        lowest = []
        for layout in (None, CsvLayout(unit="V"), CsvLayout(unit="mV")):
            capture = open_capture(path, layout=layout)
            for _ in range(2):
                one = answer_overview(capture, cache=cache).channels["DE_X"]
                lowest.append(one.extremes(0, 2000, 1)[0][0])
            capture.close()
        assert lowest == pytest.approx([-15.0, -15.0, -15.0, -15.0, -0.015, -0.015])


class TestMethod:
    """Entries are those of this program: other source, other keys."""

    @pytest.fixture
    def package(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
        (tmp_path / "made_up_rooms").mkdir()
        (tmp_path / "made_up_rooms" / "__init__.py").write_text("")
        monkeypatch.syspath_prepend(tmp_path)
        yield tmp_path / "made_up_rooms"
        sys.modules.pop("made_up_rooms", None)

    def hash_of(self) -> str:
        return overview_key.method_of.__wrapped__("made_up_rooms")

    def test_it_changes_with_the_source(self, package: Path) -> None:
        hashes = [self.hash_of()]
        (package / "room.py").write_text("a = 1")
        hashes.append(self.hash_of())
        (package / "room.py").write_text("a = 2")
        hashes.append(self.hash_of())
        (package / "room.py").rename(package / "hall.py")
        hashes.append(self.hash_of())
        assert len(set(hashes)) == 4

    def test_without_source_it_is_the_version(
        self, package: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        self.hash_of()
        (package / "__init__.py").unlink()
        hashes = []
        for version in ("1.0", "1.1"):
            monkeypatch.setattr(overview_key, "_version", lambda version=version: version)
            hashes.append(self.hash_of())
        assert hashes[0] != hashes[1]
