"""A step of work for the GUI thread, in a turn of the event loop that no other step is in.

Pages in the making, pictures that nobody sees, sections of another theme: each of them takes care
to do a little at a time. Two or three that fall due in one turn would make a long one together.
"""

from __future__ import annotations

import time
import weakref
from collections.abc import Callable
from typing import ClassVar

import shiboken6
from PySide6.QtCore import QObject, QTimer

APART_S = 0.002
"""Timers that fall due in one turn go off right after one another: what comes later than this is
taken to be in another turn."""

AGAIN_MS = 3


class _Work:
    """The latest piece of work that has been done: when it ended, whose step it was, who waits."""

    ended: float = 0.0
    by: Step | None = None
    waiting: ClassVar[weakref.WeakSet[Step]] = weakref.WeakSet()


def note_work() -> None:
    """Something long has just been done in this turn, such as drawing an answer: steps wait."""
    _Work.ended, _Work.by = time.perf_counter(), None


class Step(QObject):
    """Does something once, a while after it is started; 0: in one of the next turns."""

    def __init__(self, owner: QObject, after_ms: int, do: Callable[[], object]) -> None:
        super().__init__(owner)
        self._after_ms = after_ms
        self._do = do
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._fire)

    def start(self, after_ms: int | None = None) -> None:
        """Do it so much later, in place of a time that it was to be done at."""
        self._timer.start(self._after_ms if after_ms is None else after_ms)

    def stop(self) -> None:
        """Do it not."""
        _Work.waiting.discard(self)
        self._timer.stop()

    def is_waiting(self) -> bool:
        """Whether it is still to be done."""
        return self._timer.isActive()

    def _fire(self) -> None:
        _Work.waiting.discard(self)
        # A timer goes off once a turn: what comes again so soon is in another turn, and may go on
        # as long as it keeps nobody waiting.
        waits = any(shiboken6.isValid(each) for each in _Work.waiting)
        goes_on = _Work.by is self and not waits
        if not goes_on and time.perf_counter() - _Work.ended < APART_S:
            _Work.waiting.add(self)
            self._timer.start(AGAIN_MS)
            return
        try:
            self._do()
        finally:
            _Work.ended, _Work.by = time.perf_counter(), self
