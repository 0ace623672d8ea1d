"""Work for pictures that nobody sees at the moment: one after the other, a turn of the loop each.

A theme changes every picture of every page. Those in sight change at once; the others would keep
the window waiting for what cannot be seen, so they follow in their time, or when they are shown.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, QObject
from PySide6.QtWidgets import QWidget

from app.work.step import Step

AFTER_MS, BETWEEN_MS = 400, 25
"""What is in sight first."""


def is_unseen(widget: QWidget) -> bool:
    """In a window that is shown, but not in sight itself: on another page."""
    return not widget.isVisible() and widget.window().isVisible()


_NAME = "pictures out of sight"

_waiting: list[Later] = []


class Later(QObject):
    """Does something for one widget when there is time, once however often it is put off."""

    def __init__(self, widget: QWidget, work: Callable[[], None]) -> None:
        super().__init__(widget)
        self._work = work
        widget.destroyed.connect(lambda: self._leave())

    def put_off(self) -> None:
        """Do it later."""
        if not _waiting:
            _next_step(AFTER_MS)
        if self not in _waiting:
            _waiting.append(self)

    def now(self) -> None:
        """Do it now, if it was put off."""
        if self._leave():
            self._work()

    def _leave(self) -> bool:
        if self not in _waiting:
            return False
        _waiting.remove(self)
        return True


def _step() -> None:
    if _waiting:
        _waiting[0].now()
    if _waiting:
        _next_step(BETWEEN_MS)


def _next_step(after_ms: int) -> None:
    application = QCoreApplication.instance()
    step = application.findChild(Step, _NAME)
    if step is None:
        step = Step(application, BETWEEN_MS, _step)
        step.setObjectName(_NAME)
    step.start(after_ms)
