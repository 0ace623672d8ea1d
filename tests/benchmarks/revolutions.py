"""The revolution table in a process of its own: its time, the plain read beside it, its memory."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import h5py

from analysis.files.open import open_capture
from analysis.files.setup_read import parse_setup
from analysis.rotor.revolutions import revolution_table

from .rows import best_of, peak_mib

BLOCK = 1 << 20


def plain_read(path: Path) -> int:
    """Read every channel as everybody does, `dataset[:]`, and do nothing with it."""
    with h5py.File(path, "r") as file:
        return sum(len(item[:]) for item in file["channels"].values())


def read_in_blocks(path: Path) -> int:
    """Read every sample in blocks that stay in the processor's cache: as quick as it can be."""
    total = 0
    with h5py.File(path, "r") as file:
        for item in file["channels"].values():
            for start in range(0, len(item), BLOCK):
                total += len(item[start : start + BLOCK])
    return total


def table_rows(path: Path) -> int:
    """Open the capture, make the table, close it."""
    capture = open_capture(path)
    setup, _ = parse_setup(capture.setup_toml or "", path.name)
    rows = len(revolution_table(capture, setup, capture.span))
    capture.close()
    return rows


def main(path: Path) -> None:
    """Print the figures as JSON. Reads first, so that the file is in the system's memory."""
    plain_read(path)
    reads, tables = [], []
    start = time.perf_counter()
    rows = table_rows(path)  # the first one compiles and loads what it needs
    first = time.perf_counter() - start
    for _ in range(3):  # in turn, so that both meet the same machine
        reads.append(best_of(2, lambda: plain_read(path)))
        tables.append(best_of(1, lambda: table_rows(path)))
    peak = peak_mib()
    figures = {"rows": rows, "read_s": min(reads), "table_s": min(tables), "first_s": first}
    blocks = best_of(3, lambda: read_in_blocks(path))
    print(json.dumps({**figures, "blocks_s": blocks, "peak_mib": peak}))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
