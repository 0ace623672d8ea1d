"""Phase lag of an order against speed or time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QRectF
from PySide6.QtGui import QPolygonF

from .layers import Label, Shape, circle
from .palette import Palette, palette
from .run_view import CurveStyle
from .speed_plot import SpeedPlot
from .style import brush, colour, font, rule, text_size, with_alpha

if TYPE_CHECKING:
    from analysis.model.results import Floats
    from analysis.views.run_traces import RunTrace

    from .free_room import FreeRoom

_TITLE_ROOM = 20.0


class PhasePlot(SpeedPlot):
    """Lag behind the once-per-turn event: growing with delay, as the contract has it."""

    NAME = "Phase lag against speed"
    DESCRIPTION = (
        "Phase lag of the order, degrees from the once-per-turn event to the next positive peak, "
        "against speed in r/min; slow roll taken off. Where the amplitude is lost in noise there "
        "is no lag. Press: move the moment to the nearest point. Wheel: zoom. F: fit."
    )
    EMPTY = "No phase yet. Open a capture with a phase reference in which the speed changes."
    MINIMUM = (300, 104)
    LEAST_SPAN = 30.0

    def _build(self) -> None:
        super()._build()
        # Room above for what the picture is called: the card's title is the amplitude's.
        self.canvas.chart.set_margins(2, _TITLE_ROOM, 20, 2)

    def _label_axes(self) -> None:
        self._label_across()
        self.canvas.left_axis.set_quantity("lag", "°")

    def _heights(self, trace: RunTrace, kind: str) -> Floats:
        lag = trace.lag_deg
        if not self._view.wrapped:
            return lag
        out: Floats = np.mod(lag, 360.0)
        jumps = np.flatnonzero(np.abs(np.diff(out)) > 180.0)
        if len(jumps):
            out = out.copy()
            out[jumps] = np.nan  # the pen is lifted where the circle closes
        return out

    def _wanted(self) -> list[tuple[RunTrace, str]]:
        return [(trace, kind) for trace, kind in super()._wanted() if kind != "raw"]

    def _y_range(self) -> tuple[float, float]:
        if self._view.wrapped:
            self._y_scale.reset()
            return (0.0, 360.0)
        heights = [self._heights(trace, kind) for trace, kind in self._wanted()]
        known = [y[np.isfinite(y)] for y in heights]
        known = [y for y in known if len(y)]
        if known:
            low, high = min(float(y.min()) for y in known), max(float(y.max()) for y in known)
            pad = 0.05 * (high - low)
            ends = self._y_scale.ends
            if ends is None or low < ends[0] or high > ends[1]:
                self._y_scale.include(low - pad, high + pad)
        return self._y_scale.ends or (0.0, 360.0)

    def title(self) -> str:
        """What is shown, and how it is turned."""
        if self._view is None:
            return self.NAME
        run_on = "0° to 360°" if self._view.wrapped else "running on"
        return f"Phase lag of {self._view.order}X, {run_on}"

    def _decorate(self) -> None:
        super()._decorate()
        text, rect = self.title(), self.canvas.data_rect()
        width, height = text_size(text, "small", strong=True)
        place = QRectF(rect.left(), rect.top() - height - 3.0, width, height)
        ink = colour(palette(self._theme).ink)
        self.canvas.margin.show_content(
            labels=(Label(text, place, ink, font("small", strong=True)),)
        )

    def _lay(self, room: FreeRoom, colours: Palette) -> None:
        operating, rect = self._view.operating_rpm, room.area
        if operating is not None and self._view.axis == "speed":
            left, right = (self.canvas.to_pixels(speed, 0.0).x() for speed in operating)
            left, right = max(left, rect.left()), min(right, rect.right())
            if right - left >= 1.0:
                band = QRectF(left, rect.top(), right - left, rect.height())
                fill = brush(with_alpha(colours.normal, 0.12))
                blank = rule(with_alpha(colours.normal, 0.0))
                self._ground[1].append(Shape(QPolygonF(band), blank, fill))
        for mark in self._view.criticals if self._view.axis == "speed" else ():
            self._mark_critical(mark.probe, mark.critical.speed_rpm, rect)
        self._name_curves(room)

    def _mark_critical(self, probe: str, speed_rpm: float, rect: QRectF) -> None:
        """A dot on the curve of the probe where its critical speed is."""
        for trace, x, y in self._drawn:
            if trace.probe != probe or not np.isfinite(y).any():
                continue
            away = np.where(np.isfinite(y), np.abs(x - speed_rpm), np.inf)
            index = int(np.argmin(away))
            at = self.canvas.to_pixels(float(x[index]), float(y[index]))
            if rect.contains(at):
                hue = CurveStyle(self._view.place(probe), "up").ink(self._theme)
                self._laid[1].append(circle(at, 3.0, rule(hue), brush(hue)))
            return
