"""What stands round a polar path: rings, spokes, and the words along the path."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor

from analysis.model.results import Floats
from analysis.model.units import LengthUnit
from analysis.views.run_traces import RunTrace

from .axes import nice_floor, nice_step, plain_number
from .canvas import Canvas
from .layers import Label, Rule, Shape, arrow_head, circle
from .orbit_labels import Places
from .palette import Theme, palette
from .run_view import CurveStyle
from .style import brush, colour, font, no_brush, rule, text_size
from .wording import setting_text

if TYPE_CHECKING:
    from .polar_plot import PolarView

_RINGS = 4
_APART = 0.14
"""Speeds along a path are told this far apart at least, as a share of the largest amplitude."""


_TURNS = np.tile([0.0, 0.5, -0.5, 1.0, -1.0, math.pi, 2.4, -2.4], 2)
_REACHES = np.repeat([9.0, 15.0], 8)
"""Places for a word beside a point: angles from the way outwards, and pixels."""


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
        self._ring_words(view, first)
        self._way(view, first)

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
        box.moveTop(min(max(box.top(), area.top()), area.bottom() - height))
        self._places.take(box)
        self.labels.append(Label(text, box, ink, font("tiny")))

    def _ring_words(self, view: PolarView, first: str) -> None:
        """Amplitudes along the spoke where the fewest of them would cover the path."""
        ink = colour(palette(self._theme).muted)
        best: list[tuple[str, QRectF]] = []
        for lag in (*range(15, 360, 30), *range(0, 360, 30)):
            direction = view.direction_deg(first, lag)
            found = []
            for value in self._values:
                last = value == self._values[-1]
                text = setting_text(value, self._unit)
                text = f"{text} p-p" if last else text.removesuffix(f" {self._unit.value}")
                width, height = text_size(text, "tiny")
                at = self._at(direction, value * self._per_um)
                box = QRectF(at.x() - width / 2, at.y() - height / 2, width, height)
                if self._places.are_free([box])[0]:
                    found.append((text, box))
            whole = bool(found) and found[-1][0].endswith("p-p")
            if whole and len(found) > len(best):
                best = found
        for text, box in best:
            self._places.take(box)
            self.labels.append(Label(text, box, ink, font("tiny"), Qt.AlignmentFlag.AlignHCenter))

    def _way(self, view: PolarView, first: str) -> None:
        """An arrow along the rim: the way in which the lag grows."""
        start, end = (view.direction_deg(first, lag) for lag in (36.0, 54.0))
        steps = np.linspace(start, end, 9)
        points = [self._at(float(step), self._outer + 6.0) for step in steps]
        pen = rule(palette(self._theme).muted)
        for a, b in pairwise(points):
            self.rules.append(Rule(QLineF(a, b), pen))
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
            self._word(f"{plain_number(critical.speed_rpm, 0)}", at, hue, strong=True)

    def speeds(self, view: PolarView, drawn: list[tuple[RunTrace, Floats, Floats]]) -> None:
        """Speeds at round numbers along the first passage of each probe, where they have room."""
        done: set[str] = set()
        for trace, x, y in drawn:
            if trace.probe in done or len(x) < 2:
                continue
            done.add(trace.probe)
            hue = CurveStyle(view.run.place(trace.probe), "up").ink(self._theme)
            for speed, index in _round_speeds(trace):
                if not np.isfinite(x[index]):
                    continue
                at = self._canvas.to_pixels(float(x[index]), float(y[index]))
                if self._word(f"{plain_number(speed, 0)}", at, hue):
                    self.shapes.append(circle(at, 1.5, rule(hue), brush(hue)))

    def _word(self, text: str, at: QPointF, ink: QColor, *, strong: bool = False) -> bool:
        """The text beside a point, outwards from the centre first; not at all without room."""
        width, height = text_size(text, "tiny", strong=strong)
        outward = math.atan2(self._centre.y() - at.y(), at.x() - self._centre.x())
        right, up = np.cos(outward + _TURNS), np.sin(outward + _TURNS)
        left = at.x() + right * _REACHES + (right - 1.0) * width / 2
        top = at.y() - up * _REACHES - (up + 1.0) * height / 2
        # All at once, as numbers: there are dozens of words with every frame.
        edges = np.column_stack([left, top, left + width, top + height])
        free = np.flatnonzero(self._places.are_free_at(edges))
        if not len(free):
            return False
        box = QRectF(float(left[free[0]]), float(top[free[0]]), width, height)
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
    coarse = nice_step((high - low) / 12.0)
    fine = nice_floor(coarse / 4.0)
    values = list(
        dict.fromkeys(
            rank * step
            for step in (coarse, fine)
            for rank in range(math.ceil(low / step), int(high / step) + 1)
        )
    )
    if not values:
        return []
    away = np.abs(speed - np.array(values)[:, np.newaxis])
    nearest = np.nanargmin(away, axis=1).tolist()
    found: dict[float, int] = dict(zip(values, nearest, strict=True))
    chosen: list[tuple[float, int]] = []
    told: list[complex] = []
    size = float(np.nanmax(np.abs(trace.vectors))) or 1.0
    for value, index in found.items():
        here = complex(trace.vectors[index])
        # Too near to a speed that is told already, as seen along the path.
        if all(abs(here - other) > _APART * size for other in told):
            told.append(here)
            chosen.append((value, index))
    return chosen
