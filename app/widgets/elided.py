"""A label that gives way where there is no room, and tells the whole text on hover."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget


class ElidedLabel(QLabel):
    """One line; what does not fit ends in an ellipsis."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._full = text
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def full_text(self) -> str:
        """The whole text."""
        return self._full

    def set_full_text(self, text: str) -> None:
        """Show this text, as far as it fits."""
        if text != self._full:
            self._full = text
            self.setAccessibleName(text)
            self._elide()

    def minimumSizeHint(self) -> QSize:
        """As narrow as need be."""
        return QSize(0, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Cut anew."""
        super().resizeEvent(event)
        self._elide()

    def _elide(self) -> None:
        shown = self.fontMetrics().elidedText(
            self._full, Qt.TextElideMode.ElideRight, max(self.width(), 0)
        )
        if shown != self.text():
            self.setText(shown)
        self.setToolTip(self._full if shown != self._full else "")
