"""The speed and the time of the moment, large: the first thing a reader looks for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QSizePolicy, QWidget

from app.plots import style

from . import words

if TYPE_CHECKING:
    from analysis.model.results import SpeedReading


class SpeedCard(QFrame):
    """Mean speed over the turns read, r/min, and where in the capture that is."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = style.Theme.LIGHT
        self._texts = ("", "", "")
        self.setProperty("role", "card")
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        self.setMaximumHeight(52)
        self.set_reading(None, None)

    def sizeHint(self) -> QSize:
        """Two lines."""
        return QSize(200, 52)

    def minimumSizeHint(self) -> QSize:
        """One line where there is no room for two."""
        return QSize(160, 34)

    def set_reading(self, speed: SpeedReading | None, moment_s: float | None) -> None:
        """Show a speed and a moment."""
        texts = (
            words.speed(speed),
            "" if moment_s is None else words.seconds(moment_s),
            _spread(speed),
        )
        if texts != self._texts:
            self._texts = texts
            self.setAccessibleName(f"Speed {texts[0]} at {texts[1]}; {texts[2]}")
            self.setToolTip(f"Mean speed over the turns read, r/min\n{texts[2]}")
            self.update()

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._theme = theme
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Frame by the style sheet, then the figures."""
        super().paintEvent(event)
        painter = QPainter(self)
        colours = style.palette(self._theme)
        box = QRectF(self.rect()).adjusted(11, 5, -11, -5)
        top = QRectF(box.left(), box.top(), box.width(), 22.0)
        painter.setPen(QColor(colours.ink))
        painter.setFont(style.font("figure", strong=True))
        painter.drawText(top, Qt.AlignmentFlag.AlignLeft | _MIDDLE, self._texts[0])
        painter.drawText(top, Qt.AlignmentFlag.AlignRight | _MIDDLE, self._texts[1])
        painter.setPen(QColor(colours.muted))
        painter.setFont(style.font("small"))
        if self.height() < 50:
            return
        below = QRectF(box.left(), top.bottom(), box.width(), 18.0)
        painter.drawText(below, Qt.AlignmentFlag.AlignLeft | _MIDDLE, self._texts[2])


def _spread(speed: SpeedReading | None) -> str:
    if speed is None:
        return "no reading yet"
    if speed.kind == "blocks":
        return f"speed not known · {speed.revolutions} blocks of 0.1 s"
    turns = f"{speed.revolutions} turn{'s' if speed.revolutions != 1 else ''}"
    if speed.kind == "speed":
        return f"as given · {turns}"
    if speed.min_rpm is None or speed.max_rpm is None:
        return turns
    decimals = 0 if speed.max_rpm >= 100 else 1
    low, high = words.number(speed.min_rpm, decimals), words.number(speed.max_rpm, decimals)
    return f"{low} to {high} over {turns}"


_MIDDLE = Qt.AlignmentFlag.AlignVCenter
