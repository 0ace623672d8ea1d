"""What amplitude and phase of a run share: speed or time across, passages, the moment, the hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, Qt, Signal

from analysis.model.span import TimeSpan

from .chip import chip
from .curve import Curve
from .free_room import FreeRoom
from .layers import Label, Rule, Shape, circle, crisp
from .palette import Palette, palette
from .plot import Plot
from .run_view import CurveStyle, RunView, index_at, point_text, trace_name
from .scales import GrowingScale
from .style import brush, colour, font, rule, text_size
from .zoom import STEP_IN

if TYPE_CHECKING:
    from analysis.model.results import Floats
    from analysis.views.run_traces import RunTrace

AXIS_ROOM = 56.0
"""Width of the left axis: the same in both, so that speeds stand in line."""

_REACH = 40.0
"""A press this near to a point of a curve means that point, pixels."""

_LEAST_PART = 0.02

_TOGETHER = 5.0
"""Curves nearer than this are told apart by no eye, pixels."""

_MOST_NAMES = 8


class SpeedPlot(Plot):
    """Curves of a run, one a passage. It asks for another moment, or another part of the speeds."""

    moment_requested = Signal(float)
    part_requested = Signal(object)
    """Lowest and highest speed (r/min) or time (s) to show; `None` for all."""

    MINIMUM = (300, 110)
    LEAST_SPAN = 1.0

    _view: RunView | None

    def _build(self) -> None:
        self._pool: list[Curve] = []
        self._styles: list[CurveStyle] = []
        self._x_scale = GrowingScale(least_span=10.0)
        self._y_scale = GrowingScale(least_span=self.LEAST_SPAN)
        self._shown = ("speed", 1)
        self._moment: float | None = None
        self._part: tuple[float, float] | None = None
        self._drawn: list[tuple[RunTrace, Floats, Floats]] = []
        self._numbers: dict[int, int | None] = {}
        self._laid: tuple[list[Rule], list[Shape], list[Label]] = ([], [], [])
        self._ground: tuple[list[Rule], list[Shape]] = ([], [])
        self.canvas.left_axis.setWidth(AXIS_ROOM)
        self._spare(8)
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(self._move)
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())
        self.canvas.wheeled.connect(self._wheel)

    # What a subclass makes of it -----------------------------------------------------------------

    def _heights(self, trace: RunTrace, kind: str) -> Floats:
        """What is drawn of a trace: `"main"`, `"raw"` or `"other"`."""
        raise NotImplementedError

    def _y_range(self) -> tuple[float, float]:
        """The range of heights, after `_drawn` is known."""
        raise NotImplementedError

    def _lay(self, room: FreeRoom, colours: Palette) -> None:
        """Fill `_ground` and `_laid` with what stands besides the curves."""
        raise NotImplementedError

    # What the others call ------------------------------------------------------------------------

    def set_moment(self, time_s: float | None) -> None:
        """Mark the points of this moment."""
        if time_s != self._moment:
            self._moment = time_s
            if self._view is not None:
                self._show_marks()

    def set_part(self, part: tuple[float, float] | None) -> None:
        """Show this part of the speeds (or times); `None`: all."""
        if part != self._part:
            self._part = part
            if self._view is not None:
                self._draw()
                self._decorate()

    # Drawing -------------------------------------------------------------------------------------

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
        self._label_across()

    def _label_across(self) -> None:
        by_time = self._view is not None and self._view.axis == "time"
        quantity, unit = ("time", "s") if by_time else ("speed", "r/min")
        self.canvas.bottom.set_quantity(quantity, unit)

    def _forget_scale(self) -> None:
        self._x_scale.reset()
        self._y_scale.reset()
        self._part = None

    def _across(self, trace: RunTrace) -> Floats:
        return trace.time_s if self._view.axis == "time" else trace.speed_rpm

    def _wanted(self) -> list[tuple[RunTrace, str]]:
        view = self._view
        out = [(trace, "other") for trace in view.others]
        if view.raw_shown:
            out += [(trace, "raw") for trace in view.traces]
        return out + [(trace, "main") for trace in view.traces]

    def _draw(self) -> None:
        view = self._view
        if (view.axis, view.order) != self._shown:
            self._shown = (view.axis, view.order)
            self._forget_scale()
        self._label_axes()
        wanted = self._wanted()
        self._spare(len(wanted))
        self._drawn = []
        for rank, curve in enumerate(self._pool):
            if rank >= len(wanted):
                curve.setData([], [])
                continue
            trace, kind = wanted[rank]
            x, y = self._across(trace), self._heights(trace, kind)
            self._styles[rank] = CurveStyle(view.place(trace.probe), trace.direction, kind)
            curve.setData(x, y, connect="finite")
            if kind == "main":
                self._drawn.append((trace, x, y))
        self._dress_curves()
        self.canvas.set_range(self._x_range(), self._y_range())

    def _x_range(self) -> tuple[float, float]:
        across = [self._across(trace) for trace, _kind in self._wanted()]
        found = [x[np.isfinite(x)] for x in across]
        found = [x for x in found if len(x)]
        operating = self._view.operating_rpm if self._view.axis == "speed" else None
        if found:
            low, high = min(float(x.min()) for x in found), max(float(x.max()) for x in found)
            if operating is not None and operating[1] < 1.5 * high:
                high = max(high, operating[1])
            self._x_scale.include(low, high)
        whole = self._x_scale.ends or (0.0, 1000.0)
        return self._part or whole

    def shown_part(self) -> TimeSpan:
        """What is seen across, as a span of its unit."""
        low, high = self.canvas.box.viewRange()[0]
        return TimeSpan(low, high)

    def _decorate(self) -> None:
        colours = palette(self._theme)
        room = FreeRoom(self.canvas.data_rect())
        self._numbers = {}
        for rank, (curve, style) in enumerate(zip(self._pool, self._styles, strict=True)):
            x, y = curve.getData()
            if x is not None and len(x) and style.kind != "raw":
                self._numbers[rank] = room.add_curve(*self._pixels(x, y))
        self._laid, self._ground = ([], [], []), ([], [])
        self._lay(room, colours)
        self._show_ground(tuple(self._ground[0]), tuple(self._ground[1]))
        self._show_marks()

    def _pixels(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Pixels of a curve in rising order; NaN in x is left out."""
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        known = np.isfinite(x)
        px = zero.x() + x[known] * (one.x() - zero.x())
        py = zero.y() + y[known] * (one.y() - zero.y())
        order = np.argsort(px, kind="stable")
        return px[order], py[order]

    def _name_curves(self, room: FreeRoom) -> None:
        """The name of each passage beside its curve; the words of a probe's other one are short."""
        named = _to_be_named(
            [(t, "main") for t in self._view.traces] + [(t, "other") for t in self._view.others]
        )
        together, wanted = self._run_together(), self._wanted()
        for trace, kind in named:
            rank = wanted.index((trace, kind))
            style = self._styles[rank]
            text = trace_name(trace, self._view.traces)
            if kind == "main" and trace.probe in together:
                if trace is not together[trace.probe]:
                    continue
                text = f"{trace.probe} ↑↓"
            if kind == "other":
                text = f"{text} {self._view.other_name}"
            number = self._numbers.get(rank)
            if number is None:
                continue
            place = room.along(number, *text_size(text, "small"))
            if place is not None:
                room.take(place.adjusted(-5, 0, 5, 0))  # names do not run into each other
                self._laid[2].append(Label(text, place, style.ink(self._theme), font("small")))

    def _run_together(self) -> dict[str, RunTrace]:
        """Probes whose passages lie on each other almost everywhere, with the one to name."""
        found: dict[str, list[tuple[RunTrace, Floats, Floats]]] = {}
        for trace, x, y in self._drawn:
            px, py = self._pixels(x, y)
            good = np.isfinite(py)
            if good.any():
                found.setdefault(trace.probe, []).append((trace, px[good], py[good]))
        out = {}
        for probe, pair in found.items():
            if len(pair) != 2:
                continue
            (first, x0, y0), (_, x1, y1) = pair
            low, high = max(x0[0], x1[0]), min(x0[-1], x1[-1])
            at = np.linspace(low, high, 100)
            away = np.abs(np.interp(at, x0, y0) - np.interp(at, x1, y1))
            if high > low and np.quantile(away, 0.9) < _TOGETHER:
                out[probe] = first
        return out

    # The moment ----------------------------------------------------------------------------------

    def marked(self) -> list[tuple[RunTrace, int]]:
        """The points at the moment, one a probe."""
        if self._moment is None or self._view is None:
            return []
        found: dict[str, tuple[RunTrace, int]] = {}
        for trace in self._view.traces:
            index = index_at(trace, self._moment)
            if index is not None and trace.probe not in found:
                found[trace.probe] = (trace, index)
        return list(found.values())

    def _show_marks(self) -> None:
        colours = palette(self._theme)
        rules, shapes, labels = self._laid
        rules, shapes = list(rules), list(shapes)
        rect = self.canvas.data_rect()
        for rank, (trace, index) in enumerate(self.marked()):
            x = float(self._across(trace)[index])
            y = float(self._heights(trace, "main")[index])
            at = self.canvas.to_pixels(x, y if np.isfinite(y) else 0.0)
            if not rect.left() - 1 <= at.x() <= rect.right() + 1:
                continue
            if rank == 0:
                up = crisp(at.x())
                ink = rule(colour(colours.ink))
                rules.append(Rule(QLineF(up, rect.top(), up, rect.bottom()), ink))
            if np.isfinite(y) and rect.top() <= at.y() <= rect.bottom():
                hue = CurveStyle(self._view.place(trace.probe), "up").ink(self._theme)
                shapes.append(circle(at, 4.0, rule(hue), brush(colours.card)))
        if not any(np.isfinite(y).any() for _, _, y in self._drawn):
            labels = [*labels, self._message("no vectors to show here")]
        self.canvas.over.show_content((*rules, *self._focus_rules()), tuple(shapes), tuple(labels))

    # Hand ----------------------------------------------------------------------------------------

    def _nearest(self, position: QPointF) -> tuple[RunTrace, int, float] | None:
        """The drawn point that is nearest to a place, and how far it is, pixels."""
        best: tuple[RunTrace, int, float] | None = None
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        for trace, x, y in self._drawn:
            away = np.hypot(
                zero.x() + x * (one.x() - zero.x()) - position.x(),
                zero.y() + y * (one.y() - zero.y()) - position.y(),
            )
            if not np.isfinite(away).any():
                continue
            index = int(np.nanargmin(away))
            if best is None or away[index] < best[2]:
                best = (trace, index, float(away[index]))
        return best

    def _along(self, position: QPointF) -> tuple[RunTrace, int] | None:
        """The point meant by a place: one near by, else of its speed in the nearest passage."""
        found = self._nearest(position)
        if found is None:
            return None
        if found[2] <= _REACH:
            return found[0], found[1]
        at = self.canvas.to_data(position).x()
        trace = found[0]
        return trace, int(np.nanargmin(np.abs(self._across(trace) - at)))

    def _press(self, position: QPointF, _modifiers: object) -> None:
        if self._view is None:
            return
        found = self._along(position)
        if found is not None and np.isfinite(found[0].time_s[found[1]]):
            self.moment_requested.emit(float(found[0].time_s[found[1]]))

    def _move(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if self._view is None:
            return
        if buttons & Qt.MouseButton.LeftButton:
            self._press(position, None)
            return
        rect = self.canvas.data_rect()
        found = self._along(position) if rect.contains(position) else None
        if found is None:
            self.canvas.hover.show_content()
            return
        text = point_text(found[0], found[1], self._unit, self._view.traces)
        ground, label = chip(text, position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))

    def _wheel(self, notches: float, position: QPointF) -> None:
        if self._view is None:
            return
        whole = self._x_scale.ends or (0.0, 1.0)
        low, high = self.canvas.box.viewRange()[0]
        at = min(max(self.canvas.to_data(position).x(), low), high)
        factor = STEP_IN**notches
        low, high = at - (at - low) * factor, at + (high - at) * factor
        low, high = max(low, whole[0]), min(high, whole[1])
        least = _LEAST_PART * (whole[1] - whole[0])
        if high - low < least:
            return
        self.part_requested.emit(None if (low, high) == whole else (low, high))


def _to_be_named(traces: list[tuple[RunTrace, str]]) -> list[tuple[RunTrace, str]]:
    """All of them; of many the longest passage of each probe and direction: the others look alike.

    A capture that goes up and down dozens of times would be covered with the same few names.
    """
    if len(traces) <= _MOST_NAMES:
        return traces
    longest: dict[tuple[str, str, str], tuple[RunTrace, str]] = {}
    for trace, kind in traces:
        key = trace.probe, trace.direction, kind
        if key not in longest or len(trace.speed_rpm) > len(longest[key][0].speed_rpm):
            longest[key] = trace, kind
    return list(longest.values())
