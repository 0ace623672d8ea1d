"""Painting of a reading: the value and, smaller and muted, its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from app.plots import style

if TYPE_CHECKING:
    from app.plots.fonts import Role

    from .readings_model import Index, ReadingsModel


@dataclass(frozen=True)
class Mode:
    """How cells are written: uncertainty beside the value or below it, font, least row height."""

    inline: bool
    font: Role
    height: int


MODES: Final = (Mode(True, "body", 25), Mode(False, "body", 31), Mode(False, "small", 28))
"""The first that fits is taken, else the last."""

LEFT_MARGIN, RIGHT_MARGIN, BETWEEN = 6, 3, 5


class ReadingsDelegate(QStyledItemDelegate):
    """Draws a cell; it knows the width that a column needs."""

    def __init__(self, model: ReadingsModel, parent: QWidget) -> None:
        super().__init__(parent)
        self._model = model
        self._beside_font = style.font("tiny")
        self._beside_metrics = QFontMetrics(self._beside_font)
        self._muted = QColor()
        self._ink = QColor()
        self.set_mode(MODES[0])
        self.set_theme(style.Theme.LIGHT)

    def set_mode(self, mode: Mode) -> None:
        """Write cells in this way."""
        self.mode = mode
        self._value_font = style.font(mode.font)
        self._value_metrics = QFontMetrics(self._value_font)

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._muted = QColor(style.palette(theme).muted)
        self._ink = QColor(style.palette(theme).ink)

    def width_of(self, column: int) -> int:
        """Width that the texts of a column need, px."""
        widest = 0
        for row in range(self._model.rowCount()):
            value, beside = self._model.texts(row, column)
            wide = self._value_metrics.horizontalAdvance(value)
            small = self._beside_metrics.horizontalAdvance(beside)
            together = wide + BETWEEN + small if self.mode.inline else max(wide, small)
            widest = max(widest, together)
        return widest + LEFT_MARGIN + RIGHT_MARGIN

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """One cell."""
        value, beside = self._model.texts(index.row(), index.column())
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(option.rect, option.palette.highlight())
        colour = self._ink
        if self._model.is_state(index.column()):
            condition = self._model.rows[index.row()].reading.condition
            colour = style.condition_ink(condition, self._model.theme)
        room = option.rect.adjusted(LEFT_MARGIN, 0, -RIGHT_MARGIN + 1, 0)
        painter.setFont(self._value_font)
        painter.setPen(colour)
        if not beside:
            painter.drawText(room, _LEFT, value)
        elif self.mode.inline:
            painter.drawText(room, _LEFT, value)
            left = self._value_metrics.horizontalAdvance(value) + BETWEEN
            self._paint_beside(painter, room.adjusted(left, 1, 0, 0), beside)
        else:
            # The two lines stay together in the middle, however high the row is.
            middle = room.center().y() + 2
            painter.drawText(QRect(room.left(), middle - 17, room.width(), 17), _LEFT, value)
            below = QRect(room.left(), middle - 1, room.width(), 14)
            self._paint_beside(painter, below, beside)

    def _paint_beside(self, painter: QPainter, room: QRect, text: str) -> None:
        painter.setFont(self._beside_font)
        painter.setPen(self._muted)
        painter.drawText(room, _LEFT, text)


_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
