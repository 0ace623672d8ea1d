"""One line of words that belong to a picture, between its title and itself."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLabel, QSizePolicy


class Note(QLabel):
    """One line below the title; what does not fit is told by the tooltip."""

    def __init__(self) -> None:
        super().__init__()
        self._full = ""
        self.setProperty("role", "footer")
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setContentsMargins(10, 0, 10, 0)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def set_full_text(self, text: str) -> None:
        """Show this text, as far as it fits."""
        self._full = text
        self.setVisible(bool(text))
        self._elide()

    def full_text(self) -> str:
        """The whole text."""
        return self._full

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Cut anew."""
        super().resizeEvent(event)
        self._elide()

    def _elide(self) -> None:
        room = max(self.width() - 20, 0)
        shown = self.fontMetrics().elidedText(self._full, Qt.TextElideMode.ElideRight, room)
        if shown != self.text():
            self.setText(shown)
        self.setToolTip(self._full if shown != self._full else "")
