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
ROUNDS = 4
PEER_S = 60.0
"""Length of the capture's beginning that the plain way is timed with."""


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
    start = time.perf_counter()
    rows = table_rows(path)  # the first one compiles and loads what it needs
    first = time.perf_counter() - start
    table_rows(path)
    figures = {"rows": rows, "first_s": first, "peak_mib": peak_mib()}
    from .peer import plain_table  # after the memory: scipy.signal takes more than the table

    taken: dict[str, list[float]] = {"read_s": [], "blocks_s": [], "table_s": [], "peer_s": []}
    for _ in range(ROUNDS):  # in turn, so that all meet the same machine
        taken["read_s"].append(best_of(2, lambda: plain_read(path)))
        taken["blocks_s"].append(best_of(1, lambda: read_in_blocks(path)))
        taken["table_s"].append(best_of(2, lambda: table_rows(path)))
        taken["peer_s"].append(best_of(1, lambda: plain_table(path, PEER_S)))
    print(json.dumps({**figures, **{what: min(times) for what, times in taken.items()}}))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
