"""Every figure that Runtrue promises, measured in one run, as a table in Markdown.

    python -m tests.benchmarks [--large]

Makes its captures in a temporary folder (about 700 MB; with `--large` another 5 GB) and clears it
away. Takes some minutes; a machine that does other things as well makes the figures worse.
"""

from __future__ import annotations

import argparse
import importlib.metadata
import os
import platform
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.app.long_capture import write_long_capture

from .csv_speed import write_csv
from .limits import limit_figures
from .positions import position_row
from .revolutions import PEER_S
from .rows import ROOT, Row, compile_all, in_process, markdown
from .vectors import vector_figures

TWENTY_MINUTES_S = 1200
LARGE_S = 19_600
CSV_ROWS = 1_500_000
STARTS = 5
CSV_RUNS = 4


def revolution_rows(capture: Path, home: Path) -> list[Row]:
    """Time of the table over a plain read, memory, and the plain way beside it."""
    found = in_process("revolutions", str(capture), home=home)
    ratio = found["table_s"] / found["read_s"]
    peer_s = found["peer_s"] * TWENTY_MINUTES_S / PEER_S
    faster = peer_s / found["table_s"]
    seconds = f"{found['table_s']:.2f} s for {found['rows']} revolutions"
    return [
        Row(
            "revolution table, 20 min of 5 int16 channels",
            f"{ratio:.1f} × ({seconds})",
            f"plain read, `dataset[:]`, {found['read_s'] * 1000:.0f} ms; "
            f"in blocks {found['blocks_s'] * 1000:.0f} ms",
            "≤ 6 ×",
            ratio <= 6.0,
        ),
        Row(
            "the same against scipy.signal and a loop",
            f"{faster:.0f} × faster",
            f"{peer_s:.0f} s (from its first {PEER_S:.0f} s)",
            "≥ 30 ×",
            faster >= 30.0,
        ),
        Row(
            "its peak memory, whole process",
            f"{found['peak_mib']:.0f} MiB",
            f"file {capture.stat().st_size / 2**20:.0f} MiB, mapped",
            "< 700 MiB",
            found["peak_mib"] < 700.0,
        ),
    ]


def window_rows(capture: Path, home: Path, name: str) -> list[Row]:
    """First picture, first time and again; frames; the GUI thread."""
    rows = []
    for words, most in (("first picture", 1.0), ("first picture, opened again", 0.3)):
        found = in_process("window", "picture", str(capture), home=home)
        rows.append(
            Row(
                f"{words}, {name}",
                f"{found['first_s']:.2f} s, whole timeline {found['timeline_s']:.2f} s",
                "–",
                f"< {most:g} s",
                found["first_s"] < most,
            )
        )
    worst = in_process("window", "watch", str(capture), home=home / "watch")
    return [
        *rows,
        Row(
            f"GUI thread, longest turn, {name}",
            f"{worst['busy_ms']:.0f} ms busy ({worst['during']})",
            f"{worst['wall_ms']:.0f} ms by the clock",
            "≤ 50 ms",
            worst["busy_ms"] <= 50.0,
        ),
    ]


def drag_row(home: Path) -> Row:
    """Answers drawn a second."""
    found = in_process("window", "drag", str(ROOT / "sample_data/run_up.h5"), home=home)
    return Row(
        "moving the moment, 1600 × 1000",
        f"{found['rate']:.0f} frames a second",
        f"drawing alone {found['redraw']:.0f} a second",
        "≥ 60",
        found["rate"] >= 60.0,
    )


def csv_row(folder: Path, home: Path) -> Row:
    """Speed and memory of a CSV beside the reader library's own."""
    path = folder / "table.csv"
    write_csv(path, CSV_ROWS)
    runs: dict[str, list[dict[str, Any]]] = {"ours": [], "library": []}
    for _ in range(CSV_RUNS):  # in turn: a machine that others use changes its speed meanwhile
        for kind, found in runs.items():
            found.append(in_process("csv_speed", kind, str(path), home=home))
    ours, library = (min(found, key=lambda run: run["taken_s"]) for found in runs.values())
    share = library["taken_s"] / ours["taken_s"]
    size = path.stat().st_size / 2**20
    path.unlink()
    return Row(
        f"CSV, {size:.0f} MiB",
        f"{share:.2f} of the library's speed, {ours['peak_mib']:.0f} MiB of memory",
        f"polars {size / library['taken_s']:.0f} MiB/s, {library['peak_mib']:.0f} MiB",
        "≥ 0.8",
        share >= 0.8,
    )


def start_row(home: Path) -> Row:
    """A usable window over the libraries and an empty one, in turn, medians."""
    taken: dict[str, list[float]] = {"ours": [], "floor": []}
    for kind in ("ours", "floor"):
        in_process("startup", kind, home=home)  # fills the system's file cache
    for _ in range(STARTS):
        for kind, times in taken.items():
            start = time.perf_counter()
            in_process("startup", kind, home=home)
            times.append(time.perf_counter() - start)
    ours, floor = (statistics.median(times) for times in taken.values())
    return Row(
        "start-up to a usable window",
        f"{ours / floor:.2f} × ({ours:.2f} s)",
        f"libraries and an empty window {floor:.2f} s",
        "≤ 1.5 ×",
        ours <= 1.5 * floor,
    )


def vector_row() -> Row:
    """Bias and scatter of 1X."""
    amplitude, lag, scatter = vector_figures()
    good = abs(amplitude) < 0.1 and abs(lag) < 0.1 and scatter <= 1.12
    return Row(
        "1X vector, 20 kHz, 2400 r/min",
        f"bias {amplitude:+.3f} %, {lag:+.4f}°; scatter {scatter:.3f} × bound",
        "Cramér-Rao bound of all samples in the turn",
        "< 0.1 %, < 0.1°, ≤ 1.12 ×",
        good,
    )


def limit_row() -> Row:
    """Replaying the limits, once the revolutions are there."""
    found = limit_figures()
    return Row(
        "limits, 20 min at 3000 r/min, 6 probes, 10 limits",
        f"replay {found['replay_s'] * 1000:.0f} ms, {found['events']} events; settings on trial "
        f"beside it, with boundary, {found['answer_s'] * 1000:.0f} ms",
        f"measures every 0.1 s from the revolutions {found['series_s'] * 1000:.0f} ms",
        "< 100 ms, < 300 ms",
        found["replay_s"] < 0.1 and found["series_s"] < 0.3,
    )


def machine() -> str:
    """What it was measured on."""
    names = ("PySide6-Essentials", "pyqtgraph", "numpy", "scipy", "h5py", "polars")
    versions = ", ".join(f"{name} {importlib.metadata.version(name)}" for name in names)
    load = f", load {os.getloadavg()[0]:.1f} before the run" if hasattr(os, "getloadavg") else ""
    return (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} processors{load}, "
        f"Python {platform.python_version()}, {versions}; windows "
        f"{os.environ.get('QT_QPA_PLATFORM', 'off screen')}."
    )


def main() -> None:
    """Measure everything and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--large", action="store_true", help="a capture of 5 GB as well")
    large = parser.parse_args().large
    print(machine(), "\n")
    compile_all()
    with tempfile.TemporaryDirectory(prefix="runtrue-benchmarks-") as scratch:
        folder = Path(scratch)
        capture = folder / "long.h5"
        write_long_capture(capture, TWENTY_MINUTES_S)
        home = folder / "home"
        rows = [
            *revolution_rows(capture, home),
            vector_row(),
            limit_row(),
            position_row(),
            *window_rows(capture, home, "307 MB"),
        ]
        rows += [drag_row(home), csv_row(folder, home), start_row(home)]
        if large:
            capture.unlink()
            write_long_capture(capture, LARGE_S)
            rows += window_rows(capture, home / "large", "5 GB")
    print(markdown(rows))


if __name__ == "__main__":
    main()
