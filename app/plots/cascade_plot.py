"""Spectra over speed or time: as a picture, or as lines one above another."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPolygonF

from .axes import plain_number
from .cascade_shapes import (
    RANGE_DB,
    colour_table,
    nearest_rows,
    pooled,
    shares,
    stacked,
)
from .chip import chip
from .curve import Curve
from .layers import Label, Rule, Shape, crisp
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import brush, colour, font, line, rule, text_size
from .wording import length_number, length_text
from .zoom import STEP_IN, ZoomX

if TYPE_CHECKING:
    from .cascade_view import CascadeView

_GUTTER = 62.0
_BAR = 9.0
_HEAD = 18
"""Room above the data area for the names of the orders."""

_STUB = 7.0
_LINE_SHARE = 0.16
_ORDERS_NAMED = (1, 2, 3, 4, 5)


class CascadePlot(Plot):
    """Asks for the moment of the spectrum that is pressed."""

    moment_requested = Signal(float)

    NAME = "Cascade"
    DESCRIPTION = (
        "Spectra over speed in r/min or time, µm or mil p-p, as a picture or as lines. Marked: "
        "orders of running speed. Two-sided: backward precession left of zero, forward right. "
        "Press: move the moment to that spectrum. Wheel: zoom in frequency. F: fit."
    )
    EMPTY = "No cascade yet. Open a capture in which the speed changes; it is made while you wait."
    MINIMUM = (260, 150)

    _view: CascadeView | None

    def _build(self) -> None:
        self._image = pg.ImageItem(axisOrder="row-major")
        self._image.setZValue(-50)
        self.canvas.chart.add(self._image)
        self._lines = Curve()
        # Many points, and a moment that moves over them: a pixmap is cheap.
        self._lines.setCacheMode(self._lines.CacheMode.DeviceCoordinateCache)
        self.canvas.chart.add(self._lines)
        self._top = GrowingScale(least_span=0.1)
        self._height = GrowingScale(least_span=10.0)
        self._reach: tuple[float, float] | None = None
        self._zoom = ZoomX(least_share=0.02)
        self._kind: object = None
        self._left_out = 0
        self._moment: float | None = None
        self.canvas.chart.set_margins(2, _HEAD, _GUTTER, 2)
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(self._move)
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())
        self.canvas.wheeled.connect(self._wheel)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._lines.setPen(line(colours.accent))
        self._image.setLookupTable(colour_table(self._theme))

    def _label_axes(self) -> None:
        view = self._view
        orders = view is None or view.frequency == "orders"
        self.canvas.bottom.set_quantity("frequency", "orders" if orders else "Hz")
        by_time = view is not None and view.over == "time"
        name, unit = ("time", "s") if by_time else ("speed", "r/min")
        self.canvas.left_axis.set_quantity(name, unit)

    def _forget_scale(self) -> None:
        self._top.reset()
        self._height.reset()
        self._reach = None
        self._zoom.reset()

    def title(self) -> str:
        """Kind, and over what."""
        return self.NAME if self._view is None else f"Cascade over {self._view.over}"

    def subtitle(self) -> str:
        """Of what, and how drawn."""
        view = self._view
        if view is None:
            return ""
        words = [view.name, "two-sided: − backward, + forward" if view.two_sided else "one-sided"]
        if view.style == "lines" and self._left_out:
            words.append(f"{self._left_out} spectra between are not drawn")
        words.append(f"dB, {RANGE_DB:.0f} below the largest" if view.scale == "dB" else "linear")
        return " · ".join(words)

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view = self._view
        kind = (view.frequency, view.over, view.two_sided, view.name)
        if kind != self._kind:
            self._kind = kind
            self._forget_scale()
        self._label_axes()
        known = view.amplitude_um[np.isfinite(view.amplitude_um)]
        largest = float(known.max()) if len(known) else 0.0
        ends = self._top.ends
        if ends is None or largest > ends[1]:
            self._top.include(0.0, max(largest, 1e-3))
        if self._reach is None and len(view.x):
            self._reach = (float(view.x[0]), float(view.x[-1]))
        at = view.at()[np.isfinite(view.at())]
        if len(at):
            step = float(np.median(np.abs(np.diff(at)))) if len(at) > 1 else 1.0
            self._height.include(float(at.min()), float(at.max()) + step)
        self.canvas.set_range(self._across(), self._height.ends or (0.0, 1000.0))
        self._fill()

    def _across(self) -> tuple[float, float]:
        low, high = self._reach or (0.0, 4.0)
        return self._zoom.range_within(low, high)

    def _fill(self) -> None:
        """Image or lines for the range and the size there are."""
        view = self._view
        low, high = self._across()
        rect = self.canvas.data_rect()
        columns = max(int(rect.width()), 50)
        top = self._top.ends[1] if self._top.ends else 1.0
        bottom, head = self._height.ends or (0.0, 1000.0)
        usable = len(view.x) > 0 and np.isfinite(view.at()).all() and len(view.at()) > 0
        if not usable:
            self._lines.setData([], [])
            self._image.clear()
            return
        if view.style == "picture":
            self._lines.setData([], [])
            self._left_out = 0
            parts = shares(pooled(view.x, view.amplitude_um, low, high, columns), top, view.scale)
            chosen = nearest_rows(view.at(), bottom, head, max(int(rect.height()), 50))
            picture = np.where(chosen[:, np.newaxis] >= 0, parts[chosen], 0.0)
            self._image.setImage(picture, levels=(0.0, 1.0), autoLevels=False)
            self._image.setRect(QRectF(low, bottom, high - low, head - bottom))
            return
        self._image.clear()
        fewer = max(columns // 2, 50)
        parts = shares(pooled(view.x, view.amplitude_um, low, high, fewer), top, view.scale)
        middles = low + (np.arange(fewer) + 0.5) * (high - low) / fewer
        made = stacked(middles, view.at(), parts, _LINE_SHARE * (head - bottom))
        self._left_out = made.left_out
        self._lines.setData(made.x, made.y, connect="finite")

    def _resized(self) -> None:
        if self._view is not None:
            self._fill()
            self._decorate()

    # Decoration ----------------------------------------------------------------------------------

    def _decorate(self) -> None:
        self._show_ground()
        rules, labels = self._order_lines()
        shapes, words = self._colour_bar()
        self._laid = (rules, shapes, [*labels, *words])
        self._show_marks()

    def _order_lines(self) -> tuple[list[Rule], list[Label]]:
        """Where the orders of running speed lie, their names above the data area.

        Upright ones as stubs at both ends, slanted ones dotted: lines would hide what lies on them.
        """
        view, rect = self._view, self.canvas.data_rect()
        colours = palette(self._theme)
        order = np.argsort(view.at(), kind="stable")
        if len(order) == 0 or not np.isfinite(view.at()).all():
            return [], []
        thin = order[:: max(len(order) // 40, 1)]
        at, speed = view.at()[thin], view.speed_rpm[thin]
        rules: list[Rule] = []
        labels: list[Label] = []
        solid, dotted = rule(colours.ink), rule(colours.muted, Qt.PenStyle.DotLine)
        sides = (1, -1) if view.two_sided else (1,)
        numbers = [side * number for number in _ORDERS_NAMED for side in sides]
        taken: list[QRectF] = []
        crowded: set[bool] = set()
        low, high = self._across()
        for number in numbers:
            if view.frequency == "orders":
                ends = [(float(number), at[0]), (float(number), at[-1])]
            else:
                ends = list(zip((number * speed / 60.0).tolist(), at.tolist(), strict=True))
            points = [self.canvas.to_pixels(x, y) for x, y in ends if low <= x <= high]
            if len(points) < 2:
                continue
            tip = min(points, key=lambda p: p.y())
            if view.frequency == "orders":
                x = crisp(tip.x())
                for y, way in ((rect.top(), 1.0), (rect.bottom(), -1.0)):
                    rules.append(Rule(QLineF(x, y, x, y + way * _STUB), solid))
                top = rect.top()
            else:
                rules += [Rule(QLineF(a, b), dotted) for a, b in pairwise(points)]
                top = tip.y()
            text = f"{plain_number(number, 0)}X"
            width, height = text_size(text, "tiny")
            left = max(tip.x() - width / 2, rect.left() - 4.0)
            box = QRectF(left, top - height - 1, width, height)
            free = not any(box.intersects(other) for other in taken)
            if free and box.right() <= rect.right() + 8 and (number > 0) not in crowded:
                taken.append(box.adjusted(-3, 0, 3, 0))
                labels.append(Label(text, box, colour(colours.ink), font("tiny")))
            elif not free:
                crowded.add(number > 0)  # a higher order alone would be taken for the first
        return rules, labels

    def _colour_bar(self) -> tuple[list[Shape], list[Label]]:
        """What the colours mean, or how high a line stands: in the gutter."""
        view, rect = self._view, self.canvas.data_rect()
        colours = palette(self._theme)
        top = self._top.ends[1] if self._top.ends else 1.0
        left = rect.right() + 8.0
        height = min(rect.height(), 150.0)
        ink, small = colour(colours.muted), font("tiny")
        _, line_height = text_size("0", "tiny")
        shapes: list[Shape] = []
        if view.style == "lines":
            height = min(_LINE_SHARE * rect.height(), rect.height())
            box = QRectF(left, rect.bottom() - height, 1.0, height)
            shapes.append(Shape(QPolygonF(box), rule(ink), brush(ink)))
        else:
            table, steps = colour_table(self._theme), 40
            for step in range(steps):
                r, g, b = (int(v) for v in table[int(step / (steps - 1) * 255)])
                hue = QColor(r, g, b)
                y = rect.bottom() - (step + 1) * height / steps
                box = QRectF(left, y, _BAR, height / steps + 0.5)
                shapes.append(Shape(QPolygonF(box), rule(hue), brush(hue)))
        least = 0.0 if view.scale == "linear" else top * 10 ** (-RANGE_DB / 20)
        words = [
            (length_number(top, self._unit), rect.bottom() - height),
            (f"{self._unit.value}", rect.bottom() - height + line_height),
            ("p-p", rect.bottom() - height + 2 * line_height),
        ]
        if view.style == "picture":
            middle = top / 2 if view.scale == "linear" else top * 10 ** (-RANGE_DB / 40)
            at = rect.bottom() - height / 2 - line_height / 2
            if at > words[-1][1] + line_height:
                words.append((_small(middle * self._unit.per_um), at))
            words.append((_small(least * self._unit.per_um), rect.bottom() - line_height))
        labels = []
        for text, y in words:
            width = text_size(text, "tiny")[0]
            labels.append(Label(text, QRectF(left + _BAR + 4, y, width, line_height), ink, small))
        return shapes, labels

    # The moment, and the hand --------------------------------------------------------------------

    def set_moment(self, time_s: float | None) -> None:
        """Mark the spectrum of this moment."""
        if time_s != self._moment:
            self._moment = time_s
            if self._view is not None:
                self._show_marks()

    def _row_at_moment(self) -> int | None:
        view = self._view
        if self._moment is None or len(view.time_s) == 0 or not np.isfinite(view.time_s).all():
            return None
        steps = np.abs(np.diff(view.time_s))
        reach = float(steps.max()) if len(steps) else 1.0
        row = int(np.argmin(np.abs(view.time_s - self._moment)))
        return row if abs(float(view.time_s[row]) - self._moment) <= reach else None

    def _show_marks(self) -> None:
        rules, shapes, labels = self._laid
        rules, labels = list(rules), list(labels)
        rect, row = self.canvas.data_rect(), self._row_at_moment()
        if row is not None:
            y = crisp(self.canvas.to_pixels(0.0, float(self._view.at()[row])).y())
            if rect.top() <= y <= rect.bottom():
                ink = rule(colour(palette(self._theme).ink))
                rules.append(Rule(QLineF(rect.left(), y, rect.right(), y), ink))
        if not np.isfinite(self._view.amplitude_um).any() or not len(self._view.x):
            labels.append(self._message("no spectra to show here"))
        self.canvas.over.show_content((*rules, *self._focus_rules()), tuple(shapes), tuple(labels))

    def _row_under(self, position: QPointF) -> int | None:
        at = self._view.at()
        if len(at) == 0 or not np.isfinite(at).any():
            return None
        return int(np.nanargmin(np.abs(at - self.canvas.to_data(position).y())))

    def _press(self, position: QPointF, _modifiers: object) -> None:
        if self._view is None:
            return
        row = self._row_under(position)
        if row is not None and np.isfinite(self._view.time_s[row]):
            self.moment_requested.emit(float(self._view.time_s[row]))

    def _move(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if self._view is None:
            return
        if buttons & Qt.MouseButton.LeftButton:
            self._press(position, None)
            return
        rect, row = self.canvas.data_rect(), self._row_under(position)
        if row is None or not rect.contains(position) or not len(self._view.x):
            self.canvas.hover.show_content()
            return
        text = self._reading(row, self.canvas.to_data(position).x())
        ground, label = chip(text, position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))

    def _reading(self, row: int, x: float) -> str:
        """The largest line within three pixels of a place, with its frequency both ways."""
        view = self._view
        low, high = self._across()
        reach = 3.0 * (high - low) / max(self.canvas.data_rect().width(), 1.0)
        near = np.flatnonzero(np.abs(view.x - x) <= reach)
        if len(near) == 0:
            near = np.array([int(np.argmin(np.abs(view.x - x)))])
        at = int(near[np.nanargmax(np.nan_to_num(view.amplitude_um[row, near]))])
        speed = float(view.speed_rpm[row])
        orders = view.frequency == "orders"
        order = float(view.x[at]) if orders else 60.0 * float(view.x[at]) / max(speed, 1e-9)
        hertz = order * speed / 60.0
        words = [
            length_text(float(view.amplitude_um[row, at]), self._unit) + " p-p",
            f"{plain_number(order, 2)}X",
            f"{plain_number(hertz, 1)} Hz",
            f"{plain_number(speed, 0)} r/min",
        ]
        return " · ".join(words)

    def _wheel(self, notches: float, position: QPointF) -> None:
        if self._view is None or self._reach is None:
            return
        low, high = self._across()
        at = min(max(self.canvas.to_data(position).x(), low), high)
        self._zoom.by(STEP_IN**notches, at, *self._reach)
        self.canvas.set_range(self._across(), self._height.ends or (0.0, 1000.0))
        self._fill()
        self._decorate()


def _small(value: float) -> str:
    """A number of two figures, for the bar."""
    if value == 0.0:
        return "0"
    decimals = max(0, 1 - int(np.floor(np.log10(abs(value)))))
    return plain_number(value, min(decimals, 4))
