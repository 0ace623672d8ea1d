"""Lays the settings of a level picture: lines with steps, handles to hold them by, their words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPolygonF

from .layers import Label, Rule, Shape, circle, crisp
from .level_lines import LevelLine, raised_runs
from .palette import Palette, Theme, palette
from .style import (
    brush,
    colour,
    condition_colour,
    condition_ink,
    font,
    rule,
    text_size,
    with_alpha,
)

if TYPE_CHECKING:
    from analysis.model.replay_results import MonitorSeries
    from analysis.model.units import LengthUnit

    from .canvas import Canvas
    from .free_room import FreeRoom, Place
    from .limit_words import Side

REACH = 6.0
"""A line can be held from so many pixels off."""

_HANDLE = (9.0, 5.0)


@dataclass(frozen=True)
class Stretch:
    """A level piece of a line, pixels; there the setting counts `factor` times."""

    left: float
    right: float
    y: float
    factor: float


@dataclass(frozen=True)
class Laid:
    """Everything laid for the settings, and where each line can be held."""

    rules: tuple[Rule, ...] = ()
    shapes: tuple[Shape, ...] = ()
    labels: tuple[Label, ...] = ()
    grips: tuple[tuple[LevelLine, tuple[Stretch, ...]], ...] = field(default=())

    def line_at(self, position: QPointF) -> tuple[LevelLine, Stretch] | None:
        """The line under the hand that can be dragged, and the piece of it; the nearest."""
        best: tuple[float, LevelLine, Stretch] | None = None
        for line, stretches in self.grips:
            for each in stretches:
                away = abs(position.y() - each.y)
                across = each.left - REACH <= position.x() <= each.right + 2.5 * REACH
                if line.draggable and across and away <= REACH and (not best or away < best[0]):
                    best = (away, line, each)
        return (best[1], best[2]) if best else None


class LevelLayout:
    """Lays lines and words over a canvas."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        # Words stay where they are while a line is dragged, as long as there is room.
        self._kept: dict[tuple[int, Side, str], float] = {}

    def forget(self) -> None:
        """Let every word find its place anew."""
        self._kept.clear()

    def lay(
        self,
        lines: Sequence[LevelLine],
        series: MonitorSeries,
        room: FreeRoom,
        unit: LengthUnit,
        theme: Theme,
        selected: tuple[int, Side] | None,
    ) -> Laid:
        """Lines, handles and words; `room` already knows the curves."""
        rules: list[Rule] = []
        shapes: list[Shape] = []
        grips = [(line, tuple(self._stretches(line, series))) for line in lines]
        rect = self._canvas.data_rect()
        for line, stretches in grips:
            seen = [each for each in stretches if rect.top() <= each.y <= rect.bottom()]
            rules += self._rules(line, stretches, theme)
            for each in seen:
                room.take(QRectF(each.left, each.y - 0.5, each.right - each.left, 1.0))
            for one, other in pairwise(stretches):
                top = min(one.y, other.y)
                room.take(QRectF(one.right - 0.5, top, 1.0, abs(one.y - other.y)))
            if seen and line.draggable:
                picked = selected == (line.index, line.side)
                shapes.append(self._handle(stretches[-1].y, line, picked, theme))
        labels: list[Label] = []
        for line, stretches in grips:
            grounds, words = self._words(line, stretches, room, unit, theme)
            shapes += grounds
            labels += words
        return Laid(tuple(rules), tuple(shapes), tuple(labels), tuple(grips))

    def _pixel(self, value_um: float) -> float:
        return crisp(self._canvas.to_pixels(0.0, value_um).y())

    def _stretches(self, line: LevelLine, series: MonitorSeries) -> list[Stretch]:
        """Level pieces from left to right, raised while the multiplier is in force."""
        rect = self._canvas.data_rect()
        base = self._pixel(line.value_um)
        if line.raised_um is None or line.limit.multiplier is None:
            return [Stretch(rect.left(), rect.right(), base, 1.0)]
        found, at, factor = [], rect.left(), line.limit.multiplier.factor
        high = self._pixel(line.raised_um)
        for start_s, end_s in raised_runs(line.limit, series.time_s, series.speed_rpm):
            start, end = (self._canvas.to_pixels(each, 0.0).x() for each in (start_s, end_s))
            start, end = max(start, rect.left()), min(end, rect.right())
            if end <= start:
                continue
            if start > at:
                found.append(Stretch(at, start, base, 1.0))
            found.append(Stretch(start, end, high, factor))
            at = end
        if at < rect.right():
            found.append(Stretch(at, rect.right(), base, 1.0))
        return found

    def _rules(self, line: LevelLine, stretches: Sequence[Stretch], theme: Theme) -> list[Rule]:
        rect = self._canvas.data_rect()
        style = Qt.PenStyle.DashLine if line.level == "alarm" else Qt.PenStyle.SolidLine
        if line.role == "in_force":
            style = Qt.PenStyle.DotLine
        pen = rule(condition_colour(line.level, theme), style)
        found = [
            Rule(QLineF(each.left, each.y, each.right, each.y), pen)
            for each in stretches
            if rect.top() <= each.y <= rect.bottom()
        ]
        for one, other in pairwise(stretches):
            top, foot = sorted((one.y, other.y))
            top, foot = max(top, rect.top()), min(foot, rect.bottom())
            if foot > top:
                found.append(Rule(QLineF(crisp(one.right), top, crisp(one.right), foot), pen))
        return found

    def _handle(self, y: float, line: LevelLine, picked: bool, theme: Theme) -> Shape:
        """A small tab at the end of the line; filled when the keys move this one."""
        rect = self._canvas.data_rect()
        left, (width, half) = rect.right() + 1.5, _HANDLE
        y = min(max(y, rect.top()), rect.bottom())
        corners = [
            QPointF(left, y),
            QPointF(left + half, y - half),
            QPointF(left + width, y - half),
            QPointF(left + width, y + half),
            QPointF(left + half, y + half),
        ]
        hue = condition_colour(line.level, theme)
        fill = brush(hue) if picked else brush(colour(palette(theme).card))
        return Shape(QPolygonF(corners), rule(hue), fill)

    def _words(
        self,
        line: LevelLine,
        stretches: Sequence[Stretch],
        room: FreeRoom,
        unit: LengthUnit,
        theme: Theme,
    ) -> tuple[list[Shape], list[Label]]:
        rect = self._canvas.data_rect()
        text = _cut(line.text(unit), rect.width() - 8.0)
        y = stretches[-1].y if stretches else self._pixel(line.value_um)
        if not rect.top() <= y <= rect.bottom():
            # Beyond the scale: an arrow at the edge says where it is.
            text = f"{'↑' if y < rect.top() else '↓'} {text.lstrip('◆▲ ')}"
            text = _cut(text, rect.width() - 8.0)
            y = min(max(y, rect.top()), rect.bottom())
        key = (line.index, line.side, line.role)
        found = self._place(text, y, room, key)
        if found is None:
            return [], []
        text, place = found
        room.take(place.rect)
        self._kept[key] = place.rect.left()
        colours = palette(theme)
        ink = condition_ink(line.level, theme)
        if line.role == "in_force":
            ink = colour(colours.muted)
        label = Label(text, place.rect, ink, font("tiny"))
        return ([] if place.clear else [ground_of(place.rect, colours)]), [label]

    def _place(
        self, text: str, y: float, room: FreeRoom, key: tuple[int, Side, str]
    ) -> tuple[str, Place] | None:
        """A place beside the line; fewer words where all of them would cover a curve."""
        parts = text.split(" · ")
        tries = [" · ".join(parts[:count]) for count in range(len(parts), 1, -1)] or [text]
        fallback: tuple[str, Place] | None = None
        for each in tries:
            width, height = text_size(each, "tiny")
            steps = [-height - 1.0, 1.0]
            for far in range(1, 5):
                steps += [steps[0] - far * (height + 1.0), steps[1] + far * (height + 1.0)]
            wanted = self._kept.get(key, room.area.right() - width - 6.0)
            place = room.find(width, height, [y + step for step in steps], wanted)
            if place is not None and place.clear:
                return each, place
            fallback = fallback or (None if place is None else (each, place))
        return fallback


def ground_of(rect: QRectF, colours: Palette) -> Shape:
    """A ground for words that cannot keep clear of a curve."""
    box = QPolygonF(rect.adjusted(-2, 0, 2, 0))
    return Shape(box, rule(with_alpha(colours.card, 0.0)), brush(with_alpha(colours.card, 0.82)))


def curve_names(
    names: Sequence[str], hues: Sequence[QColor], room: FreeRoom, colours: Palette
) -> tuple[list[Shape], list[Label]]:
    """The names of the probes beside their curves, where there are several."""
    shapes: list[Shape] = []
    labels: list[Label] = []
    if len(names) < 2:
        return shapes, labels
    for rank, name in enumerate(names):
        width, height = text_size(name, "tiny")
        place = room.beside(rank, width + 10.0, height)
        if place is None:
            continue
        room.take(place.rect)
        dot = QPointF(place.rect.left() + 3.0, place.rect.center().y())
        if not place.clear:
            shapes.append(ground_of(place.rect, colours))
        shapes.append(circle(dot, 3.0, rule(hues[rank]), brush(hues[rank])))
        box = place.rect.adjusted(10.0, 0.0, 0.0, 0.0)
        labels.append(Label(name, box, colour(colours.ink), font("tiny")))
    return shapes, labels


def _cut(text: str, room: float) -> str:
    """The text without its last parts, as far as it has to be."""
    parts = text.split(" · ")
    while len(parts) > 1 and text_size(" · ".join(parts), "tiny")[0] > room:
        parts.pop()
    return " · ".join(parts)
