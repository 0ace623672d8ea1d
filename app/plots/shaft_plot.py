"""The shaft in its clearance, in slow motion, with the probes that look at it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt

from .curve import Curve
from .layers import Label, Rule, Shape, circle
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .shaft_shapes import (
    arc,
    box_at,
    direction,
    probe_body,
    reference_direction,
    sector,
    wedge,
)
from .style import (
    blend,
    brush,
    colour,
    font,
    line,
    no_brush,
    probe_colour,
    rule,
    text_size,
    with_alpha,
)
from .wording import length_text

if TYPE_CHECKING:
    from .lab_view import LabView

_SHAFT_TO_CLEARANCE = 1.1
"""Radius of the shaft as drawn, in radial clearances: clearance and motion are drawn far too large
beside it, or nobody would see them."""

_LEAST_MOTION = 0.1
"""A clearance is drawn at most so many times as wide as the motion is."""

_REACH = 1.55
"""Half of the picture, in radii of the bearing."""

_TIP, _BODY = 1.04, 1.30
_ARCS = (1.11, 1.20)
"""Where probes and their lag arcs stand, in radii of the bearing."""

_LEAST_ARC_DEG = 3.0
"""An arc shorter than its own arrow head says nothing; the figure stands in the corner."""

_LEGEND_ROW, _LEGEND_ROOM = 16.0, 26.0
"""Pixels of the words along the upper edge, and what the drawing leaves to them."""

_NEAR_DEG = 9.0
"""The high spot counts as passing a probe this close to it."""


class ShaftPlot(Plot):
    """A cut through shaft and bearing. The notch turns with the shaft; the dot is its high spot."""

    NAME = "Shaft"
    DESCRIPTION = (
        "Slow motion, seen from the driver end. The motion, µm or mil, is drawn many times too "
        "large. REF is the phase reference: the event is the notch passing it. Each coloured arc "
        "is a phase lag: how far the shaft turns from the event until its 1X high spot is "
        "nearest to that probe. Dot on the rim: where the shaft is furthest out now."
    )
    EMPTY = "Nothing composed yet. Move a slider at the left; to review, open a capture."
    MINIMUM = (200, 200)

    _view: LabView | None

    def _build(self) -> None:
        chart = self.canvas.chart
        for axis in ("left", "bottom"):
            chart.hide_axis(axis)
        chart.set_margins(2, 2, 2, 2)
        self._path = Curve()
        self._arcs = (Curve(), Curve())
        for curve in (self._path, *self._arcs):
            chart.add(curve)
        self._scale = GrowingScale(least_span=1.0)
        self._name_boxes: dict[str, QRectF] = {}
        self._clear_um = 100.0
        self._turns = 0.0

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._path.setPen(line(colours.accent))
        for place, curve in enumerate(self._arcs):
            curve.setPen(line(probe_colour(place, self._theme)))

    def _label_axes(self) -> None:
        """There are no axes: lengths are written where they are."""

    def _forget_scale(self) -> None:
        self._scale.reset()

    def subtitle(self) -> str:
        """Which way it turns."""
        if self._view is None:
            return ""
        # The sign first: the tools of a narrow card leave little room.
        return f"{self._sign()} {self._view.result.state.rotation} · slow motion"

    def _sign(self) -> str:
        return "↺" if self._view.result.state.rotation == "ccw" else "↻"

    def set_turns(self, turns: float, *, now: bool = True) -> None:
        """Turn the shaft to this angle; with the next drawing unless `now`."""
        self._turns = turns
        if now and self._view is not None:
            self._move()

    def _resized(self) -> None:
        if self._view is not None:
            self._set_range()
            self._decorate()

    # Geometry, µm as drawn -----------------------------------------------------------------------

    def _radii(self) -> tuple[float, float]:
        """Of the shaft and of the bearing."""
        most = self._most()
        shaft = _SHAFT_TO_CLEARANCE * most
        return shaft, shaft + min(self._clear_um, most)

    def _most(self) -> float:
        """The radial clearance that there is room for."""
        return self._scale.ends[1] if self._scale.ends else 100.0

    def _draw(self) -> None:
        state, shaft = self._view.result.state, self._view.result.shaft
        reach = float(np.nanmax(np.hypot(shaft.x, shaft.y))) if np.isfinite(shaft.x).any() else 0.0
        # The motion stays inside, also where the bearing would have stopped it.
        self._clear_um = max(state.clearance_um / 2.0, reach)
        # All of the clearance, unless the motion would then be too small to see.
        room = max(min(self._clear_um, reach / _LEAST_MOTION), reach, 0.5)
        ends = self._scale.ends
        if ends is None or room > ends[1]:
            self._scale.include(0.0, room)
        self._path.setData(shaft.x, shaft.y, connect="finite")
        self._draw_arcs()
        self._set_range()

    def _draw_arcs(self) -> None:
        """From the event on, with the rotation, as far as each probe's 1X lags."""
        _, bearing = self._radii()
        sign, start = self._view.result.state.sign, self._reference_deg()
        for name, curve, at in zip(self._view.names, self._arcs, _ARCS, strict=True):
            lag = self._view.lag_deg(name)
            if lag is None or not math.isfinite(lag) or lag < _LEAST_ARC_DEG:
                curve.setData(np.empty(0), np.empty(0))
                continue
            x, y = arc(at * bearing, start, start + sign * lag)
            # A little foot at the event, so that even a small lag can be seen to begin there.
            foot = direction(start) * (at - 0.03) * bearing
            curve.setData(np.append(foot.real, x), np.append(foot.imag, y), connect="finite")

    def _reference_deg(self) -> float:
        angles = [probe.angle_deg for probe in self._view.result.state.probes]
        return reference_direction(angles)

    def _set_range(self) -> None:
        half = _REACH * (1.0 + _SHAFT_TO_CLEARANCE) * self._most()
        rect = self.canvas.data_rect()
        shorter = max(min(rect.width(), rect.height() - _LEGEND_ROOM), 1.0)
        half_x, half_y = (half * size / shorter for size in (rect.width(), rect.height()))
        if half_x > 0 and half_y > 0:
            self.canvas.set_range((-half_x, half_x), (-half_y, half_y))

    def _pixels(self, um: float) -> float:
        return abs(self.canvas.to_pixels(um, 0.0).x() - self.canvas.to_pixels(0.0, 0.0).x())

    def _at(self, place: complex) -> QPointF:
        return self.canvas.to_pixels(place.real, place.imag)

    # What stands ---------------------------------------------------------------------------------

    def _decorate(self) -> None:
        colours = palette(self._theme)
        _, bearing = self._radii()
        centre = self.canvas.to_pixels(0.0, 0.0)
        wall = circle(centre, self._pixels(bearing), rule(colours.border), brush(colours.paper))
        self.canvas.ground.show_content((), (wall,))
        shapes, labels = self._stators(colours)
        labels += self._lag_labels()
        if not np.isfinite(self._view.result.shaft.x).any():
            labels.append(self._message("no motion here"))
        self.canvas.over.show_content(self._focus_rules(), tuple(shapes), tuple(labels))
        self._move()

    def _stators(self, colours: Palette) -> tuple[list[Shape], list[Label]]:
        """The two probes and the reference, with their names."""
        _, bearing = self._radii()
        shapes, labels = [], []
        reference = self._reference_deg()
        muted = colour(colours.muted)
        places = [
            (probe.name, 90.0 - probe.angle_deg, probe_colour(place, self._theme))
            for place, probe in enumerate(self._view.result.state.probes)
        ]
        for name, at_deg, ink in (*places, ("REF", reference, muted)):
            unit = direction(at_deg)
            tip, end = self._at(unit * _TIP * bearing), self._at(unit * _BODY * bearing)
            shapes.append(Shape(probe_body(tip, end, 5.0), rule(ink), brush(colours.card)))
            width, height = text_size(name, "small", strong=True)
            middle = end + QPointF(unit.real, -unit.imag) * (0.5 * height + 0.35 * width + 3)
            box = self._inside(box_at(middle, width, height))
            if abs(box.center().x() - middle.x()) > 1.0 and abs(unit.imag) < 0.5:
                # No room beside the body: above it, then.
                box.moveBottom(end.y() - 7.0)
            self._name_boxes[name] = box
            align = Qt.AlignmentFlag.AlignHCenter
            labels.append(Label(name, box, ink, font("small", strong=True), align))
        return shapes, labels

    def _inside(self, box: QRectF) -> QRectF:
        area = self.canvas.data_rect().adjusted(2, _LEGEND_ROW, -2, -2)
        box.moveLeft(min(max(box.left(), area.left()), area.right() - box.width()))
        box.moveTop(min(max(box.top(), area.top()), area.bottom() - box.height()))
        return box

    def _lag_labels(self) -> list[Label]:
        """In the lower corners, clear of the drawing: what each probe's 1X lags."""
        rect = self.canvas.data_rect()
        labels = []
        for place, name in enumerate(self._view.names):
            lag = self._view.lag_deg(name)
            known = lag is not None and math.isfinite(lag)
            if "lag" in self._view.hidden:
                continue
            text = f"{name}\nlag {round(lag) % 360}°" if known else f"{name}\nno 1X"
            width, height = text_size(text, "small")
            left = rect.left() + 5 if place == 1 else rect.right() - 5 - width
            ink = probe_colour(place, self._theme)
            for rank, words in enumerate(text.split("\n")):
                top = rect.bottom() - height - 3 + rank * height / 2
                box = QRectF(left, top, width, height / 2)
                labels.append(Label(words, box, ink, font("small")))
        return labels

    # What moves ----------------------------------------------------------------------------------

    def _move(self) -> None:
        result, colours = self._view.result, palette(self._theme)
        shaft_path = result.shaft
        points = (len(shaft_path.x) - 1) // result.shown_turns
        at = int(self._turns * points) % (len(shaft_path.x) - 1)
        place = complex(shaft_path.x[at], shaft_path.y[at])
        if not math.isfinite(abs(place)):
            self.canvas.hover.show_content()
            return
        radius = self._radii()[0]
        sign = result.state.sign
        start = self._reference_deg()
        turned = 360.0 * (self._turns % 1.0)
        notch = start + sign * turned
        # Solid, so that the wall behind it does not shine through.
        body = blend(colours.accent_soft, colours.card, 0.30)
        pixels = self._pixels(radius)
        middle = self._at(place)
        soft = brush(with_alpha(colours.accent, 0.22))
        nothing = rule(with_alpha(colours.accent, 0.0))
        shapes = [
            circle(middle, pixels, rule(colours.accent), brush(body)),
            Shape(sector(middle, 0.62 * pixels, start, notch), nothing, soft),
            Shape(wedge(middle, pixels, notch), rule(colours.ink), brush(colours.ink)),
        ]
        labels = self._legend(turned, colours)
        shapes += self._centre_path(colours, middle)
        if abs(place) > 0.02 * radius:
            out = place / abs(place)
            shapes.append(
                circle(
                    middle + QPointF(out.real, -out.imag) * pixels,
                    4.0,
                    rule(colours.ink),
                    brush(colours.card),
                )
            )
        rules, more, words = self._gaps(place, radius, at)
        self.canvas.hover.show_content(tuple(rules), (*shapes, *more), (*labels, *words))

    def _legend(self, turned: float, colours: Palette) -> list[Label]:
        """In the upper corners: the angle, and what the two marks on the rim are."""
        rect = self.canvas.data_rect()
        angle = f"{self._sign()} turned {turned:.0f}° since the event"
        labels = []
        for text, right, ink in (
            (angle, False, colours.ink),
            ("▲ notch  ○ high spot", True, colours.muted),
        ):
            width, height = text_size(text, "tiny")
            # Beside each other where there is room, else one below the other.
            whole = text_size(angle, "tiny")[0] + text_size("▲ notch  ○ high spot", "tiny")[0]
            low = right and whole + 16 > rect.width()
            left = rect.right() - 5 - width if right and not low else rect.left() + 5
            top = rect.top() + 2 + (height if low else 0.0)
            box = QRectF(left, top, width, height)
            labels.append(Label(text, box, colour(ink), font("tiny")))
        return labels

    def _centre_path(self, colours: Palette, middle: QPointF) -> list[Shape]:
        """The shaft covers the path of its own centre: the centre, and where it would rest."""
        origin = self.canvas.to_pixels(0.0, 0.0)
        return [
            circle(origin, 2.0, rule(colours.muted), no_brush()),
            circle(middle, 2.5, rule(colours.ink), brush(colours.ink)),
        ]

    def _gaps(
        self, place: complex, radius: float, at: int
    ) -> tuple[list[Rule], list[Shape], list[Label]]:
        """Each probe's gap: a line to the shaft, its length, and a mark while the 1X is nearest."""
        view, rules, shapes, labels = self._view, [], [], []
        _, bearing = self._radii()
        for index, probe in enumerate(view.result.state.probes):
            unit = direction(90.0 - probe.angle_deg)
            ink = probe_colour(index, self._theme)
            tip = unit * _TIP * bearing
            # Where the probe's own axis meets the surface.
            along = (place * unit.conjugate()).real
            aside = (place * unit.conjugate()).imag
            meets = along + math.sqrt(max(radius**2 - aside**2, 0.0))
            start, end = self._at(tip), self._at(unit * meets)
            rules.append(Rule(QLineF(start, end), rule(ink)))
            lag = view.lag_deg(probe.name)
            if lag is not None:
                off = (360.0 * self._turns - lag + 180.0) % 360.0 - 180.0
                if abs(off) < _NEAR_DEG:
                    shapes.append(circle(start, 5.0, rule(ink), brush(ink)))
            gap = float(view.result.waveforms[probe.name].trace.y[at])
            text = length_text(gap, self._unit)
            width, height = text_size(text, "tiny")
            name = self._name_boxes[probe.name]
            # On the side of the name that is away from the probe's body; beside it where the
            # picture ends there.
            away = (name.height() + height) / 2 * (-1.0 if unit.imag >= 0.0 else 1.0)
            box = box_at(name.center() + QPointF(0.0, away), width, height)
            if box.top() < self.canvas.data_rect().top() + _LEGEND_ROW:
                box.moveLeft(name.right() + 6.0)
                box.moveTop(name.top())
            box = self._inside(box)
            labels.append(Label(text, box, ink, font("tiny"), Qt.AlignmentFlag.AlignHCenter))
        return rules, shapes, labels
