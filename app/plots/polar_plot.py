"""Vectors of an order as a path in the plane: 0° at the probe, the lag against the rotation."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, Qt, Signal

from .chip import chip
from .curve import Curve
from .layers import circle
from .orbit_labels import Places
from .palette import Palette, palette
from .plot import Plot
from .polar_decor import PolarDecor
from .run_view import CurveStyle, RunView, index_at, point_text
from .scales import GrowingScale
from .style import brush, rule

if TYPE_CHECKING:
    from analysis.model.results import Complexes, Floats
    from analysis.views.run_traces import RunTrace

_REACH = 40.0
_GRAIN = 3.0
"""The path is known to so many pixels where words are laid."""


@dataclass(frozen=True, eq=False)
class PolarView:
    """A run, and how its probes sit: `angles_deg` from 12 o'clock, clockwise.

    A probe without an angle is drawn as if it sat at 3 o'clock. `rotation` is `"cw"` or `"ccw"`.
    """

    run: RunView
    angles_deg: Mapping[str, float] = field(default_factory=dict)
    rotation: str = "ccw"

    def zero_deg(self, probe: str) -> float:
        """Direction of the lag of 0°, counter-clockwise from 3 o'clock."""
        return 90.0 - self.angles_deg.get(probe, 90.0)

    def direction_deg(self, probe: str, lag_deg: float) -> float:
        """Direction of a lag, counter-clockwise from 3 o'clock: the lag runs against rotation."""
        way = -1.0 if self.rotation == "ccw" else 1.0
        return self.zero_deg(probe) + way * lag_deg

    def placed(self, probe: str, vectors: Complexes) -> Complexes:
        """The vectors as points, x right and y up."""
        lag = -np.angle(vectors)
        way = -1.0 if self.rotation == "ccw" else 1.0
        out: Complexes = np.abs(vectors) * np.exp(
            1j * (math.radians(self.zero_deg(probe)) + way * lag)
        )
        return out


class PolarPlot(Plot):
    """The path of the vector through the speeds, seen from the driver end."""

    moment_requested = Signal(float)

    NAME = "Vector path, polar"
    DESCRIPTION = (
        "Amplitude, µm or mil p-p, outwards and phase lag round about, seen from the driver end: "
        "0° is at the probe, the lag runs against the rotation. Numbers along the path are speeds "
        "in r/min, the filled dot is the critical speed. Press: move the moment. F: fit."
    )
    EMPTY = "No path yet. Open a capture with a phase reference in which the speed changes."
    MINIMUM = (200, 180)

    _view: PolarView | None

    def _build(self) -> None:
        self._pool: list[Curve] = []
        self._styles: list[CurveStyle] = []
        self._scale = GrowingScale(least_span=1.0)
        self._moment: float | None = None
        self._drawn: list[tuple[RunTrace, Floats, Floats]] = []
        self._decor: PolarDecor | None = None
        self._order_shown = 1
        for axis in ("left", "bottom"):
            self.canvas.chart.hide_axis(axis)
        self.canvas.chart.set_margins(4, 4, 4, 4)
        self._spare(6)
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(self._move)
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _spare(self, count: int) -> None:
        while len(self._pool) < count:
            curve = Curve()
            self.canvas.chart.add(curve)
            self._pool.append(curve)
            self._styles.append(CurveStyle(len(self._pool) % 2, "up"))

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._dress_curves()

    def _dress_curves(self) -> None:
        for curve, style in zip(self._pool, self._styles, strict=True):
            pen = style.pen(self._theme)
            if curve.opts["pen"] is not pen:
                curve.setPen(pen)

    def _label_axes(self) -> None:
        """There are rings in place of axes."""

    def _forget_scale(self) -> None:
        self._scale.reset()

    def title(self) -> str:
        """Order and kind."""
        return self.NAME if self._view is None else f"{self._view.run.order}X vector path"

    def subtitle(self) -> str:
        """Which way things run, and what is taken off."""
        if self._view is None:
            return ""
        if not self._view.angles_deg:
            return "rotation and probe angles not known: drawn as if ccw, 0° at the right"
        return f"seen from the driver end · rotation {self._view.rotation}"

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view = self._view
        if view.run.order != self._order_shown:
            self._order_shown = view.run.order
            self._forget_scale()
        wanted = [(t, "other") for t in view.run.others] + [(t, "main") for t in view.run.traces]
        self._spare(len(wanted))
        self._drawn = []
        for rank, curve in enumerate(self._pool):
            if rank >= len(wanted):
                curve.setData([], [])
                continue
            trace, kind = wanted[rank]
            points = view.placed(trace.probe, trace.vectors)
            x, y = points.real, points.imag
            self._styles[rank] = CurveStyle(view.run.place(trace.probe), trace.direction, kind)
            curve.setData(x, y, connect="finite")
            if kind == "main":
                self._drawn.append((trace, x, y))
        self._dress_curves()
        self._set_equal_range()

    def _set_equal_range(self) -> None:
        tops = [
            float(np.nanmax(np.abs(trace.vectors)))
            for trace in (*self._view.run.traces, *self._view.run.others)
            if np.isfinite(trace.vectors).any()
        ]
        ends = self._scale.ends
        if tops and (ends is None or max(tops) * 1.02 > ends[1]):
            self._scale.include(0.0, max(tops) * 1.05)
        radius = (self._scale.ends or (0.0, 100.0))[1]
        rect = self.canvas.data_rect()
        # Words of the lags stand outside the outermost ring.
        shorter = max(min(rect.width() - 76.0, rect.height() - 40.0), 40.0)
        half_x, half_y = (radius * size / shorter for size in (rect.width(), rect.height()))
        if half_x > 0 and half_y > 0:
            self.canvas.set_range((-half_x, half_x), (-half_y, half_y))

    def _resized(self) -> None:
        if self._view is not None:
            self._set_equal_range()
            self._decorate()

    def _decorate(self) -> None:
        colours = palette(self._theme)
        xs, ys = self._path_pixels()
        places = Places(self.canvas.data_rect().adjusted(1, 1, -1, -1), xs, ys)
        radius = (self._scale.ends or (0.0, 100.0))[1]
        decor = PolarDecor(self.canvas, self._theme, self._unit, places)
        decor.rings(radius)
        decor.spokes(self._view)
        decor.criticals(self._view)
        decor.speeds(self._view, self._drawn)
        self._decor = decor
        self._show_ground(tuple(decor.ground_rules), tuple(decor.ground_shapes))
        self._show_marks(colours)

    def _make_grid(self, _rect: object) -> tuple:
        return ()  # rings and spokes are the grid here

    def _path_pixels(self) -> tuple[Floats, Floats]:
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        paths = [curve.getData() for curve in self._pool]
        paths = [(x, y) for x, y in paths if x is not None and len(x)]
        xs = [zero.x() + x * (one.x() - zero.x()) for x, _ in paths]
        ys = [zero.y() + y * (one.y() - zero.y()) for _, y in paths]
        if not xs:
            return np.empty(0), np.empty(0)
        # One point in so many pixels is enough to keep words off the path.
        path = (np.concatenate(xs) + 1j * np.concatenate(ys)) / _GRAIN
        path = path[np.isfinite(path)]
        seen = np.unique(np.round(path.real) + 1j * np.round(path.imag)) * _GRAIN
        return seen.real, seen.imag

    # The moment, and the hand --------------------------------------------------------------------

    def set_moment(self, time_s: float | None) -> None:
        """Mark the points of this moment."""
        if time_s != self._moment:
            self._moment = time_s
            if self._view is not None and self._decor is not None:
                self._show_marks(palette(self._theme))

    def _show_marks(self, colours: Palette) -> None:
        decor = self._decor
        shapes = list(decor.shapes)
        seen: set[str] = set()
        for trace, x, y in self._drawn:
            index = None if self._moment is None else index_at(trace, self._moment)
            if index is None or trace.probe in seen or not np.isfinite(x[index]):
                continue
            seen.add(trace.probe)
            hue = CurveStyle(self._view.run.place(trace.probe), "up").ink(self._theme)
            at = self.canvas.to_pixels(float(x[index]), float(y[index]))
            shapes.append(circle(at, 4.0, rule(hue), brush(colours.card)))
        labels = list(decor.labels)
        if not any(np.isfinite(x).any() for _, x, _ in self._drawn):
            labels.append(self._message("no vectors to show here"))
        self.canvas.over.show_content(
            (*decor.rules, *self._focus_rules()), tuple(shapes), tuple(labels)
        )

    def _nearest(self, position: QPointF) -> tuple[RunTrace, int] | None:
        best: tuple[float, RunTrace, int] | None = None
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        for trace, x, y in self._drawn:
            away = np.hypot(
                zero.x() + x * (one.x() - zero.x()) - position.x(),
                zero.y() + y * (one.y() - zero.y()) - position.y(),
            )
            if not np.isfinite(away).any():
                continue
            index = int(np.nanargmin(away))
            if best is None or away[index] < best[0]:
                best = (float(away[index]), trace, index)
        return (best[1], best[2]) if best is not None and best[0] <= _REACH else None

    def _press(self, position: QPointF, _modifiers: object) -> None:
        found = self._nearest(position) if self._view is not None else None
        if found is not None and np.isfinite(found[0].time_s[found[1]]):
            self.moment_requested.emit(float(found[0].time_s[found[1]]))

    def _move(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if self._view is None:
            return
        if buttons & Qt.MouseButton.LeftButton:
            self._press(position, None)
            return
        found = self._nearest(position)
        if found is None:
            self.canvas.hover.show_content()
            return
        text = point_text(found[0], found[1], self._unit, self._view.run.traces)
        ground, label = chip(text, position, self.canvas.data_rect(), palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))
