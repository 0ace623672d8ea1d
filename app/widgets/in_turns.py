"""Work that is done a piece a turn of the event loop, so that no turn takes long by itself."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QWidget


def once(owner: QObject, after_ms: int, do: Callable[[], object]) -> QTimer:
    """A timer that does something once, a while after it is started."""
    timer = QTimer(owner)
    timer.setSingleShot(True)
    timer.setInterval(after_ms)
    timer.timeout.connect(do)
    return timer


class InTurns(QObject):
    """Pieces by key, first come first done; a piece that is due already is not due twice."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._due: dict[object, Callable[[], None]] = {}
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._step)

    @property
    def idle(self) -> bool:
        """Whether nothing is due."""
        return not self._due

    def add(self, key: object, piece: Callable[[], None], after_ms: int = 0) -> None:
        """Do this in a turn of its own; a newer piece takes the place of one of the same key."""
        self._due[key] = piece
        if not self._timer.isActive():
            self._timer.start(after_ms)

    def paint_later(self, widget: QWidget) -> None:
        """Paint a widget that comes into sight in a turn of its own: a whole page is too much."""
        widget.setUpdatesEnabled(False)
        self.add(("paint", widget), lambda: widget.setUpdatesEnabled(True))

    def hurry(self) -> None:
        """Do everything that is due, now."""
        while self._due:
            self._due.pop(next(iter(self._due)))()

    def _step(self) -> None:
        if self._due:
            piece = self._due.pop(next(iter(self._due)))
            if self._due:
                self._timer.start(0)
            piece()
