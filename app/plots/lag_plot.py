"""What both probes see against the angle of the shaft, with each phase lag drawn in."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor

from analysis.rotor.gap import volts_from_gap

from .axes import plain_number
from .curve import Curve
from .layers import Label, Rule, Shape, arrow_head, circle, crisp
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import brush, colour, font, line, probe_colour, rule, text_size
from .wording import length_text

if TYPE_CHECKING:
    from analysis.model.results import Floats

    from .lab_view import LabView

Quantity = Literal["displacement", "gap", "voltage"]

_PURE = 0.03
"""A waveform whose 1X leaves more than this share of it over has its 1X drawn beside it."""

_LANE = 15.0
"""Height of the lane of a lag, pixels."""


class LagPlot(Plot):
    """Two probe waveforms, once-per-turn marks, the 1X of each and how far it lags.

    `turns_requested(turns)` when the reader drags along the picture.
    """

    turns_requested = Signal(float)

    NAME = "Probe waveforms"
    DESCRIPTION = (
        "What each probe sees against turns of the shaft since the event: displacement towards the "
        "probe or gap, µm or mil, or gap voltage. Circles: once-per-turn marks. Arrow: phase lag, "
        "from the event to the next 1X high spot. Dotted: the 1X part. Drag: turn the shaft."
    )
    EMPTY = "Nothing composed yet. Move a slider at the left; to review, open a capture."
    MINIMUM = (280, 150)

    _view: LabView | None

    def _build(self) -> None:
        chart = self.canvas.chart
        self._curves = (Curve(), Curve())
        self._once = (Curve(), Curve())
        for curve in (*self._once, *self._curves):
            chart.add(curve)
        self._scale = GrowingScale(least_span=1e-3)
        self._quantity: Quantity = "displacement"
        self._mixed = False
        self._shown_turns = 2.0
        self._turns = 0.0
        self.canvas.pressed.connect(lambda position, _modifiers: self._drag(position))
        self.canvas.moved.connect(self._moved)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        for place, (curve, once) in enumerate(zip(self._curves, self._once, strict=True)):
            hue = probe_colour(place, self._theme)
            curve.setPen(line(hue))
            once.setPen(line(hue, Qt.PenStyle.DotLine))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("shaft angle", "turns")
        left = self.canvas.left_axis
        if self._quantity == "voltage":
            left.set_quantity("gap voltage", "V")
        else:
            words = {"displacement": "towards probe", "gap": "gap"}[self._quantity]
            left.set_quantity(words, self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def subtitle(self) -> str:
        """How long a turn is."""
        if self._view is None:
            return ""
        turn_ms = 60_000.0 / self._view.result.state.speed_rpm
        words = f"a turn takes {turn_ms:.3g} ms"
        return f"dotted: the 1X part · {words}" if self._mixed else words

    def quantity(self) -> Quantity:
        """What is shown."""
        return self._quantity

    def set_quantity(self, quantity: Quantity) -> None:
        """Show displacement towards the probe, gap, or gap voltage."""
        if quantity != self._quantity:
            self._quantity = quantity
            self._label_axes()
            self.fit()

    def set_shown_turns(self, turns: float) -> None:
        """Show so many turns, or as many as are known."""
        if turns != self._shown_turns:
            self._shown_turns = turns
            if self._view is not None:
                self._draw()
                self._decorate()

    def set_turns(self, turns: float, *, now: bool = True) -> None:
        """Move the cursor to this angle of the shaft; with the next drawing unless `now`."""
        self._turns = turns
        if now and self._view is not None:
            self._move()

    # Drawing -------------------------------------------------------------------------------------

    def _span(self) -> float:
        return min(self._shown_turns, float(self._view.result.shown_turns))

    def _values(self, name: str, gap: Floats) -> Floats:
        """A gap waveform as the quantity shown."""
        if self._quantity == "gap":
            return gap
        if self._quantity == "voltage":
            return volts_from_gap(gap, self._view.setup.probe_named(name))
        return self._view.result.readings[name].gap_um - gap

    def _draw(self) -> None:
        low, high = math.inf, -math.inf
        self._mixed = False
        for name, curve, once in zip(self._view.names, self._curves, self._once, strict=True):
            gap = self._view.result.waveforms[name].trace.y
            turns = self._turns_of(gap)
            stop = int(np.searchsorted(turns, self._span(), side="right"))
            values = self._values(name, gap[:stop])
            curve.setData(turns[:stop], values, connect="finite")
            part = self._once_of(name, turns[:stop])
            left = float(np.nanmax(np.abs(part - gap[:stop]))) if np.isfinite(gap).any() else 0.0
            swing = float(np.ptp(part)) if len(part) else 0.0
            mixed = 0.0 < _PURE * swing < left
            self._mixed = self._mixed or mixed
            once.setData(turns[:stop] if mixed else np.empty(0), self._part(name, part, mixed))
            if np.isfinite(values).any():
                low, high = min(low, float(np.nanmin(values))), max(high, float(np.nanmax(values)))
        if low <= high:
            margin = 0.06 * (high - low)
            ends = self._scale.ends
            if ends is None or low < ends[0] or high > ends[1]:
                # Room for the lanes of the lags over the curves.
                self._scale.include(low - margin, high + margin + 0.30 * (high - low))
        self.canvas.set_range((0.0, self._span()), self._scale.ends or (-50.0, 50.0))

    def _part(self, name: str, part: Floats, mixed: bool) -> Floats:
        return self._values(name, part) if mixed else np.empty(0)

    def _turns_of(self, gap: Floats) -> Floats:
        return np.linspace(0.0, float(self._view.result.shown_turns), len(gap))

    def _once_of(self, name: str, turns: Floats) -> Floats:
        """The gap that the 1X alone would give."""
        reading = self._view.result.readings[name]
        amplitude, lag = self._view.once(name)
        swing = amplitude / 2.0 * np.cos(2.0 * np.pi * turns - math.radians(lag))
        return np.asarray(reading.gap_um - swing)

    def _decorate(self) -> None:
        colours = palette(self._theme)
        rect = self.canvas.data_rect()
        events = []
        pen = rule(colours.faint, Qt.PenStyle.DashLine)
        for turn in range(int(self._span()) + 1):
            at = crisp(self.canvas.to_pixels(turn, 0.0).x())
            events.append(Rule(QLineF(at, self._below_lanes(), at, rect.bottom()), pen))
        self._show_ground(tuple(events))
        rules, shapes, labels = self._lags()
        labels += self._event_names(colours)
        for place, name in enumerate(self._view.names):
            shapes += self._marks(place, name, colours)
        if not any(np.isfinite(w.trace.y).any() for w in self._view.result.waveforms.values()):
            labels.append(self._message("no gap signal here"))
        self.canvas.over.show_content((*rules, *self._focus_rules()), tuple(shapes), tuple(labels))
        self._move()

    def _event_names(self, colours: Palette) -> list[Label]:
        """At the head of each event's line, unless they stand too close for it."""
        rect, top = self.canvas.data_rect(), self._below_lanes()
        width, height = text_size("event", "tiny")
        if rect.width() < 3.0 * width * self._span():
            return []
        lefts = [self.canvas.to_pixels(turn, 0.0).x() + 4 for turn in range(int(self._span()))]
        boxes = [QRectF(left, top, width, height) for left in lefts]
        return [Label("event", box, colour(colours.muted), font("tiny")) for box in boxes]

    def _below_lanes(self) -> float:
        return self.canvas.data_rect().top() + 2 * _LANE + 2

    def _lags(self) -> tuple[list[Rule], list[Shape], list[Label]]:
        """An arrow from the event to the 1X high spot of each probe, and a line down to it."""
        rect = self.canvas.data_rect()
        rules: list[Rule] = []
        shapes: list[Shape] = []
        labels: list[Label] = []
        for place, name in enumerate(self._view.names):
            lag = self._view.lag_deg(name)
            ink = probe_colour(place, self._theme)
            y = rect.top() + 8 + place * _LANE
            if lag is None or not math.isfinite(lag):
                width, height = text_size(name, "tiny")
                box = QRectF(rect.left() + 6, y - height / 2, width, height)
                labels.append(Label(name, box, ink, font("tiny")))
                continue
            start = self.canvas.to_pixels(0.0, 0.0).x()
            turns = lag / 360.0
            top_um = self._values(name, self._once_of(name, np.array([turns])))[0]
            peak = self.canvas.to_pixels(turns, float(top_um))
            end = QPointF(peak.x(), y)
            rules.append(Rule(QLineF(QPointF(start, y), end), rule(ink)))
            if peak.y() > y:
                drop = rule(ink, Qt.PenStyle.DotLine)
                rules.append(Rule(QLineF(end, QPointF(crisp(end.x()), peak.y())), drop))
            if end.x() - start > 4.0:
                length = min(8.0, end.x() - start)
                shapes.append(Shape(arrow_head(end, QPointF(1, 0), length), rule(ink), brush(ink)))
            label = self._lag_label(name, lag, ink, start, end)
            if label is not None:
                labels.append(label)
        return rules, shapes, labels

    def _lag_label(
        self, name: str, lag: float, ink: QColor, start: float, end: QPointF
    ) -> Label | None:
        """Right of the arrow, else over its shaft; as many words as there is room for."""
        rect = self.canvas.data_rect()
        amplitude = length_text(self._view.once(name)[0], self._unit)
        angle = f"{round(lag) % 360}°"
        for text in (f"{name} 1X {amplitude} p-p, lag {angle}", f"{name} lag {angle}", angle):
            width, height = text_size(text, "tiny")
            box = QRectF(end.x() + 6, end.y() - height / 2, width, height)
            if box.right() <= rect.right() - 2:
                return Label(text, box, ink, font("tiny"))
            if end.x() - 12 - width >= start + 2:
                box.moveRight(end.x() - 12)
                return Label(text, box, ink, font("tiny"))
        return None

    def _marks(self, place: int, name: str, colours: Palette) -> list[Shape]:
        waveform = self._view.result.waveforms[name]
        values = self._values(name, waveform.marks_um)
        pen, fill = rule(probe_colour(place, self._theme)), brush(colours.card)
        shapes = []
        for turn, value in enumerate(values.tolist()):
            if turn <= self._span() and math.isfinite(value):
                shapes.append(circle(self.canvas.to_pixels(turn, value), 3.5, pen, fill))
        return shapes

    # Hand and cursor -----------------------------------------------------------------------------

    def _move(self) -> None:
        """The cursor, as far as it is in sight; the words are in the corner."""
        rect, colours = self.canvas.data_rect(), palette(self._theme)
        turns = self._turns % self._span()
        at = crisp(self.canvas.to_pixels(turns, 0.0).x())
        shapes, words = [], [f"{360.0 * (turns % 1.0):.0f}°"]
        for place, name in enumerate(self._view.names):
            gap = self._view.result.waveforms[name].trace.y
            index = round(turns * (len(gap) - 1) / self._view.result.shown_turns)
            value = float(self._values(name, gap[index : index + 1])[0])
            if not math.isfinite(value):
                continue
            ink = probe_colour(place, self._theme)
            shapes.append(circle(self.canvas.to_pixels(turns, value), 3.0, rule(ink), brush(ink)))
            words.append(self._value_text(value))
        cursor = Rule(QLineF(at, self._below_lanes(), at, rect.bottom()), rule(colours.muted))
        label = Label(
            " · ".join(words),
            self.canvas.corner(),
            colour(colours.ink),
            font("small"),
            Qt.AlignmentFlag.AlignRight,
        )
        self.canvas.hover.show_content((cursor,), tuple(shapes), (label,))

    def _value_text(self, value: float) -> str:
        if self._quantity == "voltage":
            return f"{plain_number(value, 2)} V"
        return length_text(value, self._unit)

    def _moved(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if buttons & Qt.MouseButton.LeftButton:
            self._drag(position)

    def _drag(self, position: QPointF) -> None:
        if self._view is not None:
            turns = self.canvas.to_data(position).x()
            self.turns_requested.emit(min(max(turns, 0.0), self._span() - 1e-6))
