"""The capture against time: speed, p-p of one probe, states, the moment and spans.

All of it, or the part that is seen; far in, every revolution is a step of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QPolygonF

from analysis.model.span import TimeSpan

from .area import Area
from .axes import nice_floor
from .columns import columns_of
from .curve import Curve
from .layers import Label, Rule, Shape, crisp
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import (
    blend,
    brush,
    colour,
    font,
    line,
    probe_colour,
    rule,
    with_alpha,
)
from .timeline_decor import STRIP_ROOM, TOP, Marked, TimelineDecor, ribbon_shapes
from .timeline_rows import RowLevels
from .timeline_shapes import filled_band, into_band, row_runs, runs_of, steps
from .zoom import PAN_SHARE, STEP_IN

if TYPE_CHECKING:
    from analysis.model.setup import Setup
    from analysis.views.timeline import TimelineResult

COLUMNS = 1200
_MOST_STEPS = 600
"""Up to so many revolutions are drawn one by one, as steps; more of them as columns."""

_RIBBON, _GAP = 12.0, 6.0
_GUTTER = 84.0
_TICK_ROOM = 32.0
_TURN_APART, _TURN_TICK = 8.0, 4.0


@dataclass(frozen=True, eq=False)
class TimelineView:
    """What the timeline shows; `probe` names the probe whose p-p is drawn, by its `levels`."""

    result: TimelineResult
    setup: Setup
    probe: str
    levels: RowLevels | None = None


class TimelinePlot(Plot):
    """Asks for a moment, a span or another part when handled, and shows what it is told."""

    moment_requested = Signal(float)
    span_requested = Signal(float, float)
    zoom_requested = Signal(float, float)
    """Show this factor times as much, with this time (s) kept in place."""
    pan_requested = Signal(float)
    """Go on by this share of what is seen."""
    centre_requested = Signal(float)
    """Have this time (s) in the middle."""

    NAME = "Timeline"
    DESCRIPTION = (
        "The capture against time in s. Top: speed, r/min. Middle: peak-to-peak of one "
        "probe, lowest to highest of each column. Bottom: worst state of all probes, without "
        "delay and latch: half height alarm, full height trip, hatched circuit fault. "
        "Drag: move the moment. Shift and drag: choose a span. Wheel, or + and −: zoom; "
        "Shift and wheel, or the strip at the top: go along; 0: see all."
    )
    EMPTY = "No timeline yet. Open a capture."
    MINIMUM = (360, 112)

    _view: TimelineView | None

    def _build(self) -> None:
        chart = self.canvas.chart
        chart.hide_axis("left")
        self.canvas.bottom.label_wanted = False  # stands left of the ticks, to save height
        chart.set_margins(_GUTTER, STRIP_ROOM, 16, 2)
        self._body, self._swing, self._speed = Area(), Area(), Curve()
        for each in (self._body, self._swing, self._speed):
            self.canvas.chart.add(each)
        self._rpm = GrowingScale(least_span=100.0)
        self._pp = GrowingScale(least_span=10.0)
        self._levels: RowLevels | None = None
        self._runs: list[tuple[str, float, float]] = []
        self._turns_s: list[float] = []
        self._probe_index = 0
        self._seen: TimeSpan | None = None
        self._marked = Marked()
        self._decor = TimelineDecor(self.canvas)
        self._drag_from: float | None = None
        self._on_strip = False
        self._source: object = None
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(self._move)
        self.canvas.released.connect(self._release)
        self.canvas.wheeled.connect(self._wheel)
        self.canvas.wheeled_along.connect(self._wheel_along)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        hue = probe_colour(self._probe_index, self._theme)
        soft = blend(hue, colours.card, 0.35)
        self._body.dress(line(soft), brush(soft))
        self._swing.dress(line(hue), brush(hue))
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
        how = "turn by turn" if self._turns_s else "lowest to highest of each column"
        return (
            f"speed · p-p of {self._view.probe}, {how} · worst state of all probes — "
            "drag: moment, shift-drag: span, wheel: zoom"
        )

    def set_moment(self, time_s: float | None, label: str = "") -> None:
        """Put the cursor there, with its words; `None` takes it away."""
        self._mark(replace(self._marked, moment=None if time_s is None else (time_s, label)))

    def set_span(self, span: TimeSpan | None) -> None:
        """Shade a span; `None` takes it away."""
        self._mark(replace(self._marked, span=span))

    def set_named(self, named: tuple[tuple[str, TimeSpan], ...]) -> None:
        """Put a bar with its name over each of these spans."""
        self._mark(replace(self._marked, named=named))

    def set_seen(self, seen: TimeSpan | None) -> None:
        """Show this part of the capture; `None`: all of it."""
        if seen != self._seen:
            self._seen = seen
            if self._view is not None:
                self._draw()
                self._decorate()
                self._tell_titles()

    def seen(self) -> TimeSpan:
        """The part of the capture that is shown."""
        whole = self._view.result.span if self._view is not None else TimeSpan(0.0, 0.0)
        part = whole if self._seen is None else self._seen.clipped_to(whole)
        return part if part.length_s > 0.0 else whole

    def _mark(self, marked: Marked) -> None:
        if marked != self._marked:
            self._marked = marked
            self._show_marks()

    def _resized(self) -> None:
        if self._view is not None:
            self._draw()
            self._decorate()

    # Drawing -------------------------------------------------------------------------------------

    def _bands(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Speed and p-p band, in pixels from the bottom of the data area: base and top."""
        height = self._height()
        low = _RIBBON + _GAP
        room = height - low - TOP - _GAP
        if not self._levels.speed_known:
            return (height - TOP, height - TOP), (low, low + room)
        middle = low + 0.5 * room
        return (middle + _GAP, middle + _GAP + 0.5 * room), (low, middle)

    def _height(self) -> float:
        return max(self.canvas.data_rect().height(), 60.0)

    def _draw(self) -> None:
        view = self._view
        if self._source is not view.setup:
            self._source = view.setup
            self._forget_scale()
        if (
            self._levels is None
            or self._levels.result is not view.result
            or self._levels.probe != view.probe
        ):
            self._levels = view.levels or RowLevels(view.result, view.probe)
        self._choose_colour()
        seen = self.seen()
        low, high = seen.start_s, max(seen.end_s, seen.start_s + 1e-9)
        self.canvas.set_range((low, high), (0.0, self._height()))
        if self._levels.count_in(low, high) <= _MOST_STEPS:
            self._draw_steps(low, high)
        else:
            self._draw_columns(low, high)

    def _draw_columns(self, low: float, high: float) -> None:
        rows = self._levels.within(low, high, COLUMNS)
        columns = columns_of(rows.time_s, low, high, COLUMNS)
        centres = columns.centres
        slow, fast = columns.lowest(rows.speed_low), columns.highest(rows.speed_high)
        y = np.empty(2 * len(slow))
        y[0::2], y[1::2] = slow, fast
        speed_band, pp_band = self._bands()
        top = self._top_of(self._rpm, fast)
        self._speed.setData(np.repeat(centres, 2), into_band(y, top, speed_band), connect="finite")
        least, most = columns.lowest(rows.level_low), columns.highest(rows.level_high)
        self._draw_band(centres, least, most, pp_band)
        self._turns_s = []
        width = (high - low) / COLUMNS
        self._runs = [
            (name, low + first * width, low + (last + 1) * width)
            for name, first, last in runs_of(columns.most(rows.ranks), columns.places)
        ]

    def _draw_steps(self, low: float, high: float) -> None:
        rows, starts, ends = self._levels.around(low, high)
        speed_band, pp_band = self._bands()
        x, y = steps(starts, ends, rows.speed_low)
        top = self._top_of(self._rpm, rows.speed_high)
        self._speed.setData(x, into_band(y, top, speed_band), connect="finite")
        x, y = steps(starts, ends, rows.level_low)
        self._draw_band(x, y, y, pp_band)
        self._runs = row_runs(rows.ranks, starts, ends)
        self._turns_s = [*starts.tolist(), *ends[-1:].tolist()]

    def _draw_band(
        self, x: np.ndarray, low: np.ndarray, high: np.ndarray, band: tuple[float, float]
    ) -> None:
        top = self._top_of(self._pp, high)
        low, high = into_band(low, top, band), into_band(high, top, band)
        self._body.setPath(filled_band(x, np.full(len(low), band[0]), low))
        self._swing.setPath(filled_band(x, low, high))

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
            grid.append(Rule(QLineF(at, rect.top() + TOP, at, rect.bottom()), pen))
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
        rules += self._turn_ticks(rect, colours)
        ribbon = ribbon_shapes(self.canvas, self._runs, _RIBBON, self._theme)
        self._show_ground(tuple(rules), (*self._pending(colours), *ribbon))
        self.canvas.margin.show_content(labels=tuple(self._band_labels(colours)))
        self._show_marks()

    def _turn_ticks(self, rect: QRectF, colours: Palette) -> list[Rule]:
        """Where revolutions begin, as short ticks, when they are wide enough to tell apart."""
        at = [self.canvas.to_pixels(time_s, 0.0).x() for time_s in self._turns_s]
        if len(at) < 2 or at[-1] - at[0] < _TURN_APART * (len(at) - 1):
            return []
        foot = crisp(rect.bottom() - self._bands()[1][0])
        pen = rule(colours.muted)
        inside = [crisp(x) for x in at if rect.left() - 0.5 <= x <= rect.right() + 0.5]
        return [Rule(QLineF(x, foot, x, foot + _TURN_TICK), pen) for x in inside]

    def _pending(self, colours: Palette) -> tuple[Shape, ...]:
        result = self._view.result
        if result.done_s >= result.span.end_s - 1e-9:
            return ()
        rect = self.canvas.data_rect()
        left = max(self.canvas.to_pixels(result.done_s, 0.0).x(), rect.left())
        if left >= rect.right():
            return ()
        box = QRectF(left, rect.top() + TOP, rect.right() - left, rect.height() - TOP)
        pattern = brush(colours.hairline, Qt.BrushStyle.BDiagPattern)
        return (Shape(QPolygonF(box), rule(with_alpha(colours.hairline, 0.0)), pattern),)

    def _show_marks(self) -> None:
        if self._view is None:
            return
        whole = self._view.result.span
        rules, shapes, labels = self._decor.lay(
            self._marked, whole, self.seen(), palette(self._theme)
        )
        self.canvas.over.show_content((*rules, *self._focus_rules()), shapes, tuple(labels))

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
        speed_words = f"{rpm} r/min" if self._levels.speed_known else ""
        rows = [
            (rect.bottom() - speed_level - 7, speed_words),
            (rect.bottom() - pp_level - 7, f"{length} {self.canvas.left_axis.unit}"),
            (rect.bottom() - _RIBBON - 2, "state"),
        ]
        right = Qt.AlignmentFlag.AlignRight
        room = rect.left() - 8
        labels = [Label(text, QRectF(2, top, room, 14), ink, used, right) for top, text in rows]
        # Clear of the first tick, which may have many figures.
        axis = QRectF(2, rect.bottom() + 6, room - _TICK_ROOM, 14)
        return [*labels, Label(self.canvas.bottom.text(), axis, ink, used, right)]

    # Hand ----------------------------------------------------------------------------------------

    def _time_at(self, position: QPointF) -> float:
        seen = self.seen()
        return min(max(self.canvas.to_data(position).x(), seen.start_s), seen.end_s)

    def _press(self, position: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        if self._view is None:
            return
        whole = self._view.result.span
        self._drag_from = None
        self._on_strip = False
        along = self._decor.time_on_strip(position, whole) if self.seen() != whole else None
        if along is not None:
            self._on_strip = True
            self.centre_requested.emit(along)
        elif modifiers & Qt.KeyboardModifier.ShiftModifier:
            self._drag_from = self._time_at(position)
        else:
            self.moment_requested.emit(self._time_at(position))

    def _move(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if self._view is None or not buttons & Qt.MouseButton.LeftButton:
            return
        if self._on_strip:
            self.centre_requested.emit(self._decor.strip_time(position, self._view.result.span))
            return
        at = self._time_at(position)
        if self._drag_from is None:
            self.moment_requested.emit(at)
        elif at != self._drag_from:
            self.span_requested.emit(min(at, self._drag_from), max(at, self._drag_from))

    def _release(self, _position: QPointF, _modifiers: Qt.KeyboardModifier) -> None:
        self._drag_from = None
        self._on_strip = False

    def _wheel(self, notches: float, position: QPointF) -> None:
        if self._view is not None:
            self.zoom_requested.emit(STEP_IN**notches, self._time_at(position))

    def _wheel_along(self, notches: float, _position: QPointF) -> None:
        if self._view is not None:
            self.pan_requested.emit(notches * PAN_SHARE)
