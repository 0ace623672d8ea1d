"""A small read-out beside the hand, with a ground of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPolygonF

from .layers import Label, Shape
from .style import brush, colour, font, rule, text_size

if TYPE_CHECKING:
    from .palette import Palette

_BESIDE = 12.0


def chip(text: str, at: QPointF, area: QRectF, colours: Palette) -> tuple[Shape, Label]:
    """The words near a place, inside the area whatever the place; cut where they are too long."""
    room = max(area.width() - 12.0, 20.0)
    if text_size(text, "small")[0] > room:
        elide = Qt.TextElideMode.ElideRight
        text = QFontMetricsF(font("small")).elidedText(text, elide, room)
    width, height = text_size(text, "small")
    box = QRectF(0.0, 0.0, width + 10.0, height + 4.0)
    left = at.x() + _BESIDE
    if left + box.width() > area.right():
        left = at.x() - _BESIDE - box.width()
    top = at.y() - _BESIDE - box.height()
    if top < area.top():
        top = at.y() + _BESIDE
    box.moveLeft(min(max(left, area.left()), area.right() - box.width()))
    box.moveTop(min(max(top, area.top()), area.bottom() - box.height()))
    ground = Shape(QPolygonF(box), rule(colours.border), brush(colours.card))
    return ground, Label(text, box.adjusted(5, 2, -5, -2), colour(colours.ink), font("small"))
