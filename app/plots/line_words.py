"""Words on level lines of a picture: beside the line, or at the edge that the line lies beyond."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPen

from .layers import Label, Rule, Shape, crisp
from .level_layout import ground_of
from .style import font, text_size

if TYPE_CHECKING:
    from .canvas import Canvas
    from .free_room import FreeRoom, Place
    from .palette import Palette


@dataclass(frozen=True)
class LevelMark:
    """A level line with its words; `value` in the unit of the data.

    `short` are the words where the others would cover a curve, `beyond` those where the line lies
    outside the scale (empty: none then).
    """

    value: float
    text: str
    pen: QPen
    ink: QColor
    beyond: str = ""
    short: str = ""


def lay_marks(
    marks: Sequence[LevelMark], canvas: Canvas, room: FreeRoom, colours: Palette
) -> tuple[list[Rule], list[Shape], list[Label]]:
    """Lines, grounds for words that cannot keep clear of a curve, and words.

    `room` already knows the curves. Words that find no place at all are left out; the first marks
    choose first.
    """
    rect = canvas.data_rect()
    rules: list[Rule] = []
    seen: list[tuple[LevelMark, float, bool]] = []
    for mark in marks:
        y = crisp(canvas.to_pixels(0.0, mark.value).y())
        inside = rect.top() <= y <= rect.bottom()
        if inside:
            rules.append(Rule(QLineF(rect.left(), y, rect.right(), y), mark.pen))
            room.take(QRectF(rect.left(), y - 0.5, rect.width(), 1.0))
        seen.append((mark, y, inside))
    shapes: list[Shape] = []
    labels: list[Label] = []
    for mark, y, inside in seen:
        text = mark.text if inside else mark.beyond
        if not inside:
            y = min(max(y, rect.top()), rect.bottom())
            text = f"{'↑' if y <= rect.top() else '↓'} {text}" if text else ""
        if not text:
            continue
        tries = [text] if not mark.short or not inside else [text, mark.short]
        found = _first_clear(tries, y, room)
        if found is None:
            continue
        text, place = found
        room.take(place.rect.adjusted(-6.0, 0.0, 6.0, 0.0))
        if not place.clear:
            shapes.append(ground_of(place.rect, colours))
        labels.append(Label(text, place.rect, mark.ink, font("tiny")))
    return rules, shapes, labels


def _first_clear(tries: Sequence[str], y: float, room: FreeRoom) -> tuple[str, Place] | None:
    """The first text that finds a place clear of curves, else the shortest in the best one."""
    found: tuple[str, Place] | None = None
    metrics = QFontMetricsF(font("tiny"))
    for each in tries:
        text = metrics.elidedText(each, Qt.TextElideMode.ElideRight, room.area.width() - 12.0)
        width, height = text_size(text, "tiny")
        steps = [-height - 1.0, 1.0]
        steps += [steps[0] - height - 1.0, steps[1] + height + 1.0]
        wanted = room.area.right() - width - 6.0
        place = room.find(width, height, [y + step for step in steps], wanted, rank_cost=2000.0)
        if place is None:
            continue
        found = text, place
        if place.clear:
            break
    return found
