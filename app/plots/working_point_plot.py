"""Where a probe works on its calibration curve, and what the curve's slope there does to p-p."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QPolygonF

from .axes import plain_number
from .chip import chip
from .curve import Curve
from .free_room import FreeRoom
from .layers import Label, Rule, Shape, circle, crisp
from .palette import Palette, palette
from .plot import Plot
from .position_words import factor_text
from .scales import GrowingScale
from .style import blend, brush, colour, condition_ink, font, line, probe_colour, rule, text_size
from .wording import length_text, setting_text

if TYPE_CHECKING:
    from analysis.model.position_results import ProbePosition, WorkingPoint
    from analysis.model.setup import Setup

_SWINGS: Final = 3.0
"""A close-up shows so many swings to either side of the working point."""

_LEAST_HALF_UM: Final = 60.0

_MOST_WIDE: Final = 0.9
"""Words wider than this share of the picture give way to shorter ones."""

_LOUD_PERCENT: Final = 5.0
"""Effects on p-p above this are written in the colour of a warning."""


@dataclass(frozen=True, eq=False)
class WorkingPointView:
    """What is shown: a probe of the setup."""

    position: ProbePosition
    setup: Setup


class WorkingPointPlot(Plot):
    """The curve, the swing of the waveform on it, and both of its shadows on the axes."""

    NAME = "Working point"
    DESCRIPTION = (
        "The chosen probe's curve, gap voltage in V against gap in µm or mil. Strips: the swing of "
        "the gap at the moment and the swing of voltage that the curve makes of it. Upright lines: "
        "ends of the linear range. F or double click: fit."
    )
    EMPTY = "No working point yet. Open a capture whose setup has probes, then pick a moment."
    MINIMUM = (240, 130)

    _view: WorkingPointView | None

    def _build(self) -> None:
        self._line, self._swing = Curve(), Curve()
        for item in (self._line, self._swing):
            self.canvas.chart.add(item)
        self._x, self._y = GrowingScale(least_span=10.0), GrowingScale(least_span=0.1)
        self._close = False
        self._shown: object = None
        self._places: dict[object, QRectF] = {}
        self._placed_in = QRectF()
        self._index = 0
        self.canvas.moved.connect(lambda at, _buttons: self._hover(at))
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._line.setPen(line(colours.muted))
        self._swing.setPen(line(probe_colour(self._index, self._theme)))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("gap", self._unit.value, self._unit.per_um)
        self.canvas.left_axis.set_quantity("voltage", "V")

    def _forget_scale(self) -> None:
        self._x.reset()
        self._y.reset()
        self._places.clear()

    def title(self) -> str:
        """The probe, and what is shown of it."""
        return self.NAME if self._view is None else f"{self._view.position.name} working point"

    def is_close(self) -> bool:
        """Whether a close-up of the working point is shown."""
        return self._close

    def set_close(self, close: bool) -> None:
        """Show the surroundings of the working point, or the whole curve."""
        if close != self._close:
            self._close = close
            self._forget_scale()
            if self._view is not None:
                self._draw()
                self._decorate()

    def _point(self) -> WorkingPoint | None:
        return self._view.position.working_point if self._view is not None else None

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view, point = self._view, self._point()
        names = [probe.name for probe in view.setup.probe]
        index = names.index(view.position.name) if view.position.name in names else 0
        if (index, view.position.name) != self._shown:
            self._shown = (index, view.position.name)
            self._index = index
            self._forget_scale()
            self._dress(palette(self._theme))
        if point is None or not np.isfinite(point.gap_um):
            self._line.setData([], [])
            self._swing.setData([], [])
            self.canvas.set_range(self._x.ends or (0.0, 2500.0), self._y.ends or (-20.0, 0.0))
            return
        self._line.setData(point.curve_um, point.curve_v, connect="finite")
        x, y = self._swing_points(point)
        self._swing.setData(x, y)
        self._include(point)

    def _swing_points(self, point: WorkingPoint) -> tuple[np.ndarray, np.ndarray]:
        """The part of the curve that the waveform runs over; its corners with it."""
        low, high = self._swing_ends(point)
        inside = point.curve_um[(point.curve_um > low) & (point.curve_um < high)]
        x = np.concatenate([[low], inside, [high]])
        return x, _volts_at(point, x)

    def _swing_ends(self, point: WorkingPoint) -> tuple[float, float]:
        moment = self._view.position.moment
        if moment is not None:
            return moment.min_um, moment.max_um
        half = point.peak_to_peak_um / 2.0
        return point.gap_um - half, point.gap_um + half

    def _include(self, point: WorkingPoint) -> None:
        if self._close:
            half = max(_SWINGS * point.peak_to_peak_um, _LEAST_HALF_UM)
            low, high = point.gap_um - half, point.gap_um + half
        else:
            low, high = float(point.curve_um.min()), float(point.curve_um.max())
            swing = self._swing_ends(point)
            low, high = min(low, swing[0]), max(high, swing[1])
        ends = self._x.ends
        if ends is None or low < ends[0] or high > ends[1]:
            ends = self._x.include(low, high)
        volts = _volts_at(point, np.array([low, high]))
        bottom, top = float(volts.min()), float(volts.max())
        now = self._y.ends
        if now is None or bottom < now[0] or top > now[1]:
            pad = 0.04 * (top - bottom)
            now = self._y.include(bottom - pad, top + pad)
        self.canvas.set_range(ends, now)

    def _decorate(self) -> None:
        colours, point = palette(self._theme), self._point()
        if point is None:
            self._show_ground()
            words = (self._message(f"no reading of {self._view.position.name}"),)
            self.canvas.over.show_content(self._focus_rules(), (), words)
            return
        ends = self._range_ends(colours)
        self._show_ground(tuple(each for _, each in ends), self._strips(point, colours))
        at = self.canvas.to_pixels(point.gap_um, point.gap_v)
        hue = probe_colour(self._index, self._theme)
        mark = circle(at, 4.0, rule(hue), brush(colours.card))
        room = FreeRoom(self.canvas.data_rect().adjusted(4, 2, -4, -2))
        for _, each in ends:
            room.take(QRectF(each.line.x1() - 2, room.area.top(), 4, room.area.height()))
        room.take(QRectF(at.x() - 7, at.y() - 7, 14, 14))
        x, y = self._line.getData()
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        room.add_curve(zero.x() + x * (one.x() - zero.x()), zero.y() + y * (one.y() - zero.y()))
        labels = self._told(point, room, colours)
        for text, each in ends:
            labels += self._end_name(text, each, room, colours)
        self.canvas.over.show_content(self._focus_rules(), (mark,), tuple(labels))

    def _strips(self, point: WorkingPoint, colours: Palette) -> tuple[Shape, ...]:
        """From the axis up to the curve, and from the curve across to the other axis."""
        rect = self.canvas.data_rect()
        low, high = self._swing_ends(point)
        volts = _volts_at(point, np.array([low, high]))
        a = self.canvas.to_pixels(low, float(volts[0]))
        b = self.canvas.to_pixels(high, float(volts[1]))
        hue = probe_colour(self._index, self._theme)
        none, fill = rule(colour("transparent")), brush(blend(hue, colours.card, 0.18))
        left, right = max(a.x(), rect.left()), min(max(b.x(), a.x() + 1.0), rect.right())
        top, bottom = a.y(), max(b.y(), a.y() + 1.0)
        upright = QPolygonF(
            [QPointF(left, top), QPointF(right, bottom), QPointF(right, rect.bottom()),
             QPointF(left, rect.bottom())]
        )  # fmt: skip
        level = QPolygonF(
            [QPointF(left, top), QPointF(right, bottom), QPointF(rect.left(), bottom),
             QPointF(rect.left(), top)]
        )  # fmt: skip
        return Shape(upright, none, fill), Shape(level, none, fill)

    def _range_ends(self, colours: Palette) -> list[tuple[str, Rule]]:
        """Upright lines at the ends of the linear range that are seen, with their words."""
        rect = self.canvas.data_rect()
        found = []
        pen = rule(colours.normal)
        for end, gap_um in zip(
            ("near", "far"), self._view.position.linear_range_um or (), strict=False
        ):
            x = crisp(self.canvas.to_pixels(gap_um, 0.0).x())
            if rect.left() <= x <= rect.right():
                text = f"{end} end {setting_text(gap_um, self._unit)}"
                found.append((text, Rule(QLineF(x, rect.top(), x, rect.bottom()), pen)))
        return found

    def _end_name(self, text: str, end: Rule, room: FreeRoom, colours: Palette) -> list[Label]:
        """The words of an end beside its line, where there is room."""
        width, height = text_size(text, "tiny")
        left = end.line.x1() + 5.0
        if left > room.area.center().x():
            left -= width + 10.0
        rect = self._place((text, left), room, QSizeF(width, height), left, 1.0)
        if rect is None or abs(rect.left() - left) > 2.0:
            return []
        room.take(rect)
        return [Label(text, rect, colour(colours.normal), font("tiny"))]

    def _place(
        self, key: object, room: FreeRoom, size: QSizeF, left: float, rank_cost: float
    ) -> QRectF | None:
        """Where some words stood last, while that is clear: words that hop about are not read."""
        if room.area != self._placed_in:
            self._placed_in = room.area
            self._places.clear()
        last = self._places.get(key)
        if last is not None:
            # A figure more or less moves the left end alone.
            kept = QRectF(last.right() - size.width(), last.top(), size.width(), size.height())
            if abs(size.width() - last.width()) < 0.5:
                kept = last
            if room.is_clear(kept):
                self._places[key] = kept
                return kept
        tops = [room.area.top() + 6.0 * rank for rank in range(int(room.area.height() / 6.0))]
        found = room.find(size.width(), size.height(), tops, left, rank_cost=rank_cost)
        if found is None or not found.clear:
            return None
        self._places[key] = found.rect
        return found.rect

    def _told(self, point: WorkingPoint, room: FreeRoom, colours: Palette) -> list[Label]:
        """What the point means, in lines at a free corner; where room lacks, the last ones."""
        area = room.area
        lines = list(self.lines())
        tries = [lines[first:] for first in range(len(lines))]
        if point.from_table and abs(point.effect_percent) >= 0.05:
            tries.append([f"by the average {_less(point)} p-p"])
        for first, texts in enumerate(tries):
            width = max(text_size(text, "tiny")[0] for text in texts)
            if width > _MOST_WIDE * area.width():
                continue
            height = text_size(texts[0], "tiny")[1]
            size = QSizeF(width, height * len(texts))
            rect = self._place(("point", first), room, size, area.right() - width, 8.0)
            if rect is not None:
                break
        else:
            return []
        room.take(rect)
        labels = []
        for number, text in enumerate(texts):
            loud = number == len(texts) - 1 and abs(point.effect_percent) > _LOUD_PERCENT
            ink = condition_ink("alarm", self._theme) if loud else colour(colours.ink)
            box = QRectF(rect.left(), rect.top() + number * height, width, height)
            labels.append(Label(text, box, ink, font("tiny"), Qt.AlignmentFlag.AlignRight))
        return labels

    def lines(self) -> tuple[str, ...]:
        """What is written into the picture, line by line."""
        point = self._point()
        if point is None:
            return ()
        unit = self._unit
        at = f"{length_text(point.gap_um, unit)} at {plain_number(point.gap_v, 2)} V"
        if not point.from_table:
            factor = factor_text(point.average_mv_per_um, unit)
            return (
                at,
                f"one factor everywhere, {factor}",
                "no calibration table in the setup",
            )
        local = factor_text(point.local_mv_per_um, unit)
        average = factor_text(point.average_mv_per_um, unit).split()[0]
        if abs(point.effect_percent) < 0.05:
            effect = "the slope leaves p-p as it is"
        else:
            true, read = (
                length_text(value, unit) for value in (point.peak_to_peak_um, point.straight_um)
            )
            effect = f"p-p {true}; by the average {read}, {_less(point)}"
        return at, f"slope here {local}, average {average}", effect

    def _hover(self, position: QPointF) -> None:
        rect, point = self.canvas.data_rect(), self._point()
        if point is None or not rect.contains(position):
            self.canvas.hover.show_content()
            return
        gap_um = self.canvas.to_data(position).x()
        volts = float(_volts_at(point, np.array([gap_um]))[0])
        text = f"{length_text(gap_um, self._unit)} · {plain_number(volts, 3)} V"
        ground, label = chip(text, position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))


def _less(point: WorkingPoint) -> str:
    """How much less, or more, p-p the average factor reads."""
    less = "less" if point.effect_percent < 0.0 else "more"
    return f"{plain_number(abs(point.effect_percent), 1)} % {less}"


def _volts_at(point: WorkingPoint, gap_um: np.ndarray) -> np.ndarray:
    """Volts on the curve; its end pieces go on straight, as the gap's own reading does."""
    x, y = point.curve_um, point.curve_v
    inside = np.interp(gap_um, x, y)
    first, last = (y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])
    below, above = y[0] + (gap_um - x[0]) * first, y[-1] + (gap_um - x[-1]) * last
    found: np.ndarray = np.where(gap_um < x[0], below, np.where(gap_um > x[-1], above, inside))
    return found
