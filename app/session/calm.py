"""Signals slow enough for figures to be read."""

from __future__ import annotations

from PySide6.QtCore import QElapsedTimer, QObject, QTimer, Signal

READABLE_MS = 200
"""Nobody reads figures that change more often; pictures follow every answer."""


class Calm(QObject):
    """Passes a call on at once, or a little later when the last one was just now.

    The last call is always passed on, so that what stands is what holds.
    """

    passed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._since = QElapsedTimer()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._pass)

    def call(self) -> None:
        """Something changed."""
        if self._timer.isActive():
            return
        waited = self._since.elapsed() if self._since.isValid() else READABLE_MS
        if waited >= READABLE_MS:
            self._pass()
        else:
            self._timer.start(READABLE_MS - int(waited))

    def is_settled(self) -> bool:
        """Nothing waits to be passed on."""
        return not self._timer.isActive()

    def _pass(self) -> None:
        self._since.start()
        self.passed.emit()
