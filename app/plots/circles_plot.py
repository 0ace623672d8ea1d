"""The 1X ellipse as what it is made of: one arrow that turns forward, one that turns backward."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt

from analysis.model.results import Ellipse
from analysis.rotor.orbit import ellipse_path

from .curve import Curve
from .lab_view import LEAST_UM_PP, LabView
from .layers import Label, Rule, Shape, arrow_head, circle
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import brush, colour, font, line, no_brush, rule, text_size
from .wording import length_text

_POINTS = 180
_LEAST_ARROW = 12.0
"""Pixels under which an arrow is too short for its letter."""


class CirclesPlot(Plot):
    """Forward and backward circle of 1X, and the ellipse that they make together."""

    NAME = "1X: forward + backward"
    DESCRIPTION = (
        "The 1X part of the orbit, µm or mil. Arrow F turns with the rotation, arrow B, from the "
        "tip of F, against it, both once per turn; the tip of B draws the ellipse. Dotted: the two "
        "circles. F or double click: fit."
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
        seen, labels = self._seen(), []
        for text, value, left in (
            ("F forward", abs(seen.forward), True),
            ("B backward", abs(seen.backward), False),
        ):
            words = f"{text} {length_text(2.0 * value, self._unit)} p-p"
            width, height = text_size(words, "tiny")
            box = QRectF(rect.left() + 5, rect.top() + 2, width, height)
            if not left:
                # Below the first one: a narrow picture has no room beside it.
                box.moveTop(box.bottom())
            labels.append(Label(words, box, colour(colours.ink), font("tiny")))
        if not np.isfinite(seen.major_um):
            labels.append(self._message("no 1X here"))
        self.canvas.over.show_content(self._focus_rules(), (), tuple(labels))
        self._move()

    def _move(self) -> None:
        """The arrows, as the shaft stands."""
        colours = palette(self._theme)
        forward, backward = self._view.result.arrows(self._turns)
        if not np.isfinite(abs(forward) + abs(backward)):
            self.canvas.hover.show_content()
            return
        ends = [0j, forward, forward + backward]
        at = [self.canvas.to_pixels(end.real, end.imag) for end in ends]
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
                middle = start + way * 0.5 + QPointF(-unit.y(), unit.x()) * 10.0
                box = QRectF(middle.x() - 6, middle.y() - 7, 12, 14)
                align = Qt.AlignmentFlag.AlignHCenter
                labels.append(Label(name, box, ink, font("small", strong=True), align))
        if abs(forward) + abs(backward) > LEAST_UM_PP:
            shapes.append(circle(at[2], 3.0, rule(colours.ink), brush(colours.ink)))
        shapes.append(circle(at[0], 2.0, rule(colours.muted), no_brush()))
        self.canvas.hover.show_content(tuple(rules), tuple(shapes), tuple(labels))
