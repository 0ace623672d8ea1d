"""What the benchmarks measure with: rows of the results table, clocks, processes of their own."""

from __future__ import annotations

import compileall
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Row:
    """One line of the results table: what, how much, beside which floor, and what is wanted."""

    what: str
    measured: str
    floor: str
    wanted: str
    reached: bool | None

    def line(self) -> str:
        """The row in Markdown."""
        verdict = {True: "yes", False: "**no**", None: "–"}[self.reached]
        return f"| {self.what} | {self.measured} | {self.floor} | {self.wanted} | {verdict} |"


def markdown(rows: list[Row]) -> str:
    """All rows as a table."""
    head = ["| what | measured | floor, same run | wanted | reached |", "| --- |" + " --- |" * 4]
    return "\n".join([*head, *(row.line() for row in rows)])


def best_of(times: int, call: Callable[[], object]) -> float:
    """Shortest wall time of a call, s: noise of a machine only ever adds."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return min(taken)


def peak_mib() -> float:
    """Most memory that this process has had in use, MiB.

    Linux hands `ru_maxrss` on to a program that is started by a larger one; its own figure, the
    high-water mark of the memory map, begins anew.
    """
    try:
        lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    except OSError:
        import resource

        unit = 1 if sys.platform == "darwin" else 1024
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 2**20
    return next(float(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024


def compile_all() -> None:
    """Compile the program as an installation does, and has done with the libraries."""
    for room in ("analysis", "app", "tests"):
        compileall.compile_dir(ROOT / room, quiet=1)


def in_process(module: str, *arguments: str, home: Path) -> dict[str, Any]:
    """What a module of the benchmarks prints as JSON, run as a process of its own.

    Its settings and cache are in `home`, its window off screen unless a platform is named.
    """
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    environment.setdefault("QT_QPA_PLATFORM", "offscreen")
    for kind in ("CACHE", "CONFIG", "DATA"):
        environment[f"XDG_{kind}_HOME"] = str(home / kind.lower())
    done = subprocess.run(
        [sys.executable, "-m", f"tests.benchmarks.{module}", *arguments],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        encoding="utf-8",
        check=True,
        timeout=600,
    )
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer
