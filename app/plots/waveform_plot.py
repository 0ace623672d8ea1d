"""Gap waveform of one probe, with once-per-turn marks and limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QLineF, QPointF, Qt
from PySide6.QtGui import QKeyEvent

from analysis.model.results import ProbeReading, ProbeWaveform
from analysis.model.setup import Probe, Setup

from .layers import Label, Rule, Shape, circle, crisp
from .limit_lines import LimitLine, LimitLineDrawing, limit_lines
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale, nice_length
from .style import brush, colour, font, line, probe_colour, rule
from .wording import angle_text, length_text
from .zoom import ZoomX

_PP_LIMIT_REACH = 3.0
"""A p-p limit up to this many times the p-p shown belongs into the scale."""

_POSITION_REACH = 0.6
"""A position limit is near when it is no further off than this share of the scale."""


@dataclass(frozen=True, eq=False)
class WaveformView:
    """What a waveform picture shows; `probe_index` is the probe's place in `setup.probe`."""

    waveform: ProbeWaveform
    probe: Probe
    probe_index: int
    reading: ProbeReading
    setup: Setup


class WaveformPlot(Plot):
    """Gap against time; p-p limits as a band about the mean gap, position limits as lines."""

    NAME = "Gap waveform"
    DESCRIPTION = (
        "Gap of the probe against time, µm or mil. Circles: once-per-turn marks. Dashed: alarm, "
        "solid: trip; a peak-to-peak limit stands half above and half below the mean gap. "
        "Wheel or + and −: zoom in time. F or double click: fit."
    )
    EMPTY = "No gap waveform yet. Open a capture, then pick a moment on the timeline."
    MINIMUM = (300, 130)

    _view: WaveformView | None

    def _build(self) -> None:
        self._curve = pg.PlotCurveItem()
        self.canvas.getPlotItem().addItem(self._curve)
        self._scale = GrowingScale(least_span=2.0)
        self._zoom = ZoomX()
        self._limits: tuple[LimitLine, ...] = ()
        self._limit_drawing = LimitLineDrawing(self.canvas)
        self._probe_shown: tuple[str, int] | None = None
        self._probe_index = 0
        self.canvas.wheeled.connect(self._wheel)
        self.canvas.moved.connect(lambda position, _buttons: self._hover(position))
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._curve.setPen(line(probe_colour(self._probe_index, self._theme)))

    def _label_axes(self) -> None:
        self.canvas.left_axis.set_quantity("gap", self._unit.value, self._unit.per_um)
        self.canvas.bottom.set_quantity("time", "ms", 1000.0)

    def _forget_scale(self) -> None:
        self._scale.reset()
        self._zoom.reset()

    def title(self) -> str:
        """The probe's name."""
        return f"{self._view.probe.name} gap waveform" if self._view else self.NAME

    def subtitle(self) -> str:
        """Where the probe sits, and whether the line is an envelope."""
        if self._view is None:
            return ""
        words = [f"probe {angle_text(self._view.probe)}"]
        if self._view.waveform.trace.envelope:
            words.append("envelope (lowest and highest of each pixel column)")
        return " · ".join(words)

    def _draw(self) -> None:
        view = self._view
        trace = view.waveform.trace
        if self._probe_shown != (view.probe.name, view.probe_index):
            self._probe_shown = (view.probe.name, view.probe_index)
            self._probe_index = view.probe_index
            self._forget_scale()
            self._dress(palette(self._theme))
        self._curve.setData(trace.x, trace.y, connect="finite")
        self._limits = limit_lines(view.reading, view.setup, view.waveform.mean_um)
        self.canvas.set_gutter(self._limit_drawing.gutter(self._limits, self._unit))
        self.canvas.set_range(self._time_range(), self._gap_range())

    def _time_range(self) -> tuple[float, float]:
        x = self._view.waveform.trace.x
        length = nice_length(float(x[-1])) if len(x) else 1.0
        return self._zoom.range_within(0.0, length)

    def _gap_range(self) -> tuple[float, float]:
        y = self._view.waveform.trace.y
        finite = y[np.isfinite(y)]
        if len(finite) == 0:
            return self._scale.ends or (0.0, 100.0)
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
        if ends is not None and ends[0] <= low and high <= ends[1]:
            return ends
        return self._scale.include(low - margin, high + margin)

    def _decorate(self) -> None:
        colours = palette(self._theme)
        self.canvas.set_gutter(self._limit_drawing.gutter(self._limits, self._unit))
        rules, leaders, labels = self._limit_drawing.lay(self._limits, self._unit, self._theme)
        self._show_ground(rules)
        if not np.isfinite(self._view.waveform.trace.y).any():
            message = self._message("no gap signal here:\ncircuit fault or\ndropped samples")
            labels = (*labels, message)
        self.canvas.over.show_content(
            (*leaders, *self._focus_rules()), self._mark_shapes(colours), labels
        )
        self.canvas.hover.show_content()

    def _mark_shapes(self, colours: Palette) -> tuple[Shape, ...]:
        waveform = self._view.waveform
        rect = self.canvas.data_rect()
        radius = 3.5 if len(waveform.marks_s) <= 60 else 2.0
        pen = rule(probe_colour(self._view.probe_index, self._theme))
        fill = brush(colours.card)
        shapes = []
        for x, y in zip(waveform.marks_s.tolist(), waveform.marks_um.tolist(), strict=True):
            if not np.isfinite(y):
                continue
            at = self.canvas.to_pixels(x, y)
            if rect.contains(at):
                shapes.append(circle(at, radius, pen, fill))
        return tuple(shapes)

    def _wheel(self, steps: float, position: QPointF) -> None:
        if self._view is not None:
            self._zoom.by(0.8**steps, self.canvas.to_data(position).x(), *self._whole())
            self._show_zoom()

    def _whole(self) -> tuple[float, float]:
        x = self._view.waveform.trace.x
        return 0.0, nice_length(float(x[-1])) if len(x) else 1.0

    def _show_zoom(self) -> None:
        y0, y1 = self.canvas.box.viewRange()[1]
        self.canvas.set_range(self._time_range(), (y0, y1))
        self._decorate()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """`+` and `−` zoom in time about the middle."""
        factor = {Qt.Key.Key_Plus: 0.8, Qt.Key.Key_Equal: 0.8, Qt.Key.Key_Minus: 1.25}.get(
            event.key()
        )
        if factor is None or self._view is None:
            super().keyPressEvent(event)
            return
        x0, x1 = self.canvas.box.viewRange()[0]
        self._zoom.by(factor, (x0 + x1) / 2, *self._whole())
        self._show_zoom()

    def _hover(self, position: QPointF) -> None:
        rect = self.canvas.data_rect()
        trace = self._view.waveform.trace if self._view is not None else None
        if trace is None or len(trace.x) == 0 or not rect.contains(position):
            self.canvas.hover.show_content()
            return
        index = int(np.argmin(np.abs(trace.x - self.canvas.to_data(position).x())))
        x, y = float(trace.x[index]), float(trace.y[index])
        at = self.canvas.to_pixels(x, y if np.isfinite(y) else 0.0)
        colours = palette(self._theme)
        gap = length_text(y, self._unit) if np.isfinite(y) else "no signal"
        text = f"{x * 1000:.2f} ms · {gap}"
        box = self.canvas.corner()
        label = Label(text, box, colour(colours.ink), font("small"), Qt.AlignmentFlag.AlignRight)
        column = crisp(at.x())
        hairline = Rule(QLineF(column, rect.top(), column, rect.bottom()), rule(colours.faint))
        shapes = ()
        if np.isfinite(y):
            shapes = (circle(at, 2.5, rule(colours.ink), brush(colours.ink)),)
        self.canvas.hover.show_content((hairline,), shapes, (label,))
