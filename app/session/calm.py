"""Signals slow enough for figures to be read."""

from __future__ import annotations

from PySide6.QtCore import QElapsedTimer, QObject, Qt, QTimer, Signal

READABLE_MS = 200
"""Nobody reads figures that change more often; pictures follow every answer."""

FRAME_MS = 16
"""No screen shows more than about sixty pictures a second; a mouse tells of twice as many moves."""


class Calm(QObject):
    """Passes a call on at once, or a little later when the last one was just now.

    The last call is always passed on, so that what stands is what holds.
    """

    passed = Signal()

    def __init__(self, pace_ms: int = READABLE_MS) -> None:
        super().__init__()
        self._pace_ms = pace_ms
        self._since = QElapsedTimer()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._pass)

    def call(self) -> None:
        """Something changed."""
        if self._timer.isActive():
            return
        waited = self._since.elapsed() if self._since.isValid() else self._pace_ms
        if waited >= self._pace_ms:
            self._pass()
        else:
            self._timer.start(self._pace_ms - int(waited))

    def is_settled(self) -> bool:
        """Nothing waits to be passed on."""
        return not self._timer.isActive()

    def _pass(self) -> None:
        self._since.start()
        self.passed.emit()
