"""What a reader does to a window in a minute, in one go, under a watchdog."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QEvent, QEventLoop, QObject, QTimer

from app.main_window import MainWindow
from app.plots.canvas import Canvas
from app.session.session import Session

from .watchdog import Watchdog


class PaintCount(QObject):
    """Counts the paint events of a window's pictures: one that paints nothing is quick."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__()
        self.count = 0
        for canvas in window.findChildren(Canvas):
            canvas.viewport().installEventFilter(self)

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        """Count, and let pass."""
        if event.type() == QEvent.Type.Paint:
            self.count += 1
        return False


def spin(milliseconds: int) -> None:
    """Leave the thread to the event loop."""
    loop = QEventLoop()
    QTimer.singleShot(milliseconds, loop.quit)
    loop.exec()


def spin_until(done: Callable[[], bool], limit_s: float = 120.0) -> None:
    """Leave the thread to the event loop until something holds.

    Raises:
        TimeoutError: when it does not within the limit.
    """
    start = time.monotonic()
    while not done():
        if time.monotonic() - start > limit_s:
            raise TimeoutError
        spin(3)


def is_settled(session: Session) -> bool:
    """The pass has ended, the moment is answered, and nothing runs."""
    answered = session.timeline.complete and session.reader.result is not None
    return answered and session.runner.is_idle() and session.reader.calm.is_settled()


def work_through(
    window: MainWindow, path: Path, watchdog: Watchdog, pages: Sequence[str] = ()
) -> None:
    """Open, drag, change units and themes, turn to some pages, change sizes, open again."""
    session = window.session
    with watchdog.watch("open, timeline and overview fill"):
        session.open(path)
        spin_until(lambda: session.capture.phase == "ready")
        spin_until(lambda: is_settled(session))
    with watchdog.watch("drag"):
        for step in range(150):
            session.moment.set(60.0 + 0.16 * step)
            spin(8)
        spin_until(lambda: is_settled(session))
    with watchdog.watch("unit"):
        for _ in range(4):
            session.unit.toggle()
            spin(60)
    with watchdog.watch("theme"):
        for theme in ("dark", "light", "dark", "light"):
            session.theme.set(theme)
            spin(120)
    with watchdog.watch("pages"):
        for key in (*pages, *pages):
            window.show_page(key)
            spin(60)
        # What follows, and the next round, is about the first page again.
        window.show_page("moment")
        spin(60)
    with watchdog.watch("resize"):
        for size in ((1500, 950), (1200, 800), (1600, 1000)):
            window.resize(*size)
            spin(150)
    with watchdog.watch("turns and plane"):
        session.moment.set_half_turns(8.0)
        spin(100)
        session.choice.set(plane="Non-drive end")
        spin(150)
    with watchdog.watch("open again"):
        session.open(path)
        spin_until(lambda: session.capture.phase == "ready")
        spin_until(lambda: is_settled(session))
