"""What lies over the timeline's curves: moment, spans, and the strip that says what is seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPolygonF

from .layers import Label, Rule, Shape, crisp
from .style import brush, colour, condition_colour, font, rule, text_size, with_alpha

if TYPE_CHECKING:
    from analysis.model.span import TimeSpan

    from .canvas import Canvas
    from .palette import Palette, Theme

TOP = 18.0
"""Room at the top of the data area for the words of the moment, pixels."""

STRIP_HEIGHT = 5.0
STRIP_ROOM = 9.0
"""Room above the data area for the strip, pixels."""

_LEAST_THUMB = 6.0
_HEIGHT_SHARE = {"alarm": 0.5, "trip": 1.0, "fault": 0.75}


@dataclass(frozen=True)
class Marked:
    """What is marked on the timeline: the moment with its words, the chosen span, named ones."""

    moment: tuple[float, str] | None = None
    span: TimeSpan | None = None
    named: tuple[tuple[str, TimeSpan], ...] = ()


class TimelineDecor:
    """Lays the marks over a canvas, as plain rules, shapes and labels."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas

    def lay(
        self, marked: Marked, whole: TimeSpan, seen: TimeSpan, colours: Palette
    ) -> tuple[list[Rule], list[Shape], list[Label]]:
        """Everything that is marked, in the colours of a theme."""
        rules: list[Rule] = []
        shapes: list[Shape] = []
        labels: list[Label] = []
        rect = self._canvas.data_rect()
        if marked.span is not None:
            shapes += self._shaded(marked.span, rect, colours)
        taken: list[QRectF] = []
        if marked.moment is not None:
            at = self._pixel(marked.moment[0])
            if rect.left() - 1 <= at <= rect.right() + 1:
                label = self._cursor(crisp(at), marked.moment[1], rules, shapes, colours)
                labels.append(label)
                taken = [label.rect, QRectF(at - 7, label.rect.top(), 14, label.rect.height())]
        for name, span in marked.named:
            self._bracket(name, span, rules, labels, taken, colours)
        if seen != whole:
            shapes += self._strip(marked, whole, seen, colours)
        return rules, shapes, labels

    def time_on_strip(self, position: QPointF, whole: TimeSpan) -> float | None:
        """The time that a place on the strip stands for; `None` beside the strip."""
        rect = self._canvas.data_rect()
        if position.y() >= rect.top() or not rect.left() <= position.x() <= rect.right():
            return None
        return self.strip_time(position, whole)

    def strip_time(self, position: QPointF, whole: TimeSpan) -> float:
        """The same for a hand that has left the strip while it drags."""
        rect = self._canvas.data_rect()
        share = (position.x() - rect.left()) / max(rect.width(), 1.0)
        return whole.start_s + min(max(share, 0.0), 1.0) * whole.length_s

    def _pixel(self, time_s: float) -> float:
        return self._canvas.to_pixels(time_s, 0.0).x()

    def _ends(self, span: TimeSpan) -> tuple[float, float] | None:
        """Left and right end within the picture; `None` where none of it is seen."""
        rect = self._canvas.data_rect()
        left, right = self._pixel(span.start_s), self._pixel(span.end_s)
        if right < rect.left() or left > rect.right():
            return None
        return max(left, rect.left()), min(right, rect.right())

    def _shaded(self, span: TimeSpan, rect: QRectF, colours: Palette) -> list[Shape]:
        ends = self._ends(span)
        if ends is None:
            return []
        left, right = ends
        box = QRectF(left, rect.top() + TOP, max(right - left, 1.0), rect.height() - TOP)
        fill = brush(with_alpha(colours.accent, 0.14))
        return [Shape(QPolygonF(box), rule(colours.accent), fill)]

    def _cursor(
        self, at: float, words: str, rules: list[Rule], shapes: list[Shape], colours: Palette
    ) -> Label:
        rect = self._canvas.data_rect()
        ink = colour(colours.ink)
        rules.append(Rule(QLineF(at, rect.top() + 4, at, rect.bottom()), rule(ink)))
        top = QPointF(at, rect.top() + 11)
        handle = [top, top + QPointF(-5, -8), top + QPointF(5, -8)]
        shapes.append(Shape(QPolygonF(handle), rule(ink), brush(ink)))
        width, _ = text_size(words, "small")
        left = at + 9 if at + 9 + width <= rect.right() else at - 9 - width
        return Label(words, QRectF(left, rect.top(), width, 15), ink, font("small"))

    def _bracket(
        self,
        name: str,
        span: TimeSpan,
        rules: list[Rule],
        labels: list[Label],
        taken: list[QRectF],
        colours: Palette,
    ) -> None:
        """A bar over a named span, with its name where there is room for it."""
        ends = self._ends(span)
        if ends is None:
            return
        left, right = ends[0], max(ends[1], ends[0] + 3.0)
        rect = self._canvas.data_rect()
        y = crisp(rect.top() + TOP - 2)
        pen = rule(colours.accent)
        rules.append(Rule(QLineF(left, y, right, y), pen))
        for at, time_s in ((left, span.start_s), (right, span.end_s)):
            if rect.left() <= self._pixel(time_s) <= rect.right():
                rules.append(Rule(QLineF(crisp(at), y - 3, crisp(at), y + 3), pen))
        width, _ = text_size(name, "tiny")
        box = QRectF(left + 4, rect.top() + 1, width, 14)
        clash = any(box.adjusted(-4, 0, 4, 0).intersects(other) for other in taken)
        if width + 8 <= right - left and not clash:
            labels.append(Label(name, box, colour(colours.accent_ink), font("tiny")))
            taken.append(box)

    def _strip(
        self, marked: Marked, whole: TimeSpan, seen: TimeSpan, colours: Palette
    ) -> Sequence[Shape]:
        rect = self._canvas.data_rect()
        top = rect.top() - STRIP_ROOM + 1.0
        per_s = rect.width() / max(whole.length_s, 1e-12)

        def bar(start_s: float, end_s: float, least: float, room: float = 0.0) -> QPolygonF:
            left = rect.left() + (start_s - whole.start_s) * per_s
            width = max((end_s - start_s) * per_s, least)
            left = min(max(left - (least if width == least else 0) / 2, rect.left()), rect.right())
            left = min(left, rect.right() - width)
            return QPolygonF(QRectF(left, top + room, width, STRIP_HEIGHT - 2 * room))

        none = rule(with_alpha(colours.accent, 0.0))
        found = [Shape(bar(whole.start_s, whole.end_s, 0.0, 1.5), none, brush(colours.hairline))]
        if marked.span is not None:
            soft = brush(with_alpha(colours.accent, 0.35))
            found.append(Shape(bar(marked.span.start_s, marked.span.end_s, 2.0, 1.0), none, soft))
        thumb = bar(seen.start_s, seen.end_s, _LEAST_THUMB)
        found.append(Shape(thumb, none, brush(colours.accent)))
        if marked.moment is not None:
            at = marked.moment[0]
            found.append(Shape(bar(at, at, 2.0), none, brush(colours.ink)))
        return found


def ribbon_shapes(
    canvas: Canvas, runs: Sequence[tuple[str, float, float]], height: float, theme: Theme
) -> tuple[Shape, ...]:
    """The states along the foot of the data area: name, start and end in s of each run."""
    rect = canvas.data_rect()
    shapes = []
    for name, start_s, end_s in runs:
        left = max(canvas.to_pixels(start_s, 0.0).x(), rect.left())
        right = min(canvas.to_pixels(end_s, 0.0).x(), rect.right())
        if right < left:
            continue
        tall = _HEIGHT_SHARE[name] * height
        box = QRectF(left, rect.bottom() - tall, max(right - left, 2.0), tall)
        hue = condition_colour(name, theme)
        if name == "fault":
            fill, pen = brush(hue, Qt.BrushStyle.BDiagPattern), rule(hue)
        else:
            fill, pen = brush(hue), rule(with_alpha(hue, 0.0))
        shapes.append(Shape(QPolygonF(box), pen, fill))
    return tuple(shapes)
