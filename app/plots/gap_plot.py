"""The gap of one probe against time, with the ends of its linear range and what lies beyond."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QKeyEvent, QPainterPath, QPolygonF

from analysis.model.span import TimeSpan

from .area import Area
from .axes import plain_number
from .chip import chip
from .curve import Curve
from .free_room import FreeRoom
from .gap_curves import Floats, GapCurves, GapRows
from .layers import Label, Rule, Shape
from .line_words import LevelMark, lay_marks
from .palette import Palette, palette
from .position_words import seconds_text
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
    state_mark,
)
from .time_plot import RIGHT_ROOM, TOP_ROOM, TimePlot
from .timeline_shapes import filled_band
from .wording import length_number, length_text, setting_text

if TYPE_CHECKING:
    from analysis.model.position_results import Clip, OutsideStretch, ProbePosition
    from analysis.model.results import RevolutionTable
    from analysis.model.setup import Setup

LEFT_ROOM = 80.0
_AXIS_ROOM = 62.0
_PAD = 0.08
_NEAR = 3.0
"""An end of the range belongs into the scale up to so many heights of the curve away."""

_NEAR_UM = 60.0
_LANE = 7.0
_SNAP = 5.0


@dataclass(frozen=True, eq=False)
class GapView:
    """What is shown: a probe, the revolutions of the capture, and the capture's span."""

    position: ProbePosition
    table: RevolutionTable
    setup: Setup
    whole: TimeSpan

    def looks_like(self, other: GapView) -> bool:
        """Whether both draw the same: what holds at the moment alone is not seen here."""
        mine, theirs = self.position, other.position
        return (
            self.table is other.table
            and self.setup is other.setup
            and self.whole == other.whole
            and mine.name == theirs.name
            and mine.capture is theirs.capture
            and mine.clips is theirs.clips
            and mine.marks == theirs.marks
        )


class GapPlot(TimePlot):
    """Mean gap as a line in the band from the least to the largest gap of each revolution."""

    NAME = "Gap against time"
    DESCRIPTION = (
        "Gap of the chosen probe against time, µm or mil: the mean of every revolution as a line, "
        "the least and the largest gap as a band, red where it goes beyond an end of the linear "
        "range; the strip at the top marks those times. Press: move the moment; Shift and drag: "
        "choose a span. Wheel: zoom. Comma and full stop: the stretch outside before and after. "
        "F: fit."
    )
    EMPTY = "No gap yet. Open a capture whose setup has probes."
    MINIMUM = (300, 110)

    _view: GapView | None

    def _build(self) -> None:
        super()._build()
        self._band, self._beyond = Area(), Area()
        self._mean = Curve()
        for item in (self._band, self._beyond, self._mean):
            self.canvas.chart.add(item)
        self._scale = GrowingScale(least_span=10.0)
        self._curves: GapCurves | None = None
        self._rows: GapRows | None = None
        self._drawn: object = None
        self._index = 0
        self._words: tuple[list[Rule], list[Shape], list[Label]] = ([], [], [])
        chart = self.canvas.chart
        chart.set_margins(LEFT_ROOM - _AXIS_ROOM, TOP_ROOM, RIGHT_ROOM, 2)
        self.canvas.left_axis.setWidth(_AXIS_ROOM)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        hue = probe_colour(self._index, self._theme)
        soft, red = blend(hue, colours.card, 0.32), condition_colour("trip", self._theme)
        for item, tint in ((self._band, soft), (self._beyond, red)):
            item.dress(line(tint), brush(tint))
        self._mean.setPen(line(hue))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("time", "s")
        self.canvas.left_axis.set_quantity("gap", self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def title(self) -> str:
        """The probe, and what is shown of it."""
        return self.NAME if self._view is None else f"{self._view.position.name} gap against time"

    def subtitle(self) -> str:
        """How long it was outside, or what the band is."""
        view = self._view
        if view is None:
            return ""
        use = view.position.capture
        if use is not None and use.outside_turns:
            return (
                f"red: beyond the linear range, {use.outside_turns} turns, "
                f"{seconds_text(use.outside_s)} in all"
            )
        return "line: mean of a turn · band: least to largest gap"

    def _whole(self) -> TimeSpan:
        return self._view.whole if self._view is not None else TimeSpan(0.0, 0.0)

    # Drawing -------------------------------------------------------------------------------------

    def show_result(self, view: GapView | None) -> None:
        """Draw a view; one that tells the same of the whole capture changes nothing."""
        if view is not None and self._view is not None and view.looks_like(self._view):
            self._view = view
            return
        super().show_result(view)

    def _draw(self) -> None:
        view = self._view
        name = view.position.name
        if self._curves is None or (self._curves.table, self._curves.probe) != (view.table, name):
            if self._curves is None or self._curves.probe != name:
                self._forget_scale()
            self._curves = GapCurves(view.table, name)
        names = [probe.name for probe in view.setup.probe]
        index = names.index(name) if name in names else 0
        if index != self._index:
            self._index = index
            self._dress(palette(self._theme))
        self._include()
        shown = self.time_range()
        self.canvas.set_range((shown.start_s, shown.end_s), self._scale.ends or (0.0, 100.0))
        columns = max(int(self.canvas.data_rect().width()), 50)
        drawn = (id(self._curves), shown, columns, view.position.linear_range_um)
        if drawn != self._drawn:
            self._drawn = drawn
            self._draw_rows(self._curves.rows(shown, columns))

    def _draw_rows(self, rows: GapRows) -> None:
        self._rows = rows
        self._band.setPath(filled_band(rows.time_s, rows.least, rows.largest))
        path = QPainterPath()
        if self._view.position.linear_range_um is not None:
            low, high = self._view.position.linear_range_um
            bottom, top = _beyond(rows.largest, high)
            path.addPath(filled_band(rows.time_s, bottom, top))
            bottom, top = _beyond(-rows.least, -low)
            path.addPath(filled_band(rows.time_s, -top, -bottom))
        self._beyond.setPath(path)
        if rows.mean_low is rows.mean_high:
            self._mean.setData(rows.time_s, rows.mean_low, connect="finite")
            return
        x = np.repeat(rows.time_s, 2)
        y = np.column_stack([rows.mean_low, rows.mean_high]).ravel()
        self._mean.setData(x, y, connect="finite")

    def _include(self) -> None:
        """Let the scale grow to the curve, and to what is near it: range ends, limits, cuts."""
        ends = self._curves.ends
        if ends is None:
            return
        low, high = ends
        reach = max(_NEAR * (high - low), _NEAR_UM)
        position = self._view.position
        near = [mark.gap_um for mark in position.marks] + [clip.level_um for clip in position.clips]
        near += list(position.linear_range_um or ())
        near = [each for each in near if low - reach <= each <= high + reach]
        low, high = min([low, *near]), max([high, *near])
        pad = _PAD * max(high - low, 1.0)
        now = self._scale.ends
        if now is None or low < now[0] or high > now[1]:
            self._scale.include(low - pad, high + pad)

    def _decorate(self) -> None:
        colours = palette(self._theme)
        room = FreeRoom(self.canvas.data_rect().adjusted(0.0, _LANE, 0.0, 0.0))
        if self._rows is not None and len(self._rows.time_s):
            zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
            x = zero.x() + self._rows.time_s * (one.x() - zero.x())
            for values in (self._rows.least, self._rows.largest):
                room.add_curve(x, zero.y() + values * (one.y() - zero.y()))
        self._words = lay_marks(self._marks(colours), self.canvas, room, colours)
        self.canvas.margin.show_content(labels=(self._time_label(colours),))
        self._show_marks()

    def _marks(self, colours: Palette) -> list[LevelMark]:
        position, unit = self._view.position, self._unit
        found = []
        ends = self._curves.ends
        for end, value in zip(("near", "far"), position.linear_range_um or (), strict=False):
            away = ""
            if ends is not None:
                margin = ends[0] - value if end == "near" else value - ends[1]
                away = f", {length_text(margin, unit)} away" if margin > 0 else ""
            words = f"{end} end of the linear range {setting_text(value, unit)}"
            ink = colour(colours.normal)
            short = f"{end} end {setting_text(value, unit)}"
            found.append(LevelMark(value, words, rule(ink), ink, f"{short}{away}", short))
        for mark in position.marks:
            dash = Qt.PenStyle.DashLine if mark.level == "alarm" else Qt.PenStyle.SolidLine
            words = f"{' '.join(state_mark(mark.level))} {setting_text(mark.gap_um, unit)}"
            pen = rule(condition_colour(mark.level, self._theme), dash)
            ink = condition_ink(mark.level, self._theme)
            found.append(LevelMark(mark.gap_um, words, pen, ink, words))
        for clip in position.clips:
            ink = condition_ink("fault", self._theme)
            pen = rule(condition_colour("fault", self._theme), Qt.PenStyle.DotLine)
            words = f"{_CUTS[clip.cause]} {length_text(clip.level_um, unit)}"
            found.append(LevelMark(clip.level_um, words, pen, ink, words))
        return found

    def _show_marks(self) -> None:
        colours = palette(self._theme)
        self._show_ground(shapes=self._span_shade(colours))
        rules, shapes, labels = self._cursor(self._moment_words(), colours)
        lines, grounds, words = self._words
        strip = self._strip(colours)
        if self._curves.ends is None:
            labels = (*labels, self._message(f"no reading of {self._view.position.name}"))
        self.canvas.over.show_content(
            (*lines, *rules, *self._focus_rules()),
            (*strip, *grounds, *shapes),
            (*words, *labels),
        )

    def _strip(self, colours: Palette) -> list[Shape]:
        """The stretches outside, as bars along the top."""
        rect = self.canvas.data_rect()
        red = condition_colour("trip", self._theme)
        found = []
        for each in self._stretches():
            left, right = self._pixel(each.span.start_s), self._pixel(each.span.end_s)
            if right < rect.left() or left > rect.right():
                continue
            left, right = max(left, rect.left()), min(right, rect.right())
            box = QRectF(left, rect.top() + 1, max(right - left, 2.0), _LANE - 2)
            found.append(Shape(QPolygonF(box), rule(red), brush(red)))
        return found

    def _stretches(self) -> tuple[OutsideStretch, ...]:
        use = self._view.position.capture if self._view is not None else None
        return use.stretches if use is not None else ()

    def _moment_words(self) -> str:
        if self._moment is None or self._curves is None:
            return ""
        time_s, label = self._moment
        return " · ".join(filter(None, (label, self._reading_at(time_s))))

    def _reading_at(self, time_s: float) -> str:
        found = self._curves.at(time_s)
        if found is None:
            return ""
        mean, least, largest = (length_number(value, self._unit) for value in found)
        return f"{mean} {self._unit.value} · {least} to {largest}"

    # Hand and keyboard ---------------------------------------------------------------------------

    def _stretch_at(self, position: QPointF) -> OutsideStretch | None:
        for each in self._stretches():
            left, right = self._pixel(each.span.start_s), self._pixel(each.span.end_s)
            if left - _SNAP <= position.x() <= right + _SNAP:
                return each
        return None

    def _snap(self, position: QPointF, time_s: float) -> float:
        """On a bar of the strip: where it goes furthest out."""
        on_strip = position.y() <= self.canvas.data_rect().top() + _LANE + 2
        each = self._stretch_at(position) if on_strip else None
        return each.worst_s if each is not None else time_s

    def _hover(self, position: QPointF) -> None:
        rect = self.canvas.data_rect()
        if self._view is None or not rect.contains(position):
            self._clear_hover()
            return
        time_s = self._time_at(position)
        text = f"{plain_number(time_s, 2)} s · {self._reading_at(time_s) or 'no reading'}"
        each = self._stretch_at(position)
        if each is not None and each.span.start_s <= time_s <= each.span.end_s:
            text += (
                f" · outside for {seconds_text(each.span.length_s)}, "
                f"by {length_text(each.beyond_um, self._unit)} at most"
            )
        ground, label = chip(text, position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))

    def _own_key(self, event: QKeyEvent) -> bool:
        keys = {Qt.Key.Key_Comma, Qt.Key.Key_Period}
        return event.key() in keys and not event.modifiers()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Comma and full stop go to the stretch outside before the moment, and after it."""
        if self._view is None or not self._own_key(event):
            super().keyPressEvent(event)
            return
        forward = event.key() == Qt.Key.Key_Period
        now = self._moment[0] if self._moment is not None else -np.inf
        times = sorted(each.worst_s for each in self._stretches())
        beyond = [t for t in times if (t > now + 1e-9 if forward else t < now - 1e-9)]
        if beyond:
            self.moment_requested.emit(beyond[0] if forward else beyond[-1])


_CUTS = {
    "converter": "cut by the recorder's converter at",
    "fault_limit": "circuit fault beyond",
    "flattened": "waveform cut level at",
}


def cut_words(clip: Clip) -> str:
    """What cuts a waveform."""
    return _CUTS[clip.cause]


def _beyond(values: Floats, end: float) -> tuple[Floats, Floats]:
    """The area between an end and what rises above it; the rows beside lend it its feet."""
    wide = values > end  # NaN compares false: what is not known is not outside
    wide[1:] |= values[:-1] > end
    wide[:-1] |= values[1:] > end
    return np.where(wide, end, np.nan), np.where(wide, np.fmax(values, end), np.nan)
