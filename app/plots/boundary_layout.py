"""What lies over the trip boundary: the side that acts, the settings, and their words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPolygonF

from .boundary_marks import SIZE, SettingMark, level_at, longest_at, mark_shape
from .layers import Label, Rule, Shape, crisp
from .level_layout import ground_of
from .palette import Theme, palette
from .style import (
    blend,
    brush,
    colour,
    condition_colour,
    condition_ink,
    font,
    no_brush,
    rule,
    text_size,
)

if TYPE_CHECKING:
    from analysis.model.replay_results import BoundaryCurve
    from analysis.model.setup import Level
    from analysis.model.units import LengthUnit

    from .canvas import Canvas
    from .free_room import FreeRoom, Place
    from .limit_words import Side

_HATCH_APART, _HATCH = 11.0, 6.0
_PICKED = 9.0
_RANK_COST = 14.0


class BoundaryLayout:
    """Lays one picture; `room` already knows the curves."""

    def __init__(self, canvas: Canvas, room: FreeRoom, unit: LengthUnit, theme: Theme) -> None:
        self._canvas = canvas
        self._room = room
        self._unit = unit
        self._theme = theme
        self._colours = palette(theme)

    def hachures(self, curves: Sequence[BoundaryCurve], level: Level) -> tuple[Rule, ...]:
        """Short strokes on the side of the settings that act, as on the edge of a region."""
        rect = self._canvas.data_rect()
        pen = rule(blend(condition_colour(level, self._theme), self._colours.card, 0.55))
        found = []
        for curve in curves:
            down = 1.0 if curve.side == "above" else -1.0
            for at in np.arange(rect.left() + 8.0, rect.right(), _HATCH_APART).tolist():
                level_um = level_at(curve, self._canvas.to_data(QPointF(at, 0.0)).x())
                if level_um is None:
                    continue
                start = self._canvas.to_pixels(0.0, level_um)
                start.setX(at)
                end = start + QPointF(-_HATCH, down * _HATCH)
                if rect.contains(start) and rect.contains(end):
                    found.append(Rule(QLineF(start, end), pen))
        return tuple(found)

    def marks(
        self,
        marks: Sequence[SettingMark],
        curves: Sequence[BoundaryCurve],
        picked: Side | None,
    ) -> tuple[list[Rule], list[Shape], list[Label]]:
        """The settings with their distances and words; those tried lie over those in force."""
        rules: list[Rule] = []
        shapes: list[Shape] = []
        labels: list[Label] = []
        rect = self._canvas.data_rect().adjusted(-1, -1, 1, 1)
        places = [self._canvas.to_pixels(mark.delay_s, mark.level_um) for mark in marks]
        for at in places:
            reach = SIZE + 1.0
            self._room.take(QRectF(at.x() - reach, at.y() - reach, 2 * reach, 2 * reach))
        by_side = {curve.side: curve for curve in curves}
        for mark, at in zip(marks, places, strict=True):
            hue = condition_colour(mark.level, self._theme)
            active = mark.role == "active"
            if active and mark.side in by_side:
                rules += self._distances(mark, at, by_side[mark.side])
            if rect.contains(at):
                fill = brush(hue if active else self._colours.card)
                shapes.append(Shape(mark_shape(at, mark.level), rule(hue), fill))
            if active and picked == mark.side:
                frame = QRectF(at.x() - _PICKED, at.y() - _PICKED, 2 * _PICKED, 2 * _PICKED)
                shapes.append(Shape(QPolygonF(frame), rule(self._colours.focus), no_brush()))
        for mark, at in reversed(list(zip(marks, places, strict=True))):
            grounds, words = self._mark_words(mark, at)
            shapes = grounds + shapes
            labels += words
        return rules, shapes, labels

    def _distances(self, mark: SettingMark, at: QPointF, curve: BoundaryCurve) -> list[Rule]:
        """From the mark to the curve, along both axes: the two margins."""
        if mark.margin is None:
            return []
        found = []
        rect = self._canvas.data_rect()
        pen = rule(self._colours.muted, Qt.PenStyle.DotLine)
        level, delay = level_at(curve, mark.delay_s), longest_at(curve, mark.level_um)
        if level is not None and mark.margin.level_um is not None:
            top, foot = sorted((at.y(), self._canvas.to_pixels(0.0, level).y()))
            x = crisp(at.x())
            found.append(Rule(QLineF(x, max(top, rect.top()), x, min(foot, rect.bottom())), pen))
            self._room.take(QRectF(x - 1.0, top, 2.0, foot - top))
        if delay is not None and mark.margin.delay_s is not None:
            left, right = sorted((at.x(), self._canvas.to_pixels(delay, 0.0).x()))
            y = crisp(at.y())
            found.append(Rule(QLineF(left, y, min(right, rect.right()), y), pen))
            self._room.take(QRectF(left, y - 1.0, right - left, 2.0))
        return found

    def _mark_words(self, mark: SettingMark, at: QPointF) -> tuple[list[Shape], list[Label]]:
        """What a setting is, and what it does: beside its mark, the second line strong."""
        found = self._room_for(mark, at)
        if found is None:
            return [], []
        place, lines = found
        self._room.take(place.rect)
        grounds = [] if place.clear else [ground_of(place.rect, self._colours)]
        plain = colour(self._colours.muted if mark.role == "in_force" else self._colours.ink)
        acts = mark.role == "active" and mark.margin is not None and mark.margin.acts
        words, top = [], place.rect.top()
        for text, strong, height in lines:
            box = QRectF(place.rect.left(), top, place.rect.width(), height)
            top += height
            ink = condition_ink(mark.level, self._theme) if strong and acts else plain
            words.append(Label(text, box, ink, font("small", strong=strong)))
        return grounds, words

    def _room_for(
        self, mark: SettingMark, at: QPointF
    ) -> tuple[Place, list[tuple[str, bool, float]]] | None:
        """Place and lines (text, strong, height); fewer words in a small picture."""
        first, second = mark.text(self._unit)
        verdict = second.split(",")[0]
        fallback = None
        tries = [(first, second), (first, verdict)]
        if mark.role == "active":
            tries.append(("", verdict))
        for texts in tries:
            lines = []
            for text, strong in zip(texts, (False, True), strict=True):
                if text:
                    lines.append((text, strong, text_size(text, "small", strong=strong)[1]))
            if not lines:
                continue
            width = max(text_size(text, "small", strong=each)[0] for text, each, _ in lines) + 2.0
            height = sum(line[2] for line in lines)
            tops = [at.y() - height / 2, at.y() - height - 8.0, at.y() + 8.0]
            for far in range(1, 7):
                tops += [at.y() - height - 8.0 - 16.0 * far, at.y() + 8.0 + 16.0 * far]
            wanted = at.x() + SIZE + 8.0
            place = self._room.find(width, height, tops, wanted, rank_cost=_RANK_COST)
            if place is not None and place.clear:
                return place, lines
            fallback = fallback or (None if place is None else (place, lines))
        return fallback

    def names(self, names: Sequence[str], first: int) -> list[Label]:
        """The name of every capture beside its curve; `first` is the place of the first one."""
        labels = []
        ink = colour(self._colours.muted)
        for place, name in enumerate(names):
            width, height = text_size(name, "tiny")
            found = self._room.beside(first + place, width, height)
            if found is not None and found.clear:
                self._room.take(found.rect)
                labels.append(Label(name, found.rect, ink, font("tiny")))
        return labels

    def side_words(self, curves: Sequence[BoundaryCurve]) -> list[Label]:
        """Which side acts, where there is one curve and room for it."""
        if len(curves) != 1 or not np.isfinite(curves[0].level_um).any():
            return []
        rect = self._canvas.data_rect()
        above = curves[0].side == "above"
        labels = []
        for text, high in (("settings here do not act", above), ("settings here act", not above)):
            width, height = text_size(text, "tiny")
            top = rect.top() + 4.0 if high else rect.bottom() - height - 4.0
            wanted = rect.right() - width - 6.0 if high == above else rect.left() + 8.0
            place = self._room.find(width, height, [top], wanted)
            if place is not None and place.clear:
                self._room.take(place.rect)
                ink = colour(self._colours.muted)
                labels.append(Label(text, place.rect, ink, font("tiny")))
        return labels
