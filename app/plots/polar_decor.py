"""What stands round a polar path: rings, spokes, and the words along the path."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPolygonF

from .axes import nice_floor, nice_step, plain_number
from .layers import Label, Rule, Shape, arrow_head, circle
from .palette import Theme, palette
from .run_view import CurveStyle
from .style import brush, colour, font, no_brush, rule, text_size
from .wording import setting_text

if TYPE_CHECKING:
    from analysis.model.results import Bools, Floats
    from analysis.model.units import LengthUnit
    from analysis.views.run_traces import RunTrace

    from .canvas import Canvas
    from .orbit_labels import Places
    from .polar_plot import PolarView

_RINGS = 4
_WORD_LAGS = (*range(15, 360, 30), *range(0, 360, 30))
"""Where the amplitudes of the rings are tried: between spokes first."""

_REACHES = (9.0, 15.0)
_TURNS = np.array([0.0, 0.5, -0.5, 1.0, -1.0, math.pi, 2.4, -2.4])
"""Where a word is tried: so far from its point, pixels, and turned so from outwards, radians."""

_APART = 0.14
"""Speeds along a path are told this far apart at least, as a share of the largest amplitude."""


class PolarDecor:
    """One decoration: made, filled, and its parts taken."""

    def __init__(self, canvas: Canvas, theme: Theme, unit: LengthUnit, places: Places) -> None:
        self._canvas = canvas
        self._theme = theme
        self._unit = unit
        self._places = places
        self._centre = canvas.to_pixels(0.0, 0.0)
        self._per_um = canvas.to_pixels(1.0, 0.0).x() - self._centre.x()
        self._outer = 0.0
        self._values: list[float] = []
        self.ground_rules: list[Rule] = []
        self.ground_shapes: list[Shape] = []
        self.rules: list[Rule] = []
        self.shapes: list[Shape] = []
        self.labels: list[Label] = []

    def _at(self, direction_deg: float, pixels: float) -> QPointF:
        angle = math.radians(direction_deg)
        return self._centre + QPointF(math.cos(angle), -math.sin(angle)) * pixels

    def rings(self, outer_um: float) -> None:
        """Circles at round amplitudes of the unit shown, their values told once each."""
        step = nice_step(outer_um * self._unit.per_um / _RINGS) / self._unit.per_um
        count = max(int(outer_um / step + 1e-6), 1)
        self._outer = outer_um * self._per_um
        pen = rule(palette(self._theme).grid)
        edge = rule(palette(self._theme).hairline)
        for rank in range(1, count + 1):
            size = rank * step * self._per_um
            self.ground_shapes.append(circle(self._centre, size, pen, no_brush()))
        if abs(count * step - outer_um) > 1e-6 * outer_um:
            self.ground_shapes.append(circle(self._centre, self._outer, edge, no_brush()))
        self._values = [rank * step for rank in range(1, count + 1)]

    def spokes(self, view: PolarView) -> None:
        """Every 30° of lag; the quarters by name, 0° where each probe is."""
        probes = list(dict.fromkeys(trace.probe for trace in view.run.traces)) or [""]
        pen = rule(palette(self._theme).grid)
        first = probes[0]
        for lag in range(0, 360, 30):
            end = self._at(view.direction_deg(first, lag), self._outer)
            self.ground_rules.append(Rule(QLineF(self._centre, end), pen))
        words: dict[int, list[tuple[str, QColor]]] = {}
        several = len(probes) > 1
        for rank, probe in enumerate(probes):
            hue = CurveStyle(view.run.place(probe), "up").ink(self._theme)
            at = round(view.direction_deg(probe, 0.0)) % 360
            words.setdefault(at, []).append((f"0° {probe}".strip(), hue))
            if rank == 0:
                muted = colour(palette(self._theme).muted)
                for lag in (90, 180, 270):
                    place = round(view.direction_deg(probe, lag)) % 360
                    words.setdefault(place, [])
                    if not several:
                        words[place].append((f"{lag}°", muted))
        if several:
            muted = colour(palette(self._theme).muted)
            for lag in (90, 180, 270):
                place = round(view.direction_deg(first, lag)) % 360
                if not words[place]:
                    words[place].append((f"{lag}° {first}", muted))
        for direction, texts in words.items():
            for rank, (text, ink) in enumerate(texts):
                self._outside(text, ink, direction, rank)
        self._way(view, first)
        self._ring_words(view, first)

    def _outside(self, text: str, ink: QColor, direction_deg: float, rank: int) -> None:
        width, height = text_size(text, "tiny")
        angle = math.radians(direction_deg)
        reach = self._outer + 5.0 + rank * height
        at = self._at(direction_deg, reach)
        left = at.x() - width / 2 + math.cos(angle) * width / 2
        top = at.y() - height / 2 - math.sin(angle) * height / 2
        box = QRectF(left, top, width, height)
        area = self._canvas.data_rect()
        box.moveLeft(min(max(box.left(), area.left()), area.right() - width))
        if rank:  # clear of the word before it, whichever way they stand
            box.moveTop(self.labels[-1].rect.top() - height)
        box.moveTop(min(max(box.top(), area.top()), area.bottom() - height))
        self._places.take(box)
        self.labels.append(Label(text, box, ink, font("tiny")))

    def _ring_words(self, view: PolarView, first: str) -> None:
        """Amplitudes along the spoke where the fewest of them would cover the path."""
        ink = colour(palette(self._theme).muted)
        texts = [setting_text(value, self._unit) for value in self._values]
        texts = [text.removesuffix(f" {self._unit.value}") for text in texts[:-1]] + texts[-1:]
        texts[-1] += " p-p"
        directions = [view.direction_deg(first, lag) for lag in _WORD_LAGS]
        boxes = [
            self._on_spoke(direction, value, text)
            for direction in directions
            for value, text in zip(self._values, texts, strict=True)
        ]
        free = self._places.are_free(boxes).reshape(len(directions), len(texts))
        for row in range(len(directions)):  # small rings lie close: the outer one goes before
            for rank in reversed(range(len(texts) - 1)):
                own, others = boxes[row * len(texts) + rank], range(rank + 1, len(texts))
                free[row, rank] &= not any(
                    free[row, k] and own.intersects(boxes[row * len(texts) + k]) for k in others
                )
        # The outermost one names the unit: without it the others say nothing.
        counts = np.where(free[:, -1], free.sum(axis=1), 0)
        chosen = int(counts.argmax())
        row = boxes[chosen * len(texts) :]
        shown = free[chosen] & bool(counts[chosen])
        best = [(text, box) for text, box, good in zip(texts, row, shown, strict=False) if good]
        for text, box in best:
            self._places.take(box)
            self.labels.append(Label(text, box, ink, font("tiny"), Qt.AlignmentFlag.AlignHCenter))

    def _on_spoke(self, direction_deg: float, value_um: float, text: str) -> QRectF:
        width, height = text_size(text, "tiny")
        at = self._at(direction_deg, value_um * self._per_um)
        return QRectF(at.x() - width / 2, at.y() - height / 2, width, height)

    def _way(self, view: PolarView, first: str) -> None:
        """An arrow along the rim: the way in which the lag grows."""
        start, end = (view.direction_deg(first, lag) for lag in (36.0, 54.0))
        steps = np.linspace(start, end, 9)
        points = [self._at(float(step), self._outer + 6.0) for step in steps]
        pen = rule(palette(self._theme).muted)
        for a, b in pairwise(points):
            self.rules.append(Rule(QLineF(a, b), pen))
        self._places.take(QPolygonF(points).boundingRect().adjusted(-4, -4, 4, 4))
        along = points[-1] - points[-2]
        length = math.hypot(along.x(), along.y()) or 1.0
        self.shapes.append(
            Shape(arrow_head(points[-1], along / length, 7.0), pen, brush(pen.color()))
        )
        width, height = text_size("lag", "tiny")
        at = self._at((start + end) / 2, self._outer + 18.0)
        box = QRectF(at.x() - width / 2, at.y() - height / 2, width, height)
        if self._places.first([box]) is not None:
            self.labels.append(Label("lag", box, colour(palette(self._theme).muted), font("tiny")))

    # Along the path ------------------------------------------------------------------------------

    def criticals(self, view: PolarView) -> None:
        """A filled dot at each critical speed, with its speed."""
        for mark in view.run.criticals:
            critical = mark.critical
            vector = np.array(
                [critical.amplitude_um_pp * np.exp(-1j * np.radians(critical.phase_lag_deg))]
            )
            point = view.placed(mark.probe, vector)[0]
            at = self._canvas.to_pixels(float(point.real), float(point.imag))
            hue = CurveStyle(view.run.place(mark.probe), "up").ink(self._theme)
            self.shapes.append(circle(at, 3.0, rule(hue), brush(hue)))
            text = plain_number(critical.speed_rpm, 0)
            places = self._beside(text, at, strong=True)
            self._word(text, places, self._places.are_clear(places), hue, strong=True)

    def speeds(self, view: PolarView, drawn: list[tuple[RunTrace, Floats, Floats]]) -> None:
        """Speeds at round numbers along the first passage of each probe, where they have room."""
        done: set[str] = set()
        words: list[tuple[str, QPointF, QColor]] = []
        for trace, x, y in drawn:
            if trace.probe in done or len(x) < 2:
                continue
            done.add(trace.probe)
            hue = CurveStyle(view.run.place(trace.probe), "up").ink(self._theme)
            for speed, index in _round_speeds(trace):
                if np.isfinite(x[index]):
                    at = self._canvas.to_pixels(float(x[index]), float(y[index]))
                    words.append((plain_number(speed, 0), at, hue))
        if not words:
            return
        # The path does not change while they are laid: it is looked at once, for all of them.
        boxes = np.stack([self._beside(text, at) for text, at, _ in words])
        clear = self._places.are_clear(boxes.reshape(-1, 4)).reshape(boxes.shape[:2])
        for (text, at, hue), places, free in zip(words, boxes, clear, strict=True):
            if self._word(text, places, free, hue):
                self.shapes.append(circle(at, 1.5, rule(hue), brush(hue)))

    def _beside(self, text: str, at: QPointF, *, strong: bool = False) -> Floats:
        """Places of a text beside a point, outwards from the centre first, shape (16, 4)."""
        width, height = text_size(text, "tiny", strong=strong)
        outward = math.atan2(self._centre.y() - at.y(), at.x() - self._centre.x())
        angle = outward + np.tile(_TURNS, len(_REACHES))
        reach = np.repeat(_REACHES, len(_TURNS))
        cosine, sine = np.cos(angle), np.sin(angle)
        left = at.x() + cosine * (reach + width / 2) - width / 2
        top = at.y() - sine * (reach + height / 2) - height / 2
        return np.stack([left, top, left + width, top + height], axis=1)

    def _word(
        self, text: str, places: Floats, clear: Bools, ink: QColor, *, strong: bool = False
    ) -> bool:
        """The text at the first place that is clear and not taken; not at all without room."""
        free = np.flatnonzero(clear & self._places.are_untaken(places))
        if not len(free):
            return False
        left, top, right, bottom = places[free[0]].tolist()
        box = QRectF(left, top, right - left, bottom - top)
        # A little air, so that numbers do not run into each other.
        self._places.take(box.adjusted(-3, -1, 3, 1))
        self.labels.append(Label(text, box, ink, font("tiny", strong=strong)))
        return True


def _round_speeds(trace: RunTrace) -> list[tuple[float, int]]:
    """Round speeds of a passage and the points nearest to them, rising.

    Finer where the path is long for its speeds: a peak is passed within a few hundred r/min.
    """
    speed = trace.speed_rpm
    if not (np.isfinite(speed).any() and np.isfinite(trace.vectors).any()):
        return []
    low, high = float(np.nanmin(speed)), float(np.nanmax(speed))
    if high - low <= 0.0:
        return []
    at = np.flatnonzero(np.isfinite(speed))
    at = at[np.argsort(speed[at], kind="stable")]
    rising = speed[at]
    coarse = nice_step((high - low) / 12.0)
    fine = nice_floor(coarse / 4.0)
    found: dict[float, int] = {}
    for step in (coarse, fine):
        first = math.ceil(low / step)
        for rank in range(first, int(high / step) + 1):
            value = rank * step
            if value not in found:
                found[value] = int(at[_nearest(rising, value)])
    chosen: list[tuple[float, int]] = []
    seen: list[complex] = []
    size = float(np.nanmax(np.abs(trace.vectors))) or 1.0
    for value, index in found.items():
        here = complex(trace.vectors[index])
        # Too near to a speed that is told already, as seen along the path.
        if all(abs(here - told) > _APART * size for told in seen):
            chosen.append((value, index))
            seen.append(here)
    return chosen


def _nearest(rising: Floats, value: float) -> int:
    """Place of the number nearest to a value among rising ones."""
    after = int(np.searchsorted(rising, value))
    if after == 0 or after == len(rising):
        return min(after, len(rising) - 1)
    return after if rising[after] - value < value - rising[after - 1] else after - 1
