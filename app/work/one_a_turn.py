"""Work for the GUI thread that is too long for one turn of the event loop, cut into many."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from .step import Step

BETWEEN_MS = 3
"""Room for events that came meanwhile."""


class OneATurn(QObject):
    """Does what it is given one after the other, one a turn; in between the window lives.

    What is given under a key that is still waiting takes the place of the older.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._waiting: dict[object, Callable[[], None]] = {}
        self._timer = Step(self, BETWEEN_MS, self._step)

    def put(self, key: object, function: Callable[[], None]) -> None:
        """Do this in a turn of its own."""
        self._waiting[key] = function
        if not self._timer.is_waiting():
            self._timer.start()

    def paint_later(self, widget: QWidget) -> None:
        """Paint a widget that comes into sight in a turn of its own: a whole page is too much."""
        widget.setUpdatesEnabled(False)
        self.put(("paint", widget), lambda: widget.setUpdatesEnabled(True))

    def is_idle(self) -> bool:
        """Whether nothing waits."""
        return not self._waiting

    def _step(self) -> None:
        function = self._waiting.pop(next(iter(self._waiting)))
        if self._waiting:
            self._timer.start()
        function()
