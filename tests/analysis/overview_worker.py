"""A process to be killed: it imports once, and starts a copy of itself for every order it gets.

    python -m tests.analysis.overview_worker FOLDER ROUNDS

What it does with the captures `1.h5` ... in FOLDER, in turn: `look up` takes them from a cache that
is too small for all of them, so that every look makes an entry and pushes one out; `convert` writes
each onto `converted.h5`. `store` keeps one large entry after another under the same key. On
standard input: a time in seconds and what to do, to be killed after that time; on standard output
`killed`. Without a line: look up and convert, ROUNDS times.
"""

from __future__ import annotations

import itertools
import os
import signal
import sys
import time
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from analysis.files.convert import convert
from analysis.files.open import open_capture
from analysis.files.overview_cache import CacheEntry, OverviewCache
from analysis.files.setup_read import parse_setup
from analysis.views.overview import answer_overview
from analysis.views.timeline import answer_timeline

LIMIT_BYTES = 200_000
CAPTURES = 6


def cache_in(folder: Path) -> OverviewCache:
    return OverviewCache(folder / "cache", limit_bytes=LIMIT_BYTES)


def look_up(folder: Path, rounds: Iterable[int]) -> None:
    cache = cache_in(folder)
    opened = [open_capture(path) for path in sorted(folder.glob("[0-9].h5"))]
    for _ in rounds:
        for capture in opened:
            setup, _warnings = parse_setup(capture.setup_toml or "", capture.name)
            answer_overview(capture, cache=cache)
            answer_timeline(capture, setup, cache=cache)


def store(folder: Path, rounds: Iterable[int]) -> None:
    cache = OverviewCache(folder / "large")
    for number in rounds:
        cache.store("same", CacheEntry({"a": np.full(200_000, number)}, {"number": number}))


def convert_all(folder: Path, rounds: Iterable[int]) -> None:
    for _ in rounds:
        for path in sorted(folder.glob("[0-9].h5")):
            convert(path, folder / "converted.h5")


WORK = {"look up": look_up, "store": store, "convert": convert_all}


def main() -> None:
    folder, rounds = Path(sys.argv[1]), int(sys.argv[2])
    ordered = False
    for line in sys.stdin:
        ordered = True
        delay_s, what = line.strip().split(" ", 1)
        child = os.fork()
        if child == 0:
            try:
                WORK[what](folder, itertools.count())
            finally:
                os._exit(1)  # only an error ends what runs for ever
        time.sleep(float(delay_s))
        ended, _status = os.waitpid(child, os.WNOHANG)
        if ended:
            sys.exit("the work stopped by itself")
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        print("killed", flush=True)
    if not ordered:
        look_up(folder, range(rounds))
        convert_all(folder, range(rounds))


if __name__ == "__main__":
    main()
