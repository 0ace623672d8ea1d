"""How far one run lies from another, as a vector, against speed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPolygonF

from .axes import plain_number
from .curve import Curve
from .free_room import FreeRoom
from .layers import Label, Shape
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import brush, colour, font, line, probe_colour, rule, text_size, with_alpha
from .wording import length_text

if TYPE_CHECKING:
    from analysis.model.response_results import Overlay


@dataclass(frozen=True, eq=False)
class DifferenceView:
    """Overlays by probe, of one order: this run less the one called `other`."""

    overlays: Mapping[str, Overlay]
    places: Mapping[str, int]
    other: str
    operating_rpm: tuple[float, float] | None = None
    order: int = 1


class DifferencePlot(Plot):
    """Size of the difference vector; dash-dotted what ISO 20816-1 calls a significant change."""

    NAME = "Difference of two runs"
    DESCRIPTION = (
        "Size of the difference vector of two runs, µm or mil p-p, against speed in r/min: a "
        "change of phase counts as well as one of amplitude. Dash-dotted: a quarter of the zone "
        "boundary B/C (ISO 20816-1, from memory), meant for steady running. F: fit."
    )
    EMPTY = (
        "No other run is laid over this one. Open a capture, then choose another of the same "
        "machine: Show, “Lay another run over…”."
    )
    MINIMUM = (240, 140)

    _view: DifferenceView | None

    def _build(self) -> None:
        self._pool: list[Curve] = []
        self._limit = Curve()
        self.canvas.chart.add(self._limit)
        self._spare(4)
        self._x_scale = GrowingScale(least_span=10.0)
        self._y_scale = GrowingScale(least_span=2.0)

    def _spare(self, count: int) -> None:
        while len(self._pool) < count:
            curve = Curve()
            self.canvas.chart.add(curve)
            self._pool.append(curve)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._dress_curves()
        self._limit.setPen(line(colours.muted, Qt.PenStyle.DashDotLine))

    def _dress_curves(self) -> None:
        for rank, curve in enumerate(self._pool):
            pen = line(probe_colour(self._place(rank), self._theme))
            if curve.opts["pen"] is not pen:
                curve.setPen(pen)

    def _place(self, rank: int) -> int:
        if self._view is None:
            return rank
        names = list(self._view.overlays)
        return self._view.places.get(names[rank], rank) if rank < len(names) else rank

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("speed", "r/min")
        self.canvas.left_axis.set_quantity("", f"{self._unit.value} p-p", self._unit.per_um)

    def _forget_scale(self) -> None:
        self._x_scale.reset()
        self._y_scale.reset()

    def title(self) -> str:
        """Against what."""
        return self.NAME if self._view is None else f"Difference from {self._view.other}"

    def finding(self) -> str:
        """The change in the operating range, in a sentence; empty where it is not known."""
        if self._view is None:
            return ""
        worst = [
            (name, each.largest_operating)
            for name, each in self._view.overlays.items()
            if each.largest_operating is not None
        ]
        if not worst:
            return self._largest()
        name, (speed, size, passed) = max(worst, key=lambda pair: pair[1][1])
        words = {True: "▲ significant", False: "not significant", None: "no limit to judge it by"}
        return (
            f"{self._view.order}X of {name} changed by {length_text(size, self._unit)} p-p at "
            f"{plain_number(speed, 0)} r/min in the operating range: {words[passed]}"
        )

    def _largest(self) -> str:
        """The largest change where the two do not meet in the operating range."""
        tops = [
            (float(np.nanmax(np.abs(each.difference))), name, each)
            for name, each in self._view.overlays.items()
            if np.isfinite(each.difference).any()
        ]
        if not tops:
            return ""
        size, name, each = max(tops, key=lambda top: top[0])
        at = plain_number(float(each.speed_rpm[np.nanargmax(np.abs(each.difference))]), 0)
        return (
            f"{self._view.order}X of {name} changed most by {length_text(size, self._unit)} p-p, "
            f"at {at} r/min; nothing is known of the operating range"
        )

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view = self._view
        self._label_axes()
        names = list(view.overlays)
        self._spare(len(names))
        top, lows, highs = 0.0, [], []
        for rank, curve in enumerate(self._pool):
            if rank >= len(names):
                curve.setData([], [])
                continue
            each = view.overlays[names[rank]]
            size = np.abs(each.difference)
            curve.setData(each.speed_rpm, size, connect="finite")
            if np.isfinite(size).any():
                top = max(top, float(np.nanmax(size)))
                lows.append(float(each.speed_rpm[0]))
                highs.append(float(each.speed_rpm[-1]))
        first = view.overlays[names[0]] if names else None
        if first is not None and np.isfinite(first.limit_um).any():
            self._limit.setData(first.speed_rpm, first.limit_um, connect="finite")
            top = max(top, float(np.nanmin(first.limit_um)) * 1.3)
        else:
            self._limit.setData([], [])
        if lows:
            self._x_scale.include(min(lows), max(highs))
            if self._y_scale.ends is None or top > self._y_scale.ends[1]:
                self._y_scale.include(0.0, top * 1.1)
        self._dress_curves()
        self.canvas.set_range(
            self._x_scale.ends or (0.0, 1000.0), self._y_scale.ends or (0.0, 10.0)
        )

    def _decorate(self) -> None:
        colours, rect = palette(self._theme), self.canvas.data_rect()
        shapes: list[Shape] = []
        operating = self._view.operating_rpm
        if operating is not None:
            left, right = (self.canvas.to_pixels(n, 0.0).x() for n in operating)
            left, right = max(left, rect.left()), min(right, rect.right())
            if right > left:
                band = QPolygonF(QRectF(left, rect.top(), right - left, rect.height()))
                clear = rule(with_alpha(colours.normal, 0.0))
                shapes.append(Shape(band, clear, brush(with_alpha(colours.normal, 0.12))))
        self._show_ground(shapes=tuple(shapes))
        room = FreeRoom(rect)
        numbers: list[int | None] = []
        for curve in (*self._pool, self._limit):
            x, y = curve.getData()
            zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
            numbers.append(
                room.add_curve(
                    zero.x() + x * (one.x() - zero.x()), zero.y() + y * (one.y() - zero.y())
                )
                if x is not None and len(x)
                else None
            )
        labels = self._words(room, numbers, colours)
        self.canvas.over.show_content(self._focus_rules(), (), tuple(labels))

    def _words(self, room: FreeRoom, numbers: list[int | None], colours: Palette) -> list[Label]:
        """The finding on top, then the name of each curve beside it."""
        rect, labels = room.area, []
        text = self.finding()
        width, height = text_size(text, "tiny")
        place = room.find(
            width, height, [rect.top() + 2 + k * height for k in range(4)], rect.left() + 6
        )
        if text and place is not None:
            room.take(place.rect)
            labels.append(Label(text, place.rect, colour(colours.ink), font("tiny")))
        names = [
            (number, name, probe_colour(self._place(rank), self._theme))
            for rank, (name, number) in enumerate(zip(self._view.overlays, numbers, strict=False))
        ]
        names.append((numbers[-1], "significant, ISO 20816-1 (memory)", colour(colours.muted)))
        for number, name, ink in names:
            box = None if number is None else room.along(number, *text_size(name, "tiny"))
            if box is not None:
                room.take(box.adjusted(-5, 0, 5, 0))
                labels.append(Label(name, box, ink, font("tiny")))
        if not any(np.isfinite(each.difference).any() for each in self._view.overlays.values()):
            labels.append(self._message("the two runs have no speed in common"))
        return labels
