"""Something to be done once, a while from now."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer


def once(owner: QObject, after_ms: int, do: Callable[[], object]) -> QTimer:
    """A timer that does something once, a while after it is started; 0: in the next turn."""
    timer = QTimer(owner)
    timer.setSingleShot(True)
    timer.setInterval(after_ms)
    timer.timeout.connect(do)
    return timer
