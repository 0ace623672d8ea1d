"""The measure of a limit against time, with the settings as lines that can be dragged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent

from analysis.model.span import TimeSpan

from .axes import plain_number
from .chip import chip
from .curve import Curve
from .free_room import FreeRoom
from .level_curves import LevelCurves
from .level_layout import Laid, LevelLayout, Stretch, curve_names
from .level_lines import LevelLine, level_lines
from .limit_words import Side, length_unit, probes_text, quantity
from .palette import Palette, palette
from .scales import GrowingScale
from .setting_steps import rounded, step_um, within
from .style import line, probe_colour
from .time_plot import LEFT_ROOM, RIGHT_ROOM, TOP_ROOM, TimePlot
from .wording import length_number, length_text

if TYPE_CHECKING:
    from analysis.model.replay_results import MonitorSeries
    from analysis.model.setup import Limit, Setup

    from .layers import Label, Shape

_AXIS_ROOM = 60.0
_PAD = 0.08
_NEAR = 2.5
"""Another limit of the same measure is in the scale up to this many times what is shown."""


@dataclass(frozen=True, eq=False)
class LevelView:
    """What is shown: the limit at place `index`, with the others of its measure and probes.

    `setup` is in force, `trial` is tried instead (`None`: nothing is). `whole` is the capture; from
    the first tick to the last when not given.
    """

    series: MonitorSeries
    setup: Setup
    index: int
    trial: Setup | None = None
    whole: TimeSpan | None = None

    def limit(self) -> Limit:
        """The chosen limit as it is tried, or in force."""
        tried = self.trial
        if tried is None or len(tried.limit) != len(self.setup.limit):
            tried = self.setup
        return tried.limit[self.index]


class LevelPlot(TimePlot):
    """Asks for another setting when a line is dragged; the line moves when it is told to."""

    setting_requested = Signal(int, str, float)
    """Place of the limit, `"above"` or `"below"`, value in µm."""
    drag_finished = Signal()
    limit_requested = Signal(int)
    """A line of another limit has been taken in hand."""

    NAME = "Level and settings"
    DESCRIPTION = (
        "The measure of the chosen limit against time, µm or mil. Solid: trip, dashed: alarm, "
        "dotted: the setting in force where another one is tried. Drag a line, or Up and Down: "
        "try another setting (Shift: ten steps; L: the next line; Esc: leave the drag). "
        "Press elsewhere: move the moment; Shift and drag: choose a span. Wheel: zoom. F: fit."
    )
    EMPTY = "No level yet. Open a capture whose setup has limits, then choose one of them."
    MINIMUM = (320, 130)

    _view: LevelView | None

    def _build(self) -> None:
        super()._build()
        self._pool: list[Curve] = []
        self._colours: list[int] = []
        self._scale = GrowingScale(least_span=5.0)
        self._curves: LevelCurves | None = None
        self._scaled_for: object = None
        self._drawn: object = None
        self._lines: tuple[LevelLine, ...] = ()
        self._laid = Laid()
        self._laid_for: object = None
        self._names: tuple[list[Shape], list[Label]] = ([], [])
        self._layout = LevelLayout(self.canvas)
        self._selected: tuple[int, Side] | None = None
        self._held: tuple[LevelLine, Stretch, float] | None = None
        self._asked: float | None = None
        self._spare_curves(2)
        self._keep_room()

    def _spare_curves(self, count: int) -> None:
        """Have so many curves: made when a limit with more probes first comes, then kept."""
        while len(self._pool) < count:
            curve = Curve()
            self.canvas.chart.add(curve)
            self._pool.append(curve)
            self._colours.append(len(self._colours))

    def _keep_room(self) -> None:
        chart = self.canvas.chart
        chart.set_margins(LEFT_ROOM - _AXIS_ROOM, TOP_ROOM, RIGHT_ROOM, 2)
        self.canvas.left_axis.setWidth(_AXIS_ROOM)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._dress_curves()

    def _dress_curves(self) -> None:
        for curve, index in zip(self._pool, self._colours, strict=True):
            curve.setPen(line(probe_colour(index, self._theme)))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("time", "s")
        measure = self._view.limit().measure if self._view is not None else "peak_to_peak"
        named = quantity(measure)
        unit = self._unit.value if named == "p-p" else length_unit(measure, self._unit)
        self.canvas.left_axis.set_quantity(named, unit, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()
        self._layout.forget()

    def title(self) -> str:
        """Always the same."""
        return self.NAME

    def subtitle(self) -> str:
        """What the curves are, and what the hand can do."""
        if self._view is None:
            return ""
        limit = self._view.limit()
        kinds = {
            "peak_to_peak": "unfiltered p-p",
            "position": "gap",
            "1x": "1X amplitude",
            "1x_vector": "1X amplitude (its lag is judged, too)",
        }
        hint = "" if limit.region is not None else " · drag a line to try another setting"
        return f"{probes_text(limit, 4)} · {kinds[limit.measure]}{hint}"

    def _whole(self) -> TimeSpan:
        if self._view is None:
            return TimeSpan(0.0, 0.0)
        if self._view.whole is not None:
            return self._view.whole
        time = self._view.series.time_s
        return TimeSpan(float(time[0]), float(time[-1])) if len(time) else TimeSpan(0.0, 0.0)

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view = self._view
        limit = view.limit()
        if self._curves is None or not self._curves.are_of(view.series, limit):
            self._curves = LevelCurves(view.series, limit)
        scaled_for = (view.setup.probe, limit.measure, limit.probes)
        if scaled_for != self._scaled_for:
            self._scaled_for = scaled_for
            self._forget_scale()
        self._label_axes()
        self._lines = level_lines(view.setup, view.trial, view.index)
        keys = [(each.index, each.side) for each in self._lines if each.draggable]
        if self._selected not in keys or self._selected[0] != view.index:
            mine = [key for key in keys if key[0] == view.index]
            self._selected = mine[0] if mine else None
        # A scale that grew under the hand would carry the line away with it.
        if self._held is None:
            self._include()
        shown = self.time_range()
        self.canvas.set_range((shown.start_s, shown.end_s), self._scale.ends or (0.0, 100.0))
        self._draw_curves(shown)

    def _draw_curves(self, shown: TimeSpan) -> None:
        columns = max(int(self.canvas.data_rect().width()), 50)
        drawn = (id(self._curves), shown, columns)
        if drawn == self._drawn:
            return
        self._drawn = drawn
        names = list(self._curves.values)
        self._spare_curves(len(names))
        places = {probe.name: place for place, probe in enumerate(self._view.setup.probe)}
        for rank, curve in enumerate(self._pool):
            if rank < len(names):
                trace = self._curves.trace(names[rank], shown, columns)
                curve.setData(trace.x, trace.y, connect="finite")
                self._colours[rank] = places.get(names[rank], rank)
            else:
                curve.setData([], [])
        self._dress_curves()

    def _include(self) -> None:
        """Let the scale grow to the curves, the lines of the chosen limit and those near."""
        limit = self._view.limit()
        gap = limit.measure == "position"
        mine = [each for each in self._lines if each.chosen]
        values = [each.value_um for each in mine]
        values += [each.raised_um for each in mine if each.raised_um is not None]
        if self._curves.ends is not None:
            values += self._curves.ends
        if not gap:
            values.append(0.0)
        if not values:
            return
        low, high = min(values), max(values)
        reach = (_NEAR - 1.0) * (high - low)
        near = [each.value_um for each in self._lines if not each.chosen]
        near = [value for value in near if low - reach <= value <= high + reach]
        low, high = min([low, *near]), max([high, *near])
        pad = _PAD * max(high - low, 1.0)
        ends = self._scale.ends
        if ends is None or low < ends[0] or high > ends[1]:
            self._scale.include(low - pad if gap else low, high + pad)

    def _decorate(self) -> None:
        colours = palette(self._theme)
        rect = self.canvas.data_rect()
        laid_for = (self.time_range(), rect.width(), rect.height())
        if laid_for != self._laid_for:
            self._laid_for = laid_for
            self._layout.forget()
        room = FreeRoom(rect)
        for rank, _name in enumerate(self._curves.values):
            x, y = self._pool[rank].getData()
            if x is not None and len(x):
                left, per_x, bottom, per_y = self._mapping()
                room.add_curve(left + x * per_x, bottom - y * per_y)
        self._laid = self._layout.lay(
            self._lines, self._view.series, room, self._unit, self._theme, self._selected
        )
        hues = [probe_colour(index, self._theme) for index in self._colours]
        self._names = curve_names(list(self._curves.values), hues, room, colours)
        self.canvas.margin.show_content(labels=(self._time_label(colours),))
        self._show_marks()

    def _mapping(self) -> tuple[float, float, float, float]:
        """Pixels of a time and of a level: origin and scale of each."""
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        return zero.x(), one.x() - zero.x(), zero.y(), zero.y() - one.y()

    def _show_marks(self) -> None:
        colours = palette(self._theme)
        self._show_ground(shapes=self._span_shade(colours))
        rules, shapes, labels = self._cursor(self._moment_words(), colours)
        names, named = self._names
        labels = (*labels, *self._laid.labels, *named)
        if self._curves.ends is None:
            labels = (*labels, self._message(f"no reading of {probes_text(self._view.limit())}"))
        self.canvas.over.show_content(
            (*self._laid.rules, *rules, *self._focus_rules()),
            (*self._laid.shapes, *names, *shapes),
            labels,
        )

    def _moment_words(self) -> str:
        """The words of the moment with the readings of the curves there."""
        if self._moment is None:
            return ""
        time_s, label = self._moment
        return " · ".join(filter(None, (label, self._reading_at(time_s))))

    def _reading_at(self, time_s: float) -> str:
        words = []
        several = len(self._curves.values) > 1
        for name in self._curves.values:
            value = self._curves.at(name, time_s)
            number = "–" if value is None else length_number(value, self._unit)
            words.append(f"{name} {number}" if several else number)
        return f"{', '.join(words)} {self._unit.value}"

    # Hand ----------------------------------------------------------------------------------------

    def _hover(self, position: QPointF) -> None:
        found = self._laid.line_at(position)
        shape = Qt.CursorShape.SizeVerCursor if found else Qt.CursorShape.ArrowCursor
        if self.canvas.viewport().cursor().shape() != shape:
            self.canvas.viewport().setCursor(shape)
        rect = self.canvas.data_rect()
        if found is None and not rect.contains(position):
            self._clear_hover()
            return
        if found is not None:
            text = found[0].text(self._unit)
            if found[1].factor != 1.0:
                text += f" · here {length_text(found[0].raised_um, self._unit)}"
        else:
            time_s = self._time_at(position)
            text = f"{plain_number(time_s, 1)} s · {self._reading_at(time_s)}"
        ground, label = chip(text, position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))

    def _grab(self, position: QPointF) -> bool:
        found = self._laid.line_at(position)
        if found is None:
            return False
        self._clear_hover()
        held, stretch = found
        self._held = (held, stretch, position.y() - stretch.y)
        self._asked = held.value_um
        self._select((held.index, held.side))
        if held.index != self._view.index:
            self.limit_requested.emit(held.index)
        return True

    def _drag(self, position: QPointF) -> None:
        if self._held is None:
            return
        held, stretch, offset = self._held
        at = self.canvas.to_data(position - QPointF(0.0, offset)).y() / stretch.factor
        self._ask(held, at)

    def _let_go(self) -> None:
        if self._held is None:
            return
        self._held = None
        self.drag_finished.emit()
        if self._view is not None:
            self._draw()
            self._decorate()

    def _ask(self, held: LevelLine, value_um: float) -> None:
        step = self._step()
        value = within(held.limit, held.side, rounded(value_um, step), step)
        if value != self._asked:
            self._asked = value
            self.setting_requested.emit(held.index, held.side, value)

    def _step(self) -> float:
        low, high = self.canvas.box.viewRange()[1]
        return step_um((high - low) / max(self.canvas.data_rect().height(), 1.0), self._unit)

    # Keyboard ------------------------------------------------------------------------------------

    def _select(self, key: tuple[int, Side] | None) -> None:
        if key != self._selected:
            self._selected = key
            self._decorate()

    def _own_key(self, event: QKeyEvent) -> bool:
        if event.key() == Qt.Key.Key_Escape:
            return self._held is not None
        beyond = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        keys = {Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_L}
        return not event.modifiers() & beyond and event.key() in keys

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and Down ask for another setting, L takes the next line, Esc leaves a drag."""
        if self._view is None or not self._own_key(event):
            super().keyPressEvent(event)
        elif event.key() == Qt.Key.Key_Escape:
            held, _, _ = self._held
            self._ask(held, held.value_um)
            self._let_go()
        elif event.key() == Qt.Key.Key_L:
            self._next_line()
        else:
            chosen = [e for e in self._lines if (e.index, e.side) == self._selected and e.draggable]
            steps = 10.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0
            up = 1.0 if event.key() == Qt.Key.Key_Up else -1.0
            for each in chosen:
                self._asked = each.value_um
                self._ask(each, each.value_um + up * steps * self._step())
                self.drag_finished.emit()

    def _next_line(self) -> None:
        keys = [(each.index, each.side) for each in self._lines if each.draggable]
        if not keys:
            return
        place = keys.index(self._selected) if self._selected in keys else -1
        key = keys[(place + 1) % len(keys)]
        if key[0] != self._view.index:
            self.limit_requested.emit(key[0])
        self._select(key)
