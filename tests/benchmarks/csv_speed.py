"""Opening a CSV capture beside polars' own reader, each in a process of its own for its memory."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import polars as pl

from analysis.files.open import open_capture

from .rows import best_of, peak_mib

RATE_HZ = 25_600.0


def write_csv(path: Path, rows: int) -> None:
    """Four channels of volts with a time column, six digits each."""
    time_s = np.arange(rows) / RATE_HZ
    noise = np.random.default_rng(5).normal(-9.8, 0.2, (4, rows)).round(4)
    columns = {"time_s": time_s.round(9)} | {f"C{i}": noise[i] for i in range(4)}
    pl.DataFrame(columns).write_csv(path)


def ours(path: Path) -> None:
    """Open and close."""
    open_capture(path).close()


def main(kind: str, path: Path) -> None:
    """Print the figures of one of the two as JSON."""
    call = {"ours": lambda: ours(path), "library": lambda: pl.read_csv(path)}[kind]
    taken = best_of(3, call)
    peak = peak_mib()
    print(json.dumps({"taken_s": taken, "peak_mib": peak}))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
