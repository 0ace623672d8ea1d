"""The window in a process of its own: first picture, frames while the moment moves, GUI thread."""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from app.main_window import MainWindow, prepare_application
from app.session.session import Session
from app.work.garbage import GarbageKeeper
from app.work.libraries import load_libraries
from app.work.runner import Callbacks
from tests.app.gui_thread.watchdog import Watchdog
from tests.app.gui_thread.window_run import is_settled, spin, spin_until, work_through

DRAG_S = 5.0
MOUSE_MS = 8


def made_window() -> MainWindow:
    """The window as the program shows it, with nothing to do any more."""
    prepare_application()
    window = MainWindow(Session())
    window.resize(1600, 1000)
    window.show()
    window.session.runner.run("libraries", load_libraries, Callbacks())
    spin_until(window.session.runner.is_idle)
    spin(300)
    return window


def first_picture(window: MainWindow, path: Path) -> float:
    """Seconds from the wish to open until the moment stands painted."""
    session, start = window.session, time.perf_counter()
    old = session.capture.capture
    session.open(path)
    spin_until(lambda: session.capture.capture is not old and session.reader.result is not None)
    spin_until(window.is_painted)
    QApplication.processEvents()
    return time.perf_counter() - start


def drag(window: MainWindow, middle_s: float) -> tuple[float, float]:
    """Answers drawn a second while the moment moves, and longest wall time of one turn, ms."""
    session, drawn, steps = window.session, [0], [0]
    session.reader.answered.connect(lambda: drawn.__setitem__(0, drawn[0] + 1))

    def move() -> None:
        steps[0] += 1
        session.moment.set(middle_s + 0.05 * (steps[0] % 120))

    timer = QTimer()
    timer.timeout.connect(move)
    watchdog = Watchdog()
    with watchdog.watch("drag"):
        timer.start(MOUSE_MS)
        start = time.perf_counter()
        spin(round(DRAG_S * 1000))
        rate = drawn[0] / (time.perf_counter() - start)
        timer.stop()
    return rate, max(block.wall_ms for block in watchdog.blocks)


def redraw_rate(window: MainWindow) -> float:
    """Frames a second of drawing an answer that is there: what the pictures alone allow."""
    reader, frames = window.session.reader, 100
    start = time.perf_counter()
    for _ in range(frames):
        reader.answered.emit()
        window.repaint()
    return frames / (time.perf_counter() - start)


def main(what: str, path: Path) -> None:
    """Print the figures as JSON."""
    window = made_window()
    keeper = GarbageKeeper()
    session = window.session
    if what == "picture":
        start = time.perf_counter()
        figures = {"first_s": first_picture(window, path)}
        spin_until(lambda: session.timeline.complete)
        figures["timeline_s"] = time.perf_counter() - start
        spin_until(lambda: is_settled(session))
    elif what == "drag":
        first_picture(window, path)
        spin_until(lambda: is_settled(session))
        rate, longest = drag(window, session.moment.moment_s)
        figures = {"rate": rate, "longest_ms": longest, "redraw": redraw_rate(window)}
    else:
        watchdog = Watchdog()
        window.pages.prepare(after_ms=0)
        spin_until(lambda: len(window.pages.ready) == len(window.pages))
        work_through(window, path, watchdog, list(window.pages))
        worst = watchdog.worst()
        wall = max(watchdog.blocks, key=lambda block: block.wall_ms)
        figures = {"busy_ms": worst.busy_ms, "during": worst.during, "wall_ms": wall.wall_ms}
    keeper.stop()
    window.close()
    print(json.dumps(figures), flush=True)
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
