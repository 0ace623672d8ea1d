"""Axes: a quantity with its unit, round ticks in the unit shown, no SI prefixes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pyqtgraph as pg
from PySide6.QtCore import QPoint, QPointF, QSize, Qt
from PySide6.QtGui import QPainter, QPixmap
from PySide6.QtWidgets import QStyleOptionGraphicsItem

from .fonts import font, text_size
from .style import line

if TYPE_CHECKING:
    from .palette import Palette

_LEAST_PIXELS_A_TICK = {"left": 24.0, "bottom": 46.0}
_BESIDE = 16.0


def nice_step(least: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is not below `least` (positive)."""
    power = 10.0 ** math.floor(math.log10(least))
    for mantissa in (1.0, 2.0, 5.0, 10.0):
        if mantissa * power >= least * (1 - 1e-9):
            return mantissa * power
    return 10.0 * power


def nice_floor(most: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not above `most` (positive)."""
    power = 10.0 ** math.floor(math.log10(most))
    return max(m * power for m in (0.5, 1.0, 2.0, 5.0, 10.0) if m * power <= most * (1 + 1e-9))


def plain_number(value: float, decimals: int) -> str:
    """A number with a true minus sign and no negative zero."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        return text.lstrip("-")
    return text.replace("-", "−")


def _decimals(step: float) -> int:
    """Decimals that numbers a step apart need."""
    return max(0, -math.floor(math.log10(step) + 1e-9)) if step > 0 else 0


class QuantityAxis(pg.AxisItem):
    """An axis of the left or bottom. The data stay in their own unit; the axis shows another.

    `set_quantity("gap", "mil", 1 / 25.4)` over data in µm writes mil, with ticks at round mils.
    """

    def __init__(self, orientation: str) -> None:
        super().__init__(orientation)
        self.enableAutoSIPrefix(False)
        self.setStyle(
            tickLength=0,
            tickTextOffset=6,
            tickFont=font("small"),
            autoExpandTextSpace=True,
            autoReduceTextSpace=False,
            hideOverlappingLabels=20 if orientation == "bottom" else 8,
            maxTickLevel=0,
            textFillLimits=[(0, 1.0)],
        )
        self.label.setFont(font("small"))
        self._kept: QPixmap | None = None
        self._kept_for: tuple[object, ...] = ()
        self._kept_at = QPoint()
        self.quantity = ""
        self.unit = ""
        self.label_wanted = True
        self._colour = "#808080"

    def set_quantity(self, quantity: str, unit: str, per_unit: float = 1.0) -> None:
        """Name what the axis shows and in which unit; `per_unit` turns the data into that unit."""
        if (quantity, unit, per_unit) == (self.quantity, self.unit, self.scale):
            return  # writing a label lays the axis out anew
        self.quantity, self.unit = quantity, unit
        if self.scale != per_unit:
            self.setScale(per_unit)
        self._write_label()

    def set_colours(self, colours: Palette) -> None:
        """Dress in the colours of a theme."""
        self._colour = colours.muted
        self.setPen(line(colours.axis))
        self.setTickPen(line(colours.grid))
        self.setTextPen(line(colours.muted))
        self._write_label()

    def paint_kept(self, painter: QPainter) -> None:
        """Paint from a pixmap, which is made anew when something of the axis has changed."""
        ratio = painter.device().devicePixelRatio()
        if self._kept is None or self.picture is None or self._state(ratio) != self._kept_for:
            self._keep(ratio)
        painter.drawPixmap(self._kept_at, self._kept)

    def _state(self, ratio: float) -> tuple[object, ...]:
        label = self.label
        return self.picture, ratio, self.scenePos(), self.size(), label.isVisible(), label.pos()

    def _keep(self, ratio: float) -> None:
        label, place = self.label, self.scenePos()
        box = self.boundingRect()
        if label.isVisible():
            box = box.united(label.mapRectToParent(label.boundingRect()))
        # From whole pixel to whole pixel, so that lines and letters are as crisp as without it.
        whole = box.translated(place).toAlignedRect()
        pixmap = QPixmap((whole.size() * ratio).expandedTo(QSize(1, 1)))  # an axis may be hidden
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        try:
            painter.translate(place - QPointF(whole.topLeft()))
            self.paint(painter, None, None)
            if label.isVisible():
                option = QStyleOptionGraphicsItem()
                option.exposedRect = label.boundingRect()
                painter.setTransform(label.itemTransform(self)[0], True)
                label.paint(painter, option, None)
        finally:
            painter.end()
        self._kept, self._kept_at, self._kept_for = pixmap, whole.topLeft(), self._state(ratio)

    def text(self) -> str:
        """The label as written."""
        return f"{self.quantity}, {self.unit}" if self.quantity else self.unit

    def _write_label(self) -> None:
        self.setLabel(self.text(), color=self._colour)
        if not self.label_wanted:
            self.showLabel(False)  # setLabel brings it back

    def tickSpacing(  # noqa: N802
        self,
        minVal: float,  # noqa: N803
        maxVal: float,  # noqa: N803
        size: float,
    ) -> list[tuple[float, float]]:
        """One level of ticks, at a 1-2-5 step, as many as fit calmly."""
        span = abs(maxVal - minVal)
        if span <= 0 or not math.isfinite(span) or size <= 0:
            return []
        count = max(size / _LEAST_PIXELS_A_TICK[self.orientation], 2.0)
        step = nice_step(span / count)
        if self.orientation == "bottom":
            # Far in, numbers have many figures: fewer of them, before they run into each other.
            while step < span and size * step / span < self._room(minVal, maxVal, step):
                step = nice_step(1.5 * step)
        return [(step, 0.0)]

    @staticmethod
    def _room(low: float, high: float, step: float) -> float:
        """Pixels that the wider of two numbers takes with the space beside it."""
        texts = [plain_number(value, _decimals(step)) for value in (low, high)]
        return max(text_size(text, "small")[0] for text in texts) + _BESIDE

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        """Numbers with as many decimals as the step needs."""
        decimals = _decimals(spacing * scale)
        return [plain_number(value * scale, decimals) for value in values]

    def grid_positions(self) -> list[float]:
        """Where the ticks are, in the unit of the data."""
        low, high = sorted(self.range)
        size = self.size().height() if self.orientation == "left" else self.size().width()
        return [value for _, values in self.tickValues(low, high, size) for value in values]
