"""What stands round an orbit: probe axes, limit boxes, bearing clearance, and their words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPolygonF

from .layers import Label, Rule, Shape, circle
from .orbit_labels import (
    Places,
    along_edge,
    beside_circle,
    points_along,
    points_on_circle,
)
from .palette import Theme, palette
from .style import (
    colour,
    condition_colour,
    condition_ink,
    font,
    no_brush,
    probe_colour,
    rule,
    state_mark,
    text_size,
)
from .wording import setting_text

if TYPE_CHECKING:
    from analysis.model.setup import Plane, Setup
    from analysis.model.units import LengthUnit

    from .canvas import Canvas
    from .orbit_shapes import Clearance, LimitBox


class OrbitDecor:
    """One decoration of one picture: made, asked for its parts, and thrown away."""

    def __init__(self, canvas: Canvas, theme: Theme, unit: LengthUnit, places: Places) -> None:
        self._canvas = canvas
        self._theme = theme
        self._unit = unit
        self._places = places
        self._rect = canvas.data_rect()
        self._centre = canvas.to_pixels(0.0, 0.0)

    def cross(self) -> tuple[Rule, ...]:
        """Lines through the mean position."""
        pen = rule(palette(self._theme).hairline)
        rect, centre = self._rect, self._centre
        return (
            Rule(QLineF(rect.left(), centre.y(), rect.right(), centre.y()), pen),
            Rule(QLineF(centre.x(), rect.top(), centre.x(), rect.bottom()), pen),
        )

    def probe_axes(self, plane: Plane, setup: Setup) -> tuple[list[Rule], list[Label]]:
        """Dotted lines from the centre towards the probes, with the probes' names at the end."""
        rules, labels = [], []
        for name in plane.probes:
            probe = setup.probe_named(name)
            if probe.angle_deg is None:
                continue
            ux, uy = probe.direction
            width, height = text_size(name, "small", strong=True)
            room_x = (self._rect.width() / 2 - width / 2 - 8) / max(abs(ux), 1e-9)
            room_y = (self._rect.height() / 2 - height / 2 - 4) / max(abs(uy), 1e-9)
            reach = min(room_x, room_y)
            at = self._centre + QPointF(ux, -uy) * reach
            short = 0.75 * height + 0.4 * width * abs(ux)
            end = self._centre + QPointF(ux, -uy) * (reach - short)
            hue = probe_colour(setup.probe.index(probe), self._theme)
            rules.append(Rule(QLineF(self._centre, end), rule(hue, Qt.PenStyle.DotLine)))
            box = QRectF(at.x() - width / 2, at.y() - height / 2, width, height)
            self._places.take(box)
            middle = Qt.AlignmentFlag.AlignHCenter
            labels.append(Label(name, box, hue, font("small", strong=True), middle))
        return rules, labels

    def limit_shapes(self, boxes: Sequence[LimitBox]) -> list[Shape]:
        """Dashed for alarm, solid for trip."""
        shapes = []
        for box in boxes:
            style = Qt.PenStyle.DashLine if box.level == "alarm" else Qt.PenStyle.SolidLine
            pen = rule(condition_colour(box.level, self._theme), style)
            shapes.append(Shape(QPolygonF(self._corners(box)), pen, no_brush()))
        return shapes

    def limit_labels(self, boxes: Sequence[LimitBox]) -> list[Label]:
        """Along an edge of the box; in a corner of the picture where that cannot be."""
        labels = []
        for box in reversed(boxes):
            corners = self._corners(box)
            text = f"{box.level} {self._settings_text(box)} p-p"
            ink = condition_ink(box.level, self._theme)
            label = along_edge(corners, text, ink, self._places)
            if label is None:
                seen = self._rect.intersects(QPolygonF(corners).boundingRect())
                seen = seen and any(self._rect.contains(corner) for corner in corners)
                beyond = "" if seen else ", beyond this scale"
                label = self.in_corner(f"{state_mark(box.level)[0]} {text}{beyond}", ink)
            if label is not None:
                labels.append(label)
        return labels

    def clearance_shapes(self, clearance: Clearance) -> list[Shape]:
        """The circle that the shaft centre can reach, and its centre."""
        muted = palette(self._theme).muted
        centre, radius = self._circle(clearance)
        self._places.avoid(*points_on_circle(centre, radius))
        pen, solid = rule(muted, Qt.PenStyle.DashDotLine), rule(muted)
        cross = [
            Shape(QPolygonF([centre - arm, centre + arm]), solid, no_brush())
            for arm in (QPointF(4.0, 0.0), QPointF(0.0, 4.0))
        ]
        return [circle(centre, radius, pen, no_brush()), *cross]

    def clearance_labels(self, clearance: Clearance, boxes: Sequence[LimitBox]) -> list[Label]:
        """Beside the circle, clear of the limit boxes; in a corner where that cannot be."""
        text = f"bearing clearance {setting_text(2 * clearance.radius_um, self._unit)}"
        ink = colour(palette(self._theme).muted)
        centre, radius = self._circle(clearance)
        for box in boxes:
            self._places.avoid(*points_along(self._corners(box)))
        place = self._places.first(beside_circle(centre, radius, *text_size(text, "tiny")))
        if place is not None:
            return [Label(text, place, ink, font("tiny"))]
        xs, ys = points_on_circle(centre, radius)
        visible = any(self._rect.contains(x, y) for x, y in zip(xs, ys, strict=True))
        label = self.in_corner(text if visible else f"{text}, beyond this scale", ink)
        return [] if label is None else [label]

    def in_corner(self, text: str, ink: QColor) -> Label | None:
        """A line of text in the first free place along the lower, then the upper edge."""
        rect = self._rect.adjusted(6, 4, -6, -4)
        width, height = text_size(text, "tiny")
        rows = [rect.bottom() - height * rank for rank in (1, 2, 3, 4)]
        rows += [rect.top() + height * rank for rank in (0, 1, 2, 3)]
        columns = (rect.left(), rect.right() - width)
        box = self._places.first([QRectF(x, y, width, height) for y in rows for x in columns])
        return None if box is None else Label(text, box, ink, font("tiny"))

    def _circle(self, clearance: Clearance) -> tuple[QPointF, float]:
        centre = self._canvas.to_pixels(clearance.x_um, clearance.y_um)
        edge = self._canvas.to_pixels(clearance.x_um + clearance.radius_um, clearance.y_um)
        return centre, edge.x() - centre.x()

    def _corners(self, box: LimitBox) -> list[QPointF]:
        return [self._canvas.to_pixels(x, y) for x, y in box.corners.tolist()]

    def _settings_text(self, box: LimitBox) -> str:
        texts = ["–" if s is None else setting_text(s, self._unit) for s in box.settings_um]
        if texts[0] == texts[1]:
            return texts[0]
        unit = f" {self._unit.value}"
        return " / ".join(text.removesuffix(unit) for text in texts) + unit
