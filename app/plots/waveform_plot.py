"""Gap waveform of one probe, with once-per-turn marks and limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPolygonF

from analysis.model.span import TimeSpan

from .axes import plain_number
from .curve import Curve
from .layers import Label, Rule, Shape, circle, crisp
from .limit_lines import LimitLine, LimitLineDrawing, limit_lines
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale, nice_length
from .style import brush, colour, font, line, probe_colour, rule, with_alpha
from .wording import angle_text, length_number, length_text
from .zoom import PAN_SHARE, STEP_IN

if TYPE_CHECKING:
    from analysis.model.results import ProbeReading, ProbeWaveform
    from analysis.model.setup import Probe, Setup

_PP_LIMIT_REACH = 3.0
"""A p-p limit up to this many times the p-p shown belongs into the scale."""

_POSITION_REACH = 0.6
"""A position limit is near when it is no further off than this share of the scale."""

_LONG_S = 2.0
"""From this length on the axis shows the time of the capture; below, time from the left edge."""

_APART = 7.0
"""Samples further apart than this many pixels are shown as points."""

_LEAST_OVERLAP = 0.25
"""Less than this share of what is known in what is wanted, and the old picture stays."""

_ZOOM_KEYS = {
    Qt.Key.Key_Plus: STEP_IN,
    Qt.Key.Key_Equal: STEP_IN,
    Qt.Key.Key_Minus: 1.0 / STEP_IN,
}


@dataclass(frozen=True, eq=False)
class WaveformView:
    """What a waveform picture shows; `probe_index` is the probe's place in `setup.probe`.

    `window` is the part of the capture that the waveform is of; it begins at 0 s when not given.
    """

    waveform: ProbeWaveform
    probe: Probe
    probe_index: int
    reading: ProbeReading
    setup: Setup
    window: TimeSpan | None = None
    moment_s: float | None = None


class WaveformPlot(Plot):
    """Gap against time; p-p limits as a band about the mean gap, position limits as lines.

    A turn of the wheel asks for another window. Until the answer is there, what is known is
    stretched to the window that was asked for.
    """

    zoom_requested = Signal(float)
    """Show this factor times as much; the moment stays in its place."""
    walk_requested = Signal(float)
    """Go on by this share of what is shown, the moment with it."""
    reset_requested = Signal()
    """Back to the window that is chosen automatically."""

    NAME = "Gap waveform"
    DESCRIPTION = (
        "Gap of the probe against time, µm or mil. Circles: once-per-turn marks. Dashed: alarm, "
        "solid: trip; a peak-to-peak limit stands half above and half below the mean gap. "
        "Triangle: the moment. Wheel or + and −: a shorter or longer window, from single samples "
        "to the whole capture. Drag, or Shift and wheel: go along. 0 or double click: automatic "
        "window. F: fit."
    )
    EMPTY = "No gap waveform yet. Open a capture, then pick a moment on the timeline."
    MINIMUM = (300, 130)

    _view: WaveformView | None

    def _build(self) -> None:
        self._curve = Curve()
        self.canvas.chart.add(self._curve)
        self._scale = GrowingScale(least_span=2.0)
        self._wanted: TimeSpan | None = None
        self._wanted_moment_s: float | None = None
        self._fit_next = False
        self._dragged_from: float | None = None
        self._limits: tuple[LimitLine, ...] = ()
        self._limit_drawing = LimitLineDrawing(self.canvas)
        self._probe_shown: tuple[str, int] | None = None
        self._probe_index = 0
        self.canvas.wheeled.connect(self._wheel)
        self.canvas.wheeled_along.connect(self._wheel_along)
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(self._move)
        self.canvas.released.connect(self._release)
        self.canvas.double_clicked.connect(lambda _position: self.reset_requested.emit())
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._curve.setPen(line(probe_colour(self._probe_index, self._theme)))

    def _label_axes(self) -> None:
        self.canvas.left_axis.set_quantity("gap", self._unit.value, self._unit.per_um)
        self._label_time()

    def _label_time(self) -> None:
        if self._view is not None and self._shown().length_s >= _LONG_S:
            self.canvas.bottom.set_quantity("capture time", "s")
        else:
            self.canvas.bottom.set_quantity("time", "ms", 1000.0)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def set_window(self, wanted: TimeSpan | None, moment_s: float | None = None) -> None:
        """Show this part of the capture, as far as it is known; `None`: what the answer is of.

        `moment_s` is the moment that goes with it.
        """
        if wanted == self._wanted and moment_s == self._wanted_moment_s:
            return
        self._fit_next = self._fit_next or (wanted is None and self._wanted is not None)
        self._wanted, self._wanted_moment_s = wanted, moment_s
        if self._view is not None and wanted is not None:
            self._place()
            self._decorate()

    def _known(self) -> TimeSpan:
        """The part of the capture that the view is of."""
        if self._view.window is not None:
            return self._view.window
        x = self._view.waveform.trace.x
        return TimeSpan(0.0, nice_length(float(x[-1])) if len(x) else 1.0)

    def _shown(self) -> TimeSpan:
        """The part of the capture that is shown: the one wanted, when enough of it is known."""
        known, wanted = self._known(), self._wanted
        if wanted is None or wanted.length_s <= 0.0:
            return known
        both = min(known.end_s, wanted.end_s) - max(known.start_s, wanted.start_s)
        return wanted if both >= _LEAST_OVERLAP * min(known.length_s, wanted.length_s) else known

    def _origin(self) -> float:
        """The capture time that stands at 0 on the axis, s."""
        shown = self._shown()
        return 0.0 if shown.length_s >= _LONG_S else shown.start_s

    def _late(self) -> float:
        """What the waveform's own times lack to the times on the axis, s."""
        return self._known().start_s - self._origin()

    def _place(self) -> None:
        """Put the curve and the axis where the part shown has them."""
        trace, shown = self._view.waveform.trace, self._shown()
        self._label_time()
        self._curve.setData(trace.x + self._late(), trace.y, connect="finite")
        start = shown.start_s - self._origin()
        self.canvas.set_range((start, start + shown.length_s), self._scale.ends or (0.0, 100.0))

    def title(self) -> str:
        """The probe's name."""
        return f"{self._view.probe.name} gap waveform" if self._view else self.NAME

    def subtitle(self) -> str:
        """Where the probe sits, and whether the line is an envelope."""
        if self._view is None:
            return ""
        words = [f"probe {angle_text(self._view.probe)}"]
        # First what changes the meaning of the line: the end may have no room.
        if self._view.waveform.trace.envelope:
            words.insert(0, "envelope, lowest to highest of each column")
        if self._view.waveform.runout_um is not None:
            runout = length_text(self._view.waveform.runout_um, self._unit)
            words.insert(0, f"runout taken off, {runout} p-p")
        if self._view.waveform.known_s is not None:
            words.insert(0, "hatched: not read yet")
        return " · ".join(words)

    def _draw(self) -> None:
        view = self._view
        if self._probe_shown != (view.probe.name, view.probe_index):
            self._probe_shown = (view.probe.name, view.probe_index)
            self._probe_index = view.probe_index
            self._forget_scale()
            self._dress(palette(self._theme))
        if self._fit_next:
            self._fit_next = False
            self._forget_scale()
        self._limits = limit_lines(view.reading, view.setup, view.waveform.mean_um)
        self.canvas.set_gutter(self._limit_drawing.gutter(self._limits, self._unit))
        self._gap_range()
        self._place()

    def _gap_range(self) -> None:
        """Let the scale grow to what is shown and the limits near it."""
        y = self._view.waveform.trace.y
        finite = y[np.isfinite(y)]
        if len(finite) == 0:
            return
        low, high = float(finite.min()), float(finite.max())
        swing = max(high - low, 1.0)
        for each in self._limits:
            if each.band and each.setting_um <= _PP_LIMIT_REACH * swing:
                low, high = min(low, *each.at_um), max(high, *each.at_um)
        reach = _POSITION_REACH * (high - low)
        near = [v for e in self._limits if not e.band for v in e.at_um]
        near = [value for value in near if low - reach <= value <= high + reach]
        low, high = min([low, *near]), max([high, *near])
        margin = 0.06 * (high - low)
        ends = self._scale.ends
        if ends is None or low < ends[0] or high > ends[1]:
            self._scale.include(low - margin, high + margin)

    def _decorate(self) -> None:
        colours = palette(self._theme)
        self.canvas.set_gutter(self._limit_drawing.gutter(self._limits, self._unit))
        rules, leaders, labels = self._limit_drawing.lay(self._limits, self._unit, self._theme)
        self._show_ground(rules, self._unread(colours))
        if not np.isfinite(self._view.waveform.trace.y).any():
            message = self._message("no gap signal here:\ncircuit fault or\ndropped samples")
            labels = (*labels, message)
        shapes = (*self._moment_mark(colours), *self._points(), *self._mark_shapes(colours))
        self.canvas.over.show_content((*leaders, *self._focus_rules()), shapes, labels)
        self.canvas.hover.show_content()

    def _unread(self, colours: Palette) -> tuple[Shape, ...]:
        """Hatching over what has not been read yet."""
        known, rect = self._view.waveform.known_s, self.canvas.data_rect()
        if known is None:
            return ()
        left, right = (self.canvas.to_pixels(at + self._late(), 0.0).x() for at in known)
        pattern = brush(colours.hairline, Qt.BrushStyle.BDiagPattern)
        boxes = (
            QRectF(rect.left(), rect.top(), min(left, rect.right()) - rect.left(), rect.height()),
            QRectF(right, rect.top(), rect.right() - right, rect.height()),
        )
        none = rule(with_alpha(colours.hairline, 0.0))
        return tuple(Shape(QPolygonF(box), none, pattern) for box in boxes if box.width() > 0.5)

    def _moment_mark(self, colours: Palette) -> tuple[Shape, ...]:
        asked_for = self._wanted is not None and self._shown() is self._wanted
        moment_s = self._wanted_moment_s if asked_for else self._view.moment_s
        if moment_s is None:
            return ()
        rect = self.canvas.data_rect()
        at = self.canvas.to_pixels(moment_s - self._origin(), 0.0).x()
        if not rect.left() - 1 <= at <= rect.right() + 1:
            return ()
        tip = QPointF(at, rect.top() + 7)
        corners = [tip, tip + QPointF(-4.5, -7), tip + QPointF(4.5, -7)]
        ink = colour(colours.ink)
        return (Shape(QPolygonF(corners), rule(ink), brush(ink)),)

    def _points(self) -> tuple[Shape, ...]:
        """The samples one by one, where they are far enough apart."""
        trace, rect = self._view.waveform.trace, self.canvas.data_rect()
        if trace.envelope or len(trace.x) < 2:
            return ()
        between = float(trace.x[-1] - trace.x[0]) / (len(trace.x) - 1)
        if between * rect.width() / self._shown().length_s < _APART:
            return ()
        hue = probe_colour(self._probe_index, self._theme)
        pen, fill, shapes = rule(hue), brush(hue), []
        for x, y in zip((trace.x + self._late()).tolist(), trace.y.tolist(), strict=True):
            at = self.canvas.to_pixels(x, y) if math.isfinite(y) else None
            if at is not None and rect.contains(at):
                shapes.append(circle(at, 1.8, pen, fill))
        return tuple(shapes)

    def _mark_shapes(self, colours: Palette) -> tuple[Shape, ...]:
        waveform = self._view.waveform
        rect = self.canvas.data_rect()
        radius = 3.5 if len(waveform.marks_s) <= 60 else 2.0
        pen = rule(probe_colour(self._view.probe_index, self._theme))
        fill = brush(colours.card)
        marks, shapes = (waveform.marks_s + self._late()).tolist(), []
        for x, y in zip(marks, waveform.marks_um.tolist(), strict=True):
            if not math.isfinite(y):
                continue
            at = self.canvas.to_pixels(x, y)
            if rect.contains(at):
                shapes.append(circle(at, radius, pen, fill))
        return tuple(shapes)

    # Hand ----------------------------------------------------------------------------------------

    def _wheel(self, notches: float, _position: QPointF) -> None:
        if self._view is not None:
            self.zoom_requested.emit(STEP_IN**notches)

    def _wheel_along(self, notches: float, _position: QPointF) -> None:
        if self._view is not None:
            self.walk_requested.emit(notches * PAN_SHARE)

    def _press(self, position: QPointF, _modifiers: Qt.KeyboardModifier) -> None:
        self._dragged_from = position.x()

    def _release(self, _position: QPointF, _modifiers: Qt.KeyboardModifier) -> None:
        self._dragged_from = None

    def _move(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if self._dragged_from is None or not buttons & Qt.MouseButton.LeftButton:
            self._hover(position)
        elif self._view is not None:
            width = max(self.canvas.data_rect().width(), 1.0)
            share = (self._dragged_from - position.x()) / width
            self._dragged_from = position.x()
            if share:
                self.walk_requested.emit(share)

    def event(self, event: QEvent) -> bool:
        """The zoom keys are the waveform's own while it has the focus."""
        if event.type() == QEvent.Type.ShortcutOverride and _is_zoom_key(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """`+` and `−` zoom in time about the moment, `0` brings the automatic window back."""
        if self._view is None or not _is_zoom_key(event):
            super().keyPressEvent(event)
        elif event.key() == Qt.Key.Key_0:
            self.reset_requested.emit()
        else:
            self.zoom_requested.emit(_ZOOM_KEYS[Qt.Key(event.key())])

    # Read-out ------------------------------------------------------------------------------------

    def _hover(self, position: QPointF) -> None:
        rect = self.canvas.data_rect()
        trace = self._view.waveform.trace if self._view is not None else None
        if trace is None or len(trace.x) == 0 or not rect.contains(position):
            self.canvas.hover.show_content()
            return
        late = self._late()
        index = int(np.argmin(np.abs(trace.x + late - self.canvas.to_data(position).x())))
        x, y = float(trace.x[index]) + late, float(trace.y[index])
        at = self.canvas.to_pixels(x, y if np.isfinite(y) else 0.0)
        colours = palette(self._theme)
        text = f"{self._time_text(x)} · {self._gap_text(index)}"
        box = self.canvas.corner()
        label = Label(text, box, colour(colours.ink), font("small"), Qt.AlignmentFlag.AlignRight)
        column = crisp(at.x())
        hairline = Rule(QLineF(column, rect.top(), column, rect.bottom()), rule(colours.faint))
        shapes = ()
        if np.isfinite(y):
            shapes = (circle(at, 2.5, rule(colours.ink), brush(colours.ink)),)
        self.canvas.hover.show_content((hairline,), shapes, (label,))

    def _time_text(self, x: float) -> str:
        """A time on the axis, with as many decimals as a pixel is wide."""
        axis = self.canvas.bottom
        pixel = self._shown().length_s * axis.scale / max(self.canvas.data_rect().width(), 1.0)
        decimals = max(2, math.ceil(-math.log10(max(pixel, 1e-9))))
        return f"{plain_number(x * axis.scale, decimals)} {axis.unit}"

    def _gap_text(self, index: int) -> str:
        """The gap there; of an envelope the lowest and highest of the column."""
        trace = self._view.waveform.trace
        first = index // 2 * 2 if trace.envelope else index
        values = trace.y[first : first + 2] if trace.envelope else trace.y[first : first + 1]
        values = values[np.isfinite(values)]
        if len(values) == 0:
            return "no signal"
        low, high = float(values.min()), float(values.max())
        high_text = length_text(high, self._unit)
        return f"{length_number(low, self._unit)} to {high_text}" if low < high else high_text


def _is_zoom_key(event: QEvent) -> bool:
    if not isinstance(event, QKeyEvent):
        return False
    # "+" is typed with Shift on many keyboards, and has a modifier of its own on a number pad.
    beyond = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
    return not event.modifiers() & beyond and event.key() in {*_ZOOM_KEYS, Qt.Key.Key_0}
