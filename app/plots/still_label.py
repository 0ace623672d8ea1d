"""A label that may change with every frame: new words move nothing around it."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRect, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

_FAR = 100_000
_LEAST_SHOWN = 5
"""A letter or two and an ellipsis tell nobody anything."""


class StillLabel(QLabel):
    """Plain words that wrap. Only words that need another height have the page laid out anew.

    A `QLabel` asks for that with every change of its text, which in a drag takes as long as
    drawing two pictures. So this one keeps its words to itself and paints them.

    `grown()`: it needs another height, and what is around it will move.
    """

    grown = Signal()

    def __init__(self, lines: int = 1, parent: QWidget | None = None) -> None:
        """Room is kept for so many lines, so that few words more or less move nothing at all."""
        super().__init__(parent)
        self._least_lines = lines
        self._words = ""
        self._height = 0
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)

    def text(self) -> str:
        """The words."""
        return self._words

    def setText(self, text: str) -> None:  # noqa: N802
        """Show these words."""
        if text != self._words:
            self._words = text
            self.setAccessibleName(text)
            self._measure()
            self.update()

    def sizeHint(self) -> QSize:
        """Room for all the lines at the width that there is."""
        return QSize(0, self._height or self._lines_height())

    def minimumSizeHint(self) -> QSize:
        """No less."""
        return self.sizeHint()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """At another width there may be other lines."""
        super().resizeEvent(event)
        self._measure()

    def changeEvent(self, event: QEvent) -> None:
        """In another font, too."""
        super().changeEvent(event)
        self._measure()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the words in the colour of the label's role."""
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        painter.drawText(self.contentsRect(), self._flags(), self._shown())
        painter.end()

    def _measure(self) -> None:
        height = self._lines_height()
        if height != self._height:
            self._height = height
            self.updateGeometry()
            self.grown.emit()

    def _lines_height(self) -> int:
        margins, metrics = self.contentsMargins(), self.fontMetrics()
        width = max(self.width() - margins.left() - margins.right(), 1)
        lines = metrics.boundingRect(QRect(0, 0, width, _FAR), self._flags(), self._words)
        least = metrics.height() + (self._least_lines - 1) * metrics.lineSpacing()
        return max(lines.height(), least) + margins.top() + margins.bottom()

    def _flags(self) -> int:
        return int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignTop)

    def _shown(self) -> str:
        """What is painted of the words."""
        return self._words


class ElidedStillLabel(StillLabel):
    """One line that gives way: what does not fit ends in an ellipsis and is told by the tooltip."""

    def _lines_height(self) -> int:
        return self.fontMetrics().height()

    def _flags(self) -> int:
        return int(Qt.TextFlag.TextSingleLine | Qt.AlignmentFlag.AlignVCenter)

    def _shown(self) -> str:
        shown = self.fontMetrics().elidedText(
            self._words, Qt.TextElideMode.ElideRight, max(self.width(), 0)
        )
        if len(shown) < _LEAST_SHOWN < len(self._words):
            shown = ""
        tip = self._words if shown != self._words else ""
        if tip != self.toolTip():
            self.setToolTip(tip)
        return shown
