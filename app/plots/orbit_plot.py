"""Orbit of one plane, about its mean position, seen from the driver end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF

from .curve import Curve
from .layers import Label, Rule, Shape, arrow_head, circle
from .orbit_decor import OrbitDecor
from .orbit_labels import Places
from .orbit_shapes import (
    Clearance,
    LimitBox,
    clearance_circle,
    heading,
    limit_boxes,
    thinned,
    with_gaps,
)
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import brush, colour, line, rule

if TYPE_CHECKING:
    from analysis.model.results import OrbitPath, PlaneReading, ProbeReading
    from analysis.model.setup import Plane, Setup

OrbitPaths = Literal["raw", "filtered", "both"]

_LIMIT_REACH = 2.5
"""A p-p limit up to this many times the orbit's size belongs into the scale."""

_CLEARANCE_REACH = 1.4
"""The clearance belongs into the scale when it reaches at most this many times as far."""

_GAP_PIXELS = 11.0
_STILL_PIXELS = 4.0
"""A clearance circle that moves no more than this leaves the words beside it where they are."""

_MANY = 4000
"""Paths longer than this are thinned to the pixels that they run through."""


@dataclass(frozen=True, eq=False)
class OrbitView:
    """What an orbit picture shows; either path may be missing."""

    raw: OrbitPath | None
    filtered: OrbitPath | None
    plane: Plane
    reading: PlaneReading
    setup: Setup
    probe_readings: Mapping[str, ProbeReading]


class OrbitPlot(Plot):
    """Shaft motion, x right and y up, with probe axes, limits and bearing clearance."""

    NAME = "Orbit"
    DESCRIPTION = (
        "Motion of the shaft centre about its mean position, µm or mil, seen from the driver end. "
        "Circle: once-per-turn mark, the short gap lies just before it; the arrow head shows the "
        "way of motion. Dotted: probe axes. Dashed and solid boxes: alarm and trip, peak-to-peak, "
        "of each probe along its axis. F or double click: fit."
    )
    EMPTY = (
        "No orbit yet. It needs a [[plane]] of two radial probes in the setup; "
        "then pick a moment on the timeline."
    )
    MINIMUM = (220, 220)

    _view: OrbitView | None

    def _build(self) -> None:
        chart = self.canvas.chart
        self._raw_curve = Curve()
        self._filtered_curve = Curve()
        chart.add(self._raw_curve)
        chart.add(self._filtered_curve)
        self._scale = GrowingScale(least_span=1.0)
        self._paths: OrbitPaths = "both"
        self._clearance_wanted = True
        self._boxes: tuple[LimitBox, ...] = ()
        self._clearance: Clearance | None = None
        self._laid_for: object = None
        self._laid: tuple[Label, ...] = ()
        self._laid_edges = np.empty((0, 4))
        self._axes_rules: list[Rule] = []
        self._plane_shown = ""

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        strong = line(colours.accent)
        faint = line(colours.accent_soft)
        self._raw_curve.setPen(strong if self._paths == "raw" else faint)
        self._filtered_curve.setPen(strong)

    def _label_axes(self) -> None:
        for axis, words in (
            (self.canvas.left_axis, "vertical"),
            (self.canvas.bottom, "horizontal"),
        ):
            axis.set_quantity(words, self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def title(self) -> str:
        """The plane's name."""
        if self._view is None:
            return self.NAME
        return f"Orbit, {self._view.plane.name[:1].lower()}{self._view.plane.name[1:]}"

    def subtitle(self) -> str:
        """View, rotation and precession."""
        view = self._view
        if view is None:
            return ""
        # What can be read off the picture itself comes last: a narrow card cuts there.
        first = view.reading.orbits.get(1)
        words = [] if first is None else [f"1X {first.precession}"]
        words += [f"rotation {view.setup.machine.rotation}", "from the driver end"]
        return " · ".join(words)

    def paths(self) -> OrbitPaths:
        """Which paths are shown."""
        return self._paths

    def set_paths(self, paths: OrbitPaths) -> None:
        """Show the raw path, the filtered one, or both."""
        if paths != self._paths:
            self._paths = paths
            self._dress(palette(self._theme))
            self._redraw()

    def set_clearance_shown(self, shown: bool) -> None:
        """Draw the bearing clearance where it comes near the picture, or never."""
        if shown != self._clearance_wanted:
            self._clearance_wanted = shown
            self._forget_scale()
            self._redraw()

    def _redraw(self) -> None:
        if self._view is not None:
            self._draw()
            self._decorate()

    def _resized(self) -> None:
        self._redraw()

    def _shown_paths(self) -> list[tuple[pg.PlotCurveItem, OrbitPath | None]]:
        raw = self._view.raw if self._paths != "filtered" else None
        filtered = self._view.filtered if self._paths != "raw" else None
        return [(self._raw_curve, raw), (self._filtered_curve, filtered)]

    def _draw(self) -> None:
        view = self._view
        if self._plane_shown != view.plane.name:
            self._plane_shown = view.plane.name
            self._forget_scale()
        self._boxes = limit_boxes(view.plane, dict(view.probe_readings), view.setup)
        self._clearance = clearance_circle(view.plane, view.reading)
        self._set_equal_range()
        for curve, path in self._shown_paths():
            if path is None or len(path.x) == 0:
                curve.setData(np.empty(0), np.empty(0))
                continue
            pixel = 1.0 / self._pixels_per_um()
            gapped = not path.raw or self._paths == "raw"
            x, y = with_gaps(path, _GAP_PIXELS * pixel) if gapped else (path.x, path.y)
            if len(x) > _MANY:
                x, y = thinned(x, y, pixel / self.devicePixelRatioF())
            curve.setData(x, y, connect="finite")

    def _set_equal_range(self) -> None:
        radius = self._radius()
        rect = self.canvas.data_rect()
        shorter = max(min(rect.width(), rect.height()), 1.0)
        half_x, half_y = (radius * size / shorter for size in (rect.width(), rect.height()))
        if half_x > 0 and half_y > 0:
            self.canvas.set_range((-half_x, half_x), (-half_y, half_y))

    def _pixels_per_um(self) -> float:
        (x0, x1), _ = self.canvas.box.viewRange()
        return max(self.canvas.data_rect().width(), 1.0) / (x1 - x0)

    def _radius(self) -> float:
        reach = 0.0
        for _, path in self._shown_paths():
            if path is not None and np.isfinite(path.x + path.y).any():
                reach = max(
                    reach, float(np.nanmax(np.abs(path.x))), float(np.nanmax(np.abs(path.y)))
                )
        if reach == 0.0:
            return self._scale.ends[1] if self._scale.ends else 100.0
        size = 2.0 * reach
        for box in self._boxes:
            if box.least_um <= _LIMIT_REACH * size and np.isfinite(box.reach_um):
                reach = max(reach, box.reach_um)
        clearance = self._clearance if self._clearance_wanted else None
        if clearance is not None and clearance.reach_um <= _CLEARANCE_REACH * reach:
            reach = max(reach, clearance.reach_um)
        ends = self._scale.ends
        if ends is not None and reach <= ends[1]:
            return ends[1]
        return self._scale.include(0.0, reach * 1.08)[1]

    # Decoration ----------------------------------------------------------------------------------

    def _decorate(self) -> None:
        colours = palette(self._theme)
        view = self._view
        places = self._places()
        decor = OrbitDecor(self.canvas, self._theme, self._unit, places)
        clearance = self._clearance if self._clearance_wanted else None
        shapes = decor.limit_shapes(self._boxes)
        if clearance is not None:
            shapes += decor.clearance_shapes(clearance)
        # Words stay where they are while they are in nobody's way: they are read, and finding room
        # for them takes as long as drawing.
        key = self._words_key(clearance)
        if key != self._laid_for or not places.are_clear(self._laid_edges, strict=False).all():
            self._laid_for = key
            self._axes_rules, labels = decor.probe_axes(view.plane, view.setup)
            labels += decor.limit_labels(self._boxes)
            if clearance is not None:
                labels += decor.clearance_labels(clearance, self._boxes)
            label = decor.in_corner(self._rotation_text(), colour(colours.muted))
            self._laid = (*labels, *([] if label is None else [label]))
            self._laid_edges = places.taken()
        self._show_ground((*decor.cross(), *self._axes_rules), tuple(shapes))
        labels = list(self._laid)
        if all(path is None or not np.isfinite(path.x).any() for _, path in self._shown_paths()):
            labels.append(self._message("no orbit here:\ncircuit fault or\ndropped samples"))
        self.canvas.over.show_content(self._focus_rules(), self._marks(colours), tuple(labels))

    def _words_key(self, clearance: Clearance | None) -> object:
        """What the places of the words depend on, the orbit aside."""
        circle_at = None
        if clearance is not None:
            at = self.canvas.to_pixels(clearance.x_um, clearance.y_um)
            circle_at = (round(at.x() / _STILL_PIXELS), round(at.y() / _STILL_PIXELS))
        return (
            self._view.setup,
            self._view.plane.name,
            self._theme,
            self._unit,
            self.canvas.data_rect().getRect(),
            str(self.canvas.box.viewRange()),
            tuple((box.level, box.settings_um, box.corners.tobytes()) for box in self._boxes),
            circle_at,
        )

    def _rotation_text(self) -> str:
        rotation = self._view.setup.machine.rotation
        return f"{'↺' if rotation == 'ccw' else '↻'} rotation {rotation}"

    def _places(self) -> Places:
        xs, ys = [], []
        for _, path in self._shown_paths():
            if path is not None and len(path.x):
                stride = max(len(path.x) // 200, 1)
                xs.append(path.x[::stride])
                ys.append(path.y[::stride])
        x = np.concatenate(xs) if xs else np.empty(0)
        y = np.concatenate(ys) if ys else np.empty(0)
        rect = self.canvas.data_rect()
        (x0, x1), (y0, y1) = self.canvas.box.viewRange()
        px = rect.left() + (x - x0) / (x1 - x0) * rect.width()
        py = rect.bottom() - (y - y0) / (y1 - y0) * rect.height()
        return Places(rect.adjusted(1, 1, -1, -1), px, py)

    def _marks(self, colours: Palette) -> tuple[Shape, ...]:
        shapes: list[Shape] = []
        fill = brush(colours.card)
        for curve, path in self._shown_paths():
            if path is None:
                continue
            pen = rule(curve.opts["pen"].color())
            main = not path.raw or self._shown_paths()[1][1] is None
            for x, y in zip(path.marks_x.tolist(), path.marks_y.tolist(), strict=True):
                if np.isfinite(x + y):
                    shapes.append(
                        circle(self.canvas.to_pixels(x, y), 4.0 if main else 2.5, pen, fill)
                    )
            way = heading(path) if main and len(path.x) > 8 else None
            if way is not None:
                tip = self.canvas.to_pixels(way[0], way[1])
                shapes.append(
                    Shape(arrow_head(tip, QPointF(way[2], -way[3])), pen, brush(colours.accent))
                )
        return tuple(shapes)
