"""Amplitude of an order against speed or time, with what it is held against."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPolygonF

from analysis.rotor.response.sweep import HALF_POWER

from .axes import plain_number
from .layers import Label, Rule, Shape, circle, crisp
from .run_view import CriticalMark, CurveStyle, critical_text, reference_text, slow_roll_text
from .speed_plot import SpeedPlot
from .style import brush, colour, condition_colour, condition_ink, font, rule, text_size, with_alpha

if TYPE_CHECKING:
    from analysis.model.results import Floats
    from analysis.views.references import ReferenceLine
    from analysis.views.run_traces import RunTrace

    from .free_room import FreeRoom
    from .palette import Palette

_HEADROOM = 1.12
_STYLES = {
    "alarm": Qt.PenStyle.DashLine,
    "trip": Qt.PenStyle.SolidLine,
    "zone": Qt.PenStyle.DashDotLine,
    "test limit": Qt.PenStyle.DashDotLine,
}
_SHORTER = 45.0
"""A shorter text counts like so many pixels from its peak."""

_NEAR = 1.45
"""A reference up to this many times the largest amplitude belongs into the scale."""


class AmplitudePlot(SpeedPlot):
    """Compensated amplitude solid, as measured dotted; critical speeds with half-power points."""

    NAME = "Amplitude against speed"
    DESCRIPTION = (
        "Amplitude of the order against speed in r/min, µm or mil p-p. Solid: slow roll taken off; "
        "lighter: run-down; dotted: as measured; dashed: the other capture. Dots: critical speeds "
        "and their half-power points. Press: move the moment to the nearest point. "
        "Wheel: zoom. F: fit."
    )
    EMPTY = (
        "No run yet. Open a capture in which the speed changes, with a phase reference; or a table "
        "with speed_rpm and the 1X columns of the revolutions."
    )
    LEAST_SPAN = 2.0

    def _build(self) -> None:
        super()._build()
        # The speed stands under the phase, once.
        self.canvas.bottom.label_wanted = False
        self.canvas.bottom.showLabel(False)
        self.canvas.bottom.setStyle(showValues=False)
        # Half a tick's height below: there are no numbers to stand there.
        self.canvas.chart.set_margins(2, 8, 20, 8)

    def _label_axes(self) -> None:
        self._label_across()
        order = self._view.order if self._view is not None else 1
        self.canvas.left_axis.set_quantity(
            f"{order}X", f"{self._unit.value} p-p", self._unit.per_um
        )

    def title(self) -> str:
        """Order and abscissa."""
        if self._view is None:
            return self.NAME
        return f"{self._view.order}X against {self._view.axis}"

    def subtitle(self) -> str:
        """What is taken off."""
        return "" if self._view is None else slow_roll_text(self._view, self._unit)

    def _heights(self, trace: RunTrace, kind: str) -> Floats:
        out: Floats = np.abs(trace.raw if kind == "raw" else trace.vectors)
        return out

    def _y_range(self) -> tuple[float, float]:
        tops = [
            float(np.nanmax(self._heights(trace, kind)))
            for trace, kind in self._wanted()
            if np.isfinite(self._heights(trace, kind)).any()
        ]
        if tops:
            top = max(tops)
            levels = [float(np.nanmin(r.level_um)) for r in self._view.references]
            top = max([top, *(level for level in levels if level <= _NEAR * top)])
            ends = self._y_scale.ends
            if ends is None or top * 1.02 > ends[1]:
                self._y_scale.include(0.0, top * _HEADROOM)
        return self._y_scale.ends or (0.0, 100.0)

    # Decoration ----------------------------------------------------------------------------------

    def _lay(self, room: FreeRoom, colours: Palette) -> None:
        self._lay_operating(room, colours)
        lines = self._add_lines(room)
        marks = self._view.criticals if self._view.axis == "speed" else ()
        for mark in sorted(marks, key=lambda m: -m.critical.amplitude_um_pp):
            self._lay_critical(mark, room, colours)
        for reference, points in lines:
            self._lay_reference(reference, points, room, colours)
        self._name_curves(room)

    def _lay_operating(self, room: FreeRoom, colours: Palette) -> None:
        operating = self._view.operating_rpm
        if operating is None or self._view.axis != "speed":
            return
        rect = room.area
        left, right = (self.canvas.to_pixels(speed, 0.0).x() for speed in operating)
        left, right = max(left, rect.left()), min(right, rect.right())
        if right - left < 1.0:
            return
        band = QRectF(left, rect.top(), right - left, rect.height())
        fill = brush(with_alpha(colours.normal, 0.12))
        self._ground[1].append(Shape(QPolygonF(band), rule(with_alpha(colours.normal, 0.0)), fill))
        for text in ("operating range", "operating", "op."):
            width, height = text_size(text, "tiny")
            if width <= band.width() - 4 or text == "op.":
                break
        at = min(max(band.center().x() - width / 2, rect.left()), rect.right() - width)
        box = QRectF(at, rect.top() + 2, width, height)
        room.take(box)
        self._laid[2].append(Label(text, box, colour(colours.muted), font("tiny")))

    def _add_lines(self, room: FreeRoom) -> list[tuple[ReferenceLine, list[QPointF]]]:
        """The references in pixels: all of them first, so that no word stands on another's line."""
        lines = [(reference, self._points_of(reference)) for reference in self._view.references]
        for _, points in lines:
            if points:
                xs, ys = np.array([p.x() for p in points]), np.array([p.y() for p in points])
                room.add_curve(xs, ys)
        return lines

    def _lay_reference(
        self, reference: ReferenceLine, points: list[QPointF], room: FreeRoom, colours: Palette
    ) -> None:
        """The line where it is inside, and its words; words alone where it is above the scale."""
        limit = reference.kind in ("alarm", "trip")
        rect = room.area
        if not points or min(point.y() for point in points) > rect.bottom():
            return
        words = condition_ink(reference.kind, self._theme) if limit else colour(colours.muted)
        text = reference_text(reference, self._unit)
        inside = [point for point in points if point.y() >= rect.top()]
        if inside:
            ink = condition_colour(reference.kind, self._theme) if limit else words
            pen = rule(ink, _STYLES[reference.kind])
            for start, end in pairwise(points):
                if start.y() >= rect.top() and end.y() >= rect.top():
                    self._ground[0].append(Rule(_crisp_line(start, end), pen))
            width, height = text_size(text, "tiny")
            at = inside[0].y()
            tops, left = [at - height - 1, at + 2], max(inside[0].x(), rect.left()) + 6
        else:
            text = f"{text}, above this scale"
            width, height = text_size(text, "tiny")
            tops, left = [rect.top() + 2 + k * (height + 1) for k in range(5)], rect.left() + 6
        place = room.find(width, height, tops, left)
        if place is not None:
            room.take(place.rect)
            self._laid[2].append(Label(text, place.rect, words, font("tiny")))

    def _points_of(self, reference: ReferenceLine) -> list[QPointF]:
        """The line in pixels, over what is seen; over time only what is level has a place."""
        low, high = self.canvas.box.viewRange()[0]
        speed, level = reference.speed_rpm, reference.level_um
        if self._view.axis == "time":
            if np.ptp(level) > 0.0:
                return []
            speed, level = np.array([low, high]), np.array([level[0], level[0]])
        if len(speed) == 0 or speed[-1] < low or speed[0] > high:
            return []
        x = np.clip(speed, low, high)
        y = np.where(x == speed, level, np.interp(x, speed, level))
        pairs = zip(x.tolist(), y.tolist(), strict=True)
        return [self.canvas.to_pixels(a, b) for a, b in pairs]

    def _lay_critical(self, mark: CriticalMark, room: FreeRoom, colours: Palette) -> None:
        critical, rect = mark.critical, room.area
        hue = CurveStyle(self._view.place(mark.probe), "up").ink(self._theme)
        pen = rule(hue)
        peak = self.canvas.to_pixels(critical.speed_rpm, critical.amplitude_um_pp)
        if not rect.contains(peak):
            return
        level = HALF_POWER * critical.amplitude_um_pp
        for side in critical.half_power_rpm:
            if side is None:
                continue
            at = self.canvas.to_pixels(side, level)
            if rect.left() <= at.x() <= rect.right():
                self._laid[1].append(circle(at, 2.5, pen, brush(colours.card)))
        low, high = critical.half_power_rpm
        if low is not None and high is not None:
            y = crisp(self.canvas.to_pixels(critical.speed_rpm, level).y())
            ends = [self.canvas.to_pixels(n, level).x() for n in (low, high)]
            ends = [min(max(x, rect.left()), rect.right()) for x in ends]
            dotted = rule(hue, Qt.PenStyle.DotLine)
            self._laid[0].append(Rule(QLineF(ends[0], y, ends[1], y), dotted))
        self._laid[1].append(circle(peak, 3.0, pen, brush(hue)))
        self._label_critical(mark, peak.x(), peak.y(), room)

    def _label_critical(self, mark: CriticalMark, x: float, y: float, room: FreeRoom) -> None:
        hue = CurveStyle(self._view.place(mark.probe), "up").ink(self._theme)
        several = len({each.probe for each in self._view.criticals}) > 1
        name = f"{mark.probe} " if several else ""
        best: tuple[float, str, QRectF] | None = None
        for rank, text in enumerate(
            (
                name + critical_text(mark.critical),
                name + critical_text(mark.critical, short=True),
                f"{plain_number(mark.critical.speed_rpm, 0)}",
            )
        ):
            width, height = text_size(text, "small", strong=True)
            tops = [y - height / 2, y - height - 4, *(y + down for down in range(4, 54, 3))]
            tops = [max(top, room.area.top() + 2) for top in tops]
            for left in (x + 10, x - 10 - width):
                place = room.find(width, height, tops, left, rank_cost=8.0)
                if place is None or not place.clear:
                    continue
                # Fewer words beside the peak say more than all of them far off.
                cost = _apart(place.rect, x, y) + _SHORTER * rank
                if best is None or cost < best[0]:
                    best = (cost, text, place.rect)
        if best is not None:
            room.take(best[2].adjusted(-4, 0, 4, 0))
            self._laid[2].append(Label(best[1], best[2], hue, font("small", strong=True)))


def _crisp_line(start: QPointF, end: QPointF) -> QLineF:
    if start.y() == end.y():
        return QLineF(start.x(), crisp(start.y()), end.x(), crisp(end.y()))
    return QLineF(start, end)


def _apart(rect: QRectF, x: float, y: float) -> float:
    """How far a rectangle is from a point, pixels."""
    across = max(rect.left() - x, 0.0, x - rect.right())
    along = max(rect.top() - y, 0.0, y - rect.bottom())
    return across + along
