"""Thrust position of both axial probes against time, with the float and their agreement."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPolygonF

from analysis.model.span import TimeSpan
from analysis.signal.envelope import envelope

from .axes import plain_number
from .chip import chip
from .curve import Curve
from .free_room import FreeRoom
from .layers import Label, Rule, Shape
from .level_layout import curve_names
from .line_words import LevelMark, lay_marks
from .palette import Palette, palette
from .scales import GrowingScale
from .style import (
    blend,
    brush,
    colour,
    condition_colour,
    condition_ink,
    line,
    probe_colour,
    rule,
)
from .time_plot import RIGHT_ROOM, TOP_ROOM, TimePlot
from .wording import length_number, length_text, setting_text

if TYPE_CHECKING:
    from analysis.model.position_results import ThrustPair
    from analysis.model.setup import Setup

LEFT_ROOM = 80.0
_AXIS_ROOM = 62.0
_NEAR = 3.0


@dataclass(frozen=True, eq=False)
class ThrustView:
    """What is shown: a pair of axial probes, and the capture's span."""

    pair: ThrustPair
    setup: Setup
    whole: TimeSpan


class ThrustPlot(TimePlot):
    """Positions from rest, towards the probes up; the band is the float that was seen."""

    NAME = "Thrust position"
    DESCRIPTION = (
        "Positions of the collar by both axial probes against time, µm or mil from rest, towards "
        "the probes upwards. Band: the float that the capture shows. Solid lines: trip. "
        "Press: move the moment; Shift and drag: choose a span. Wheel: zoom. F: fit."
    )
    EMPTY = 'No thrust position yet. Open a capture whose setup has two probes of kind = "axial".'
    MINIMUM = (280, 110)

    _view: ThrustView | None

    def _build(self) -> None:
        super()._build()
        self._curves = (Curve(), Curve())
        for curve in self._curves:
            self.canvas.chart.add(curve)
        self._scale = GrowingScale(least_span=10.0)
        self._indices = (0, 1)
        self._drawn: object = None
        self._shown: object = None
        self._words: tuple[list[Rule], list[Shape], list[Label]] = ([], [], [])
        chart = self.canvas.chart
        chart.set_margins(LEFT_ROOM - _AXIS_ROOM, TOP_ROOM, RIGHT_ROOM, 2)
        self.canvas.left_axis.setWidth(_AXIS_ROOM)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        for curve, index in zip(self._curves, self._indices, strict=True):
            curve.setPen(line(probe_colour(index, self._theme)))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("time", "s")
        self.canvas.left_axis.set_quantity("thrust", self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def title(self) -> str:
        """Always the same."""
        return self.NAME

    def subtitle(self) -> str:
        """Float and agreement, in words."""
        return "" if self._view is None else self.verdict()

    def verdict(self) -> str:
        """Float seen, largest difference, and whether that is agreement."""
        pair = self._view.pair if self._view is not None else None
        if pair is None or pair.difference_um is None or pair.travel_um is None:
            return "no turn with both probes"
        travel = length_text(pair.travel_um[1] - pair.travel_um[0], self._unit)
        apart = length_text(abs(pair.difference_um), self._unit)
        allowed = setting_text(pair.tolerance_um, self._unit).split()[0]
        agree = "– agree within" if pair.agree else "▲ differ by"
        return f"{agree} {apart} ({allowed} allowed) · float seen {travel}"

    def _whole(self) -> TimeSpan:
        return self._view.whole if self._view is not None else TimeSpan(0.0, 0.0)

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view, pair = self._view, self._view.pair
        if self._shown != (pair.probes, view.setup.probe):
            self._shown = (pair.probes, view.setup.probe)
            self._forget_scale()
            names = [probe.name for probe in view.setup.probe]
            first, second = (names.index(n) if n in names else i for i, n in enumerate(pair.probes))
            self._indices = (first, second)
            self._dress(palette(self._theme))
        self._include(pair)
        shown = self.time_range()
        self.canvas.set_range((shown.start_s, shown.end_s), self._scale.ends or (-100.0, 100.0))
        columns = max(int(self.canvas.data_rect().width()), 50)
        drawn = (id(pair.position_um[0]), id(pair.position_um[1]), shown, columns)
        if drawn == self._drawn:
            return
        self._drawn = drawn
        first = max(int(np.searchsorted(pair.time_s, shown.start_s)) - 1, 0)
        last = int(np.searchsorted(pair.time_s, shown.end_s, side="right")) + 1
        for curve, values in zip(self._curves, pair.position_um, strict=True):
            trace = envelope(pair.time_s[first:last], values[first:last], columns)
            curve.setData(trace.x, trace.y, connect="finite")

    def _include(self, pair: ThrustPair) -> None:
        known = [values[np.isfinite(values)] for values in pair.position_um]
        known = [values for values in known if len(values)]
        if not known:
            return
        low, high = min(float(v.min()) for v in known), max(float(v.max()) for v in known)
        reach = max(_NEAR * (high - low), 40.0)
        near = [v for v in (*pair.window_um, 0.0) if v is not None]
        near = [v for v in near if low - reach <= v <= high + reach]
        low, high = min([low, *near]), max([high, *near])
        pad = 0.12 * max(high - low, 1.0)
        ends = self._scale.ends
        if ends is None or low < ends[0] or high > ends[1]:
            self._scale.include(low - pad, high + pad)

    def _decorate(self) -> None:
        colours, pair = palette(self._theme), self._view.pair
        room = FreeRoom(self.canvas.data_rect())
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        for curve in self._curves:
            x, y = curve.getData()
            if x is not None and len(x):
                room.add_curve(
                    zero.x() + x * (one.x() - zero.x()), zero.y() + y * (one.y() - zero.y())
                )
        rules, shapes, labels = lay_marks(self._marks(colours), self.canvas, room, colours)
        hues = [probe_colour(index, self._theme) for index in self._indices]
        grounds, names = curve_names(list(pair.probes), hues, room, colours)
        self._words = rules, [*shapes, *grounds], [*labels, *names]
        self.canvas.margin.show_content(labels=(self._time_label(colours),))
        self._show_marks()

    def _marks(self, colours: Palette) -> list[LevelMark]:
        pair, unit = self._view.pair, self._unit
        found = []
        for value in pair.window_um:
            if value is not None:
                ink = condition_ink("trip", self._theme)
                words = f"◆ trip {setting_text(value, unit)} from rest"
                pen = rule(condition_colour("trip", self._theme))
                found.append(LevelMark(value, words, pen, ink, words))
        muted = colour(colours.muted)
        rest = "rest" if pair.from_rest else "mean: no rest gap in the setup"
        found.append(LevelMark(0.0, rest, rule(muted, Qt.PenStyle.DotLine), muted, rest))
        return found

    def _show_marks(self) -> None:
        colours, pair = palette(self._theme), self._view.pair
        self._show_ground(shapes=(*self._float_band(colours), *self._span_shade(colours)))
        rules, shapes, labels = self._cursor(self._moment_words(), colours)
        lines, grounds, words = self._words
        if not any(np.isfinite(values).any() for values in pair.position_um):
            labels = (*labels, self._message("no reading of either probe"))
        self.canvas.over.show_content(
            (*lines, *rules, *self._focus_rules()), (*grounds, *shapes), (*words, *labels)
        )

    def _float_band(self, colours: Palette) -> tuple[Shape, ...]:
        travel, rect = self._view.pair.travel_um, self.canvas.data_rect()
        if travel is None:
            return ()
        top, bottom = (self.canvas.to_pixels(0.0, value).y() for value in (travel[1], travel[0]))
        top, bottom = max(top, rect.top()), min(bottom, rect.bottom())
        if bottom <= top:
            return ()
        fill = brush(blend(colours.in_range, colours.card, 0.22))
        box = QRectF(rect.left(), top, rect.width(), bottom - top)
        return (Shape(QPolygonF(box), rule(colour("transparent")), fill),)

    def _moment_words(self) -> str:
        if self._moment is None:
            return ""
        words = [
            f"{name} {'–' if value is None else length_number(value, self._unit)}"
            for name, value in zip(self._view.pair.probes, self._view.pair.moment_um, strict=True)
        ]
        return f"{self._moment[1]} · {', '.join(words)} {self._unit.value}"

    def _hover(self, position: QPointF) -> None:
        rect = self.canvas.data_rect()
        if self._view is None or not rect.contains(position):
            self._clear_hover()
            return
        pair, time_s = self._view.pair, self._time_at(position)
        row = int(np.clip(np.searchsorted(pair.time_s, time_s), 0, max(len(pair.time_s) - 1, 0)))
        words = [f"{plain_number(time_s, 2)} s"]
        for name, values in zip(pair.probes, pair.position_um, strict=True):
            value = float(values[row]) if len(values) else np.nan
            told = length_text(value, self._unit) if np.isfinite(value) else "–"
            words.append(f"{name} {told}")
        ground, label = chip(" · ".join(words), position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))
