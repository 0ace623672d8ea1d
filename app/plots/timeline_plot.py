"""The whole capture at a glance: speed, p-p of one probe, states, the moment and the span."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QPolygonF
from PySide6.QtWidgets import QGraphicsPathItem

from analysis.model.setup import Setup
from analysis.model.span import TimeSpan
from analysis.views.timeline import TimelineResult

from .axes import nice_floor
from .columns import Columns, columns_of
from .layers import Label, Rule, Shape, crisp
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import (
    blend,
    brush,
    colour,
    condition_colour,
    font,
    line,
    probe_colour,
    rule,
    text_size,
    with_alpha,
)
from .timeline_shapes import filled_band, runs_of, severity_ranks

_COLUMNS = 1200
_TOP, _RIBBON, _GAP = 18.0, 12.0, 6.0
_GUTTER = 84.0
_HEIGHT_SHARE = {"alarm": 0.5, "trip": 1.0, "fault": 0.75}


@dataclass(frozen=True, eq=False)
class TimelineView:
    """What the timeline shows; `probe` names the probe whose p-p is drawn."""

    result: TimelineResult
    setup: Setup
    probe: str


class TimelinePlot(Plot):
    """Asks for a moment or a span when dragged, and shows the one that it is told."""

    moment_requested = Signal(float)
    span_requested = Signal(float, float)

    NAME = "Timeline"
    DESCRIPTION = (
        "The whole capture against time in s. Top: speed, r/min. Middle: peak-to-peak of one "
        "probe, lowest to highest of each column. Bottom: worst state of all probes, without "
        "delay and latch: half height alarm, full height trip, hatched circuit fault. "
        "Drag: move the moment. Shift and drag: choose a span."
    )
    EMPTY = "No timeline yet. Open a capture."
    MINIMUM = (360, 112)

    _view: TimelineView | None

    def _build(self) -> None:
        item = self.canvas.getPlotItem()
        item.hideAxis("left")
        self.canvas.bottom.label_wanted = False  # stands left of the ticks, to save height
        item.layout.setContentsMargins(_GUTTER, 2, 16, 2)
        self._body = QGraphicsPathItem()
        self._swing = QGraphicsPathItem()
        self._speed = pg.PlotCurveItem()
        for each in (self._body, self._swing, self._speed):
            self.canvas.box.addItem(each, ignoreBounds=True)
        self._rpm = GrowingScale(least_span=100.0)
        self._pp = GrowingScale(least_span=10.0)
        self._columns: Columns | None = None
        self._speed_known = True
        self._probe_index = 0
        self._ranks = np.empty(0, dtype=np.int8)
        self._moment: tuple[float, str] | None = None
        self._span: TimeSpan | None = None
        self._drag_from: float | None = None
        self._source: object = None
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(self._move)
        self.canvas.released.connect(self._release)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        hue = probe_colour(self._probe_index, self._theme)
        soft = blend(hue, colours.card, 0.35)
        self._body.setPen(line(soft))
        self._body.setBrush(brush(soft))
        self._swing.setPen(line(hue))
        self._swing.setBrush(brush(hue))
        self._speed.setPen(line(colours.muted))

    def _choose_colour(self) -> None:
        names = [probe.name for probe in self._view.setup.probe]
        index = names.index(self._view.probe) if self._view.probe in names else 0
        if index != self._probe_index:
            self._probe_index = index
            self._dress(palette(self._theme))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("time", "s")
        self.canvas.left_axis.set_quantity("p-p", f"{self._unit.value} p-p", self._unit.per_um)

    def _forget_scale(self) -> None:
        self._rpm.reset()
        self._pp.reset()

    def title(self) -> str:
        """Always the same."""
        return self.NAME

    def subtitle(self) -> str:
        """What the bands show, and what the hand can do."""
        if self._view is None:
            return ""
        return (
            f"speed · p-p of {self._view.probe} · worst state of all probes — "
            "drag to move the moment, shift-drag to choose a span"
        )

    def set_moment(self, time_s: float | None, label: str = "") -> None:
        """Put the cursor there, with its words; `None` takes it away."""
        wanted = None if time_s is None else (time_s, label)
        if wanted != self._moment:
            self._moment = wanted
            self._show_cursor()

    def set_span(self, span: TimeSpan | None) -> None:
        """Shade a span; `None` takes it away."""
        if span != self._span:
            self._span = span
            self._show_cursor()

    def _resized(self) -> None:
        if self._view is not None:
            self._draw()
            self._decorate()

    # Drawing -------------------------------------------------------------------------------------

    def _bands(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Speed and p-p band, in pixels from the bottom of the data area: base and top."""
        height = max(self.canvas.data_rect().height(), 60.0)
        low = _RIBBON + _GAP
        room = height - low - _TOP - _GAP
        if not self._speed_known:
            return (height - _TOP, height - _TOP), (low, low + room)
        middle = low + 0.5 * room
        return (middle + _GAP, middle + _GAP + 0.5 * room), (low, middle)

    def _draw(self) -> None:
        result = self._view.result
        if self._source is not self._view.setup or self._columns is None:
            self._source = self._view.setup
            self._forget_scale()
        self._choose_colour()
        span = result.span
        end = max(span.end_s, span.start_s + 1e-3)
        self._columns = columns_of(result.time_s, span.start_s, end, _COLUMNS)
        rows = len(result.time_s)
        self._ranks = self._columns.most(severity_ranks(result.condition, rows))
        self.canvas.set_range(
            (span.start_s, end), (0.0, max(self.canvas.data_rect().height(), 60.0))
        )
        self._speed_known = bool(np.isfinite(result.speed_rpm).any()) or rows == 0
        speed_band, pp_band = self._bands()
        self._draw_speed(speed_band)
        self._draw_pp(pp_band)

    def _draw_speed(self, band: tuple[float, float]) -> None:
        columns = self._columns
        low, high = (f(self._view.result.speed_rpm) for f in (columns.lowest, columns.highest))
        top = self._top_of(self._rpm, high)
        x = np.repeat(columns.centres, 2)
        y = np.empty(2 * len(low))
        y[0::2], y[1::2] = low, high
        self._speed.setData(x, _into(y, top, band), connect="finite")

    def _draw_pp(self, band: tuple[float, float]) -> None:
        columns = self._columns
        values = self._view.result.peak_to_peak_um.get(self._view.probe)
        if values is None:
            values = np.full(len(self._view.result.time_s), np.nan)
        low, high = columns.lowest(values), columns.highest(values)
        top = self._top_of(self._pp, high)
        low, high = _into(low, top, band), _into(high, top, band)
        base = np.full(len(low), band[0])
        self._body.setPath(filled_band(columns.centres, base, low))
        self._swing.setPath(filled_band(columns.centres, low, high))

    @staticmethod
    def _top_of(scale: GrowingScale, high: np.ndarray) -> float:
        if np.isfinite(high).any():
            scale.include(0.0, float(np.nanmax(high)))
        return scale.ends[1] if scale.ends else 1.0

    # Decoration ----------------------------------------------------------------------------------

    def _make_grid(self, rect: QRectF) -> tuple[Rule, ...]:
        pen = rule(palette(self._theme).grid)
        grid = []
        for x in self.canvas.bottom.grid_positions():
            at = crisp(self.canvas.to_pixels(x, 0.0).x())
            grid.append(Rule(QLineF(at, rect.top() + _TOP, at, rect.bottom()), pen))
        return tuple(grid)

    def _decorate(self) -> None:
        colours = palette(self._theme)
        rect = self.canvas.data_rect()
        hairline = rule(colours.hairline)
        rules = []
        speed, pp = self._bands()
        levels = (speed[0], pp[0], self._level(speed, self._rpm, 1.0)[0])
        for level in (*levels, self._level(pp, self._pp, self._unit.per_um)[0]):
            y = crisp(rect.bottom() - level)
            rules.append(Rule(QLineF(rect.left(), y, rect.right(), y), hairline))
        self._show_ground(tuple(rules), (*self._pending(colours), *self._ribbon(colours)))
        self.canvas.margin.show_content(labels=tuple(self._band_labels(colours)))
        self._show_cursor()

    def _pending(self, colours: Palette) -> tuple[Shape, ...]:
        result = self._view.result
        if result.done_s >= result.span.end_s - 1e-9:
            return ()
        rect = self.canvas.data_rect()
        left = self.canvas.to_pixels(result.done_s, 0.0).x()
        box = QRectF(left, rect.top() + _TOP, rect.right() - left, rect.height() - _TOP)
        pattern = brush(colours.hairline, Qt.BrushStyle.BDiagPattern)
        return (Shape(QPolygonF(box), rule(with_alpha(colours.hairline, 0.0)), pattern),)

    def _ribbon(self, colours: Palette) -> tuple[Shape, ...]:
        rect = self.canvas.data_rect()
        width = rect.width() / _COLUMNS
        shapes = []
        for name, first, last in runs_of(self._ranks, self._columns.places):
            height = _HEIGHT_SHARE[name] * _RIBBON
            left = rect.left() + first * width
            box = QRectF(left, rect.bottom() - height, max((last + 1 - first) * width, 2.0), height)
            hue = condition_colour(name, self._theme)
            if name == "fault":
                fill, pen = brush(hue, Qt.BrushStyle.BDiagPattern), rule(hue)
            else:
                fill, pen = brush(hue), rule(with_alpha(hue, 0.0))
            shapes.append(Shape(QPolygonF(box), pen, fill))
        return tuple(shapes)

    def _show_cursor(self) -> None:
        if self._view is None:
            return
        colours = palette(self._theme)
        rules: list[Rule] = []
        shapes: list[Shape] = []
        labels: list[Label] = []
        rect = self.canvas.data_rect()
        if self._span is not None:
            left, right = (
                min(max(self.canvas.to_pixels(t, 0.0).x(), rect.left()), rect.right())
                for t in (self._span.start_s, self._span.end_s)
            )
            box = QRectF(left, rect.top() + _TOP, max(right - left, 1.0), rect.height() - _TOP)
            pen = rule(colours.accent)
            shapes.append(Shape(QPolygonF(box), pen, brush(with_alpha(colours.accent, 0.14))))
        if self._moment is not None:
            at = self.canvas.to_pixels(self._moment[0], 0.0).x()
            if rect.left() - 1 <= at <= rect.right() + 1:
                labels += self._cursor(crisp(at), rules, shapes, colours)
        self.canvas.over.show_content((*rules, *self._focus_rules()), shapes, tuple(labels))

    def _cursor(
        self, at: float, rules: list[Rule], shapes: list[Shape], colours: Palette
    ) -> list[Label]:
        rect = self.canvas.data_rect()
        ink = colour(colours.ink)
        rules.append(Rule(QLineF(at, rect.top() + 4, at, rect.bottom()), rule(ink)))
        top = QPointF(at, rect.top() + 11)
        handle = [top, top + QPointF(-5, -8), top + QPointF(5, -8)]
        shapes.append(Shape(QPolygonF(handle), rule(ink), brush(ink)))
        used = font("small")
        width, _ = text_size(self._moment[1], "small")
        left = at + 9 if at + 9 + width <= rect.right() else at - 9 - width
        return [Label(self._moment[1], QRectF(left, rect.top(), width, 15), ink, used)]

    @staticmethod
    def _level(
        band: tuple[float, float], scale: GrowingScale, per_unit: float
    ) -> tuple[float, str]:
        """Where a round value of the unit shown lies in a band, pixels, and how it is written."""
        if scale.ends is None:
            return band[1], "–"
        top = scale.ends[1] * per_unit
        value = nice_floor(top)
        return band[0] + value / top * (band[1] - band[0]), f"{value:g}"

    def _band_labels(self, colours: Palette) -> list[Label]:
        rect = self.canvas.data_rect()
        used = font("tiny")
        ink = colour(colours.muted)
        speed, pp = self._bands()
        speed_level, rpm = self._level(speed, self._rpm, 1.0)
        pp_level, length = self._level(pp, self._pp, self._unit.per_um)
        speed_words = f"{rpm} r/min" if self._speed_known else ""
        rows = [
            (rect.bottom() - speed_level - 7, speed_words),
            (rect.bottom() - pp_level - 7, f"{length} {self.canvas.left_axis.unit}"),
            (rect.bottom() - _RIBBON - 2, "state"),
            (rect.bottom() + 6, f"{self.canvas.bottom.text()}     "),  # clear of the first tick
        ]
        right = Qt.AlignmentFlag.AlignRight
        return [
            Label(text, QRectF(2, top, rect.left() - 8, 14), ink, used, right) for top, text in rows
        ]

    # Hand ----------------------------------------------------------------------------------------

    def _time_at(self, position: QPointF) -> float:
        span = self._view.result.span
        return min(max(self.canvas.to_data(position).x(), span.start_s), span.end_s)

    def _press(self, position: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        if self._view is None:
            return
        if modifiers & Qt.KeyboardModifier.ShiftModifier:
            self._drag_from = self._time_at(position)
        else:
            self._drag_from = None
            self.moment_requested.emit(self._time_at(position))

    def _move(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if self._view is None or not buttons & Qt.MouseButton.LeftButton:
            return
        at = self._time_at(position)
        if self._drag_from is None:
            self.moment_requested.emit(at)
        elif at != self._drag_from:
            self.span_requested.emit(min(at, self._drag_from), max(at, self._drag_from))

    def _release(self, _position: QPointF, _modifiers: Qt.KeyboardModifier) -> None:
        self._drag_from = None


def _into(values: np.ndarray, top: float, band: tuple[float, float]) -> np.ndarray:
    """Values of 0 to `top` as pixels within a band."""
    return band[0] + values / top * (band[1] - band[0])
