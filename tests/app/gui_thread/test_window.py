"""The GUI thread is never away from its event loop for longer than 50 ms (design)."""

from __future__ import annotations

import time

from PySide6.QtCore import QTimer

from app.main_window import MainWindow

from .rounds import assert_never_busy_for_long
from .watchdog import Watchdog
from .window_run import PaintCount, spin, work_through

FEWEST_PAINTS = 300
"""A window that paints less is quick for that reason: such a round counts for nothing."""


def test_a_busy_thread_is_noticed(qtbot):
    watchdog = Watchdog()

    def work() -> None:
        until = time.thread_time() + 0.08
        while time.thread_time() < until:
            pass

    with watchdog.watch("work"):
        QTimer.singleShot(20, work)
        spin(200)
    assert watchdog.worst().busy_ms >= 80.0
    assert watchdog.worst().wall_ms >= watchdog.worst().busy_ms - 1.0


def test_waiting_is_no_work(qtbot):
    watchdog = Watchdog()
    with watchdog.watch("idle"):
        spin(100)
    assert watchdog.worst().busy_ms < 20.0


def test_the_gui_thread_is_never_busy_for_long(big: MainWindow, huge_path, capsys):
    def go_round(watchdog: Watchdog) -> int:
        paints = PaintCount(big)
        work_through(big, huge_path, watchdog)
        return paints.count

    assert_never_busy_for_long(go_round, fewest_paints=FEWEST_PAINTS, capsys=capsys)
