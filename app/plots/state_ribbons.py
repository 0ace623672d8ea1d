"""Ribbons of states. Each state has its shape and its word; colour comes on top.

Normal is a line at the foot. Waiting is low and hatched, set is full and solid, held is full,
outlined and striped, void is crossed. So they differ in grey, too.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPolygonF

from analysis.model.replay_results import LimitState, StateRun

from .layers import Label, Shape, crisp
from .palette import Theme, palette
from .style import blend, brush, colour, condition_colour, font, rule, text_size, with_alpha

if TYPE_CHECKING:
    from analysis.model.setup import Level

    from .canvas import Canvas

WORDS: Final[dict[LimitState, str]] = {
    "normal": "normal",
    "waiting": "waiting",
    "set": "set",
    "held": "held",
    "void": "no reading",
}

Floats = NDArray[np.float64]
Ranks = NDArray[np.int8]
Piece = tuple[LimitState, float, float, float]

_RANKS: Final[tuple[LimitState, ...]] = ("normal", "waiting", "void", "held", "set")
"""From least to most: what a column shows when several are in it."""

_HEIGHTS: Final = {"waiting": 0.5, "set": 1.0, "held": 1.0, "void": 0.7}
_MOST_RUNS = 300
_LEAST_WIDTH = 2.0
_COLUMN = 3.0
_LEAST_TALL = 11.0
"""A ribbon lower than this has no room for words."""


class RunTable:
    """The runs of one limit as arrays, so that thousands of them are cut to a part at once."""

    def __init__(self, runs: Sequence[StateRun]) -> None:
        self.runs = runs
        self.start_s = np.array([run.start_s for run in runs], dtype=np.float64)
        self.end_s = np.array([run.end_s for run in runs], dtype=np.float64)
        self.ranks = np.array([_RANKS.index(run.state) for run in runs], dtype=np.int8)

    def within(self, low_s: float, high_s: float) -> tuple[int, int]:
        """The first run that reaches into a part, and the one after the last."""
        first = int(np.searchsorted(self.end_s, low_s))
        last = int(np.searchsorted(self.start_s, high_s, side="right"))
        return first, max(first, last)


class Ribbon:
    """One ribbon: its shapes and its words."""

    def __init__(
        self, canvas: Canvas, box: QRectF, level: Level, theme: Theme, ground: QColor
    ) -> None:
        self._canvas = canvas
        self._ground = ground
        self._box = box
        self._hue = condition_colour(level, theme)
        self._theme = theme
        self.shapes: list[Shape] = []
        self.labels: list[Label] = []

    def lay(self, table: RunTable) -> Ribbon:
        """Lay the runs that are seen."""
        box = self._box
        pieces = self._pieces(table)
        for place, (state, left, right, length_s) in enumerate(pieces):
            if state == "normal":
                continue
            self._piece(state, left, right)
            after = pieces[place + 1] if place + 1 < len(pieces) else None
            free = after[2] if after is not None and after[0] == "normal" else right
            if after is None:
                free = box.right()
            self._word(state, left, right, free, length_s)
        return self

    def _pieces(self, table: RunTable) -> list[Piece]:
        """State, left and right in pixels and length in s of every run that is seen."""
        box = self._box
        zero, one = self._canvas.to_pixels(0.0, 0.0).x(), self._canvas.to_pixels(1.0, 0.0).x()
        first, last = table.within(
            (box.left() - zero) / (one - zero), (box.right() - zero) / (one - zero)
        )
        part = slice(first, last)
        left = np.maximum(zero + table.start_s[part] * (one - zero), box.left())
        right = np.minimum(zero + table.end_s[part] * (one - zero), box.right())
        if last - first > _MOST_RUNS:
            return self._columns(left, right, table.ranks[part])
        lengths = table.end_s[part] - table.start_s[part]
        rows = zip(
            table.ranks[part].tolist(), left.tolist(), right.tolist(), lengths.tolist(), strict=True
        )
        return [(_RANKS[rank], start, end, length) for rank, start, end, length in rows]

    def _columns(self, left: Floats, right: Floats, ranks: Ranks) -> list[Piece]:
        """The worst state of every column, joined again: a chattering limit has thousands."""
        box = self._box
        count = max(int(box.width() / _COLUMN), 1)
        first = np.clip(((left - box.left()) / _COLUMN).astype(np.int64), 0, count - 1)
        last = np.clip(((right - box.left()) / _COLUMN).astype(np.int64), 0, count - 1)
        # Runs follow each other without gaps: a column holds those from the one that reaches
        # into it to the last one that starts in it.
        worst = np.zeros(count, dtype=np.int8)
        np.maximum.at(worst, first, ranks)
        np.maximum.at(worst, last, ranks)
        for place in np.flatnonzero(last - first > 1).tolist():
            inner = worst[first[place] + 1 : last[place]]
            np.maximum(inner, ranks[place], out=inner)
        edges = [0, *(np.flatnonzero(np.diff(worst)) + 1).tolist(), count]
        return [
            (
                _RANKS[int(worst[start])],
                box.left() + start * _COLUMN,
                box.left() + stop * _COLUMN,
                0.0,
            )
            for start, stop in pairwise(edges)
        ]

    def _piece(self, state: LimitState, left: float, right: float) -> None:
        box, ground = self._box, colour(palette(self._theme).card)
        tall = _HEIGHTS[state] * box.height()
        area = QRectF(left, box.bottom() - tall, max(right - left, _LEAST_WIDTH), tall)
        if area.right() > box.right():
            area.moveRight(box.right())
        # On whole pixels: frames and stripes are then one pixel, not two half ones.
        area = QRectF(
            QPointF(crisp(area.left()), crisp(area.top())),
            QPointF(crisp(area.right()), crisp(box.bottom() - 1.0)),
        )
        hue = QColor(palette(self._theme).fault) if state == "void" else self._hue
        pen = rule(hue)
        polygon = QPolygonF(area)
        if state == "set":
            self.shapes.append(Shape(polygon, rule(with_alpha(hue, 0.0)), brush(hue)))
        elif state == "held":
            self.shapes.append(Shape(polygon, pen, brush(blend(hue, ground, 0.10))))
            self._stripes(area, pen)
        elif state == "waiting":
            soft = blend(hue, ground, 0.7)
            fill = brush(blend(hue, ground, 0.16))
            self.shapes.append(Shape(polygon, rule(with_alpha(hue, 0.0)), fill))
            hatch = brush(soft if area.width() > 4.0 else hue, Qt.BrushStyle.BDiagPattern)
            self.shapes.append(Shape(polygon, rule(soft), hatch))
        else:
            self.shapes.append(Shape(polygon, pen, brush(hue, Qt.BrushStyle.DiagCrossPattern)))

    def _stripes(self, area: QRectF, pen: object) -> None:
        """Lines along a held state, as thin shapes: they lie over its ground."""
        lines = 2 if area.height() < 18.0 else 3
        for number in range(1, lines + 1):
            y = crisp(area.top() + number * area.height() / (lines + 1))
            stripe = QPolygonF([QRectF(area.left(), y, area.width(), 0.0).topLeft()])
            stripe.append(QRectF(area.left(), y, area.width(), 0.0).topRight())
            self.shapes.append(Shape(stripe, pen, brush(self._hue)))

    def _word(
        self, state: LimitState, left: float, right: float, free: float, length_s: float
    ) -> None:
        """The state's word, within it or just behind it; with its length where there is room."""
        if self._box.height() < _LEAST_TALL:
            return
        texts = [WORDS[state]]
        if length_s > 0.0:
            texts.insert(0, f"{texts[0]} {length_s:.1f} s")
        for text in texts:
            width, height = text_size(text, "tiny")
            inside = state != "waiting" and width + 10.0 <= right - left
            if not inside and width + 10.0 > free - right:
                continue
            self._write(text, state, QRectF(0, 0, width, height), left, right, inside)
            return

    def _write(
        self, text: str, state: LimitState, box: QRectF, left: float, right: float, inside: bool
    ) -> None:
        colours = palette(self._theme)
        box.moveCenter(self._box.center())
        box.moveLeft(left + 6.0 if inside else right + 4.0)
        none = rule(with_alpha(colours.card, 0.0))
        if inside and state == "set":
            ink = _ink_on(self._hue, (colours.card, colours.ink, colours.paper))
        else:
            # Stripes, crosses and the lines of resets would run through the letters.
            ground = box.adjusted(-3, 0, 3, 0).intersected(self._box.adjusted(0, 1, 0, -2))
            fill = brush(colours.card if inside else self._ground)
            self.shapes.append(Shape(QPolygonF(ground), none, fill))
            ink = colour(colours.ink if inside else colours.muted)
        self.labels.append(Label(text, box, ink, font("tiny")))


def _ink_on(ground: QColor, candidates: Sequence[str]) -> QColor:
    """The candidate that stands out most."""
    here = _luminance(ground)

    def contrast(name: str) -> float:
        high, low = sorted((_luminance(QColor(name)), here), reverse=True)
        return (high + 0.05) / (low + 0.05)

    return colour(max(candidates, key=contrast))


def _luminance(tint: QColor) -> float:
    """Relative luminance (WCAG 2.2)."""
    parts = np.array(tint.getRgbF()[:3])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])
