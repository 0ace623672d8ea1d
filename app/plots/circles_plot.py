"""The 1X ellipse as what it is made of: one arrow that turns forward, one that turns backward."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt

from analysis.rotor.orbit import ellipse_path

from .curve import Curve
from .lab_view import LEAST_UM_PP, LabView
from .layers import Label, Rule, Shape, arrow_head, circle
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import brush, colour, font, line, no_brush, rule, text_size
from .wording import length_text

if TYPE_CHECKING:
    from analysis.model.results import Ellipse

_POINTS = 180
_LEAST_ARROW = 12.0
"""Pixels under which an arrow is too short for its letter."""


class CirclesPlot(Plot):
    """Forward and backward circle of 1X, and the ellipse that they make together."""

    NAME = "1X: forward + backward"
    DESCRIPTION = (
        "The 1X part of the orbit, µm or mil. Arrow F turns with the rotation, arrow B, from the "
        "tip of F, against it, both once per turn; the tip of B draws the ellipse. Circle on it: "
        "where it is at the event. Dotted: the two circles. F or double click: fit."
    )
    EMPTY = "Nothing composed yet. Move a slider at the left; to review, open a capture."
    MINIMUM = (200, 200)

    _view: LabView | None

    def _build(self) -> None:
        chart = self.canvas.chart
        self._circle_curves = (Curve(), Curve())
        self._curve = Curve()
        for curve in (*self._circle_curves, self._curve):
            chart.add(curve)
        self._scale = GrowingScale(least_span=1.0)
        self._turns = 0.0

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        dotted = line(colours.axis, Qt.PenStyle.DotLine)
        for curve in self._circle_curves:
            curve.setPen(dotted)
        self._curve.setPen(line(colours.accent))

    def _label_axes(self) -> None:
        for axis, words in (
            (self.canvas.left_axis, "vertical"),
            (self.canvas.bottom, "horizontal"),
        ):
            axis.set_quantity(words, self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def subtitle(self) -> str:
        """The ellipse in numbers."""
        if self._view is None:
            return ""
        seen = self._view.result.seen_ellipse
        major, minor = (length_text(um, self._unit) for um in (seen.major_um, seen.minor_um))
        return f"major {major} · minor {minor} p-p"

    def set_turns(self, turns: float, *, now: bool = True) -> None:
        """Turn the arrows to this angle of the shaft; with the next drawing unless `now`."""
        self._turns = turns
        if now and self._view is not None:
            self._move()

    def _resized(self) -> None:
        if self._view is not None:
            self._set_range()
            self._decorate()

    def _draw(self) -> None:
        seen = self._seen()
        rotation = self._view.setup.machine.rotation
        path = ellipse_path((seen,), rotation, _POINTS)
        self._curve.setData(path.real, path.imag, connect="finite")
        angle = np.linspace(0.0, 2.0 * np.pi, _POINTS + 1)
        for curve, radius in zip(
            self._circle_curves, (abs(seen.forward), abs(seen.backward)), strict=True
        ):
            curve.setData(radius * np.cos(angle), radius * np.sin(angle), connect="finite")
        reach = abs(seen.forward) + abs(seen.backward)
        ends = self._scale.ends
        if ends is None or reach > ends[1]:
            self._scale.include(0.0, reach * 1.15)
        self._set_range()

    def _set_range(self) -> None:
        radius = self._scale.ends[1] if self._scale.ends else 100.0
        rect = self.canvas.data_rect()
        shorter = max(min(rect.width(), rect.height()), 1.0)
        half_x, half_y = (radius * size / shorter for size in (rect.width(), rect.height()))
        if half_x > 0 and half_y > 0:
            self.canvas.set_range((-half_x, half_x), (-half_y, half_y))

    def _seen(self) -> Ellipse:
        return self._view.result.seen_ellipse

    def _decorate(self) -> None:
        colours = palette(self._theme)
        rect, centre = self.canvas.data_rect(), self.canvas.to_pixels(0.0, 0.0)
        pen = rule(colours.hairline)
        cross = (
            Rule(QLineF(rect.left(), centre.y(), rect.right(), centre.y()), pen),
            Rule(QLineF(centre.x(), rect.top(), centre.x(), rect.bottom()), pen),
        )
        self._show_ground(cross)
        seen = self._seen()
        labels, shapes = self._words(seen, colours), []
        if not np.isfinite(seen.major_um):
            labels.append(self._message("no 1X here"))
        elif seen.major_um > LEAST_UM_PP:
            forward, backward = self._view.result.arrows(0.0)
            at = self.canvas.to_pixels(*_xy(forward + backward))
            shapes.append(circle(at, 4.0, rule(colours.accent), brush(colours.card)))
        self.canvas.over.show_content(self._focus_rules(), tuple(shapes), tuple(labels))
        self._move()

    def _words(self, seen: Ellipse, colours: Palette) -> list[Label]:
        """One below the other, since a narrow picture has no room beside: arrows, and the mark."""
        rect = self.canvas.data_rect()
        ways = ("↺", "↻") if self._view.result.state.rotation_set == "ccw" else ("↻", "↺")
        lines = [
            f"{way} {name} {length_text(2.0 * abs(value), self._unit)} p-p"
            for way, name, value in (
                (ways[0], "F forward", seen.forward),
                (ways[1], "B backward", seen.backward),
            )
        ]
        labels, top = [], rect.top() + 2
        for line_words in (*lines, "○ event"):
            words = line_words
            if text_size(words, "tiny")[0] > rect.width() - 10:
                words = words.removesuffix(" p-p")  # the heading says it, too
            width, height = text_size(words, "tiny")
            box = QRectF(rect.left() + 5, top, width, height)
            labels.append(Label(words, box, colour(colours.ink), font("tiny")))
            top += height
        return labels

    def _move(self) -> None:
        """The arrows, as the shaft stands."""
        colours = palette(self._theme)
        forward, backward = self._view.result.arrows(self._turns)
        if not np.isfinite(abs(forward) + abs(backward)):
            self.canvas.hover.show_content()
            return
        ends = [0j, forward, forward + backward]
        at = [self.canvas.to_pixels(*_xy(end)) for end in ends]
        # Letters stand outside the triangle of both arrows and their sum.
        inside = (at[0] + at[1] + at[2]) / 3.0
        rules: list[Rule] = []
        shapes: list[Shape] = []
        labels: list[Label] = []
        inks = (colour(colours.accent), colour(colours.muted))
        for name, ink, start, end, solid in (
            ("F", inks[0], at[0], at[1], True),
            ("B", inks[1], at[1], at[2], False),
        ):
            way = end - start
            length = (way.x() ** 2 + way.y() ** 2) ** 0.5
            if length < 2.0:
                continue
            unit = way / length
            rules.append(Rule(QLineF(start, end), rule(ink)))
            fill = brush(ink) if solid else brush(colours.card)
            shapes.append(Shape(arrow_head(end, unit, min(9.0, length)), rule(ink), fill))
            if length >= _LEAST_ARROW:
                side = QPointF(-unit.y(), unit.x())
                if QPointF.dotProduct(side, start + way * 0.5 - inside) < 0.0:
                    side = -side
                middle = start + way * 0.5 + side * 10.0
                box = QRectF(middle.x() - 6, middle.y() - 7, 12, 14)
                align = Qt.AlignmentFlag.AlignHCenter
                labels.append(Label(name, box, ink, font("small", strong=True), align))
        if abs(forward) + abs(backward) > LEAST_UM_PP:
            shapes.append(circle(at[2], 3.0, rule(colours.ink), brush(colours.ink)))
        shapes.append(circle(at[0], 2.0, rule(colours.muted), no_brush()))
        self.canvas.hover.show_content(tuple(rules), tuple(shapes), tuple(labels))


def _xy(place: complex) -> tuple[float, float]:
    return place.real, place.imag
