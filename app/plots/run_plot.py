"""A calibrator run: every steady stretch that was found, and what was applied there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QPolygonF

from analysis.model.span import TimeSpan

from .axes import plain_number
from .chip import chip
from .curve import Curve
from .layers import Label, Rule, Shape
from .palette import Palette, palette
from .scales import GrowingScale
from .style import brush, colour, font, line, probe_colour, rule, text_size, with_alpha
from .time_plot import LEFT_ROOM, RIGHT_ROOM, TOP_ROOM, TimePlot
from .wording import length_text

if TYPE_CHECKING:
    from analysis.model.calibration_results import CalibratorRun, RunStep

_AXIS_ROOM = 60.0
_MARKS = {"pass": "✓", "fail": "✗", None: ""}


@dataclass(frozen=True, eq=False)
class RunView:
    """The run, the whole capture, and the probe's place in the setup (its colour)."""

    run: CalibratorRun
    whole: TimeSpan
    probe_index: int = 0


class RunPlot(TimePlot):
    """Boxes from the lowest to the highest gap of each stretch; press one to go there."""

    NAME = "Steps found"
    DESCRIPTION = (
        "Every stretch in which neither position nor vibration changes: gap in µm or mil against "
        "time, as high as its p-p. A short line: the gap applied. Press: move the moment. F: fit."
    )
    EMPTY = (
        "No steps yet. Open a capture of one probe on a calibrator or shaker; its steps are found "
        "by themselves."
    )
    MINIMUM = (320, 110)

    _view: RunView | None

    def _build(self) -> None:
        super()._build()
        self._curve = Curve()
        self.canvas.chart.add(self._curve)
        self._scale = GrowingScale(least_span=20.0)
        chart = self.canvas.chart
        chart.set_margins(LEFT_ROOM - _AXIS_ROOM, TOP_ROOM, RIGHT_ROOM, 2)
        self.canvas.left_axis.setWidth(_AXIS_ROOM)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._dress_curve()

    def _dress_curve(self) -> None:
        index = self._view.probe_index if self._view is not None else 0
        self._curve.setPen(line(probe_colour(index, self._theme)))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("time", "s")
        self.canvas.left_axis.set_quantity("gap", self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def title(self) -> str:
        """Always the same."""
        return self.NAME

    def subtitle(self) -> str:
        """How many there are."""
        if self._view is None:
            return ""
        count = len(self._found())
        return f"{count} steady stretch{'' if count == 1 else 'es'} · numbers as in the table below"

    def _whole(self) -> TimeSpan:
        return self._view.whole if self._view is not None else TimeSpan(0.0, 0.0)

    def _found(self) -> list[tuple[int, RunStep]]:
        return [
            (number, step)
            for number, step in enumerate(self._view.run.steps, 1)
            if step.stretch is not None
        ]

    def _draw(self) -> None:
        x: list[float] = []
        y: list[float] = []
        for _, step in self._found():
            stretch = step.stretch
            half = stretch.peak_to_peak_max_um / 2.0
            if np.isfinite(stretch.gap_um + half):
                self._scale.include(stretch.gap_um - half, stretch.gap_um + half)
            x += [stretch.start_s, stretch.end_s, stretch.end_s]
            y += [stretch.gap_um, stretch.gap_um, np.nan]
        shown = self.time_range()
        low, high = self._scale.ends or (0.0, 100.0)
        self.canvas.set_range(
            (shown.start_s, shown.end_s), (low - 0.04 * (high - low), high + 0.1 * (high - low))
        )
        self._curve.setData(np.array(x), np.array(y), connect="finite")
        self._dress_curve()

    def _decorate(self) -> None:
        self.canvas.margin.show_content(labels=(self._time_label(palette(self._theme)),))
        self._show_marks()

    def _show_marks(self) -> None:
        colours = palette(self._theme)
        self._show_ground(shapes=self._span_shade(colours))
        words = self._moment[1] if self._moment is not None else ""
        rules, shapes, labels = self._cursor(words, colours)
        own_shapes, own_rules, own_labels = self._boxes(colours)
        if not self._found():
            own_labels.append(self._message("no steady stretch was found"))
        self.canvas.over.show_content(
            (*own_rules, *rules, *self._focus_rules()),
            (*own_shapes, *shapes),
            (*own_labels, *labels),
        )

    def _boxes(self, colours: Palette) -> tuple[list[Shape], list[Rule], list[Label]]:
        rect = self.canvas.data_rect()
        hue = probe_colour(self._view.probe_index, self._theme)
        shapes, rules, labels = [], [], []
        for number, step in self._found():
            stretch = step.stretch
            half = stretch.peak_to_peak_um / 2.0
            top_left = self.canvas.to_pixels(stretch.start_s, stretch.gap_um + half)
            foot = self.canvas.to_pixels(stretch.end_s, stretch.gap_um - half)
            left, right = max(top_left.x(), rect.left()), min(foot.x(), rect.right())
            if right <= left:
                continue
            middle = (top_left.y() + foot.y()) / 2.0
            height = max(foot.y() - top_left.y(), 3.0)
            box = QRectF(left, middle - height / 2.0, right - left, height)
            shapes.append(Shape(QPolygonF(box), rule(hue), brush(with_alpha(hue, 0.22))))
            if step.applied is not None and step.applied.gap_um is not None:
                y = self.canvas.to_pixels(0.0, step.applied.gap_um).y()
                rules.append(Rule(QLineF(left, y, right, y), rule(colours.ink)))
            text = f"{number}{_MARKS[step.result]}"
            width, tall = text_size(text, "tiny")
            at = min(max(box.center().x() - width / 2, rect.left()), rect.right() - width)
            place = QRectF(at, box.top() - tall - 1.0, width, tall)
            if place.top() < rect.top():
                place.moveTop(box.bottom() + 1.0)
            ink = {"pass": colours.normal, "fail": colours.trip, None: colours.muted}[step.result]
            if width <= right - left + 8 and not any(place.intersects(e.rect) for e in labels):
                labels.append(Label(text, place, colour(ink), font("tiny")))
        return shapes, rules, labels

    def _hover(self, position: QPointF) -> None:
        rect = self.canvas.data_rect()
        time_s = self._time_at(position)
        found = next(
            ((n, s) for n, s in self._found() if s.stretch.start_s <= time_s <= s.stretch.end_s),
            None,
        )
        if not rect.contains(position) or found is None:
            self._clear_hover()
            return
        number, step = found
        stretch = step.stretch
        text = (
            f"step {number} · {plain_number(stretch.start_s, 1)} to "
            f"{plain_number(stretch.end_s, 1)} s · gap {length_text(stretch.gap_um, self._unit)}"
            f" · {length_text(stretch.peak_to_peak_um, self._unit)} p-p"
        )
        if stretch.frequency_hz is not None:
            text += f" · {plain_number(stretch.frequency_hz, 1)} Hz"
        ground, label = chip(text, position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))

    def _snap(self, _position: QPointF, time_s: float) -> float:
        for _, step in self._found():
            if step.stretch.start_s <= time_s <= step.stretch.end_s:
                return (step.stretch.start_s + step.stretch.end_s) / 2.0
        return time_s
