"""What pictures against gap share: lines of a check, its tolerances, the part that is judged."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPolygonF

from analysis.model.units import UM_PER_MIL, LengthUnit

from .axes import plain_number
from .chip import chip
from .curve import Curve
from .free_room import FreeRoom, Place
from .gap_views import ChartView, Measure, Series, Zone
from .layers import Label, Rule, Shape, circle, crisp
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .style import brush, colour, font, line, probe_colour, rule, text_size, with_alpha

MOST_SERIES = 4
_MOST_MARKS = 80
_PAD = 0.06
_LEAST_SPANS = {"volts": 1.0, "factor": 0.5, "length": 20.0, "percent": 1.0}
_X_SPAN = 100.0
_PLACES_TRIED = 8
_NEAR = 45.0
"""A name further from its place at the line than this, px, is looked for elsewhere."""


class GapChart(Plot):
    """Lines against gap in µm. A subclass names the axis across the left and its measure.

    `point_requested(gap_um)`: the reader has pointed at a place.
    """

    point_requested = Signal(float)

    MEASURE: Measure = "volts"
    QUANTITY = "gap voltage"
    X_QUANTITY = "gap"
    MINIMUM = (240, 170)

    _view: ChartView | None

    def _build(self) -> None:
        self._curves = [Curve() for _ in range(MOST_SERIES)]
        for curve in self._curves:
            self.canvas.chart.add(curve)
        self._x_scale = GrowingScale(least_span=_X_SPAN)
        self._y_scale = GrowingScale(least_span=_LEAST_SPANS[self.MEASURE])
        self._point: float | None = None
        self.canvas.left_axis.setWidth(54)
        self.canvas.pressed.connect(lambda place, _keys: self._press(place))
        self.canvas.moved.connect(lambda place, _buttons: self._hover(place))
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._dress_curves()

    def _dress_curves(self) -> None:
        series = self._view.series if self._view is not None else ()
        for place, curve in enumerate(self._curves):
            one = series[place] if place < len(series) else Series("", (), ())
            style = Qt.PenStyle.DashLine if one.dashed else Qt.PenStyle.SolidLine
            curve.setPen(line(self._hue(one), style))

    def _hue(self, one: Series) -> QColor:
        if one.ink is None:
            return colour(palette(self._theme).muted)
        return probe_colour(one.ink, self._theme)

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity(self.X_QUANTITY, self._unit.value, self._unit.per_um)
        mil = self._unit is LengthUnit.MIL
        unit, per_unit = {
            "volts": ("V", 1.0),
            "percent": ("% of span", 1.0),
            "length": (self._unit.value, self._unit.per_um),
            "factor": ("mV/mil", UM_PER_MIL) if mil else ("mV/µm", 1.0),
        }[self.MEASURE]
        self.canvas.left_axis.set_quantity(self.QUANTITY, unit, per_unit)

    def _forget_scale(self) -> None:
        self._x_scale.reset()
        self._y_scale.reset()

    def title(self) -> str:
        """Always the same."""
        return self.NAME

    def subtitle(self) -> str:
        """The figure that sums the picture up, when there is one."""
        return self._view.words.get(self._unit.value, "") if self._view is not None else ""

    def show_result(self, view: object | None) -> None:
        """Draw a view; the one that is drawn already costs nothing."""
        if view is None or view != self._view:
            super().show_result(view)

    def show_fitted(self, view: object | None) -> None:
        """Draw a view at a scale of its own."""
        self._view = None
        self._forget_scale()
        self.show_result(view)

    def set_point(self, gap_um: float | None) -> None:
        """Mark a gap, with the values there; `None` takes the mark away."""
        if gap_um != self._point:
            self._point = gap_um
            if self._view is not None:
                self._show_marks()

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view = self._view
        self._x_scale.include(*view.x_ends)
        y = [value for one in view.series for value in one.y if np.isfinite(value)]
        y += [level.value for level in view.levels]
        if y:
            pad = _PAD * max(max(y) - min(y), 0.1 * _LEAST_SPANS[self.MEASURE])
            low, high = min(y) - pad, max(y) + pad
            ends = self._y_scale.ends
            if ends is None or min(y) < ends[0] or max(y) > ends[1]:
                self._y_scale.include(low, high)
        default = (-1.0, 1.0)
        self.canvas.set_range(self._x_scale.ends or view.x_ends, self._y_scale.ends or default)
        for place, curve in enumerate(self._curves):
            if place < len(view.series):
                one = view.series[place]
                curve.setData(np.array(one.x), np.array(one.y), connect="finite")
            else:
                curve.setData([], [])
        self._dress_curves()

    def _decorate(self) -> None:
        colours = palette(self._theme)
        rect = self.canvas.data_rect()
        room = FreeRoom(rect)
        for one in self._view.series:
            points = self._pixels(one)
            if len(points):
                room.add_curve(points[:, 0], points[:, 1])
        self._under = self._zone_fills(colours)
        zone_rules, zone_labels = self._zones(room, colours)
        level_rules, level_labels = self._levels(room, colours)
        shapes, names = self._names(room, colours)
        self._laid = (
            (*zone_rules, *level_rules),
            (*shapes, *self._mark_shapes(colours)),
            (*zone_labels, *level_labels, *names),
        )
        self._show_marks()

    def _show_marks(self) -> None:
        colours = palette(self._theme)
        self._show_ground(shapes=self._under)
        rules, shapes, labels = self._laid
        if not any(one.x for one in self._view.series) and self._view.note:
            labels = (*labels, self._message(self._view.note))
        if self._point is not None:
            at = crisp(self.canvas.to_pixels(self._point, 0.0).x())
            rect = self.canvas.data_rect()
            if rect.left() <= at <= rect.right():
                mark = QLineF(at, rect.top(), at, rect.bottom())
                rules = (*rules, Rule(mark, rule(colours.accent)))
        self.canvas.over.show_content((*rules, *self._focus_rules()), shapes, labels)

    def _pixels(self, one: Series) -> np.ndarray:
        points = [
            self.canvas.to_pixels(x, y) for x, y in zip(one.x, one.y, strict=True) if np.isfinite(y)
        ]
        return np.array([(point.x(), point.y()) for point in points]).reshape(-1, 2)

    def _zone_fills(self, colours: Palette) -> tuple[Shape, ...]:
        rect = self.canvas.data_rect()
        out = []
        for zone in self._view.zones:
            if zone.filled:
                left, right = self._across(zone, rect)
                if right > left:
                    box = QRectF(left, rect.top(), right - left, rect.height())
                    fill = with_alpha(colours.in_range, 0.16)
                    out.append(Shape(QPolygonF(box), rule(with_alpha(fill, 0.0)), brush(fill)))
        return tuple(out)

    def _across(self, zone: Zone, rect: QRectF) -> tuple[float, float]:
        left = self.canvas.to_pixels(zone.low, 0.0).x()
        right = self.canvas.to_pixels(zone.high, 0.0).x()
        return max(left, rect.left()), min(right, rect.right())

    def _zones(self, room: FreeRoom, colours: Palette) -> tuple[list[Rule], list[Label]]:
        rect = room.area
        rules, labels = [], []
        pen = rule(colours.axis, Qt.PenStyle.DotLine)
        for zone in self._view.zones:
            left, right = self._across(zone, rect)
            if not zone.filled:
                for gap in (zone.low, zone.high):
                    x = crisp(self.canvas.to_pixels(gap, 0.0).x())
                    if rect.left() <= x <= rect.right():
                        rules.append(Rule(QLineF(x, rect.top(), x, rect.bottom()), pen))
            if not zone.name:
                continue
            text = f"{zone.name} {self._length(zone.low)} to {self._length(zone.high)}"
            text = f"{text} {self._unit.value}"
            width, height = text_size(text, "tiny")
            width += 12.0
            tops = [rect.bottom() - height - 3.0, rect.bottom() - 2 * height - 5.0, rect.top() + 2]
            place = room.find(width, height, tops, (left + right - width) / 2.0)
            if place is not None and place.clear:
                room.take(place.rect)
                box = place.rect.adjusted(6.0, 0.0, -6.0, 0.0)
                labels.append(Label(text, box, colour(colours.muted), font("tiny")))
        return rules, labels

    def _levels(self, room: FreeRoom, colours: Palette) -> tuple[list[Rule], list[Label]]:
        rect = room.area
        rules, labels = [], []
        for level in self._view.levels:
            y = crisp(self.canvas.to_pixels(0.0, level.value).y())
            if not rect.top() - 1 <= y <= rect.bottom() + 1:
                continue
            style = Qt.PenStyle.DashLine if level.tolerance else Qt.PenStyle.SolidLine
            pen = rule(colours.alarm if level.tolerance else colours.axis, style)
            rules.append(Rule(QLineF(rect.left(), y, rect.right(), y), pen))
            room.take(QRectF(rect.left(), y - 0.5, rect.width(), 1.0))
            if not level.name:
                continue
            text = f"{level.name} {self._value(level.value)}"
            width, height = text_size(text, "tiny")
            place = room.find(
                width, height, [y - height - 1, y + 2], rect.right() - width - 4, 50.0
            )
            if place is not None and place.clear:
                room.take(place.rect)
                ink = colours.alarm_ink if level.tolerance else colours.muted
                labels.append(Label(text, place.rect, colour(ink), font("tiny")))
        return rules, labels

    def _names(self, room: FreeRoom, colours: Palette) -> tuple[list[Shape], list[Label]]:
        shapes, labels = [], []
        drawn = [one for one in self._view.series if len(self._pixels(one))]
        for one in drawn:
            width, height = text_size(one.name, "tiny")
            place = self._name_place(room, one, (width + 16.0, height))
            if place is None:
                continue
            room.take(place.rect)
            hue, middle = self._hue(one), place.rect.center().y()
            if not place.clear:
                ground = brush(with_alpha(colours.card, 0.85))
                shapes.append(Shape(QPolygonF(place.rect), rule(colours.card), ground))
            shapes += _key(place.rect.left(), middle, hue, one.dashed)
            box = place.rect.adjusted(15.0, 0.0, 0.0, 0.0)
            labels.append(Label(one.name, box, colour(colours.ink), font("tiny")))
        return shapes, labels

    def _name_place(self, room: FreeRoom, one: Series, size: tuple[float, float]) -> Place | None:
        """Just above or below the line, from its right end; else as near to its end as can be."""
        points, (width, height) = self._pixels(one), size
        for x, y in points[::-1][:_PLACES_TRIED]:
            left = x - width / 2.0
            place = room.find(*size, [y - height - 6.0, y + 6.0], left, 20.0)
            if place is not None and place.clear and abs(place.rect.left() - left) < _NEAR:
                return place
        end, area = points[-1], room.area
        tops = np.arange(area.top() + 1.0, area.bottom() - height - 1.0, 7.0)
        tops = tops[np.argsort(np.abs(tops + height / 2.0 - end[1]), kind="stable")]
        return room.find(*size, [float(top) for top in tops], end[0] - width, 12.0)

    def _mark_shapes(self, colours: Palette) -> list[Shape]:
        """A ring at every row, a diamond where it is beyond its tolerance."""
        out = []
        for one in self._view.series:
            if not one.marks or len(one.x) > _MOST_MARKS:
                continue
            hue = self._hue(one)
            for place, (x, y) in enumerate(zip(one.x, one.y, strict=True)):
                if not np.isfinite(y):
                    continue
                at = self.canvas.to_pixels(x, y)
                if place < len(one.beyond) and one.beyond[place]:
                    out.append(_diamond(at, colour(colours.trip)))
                else:
                    out.append(circle(at, 2.5, rule(hue), brush(colours.card)))
        return out

    # Words ---------------------------------------------------------------------------------------

    def _length(self, value_um: float) -> str:
        return plain_number(value_um * self._unit.per_um, 0 if self._unit is LengthUnit.UM else 1)

    def _value(self, value: float) -> str:
        mil = self._unit is LengthUnit.MIL
        if self.MEASURE == "volts":
            return f"{plain_number(value, 3)} V"
        if self.MEASURE == "percent":
            return f"{'+' if value > 0 else ''}{plain_number(value, 2)} %"
        if self.MEASURE == "factor":
            number = value * UM_PER_MIL if mil else value
            return f"{plain_number(number, 1 if mil else 3)} {'mV/mil' if mil else 'mV/µm'}"
        sign = "+" if value > 0 else ""
        return (
            f"{sign}{plain_number(value * self._unit.per_um, 2 if mil else 1)} {self._unit.value}"
        )

    def _point_text(self, x: float) -> str:
        """Everything that is known at the row nearest to a gap."""
        words = []
        for one in self._view.series:
            if not one.x:
                continue
            place = int(np.argmin(np.abs(np.array(one.x) - x)))
            text = f"{one.name} {self._value(one.y[place])}"
            if place < len(one.slopes) and np.isfinite(one.slopes[place]):
                text += f", local slope {self._factor(one.slopes[place])}"
            words.append(text)
        return " · ".join((f"{self._length(x)} {self._unit.value}", *words))

    def _factor(self, value: float) -> str:
        mil = self._unit is LengthUnit.MIL
        number = value * UM_PER_MIL if mil else value
        return f"{plain_number(number, 1 if mil else 3)} {'mV/mil' if mil else 'mV/µm'}"

    # Hand ----------------------------------------------------------------------------------------

    def _nearest(self, position: QPointF) -> float | None:
        if self._view is None or not self.canvas.data_rect().contains(position):
            return None
        xs = [x for one in self._view.series for x in one.x]
        if not xs:
            return None
        at = self.canvas.to_data(position).x()
        return min(xs, key=lambda x: abs(x - at))

    def _hover(self, position: QPointF) -> None:
        x = self._nearest(position)
        if x is None:
            self.canvas.hover.show_content()
            return
        rect, colours = self.canvas.data_rect(), palette(self._theme)
        ground, label = chip(self._point_text(x), position, rect, colours)
        self.canvas.hover.show_content((), (ground,), (label,))

    def _press(self, position: QPointF) -> None:
        x = self._nearest(position)
        if x is not None:
            self.point_requested.emit(x)


def _key(left: float, middle: float, hue: QColor, dashed: bool) -> list[Shape]:
    """A short piece of the line before its name."""
    ends = ((0.0, 4.0), (8.0, 12.0)) if dashed else ((0.0, 12.0),)
    return [
        Shape(QPolygonF(QRectF(left + a, middle - 0.5, b - a, 1.0)), rule(hue), brush(hue))
        for a, b in ends
    ]


def _diamond(at: QPointF, hue: QColor) -> Shape:
    corners = [QPointF(0, -4.5), QPointF(4.5, 0), QPointF(0, 4.5), QPointF(-4.5, 0)]
    return Shape(QPolygonF([at + corner for corner in corners]), rule(hue), brush(hue))
