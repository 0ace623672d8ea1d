"""The folder of the cache: its limit, its place, and a program that has none."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from analysis.files.open import open_capture
from analysis.files.overview_cache import CacheEntry, OverviewCache, cache_folder
from analysis.views.overview import answer_overview
from tests.analysis.overview_files import check, counts, entries, written


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return written(tmp_path / "brine.h5", counts(1))


class TestLimit:
    ENTRY = CacheEntry({"a": np.zeros(10_000)})  # 80 kB

    def kept(self, cache: OverviewCache) -> list[str]:
        return [file.stem for file in entries(cache)]

    def aged(self, cache: OverviewCache, key: str, age_s: float) -> None:
        assert cache.folder is not None
        file = cache.folder / f"{key}.cache"
        now = file.stat().st_mtime
        os.utime(file, (now - age_s, now - age_s))

    def test_the_oldest_go_first(self, tmp_path: Path) -> None:
        cache = OverviewCache(tmp_path, limit_bytes=400_000)
        for age, key in enumerate("dcba"):
            cache.store(key, self.ENTRY)
            self.aged(cache, key, 100.0 * (4 - age))
        assert self.kept(cache) == ["a", "b", "c", "d"]
        cache.store("e", self.ENTRY)
        assert self.kept(cache) == ["a", "b", "c", "e"]
        cache.store("f", self.ENTRY)
        assert self.kept(cache) == ["a", "b", "e", "f"]

    def test_what_is_used_is_not_old(self, tmp_path: Path) -> None:
        cache = OverviewCache(tmp_path, limit_bytes=400_000)
        for key in "abcd":
            cache.store(key, self.ENTRY)
            self.aged(cache, key, 1000.0)
        assert cache.load("a") is not None
        cache.store("e", self.ENTRY)
        assert self.kept(cache)[0] == "a"
        assert len(self.kept(cache)) == 4

    def test_nothing_pushes_all_the_others_out(self, tmp_path: Path) -> None:
        cache = OverviewCache(tmp_path, limit_bytes=400_000)
        cache.store("a", self.ENTRY)
        assert not cache.store("b", CacheEntry({"a": np.zeros(30_000)}))
        assert self.kept(cache) == ["a"]

    def test_parts_that_nobody_writes_any_more_are_cleared_away(self, tmp_path: Path) -> None:
        old, fresh, foreign = (tmp_path / n for n in (".old.part", ".new.part", "notes.txt"))
        for file in (old, fresh, foreign):
            file.write_bytes(b"0" * 100)
        for file in (old, foreign):
            os.utime(file, (1.0, 1.0))
        OverviewCache(tmp_path).store("a", self.ENTRY)
        assert not old.exists()
        assert fresh.exists()
        assert foreign.exists()


class TestNoCache:
    """A program without a cache is only slower."""

    def test_the_folder_is_a_file(self, path: Path, tmp_path: Path) -> None:
        (tmp_path / "cache").write_text("in the way")
        check(path, OverviewCache(tmp_path / "cache"))
        assert (tmp_path / "cache").read_text() == "in the way"

    def test_the_folder_cannot_be_written(
        self, path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """As the system answers; a real lock does not stop every user (root)."""

        def refused(*_args: object, **_more: object) -> tuple[int, str]:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr("analysis.files.atomic.tempfile.mkstemp", refused)
        cache = OverviewCache(tmp_path / "cache")
        check(path, cache)
        assert entries(cache) == []

    @pytest.mark.skipif(
        not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is locked for this user"
    )
    def test_the_folder_is_locked(self, path: Path, tmp_path: Path) -> None:
        (tmp_path / "cache").mkdir(mode=0o500)
        check(path, OverviewCache(tmp_path / "cache"))

    def test_the_disk_is_full(
        self, path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def full(*_args: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("analysis.files.overview_cache._write", full)
        cache = OverviewCache(tmp_path / "cache")
        check(path, cache)
        assert entries(cache) == []

    def test_there_is_no_home(self, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def homeless() -> Path:
            raise RuntimeError("Could not determine home directory.")

        monkeypatch.delenv("XDG_CACHE_HOME")
        monkeypatch.delenv("LOCALAPPDATA", raising=False)
        monkeypatch.setattr(Path, "home", homeless)
        assert cache_folder() is None
        check(path, OverviewCache())

    def test_without_one_nothing_is_written(self, path: Path) -> None:
        before = sorted(path.parent.iterdir())
        capture = open_capture(path)
        answer_overview(capture)
        capture.close()
        assert sorted(path.parent.iterdir()) == before


class TestFolder:
    """XDG Base Directory Specification 0.8; the other two are common practice."""

    @pytest.mark.parametrize(
        ("system", "ends"),
        [
            ("linux", (".cache", "runtrue")),
            ("darwin", ("Library", "Caches", "runtrue")),
            ("win32", ("AppData", "Local", "Runtrue", "Cache")),
        ],
    )
    def test_of_each_system(
        self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, system: str, ends: tuple[str, ...]
    ) -> None:
        monkeypatch.setattr("sys.platform", system)
        monkeypatch.setattr(Path, "home", lambda: tmp_path)
        monkeypatch.delenv("LOCALAPPDATA", raising=False)
        for unset in ("", "not/absolute"):
            monkeypatch.setenv("XDG_CACHE_HOME", unset)
            assert cache_folder() == tmp_path.joinpath(*ends)

    def test_a_user_may_name_another(self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
        assert cache_folder() == tmp_path / "runtrue" == OverviewCache().folder
