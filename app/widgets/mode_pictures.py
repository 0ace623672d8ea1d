"""The rotor's free vibrations at a speed: the way each goes round, its pace and its damping."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.plots.layers import arrow_head
from app.plots.palette import Palette, Theme, palette
from app.plots.style import brush, colour, font, line, no_brush, text_size

from .rotor_words import NO_MODES, mode_lines, mode_words

if TYPE_CHECKING:
    from analysis.simulate.rotor_model import Mode

_SIDE = 46.0
"""Room of one shape, pixels."""

_GAP = 12.0
_POINTS = 72
_FLAT = 0.06
"""A shape whose minor axis is less than this share of the major one goes to and fro."""


class ModePictures(QWidget):
    """One row a mode: the path of the disc, seen from the driver end, and what it is in words.

    A free vibration has a shape and a sense, but no size: all are drawn equally large.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._modes: tuple[Mode, ...] = ()
        self._speed_rpm, self._sign = 0.0, 1.0
        self._theme = Theme.LIGHT
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.setToolTip(
            "Free vibrations of the rotor at this speed: cycles per minute, as a part of running "
            "speed (X), shape at the disc, damping in % of critical. ▲: it grows by itself."
        )

    def show_modes(self, modes: tuple[Mode, ...], speed_rpm: float, sign: float) -> None:
        """Show these; `sign` is +1 for a shaft that turns counter-clockwise, else -1."""
        if (modes, speed_rpm, sign) != (self._modes, self._speed_rpm, self._sign):
            self._modes, self._speed_rpm, self._sign = modes, speed_rpm, sign
            self.setAccessibleName(self.text())
            self.update()

    def set_theme(self, theme: Theme) -> None:
        """Paint in these colours."""
        if theme is not self._theme:
            self._theme = theme
            self.update()

    def text(self) -> str:
        """The same in words, a mode a line."""
        return mode_lines(self._modes, self._speed_rpm)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint a row for each mode, as far as there is room."""
        painter, colours = QPainter(self), palette(self._theme)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        area = QRectF(self.rect()).adjusted(_GAP, 6.0, -8.0, -6.0)
        if not self._modes:
            _write(painter, area, NO_MODES, colours.muted)
        pitch = min(_SIDE + _GAP, area.height() / max(len(self._modes), 1))
        for rank, mode in enumerate(self._modes):
            row = QRectF(area.left(), area.top() + rank * pitch, area.width(), pitch)
            self._paint_shape(painter, row, mode, colours)
            self._paint_words(painter, row, mode, colours)
        painter.end()

    def _paint_shape(self, painter: QPainter, row: QRectF, mode: Mode, colours: Palette) -> None:
        side = min(_SIDE, row.height() - 6.0)
        middle = QPointF(row.left() + side / 2, row.top() + side / 2)
        points = [
            middle + QPointF(at.real, -at.imag) * (side / 2 - 3.0)
            for at in (mode.place(2.0 * math.pi * k / _POINTS, self._sign) for k in range(_POINTS))
        ]
        ink = colour(colours.alarm if mode.growth_per_s > 0.0 else colours.accent)
        painter.setPen(line(colours.hairline))
        for arm in (QPointF(side / 2, 0.0), QPointF(0.0, side / 2)):
            painter.drawLine(middle - arm, middle + arm)
        painter.setPen(line(ink))
        painter.setBrush(no_brush())
        painter.drawPolygon(QPolygonF(points))
        if abs(mode.share_forward) > _FLAT:
            # Where it moves fastest there is room for an arrow head.
            away = [points[k] - points[k - 1] for k in range(_POINTS)]
            at = max(range(_POINTS), key=lambda k: math.hypot(away[k].x(), away[k].y()))
            way = away[at] / math.hypot(away[at].x(), away[at].y())
            painter.setBrush(brush(ink))
            painter.drawPolygon(arrow_head(points[at] + way * 3.0, way, 8.0))

    def _paint_words(self, painter: QPainter, row: QRectF, mode: Mode, colours: Palette) -> None:
        left = row.left() + _SIDE + _GAP
        pace, shape, damping = mode_words(mode, self._speed_rpm)
        height = text_size(pace, "small")[1]
        top = row.top()
        last = colours.alarm_ink if mode.growth_per_s > 0.0 else colours.muted
        for words, ink, strong in (
            (pace, colours.ink, True),
            (shape, colours.muted, False),
            (damping, last, False),
        ):
            box = QRectF(left, top, row.right() - left, height)
            painter.setFont(font("small", strong=strong))
            _write(painter, box, words, ink)
            top += height


def _write(painter: QPainter, box: QRectF, words: str, ink: str) -> None:
    painter.setPen(colour(ink))
    flags = Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap
    painter.drawText(box, int(flags), words)
