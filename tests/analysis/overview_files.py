"""Captures for tests of the cache, and what holds whatever is in it."""

from __future__ import annotations

from pathlib import Path

import h5py
import numpy as np

from analysis.files.open import open_capture
from analysis.files.overview_cache import OverviewCache
from analysis.views.overview import answer_overview

LENGTH = 40_000


def counts(seed: int, length: int = LENGTH) -> np.ndarray:
    return np.random.default_rng(seed).integers(-16000, -9000, length).astype(np.int16)


def written(path: Path, samples: np.ndarray) -> Path:
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        for name in ("DE_X", "DE_Y"):
            dataset = file.create_dataset(f"channels/{name}", data=samples)
            dataset.attrs["sample_rate_hz"] = 1000.0
            dataset.attrs["volts_per_count"] = 0.001
    return path


def check(path: Path, cache: OverviewCache) -> None:
    """The overview with the cache is the one without."""
    capture = open_capture(path)
    with_it, without = answer_overview(capture, cache=cache), answer_overview(capture)
    assert with_it.complete
    for name, one in without.channels.items():
        for columns in (1, 7, 300):
            ours = with_it.channels[name].extremes(0, one.length, columns)
            for mine, plain in zip(ours, one.extremes(0, one.length, columns), strict=True):
                np.testing.assert_array_equal(mine, plain)
    capture.close()


def entries(cache: OverviewCache) -> list[Path]:
    assert cache.folder is not None
    return sorted(cache.folder.iterdir()) if cache.folder.exists() else []
