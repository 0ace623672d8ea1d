"""Ended at any instant, and two at once: captures and cache stay as they should be."""

from __future__ import annotations

import hashlib
import os
import random
import subprocess
import sys
from pathlib import Path

import h5py
import numpy as np
import pytest

from analysis.files.open import open_capture
from analysis.files.overview_cache import CacheEntry, OverviewCache
from analysis.files.setup_read import parse_setup
from analysis.model.results import RevolutionTable
from analysis.views.overview import answer_overview
from analysis.views.timeline import answer_timeline
from tests.analysis.overview_worker import CAPTURES, LIMIT_BYTES, cache_in
from tests.house.tree import ROOT

KILLS = 100
FEWEST_IN_WRITING = 1
SEED = 20
LENGTH = 600_000
SETUP = """\
version = 1

[[probe]]
name = "DE-X"
channel = "DE_X"
angle_deg = 45.0
scale_factor_mv_per_um = 7.874
"""


def written(path: Path, seed: int) -> None:
    samples = np.random.default_rng(seed).integers(-16000, -9000, LENGTH).astype(np.int16)
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        file.attrs["setup"] = SETUP
        for name in ("DE_X", "DE_Y"):
            dataset = file.create_dataset(f"channels/{name}", data=np.roll(samples, ord(name[-1])))
            dataset.attrs["sample_rate_hz"] = 20_000.0
            dataset.attrs["volts_per_count"] = 0.001


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for number in range(1, CAPTURES + 1):
        written(tmp_path / f"{number}.h5", number)
    return tmp_path


def worker(folder: Path, rounds: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.analysis.overview_worker", str(folder), str(rounds)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


class State:
    """What a folder has to hold, learnt before anything happens to it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.captures = sorted(folder.glob("[0-9].h5"))
        self.bytes = {path: self.digest(path) for path in self.captures}
        self.samples = [self.channels(path) for path in self.captures]
        self.tables = {path: self.table(path, None) for path in self.captures}

    def digest(self, path: Path) -> str:
        return hashlib.blake2b(path.read_bytes()).hexdigest()

    def channels(self, path: Path) -> dict[str, bytes]:
        capture = open_capture(path)
        found = {n: c.source.read(0, len(c)).tobytes() for n, c in capture.channels.items()}
        capture.close()
        return found

    def table(self, path: Path, cache: OverviewCache | None) -> RevolutionTable:
        capture = open_capture(path)
        setup, _warnings = parse_setup(capture.setup_toml or "", path.name)
        found = answer_timeline(capture, setup, cache=cache).table
        capture.close()
        return found

    def check(self) -> None:
        """Captures untouched, what was converted one of them whole, every entry in order."""
        for path, digest in self.bytes.items():
            assert self.digest(path) == digest
        converted = self.folder / "converted.h5"
        if converted.exists():
            assert self.channels(converted) in self.samples
        cache = cache_in(self.folder)
        for entry in self.entries():
            assert cache.load(entry.stem) is not None, entry
        there = (self.folder / "large" / "same.cache").exists()
        large = OverviewCache(self.folder / "large").load("same")
        assert there == (large is not None)
        if large is not None:
            assert len(large.arrays["a"]) == 200_000
            assert (large.arrays["a"] == large.facts["number"]).all()

    def check_answers(self, path: Path) -> None:
        """What the cache gives is what the samples give."""
        cache = cache_in(self.folder)
        capture = open_capture(path)
        ours, plain = answer_overview(capture, cache=cache), answer_overview(capture)
        for name, one in plain.channels.items():
            wanted = one.extremes(0, LENGTH, 100)
            for got, good in zip(ours.channels[name].extremes(0, LENGTH, 100), wanted, strict=True):
                np.testing.assert_array_equal(got, good)
        capture.close()
        table, due = self.table(path, cache), self.tables[path]
        np.testing.assert_array_equal(table.start_s, due.start_s)
        np.testing.assert_array_equal(table.probes["DE-X"].max_um, due.probes["DE-X"].max_um)

    def entries(self) -> list[Path]:
        return list((self.folder / "cache").glob("*.cache"))

    def parts(self) -> list[Path]:
        return list(self.folder.rglob(".*.part"))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are not copied on this system")
def test_killed_a_hundred_times(folder: Path) -> None:
    state = State(folder)
    dice = random.Random(SEED)
    with worker(folder, 0) as server:
        assert server.stdin is not None
        assert server.stdout is not None
        for kill in range(KILLS):
            what = ("look up", "store", "convert")[kill % 3]
            print(dice.uniform(0.0, 0.08), what, file=server.stdin, flush=True)
            answer = server.stdout.readline()
            assert answer == "killed\n", server.communicate()[1]
            state.check()
            if kill % 5 == 0:
                state.check_answers(dice.choice(state.captures))
        server.stdin.close()
        assert server.wait() == 0
    # Without kills in the midst of writing either, this would have shown nothing.
    for where in ("large", "."):
        assert len(list((folder / where).glob(".*.part"))) >= FEWEST_IN_WRITING
    for path in state.captures:
        state.check_answers(path)
    _parts_go_in_time(state)


def _parts_go_in_time(state: State) -> None:
    """What killed processes have left in the cache goes as soon as it is old enough to be told."""
    cached = [path for path in state.parts() if path.parent != state.folder]
    for path in cached:
        os.utime(path, (1.0, 1.0))
    for path in state.captures:  # more than fit: at least one is made anew
        state.check_answers(path)
    OverviewCache(state.folder / "large").store("same", CacheEntry({}))
    assert not any(path.exists() for path in cached)
    assert sum(path.stat().st_size for path in state.entries()) <= LIMIT_BYTES


def test_two_processes_at_once_do_no_harm(folder: Path) -> None:
    state = State(folder)
    pair = [worker(folder, 4) for _ in range(2)]
    for process in pair:
        assert process.stdin is not None
        process.stdin.close()
        process.stdin = None
    while any(process.poll() is None for process in pair):
        state.check_answers(state.captures[0])
    for process in pair:
        _, errors = process.communicate()
        assert process.returncode == 0, errors
    state.check()
    assert state.parts() == []
    assert sum(path.stat().st_size for path in state.entries()) <= LIMIT_BYTES
