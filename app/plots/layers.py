"""What lies under and over the curves: grid and rules below, direct labels above.

Both paint in pixels of the chart, so lines are one device pixel and text does not scale. Their
content is replaced as plain data, and painted by the canvas itself: as items of a scene they would
be asked for their place and size many times a frame.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPen, QPolygonF


@dataclass(frozen=True)
class Rule:
    """A straight line in pixels."""

    line: QLineF
    pen: QPen


@dataclass(frozen=True)
class Shape:
    """A filled polygon or, with `ellipse`, the ellipse in a polygon's bounding box; pixels."""

    polygon: QPolygonF
    pen: QPen
    brush: QBrush
    ellipse: bool = False


@dataclass(frozen=True)
class Label:
    """A text with its rectangle in pixels, turned about the middle by `angle` degrees."""

    text: str
    rect: QRectF
    colour: QColor
    font: QFont
    align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignLeft
    angle: float = 0.0


class Layer:
    """Paints rules, then shapes, then labels, clipped to an area.

    Attributes:
        revision: another number with every other content.
    """

    def __init__(self, area: Callable[[], QRectF], update: Callable[[QRectF], None]) -> None:
        self._area = area
        self._update = update
        self._rect = area()
        self._strokes: tuple[tuple[bool, QPen, list[QLineF]], ...] = ()
        self._rules: Sequence[Rule] = ()
        self._shapes: Sequence[Shape] = ()
        self._labels: Sequence[Label] = ()
        self.revision = 0

    def show_content(
        self,
        rules: Sequence[Rule] = (),
        shapes: Sequence[Shape] = (),
        labels: Sequence[Label] = (),
    ) -> None:
        """Replace everything painted."""
        if not (rules or shapes or labels or self._rules or self._shapes or self._labels):
            return
        if rules is not self._rules:
            self._strokes = _strokes(rules)
        self._rules, self._shapes, self._labels = rules, shapes, labels
        self.revision += 1
        # The area is asked for once a content: several frames are painted with it.
        before, self._rect = self._rect, self._area()
        self._update(before.united(self._rect))

    @property
    def labels(self) -> Sequence[Label]:
        """The labels shown."""
        return self._labels

    @property
    def rules(self) -> Sequence[Rule]:
        """The rules shown."""
        return self._rules

    @property
    def shapes(self) -> Sequence[Shape]:
        """The shapes shown."""
        return self._shapes

    def boundingRect(self) -> QRectF:
        """The area that the layer paints in."""
        return self._rect

    def paint(self, painter: QPainter) -> None:
        """Paint the content."""
        if not (self._rules or self._shapes or self._labels):
            return
        painter.save()
        painter.setClipRect(self._rect)
        for slanted, pen, lines in self._strokes:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, slanted)
            painter.setPen(pen)
            painter.drawLines(lines)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        for shape in self._shapes:
            painter.setPen(shape.pen)
            painter.setBrush(shape.brush)
            if shape.ellipse:
                painter.drawEllipse(shape.polygon.boundingRect())
            else:
                painter.drawPolygon(shape.polygon)
        for label in self._labels:
            _paint_label(painter, label)
        painter.restore()


def _strokes(rules: Sequence[Rule]) -> tuple[tuple[bool, QPen, list[QLineF]], ...]:
    """Neighbouring rules of one pen, to be painted in one call each."""
    found: list[tuple[bool, QPen, list[QLineF]]] = []
    for rule in rules:
        # Level and upright lines are crisp, and cheap, without antialiasing.
        slanted = rule.line.dx() != 0.0 and rule.line.dy() != 0.0
        if found and found[-1][0] == slanted and found[-1][1] is rule.pen:
            found[-1][2].append(rule.line)
        else:
            found.append((slanted, rule.pen, [rule.line]))
    return tuple(found)


def _paint_label(painter: QPainter, label: Label) -> None:
    rect, turned = label.rect, label.angle != 0.0
    if turned:
        painter.save()
        painter.translate(rect.center())
        painter.rotate(label.angle)
        rect = QRectF(-rect.width() / 2, -rect.height() / 2, rect.width(), rect.height())
    painter.setPen(label.colour)
    painter.setFont(label.font)
    painter.drawText(rect, _flags(label.align), label.text)
    if turned:
        painter.restore()


@lru_cache
def _flags(align: Qt.AlignmentFlag) -> int:
    """In the middle of the height, and never cut; putting flags together takes its time."""
    return int(align | Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextDontClip)


def crisp(value: float) -> float:
    """The middle of a pixel: a line there is one pixel wide, not two half ones."""
    return round(value - 0.5) + 0.5


def arrow_head(tip: QPointF, direction: QPointF, length: float = 9.0) -> QPolygonF:
    """A small filled arrow head; `direction` is a unit vector in pixels (y down)."""
    back = tip - direction * length
    side = QPointF(-direction.y(), direction.x()) * (length * 0.42)
    return QPolygonF([tip, back + side, back + direction * (length * 0.22), back - side])


def circle(centre: QPointF, radius: float, pen: QPen, brush: QBrush) -> Shape:
    """A circle with a radius in pixels."""
    corner = QPointF(radius, radius)
    return Shape(QPolygonF([centre - corner, centre + corner]), pen, brush, ellipse=True)
