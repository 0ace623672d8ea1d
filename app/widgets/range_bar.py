"""A thin bar: where a probe's gap is inside its linear range, and where its limits are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QPainter

from app.plots import style

if TYPE_CHECKING:
    from analysis.model.results import ProbeReading
    from analysis.model.setup import Probe, Setup

BEYOND = 0.12
"""Share of the linear range that the bar shows on either side of it."""


def limit_marks(reading: ProbeReading, setup: Setup) -> Iterator[tuple[str, float]]:
    """`(level, gap in µm)` of every limit that stands on the gap scale.

    Position limits stand where they are, p-p limits half their value on either side of the mean.
    """
    mean = reading.gap_um.value if reading.gap_um else None
    for limit_reading in reading.limits:
        limit = setup.limit[limit_reading.index]
        if limit.measure == "position":
            for bound in (limit_reading.below_um, limit_reading.above_um):
                if bound is not None:
                    yield limit.level, bound
        elif limit.measure == "peak_to_peak" and mean is not None and limit_reading.above_um:
            yield limit.level, mean - limit_reading.above_um / 2.0
            yield limit.level, mean + limit_reading.above_um / 2.0


def paint_range_bar(
    painter: QPainter,
    box: QRectF,
    probe: Probe,
    probe_index: int,
    reading: ProbeReading | None,
    setup: Setup,
    theme: style.Theme,
) -> None:
    """Draw the bar into `box`; without a linear range there is nothing to draw."""
    if probe.linear_range_um is None:
        return
    colours = style.palette(theme)
    low, high = probe.linear_range_um
    start = low - BEYOND * (high - low)
    scale = box.width() / ((1.0 + 2.0 * BEYOND) * (high - low))

    def x(gap_um: float) -> float:
        return min(max(box.left() + (gap_um - start) * scale, box.left()), box.right())

    middle = box.center().y()
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(style.brush(colours.out_of_range))
    painter.drawRect(QRectF(box.left(), middle - 1.5, box.width(), 3.0))
    painter.setBrush(style.brush(colours.in_range))
    painter.drawRect(QRectF(x(low), middle - 1.5, x(high) - x(low), 3.0))
    if reading is None:
        return
    for level, gap_um in limit_marks(reading, setup):
        dash = Qt.PenStyle.DashLine if level == "alarm" else Qt.PenStyle.SolidLine
        painter.setPen(style.line(style.condition_colour(level, theme), dash))
        painter.drawLine(_upright(x(gap_um), middle, box.height() / 2.0))
    if reading.linear_range is not None:
        left, right = x(reading.linear_range.min_um), x(reading.linear_range.max_um)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(style.brush(style.probe_colour(probe_index, theme)))
        width = max(right - left, 3.0)
        painter.drawRect(QRectF((left + right - width) / 2.0, middle - 3.5, width, 7.0))
    if reading.gap_um is not None:
        painter.setPen(style.line(colours.ink))
        painter.drawLine(_upright(x(reading.gap_um.value), middle, box.height() / 2.0))


def _upright(x: float, middle: float, half: float) -> QLineF:
    centre = round(x) + 0.5
    return QLineF(centre, middle - half, centre, middle + half)
