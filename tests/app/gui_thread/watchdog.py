"""How long the GUI thread stays away from its event loop."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt, QTimer

BEAT_MS = 2


@dataclass(frozen=True)
class Block:
    """One stretch between two turns of the event loop, ms."""

    busy_ms: float
    wall_ms: float
    during: str

    def __str__(self) -> str:
        return f"{self.during}: busy {self.busy_ms:.0f} ms (wall {self.wall_ms:.0f} ms)"


class Watchdog(QObject):
    """A heartbeat in the event loop; between two beats the thread was with one turn of it.

    Each stretch has two figures. `wall_ms` is what a user waits, but on a machine that other
    programs use as well it mostly says what those did. `busy_ms` is the processor time that the
    GUI thread itself spent: work that the program has put into that thread, whoever else runs. It
    is the one that a test may fail on, since the same work gives (nearly) the same figure at any
    load. What it leaves out is waiting: for another thread that holds the interpreter's lock, or
    for a disk; so it must be read together with the rule that the GUI thread opens no file, and
    with the wall times of a quiet machine, which the benchmarks report.
    """

    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[Block] = []
        self._during = ""
        self._wall = self._busy = 0.0
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._beat)

    @contextmanager
    def watch(self, during: str) -> Iterator[None]:
        """Watch while the body runs; it must hand control to the event loop."""
        self._during = during
        self._wall, self._busy = time.perf_counter(), time.thread_time()
        self._timer.start(BEAT_MS)
        try:
            yield
        finally:
            self._beat()
            self._timer.stop()

    def worst(self, during: str | None = None) -> Block:
        """The stretch with the most processor time."""
        blocks = [b for b in self.blocks if during is None or b.during == during]
        return max(blocks, key=lambda block: block.busy_ms)

    def names(self) -> list[str]:
        """What was watched."""
        return list(dict.fromkeys(block.during for block in self.blocks))

    def report(self) -> str:
        """The worst stretch of everything watched, one line each."""
        return "\n".join(str(self.worst(name)) for name in self.names())

    def _beat(self) -> None:
        wall, busy = time.perf_counter(), time.thread_time()
        self.blocks.append(
            Block((busy - self._busy) * 1e3, (wall - self._wall) * 1e3, self._during)
        )
        self._wall, self._busy = wall, busy
