"""The states of all limits against time: ribbons, the latch that holds, and the resets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPolygonF

from analysis.model.span import TimeSpan

from .axes import plain_number
from .chip import chip
from .curve import Curve
from .layers import Label, Rule, Shape, crisp
from .palette import Palette, palette
from .reset_lane import ResetLane, freed_by
from .setting_steps import rounded
from .state_names import fitting, row_names
from .state_ribbons import WORDS, Ribbon, RunTable
from .state_rows import (
    LANE,
    LEAST_ROW,
    PlacedRow,
    StateRow,
    left_out_words,
    placed_rows,
    state_rows,
)
from .style import blend, brush, colour, font, line, rule, with_alpha
from .time_plot import LEFT_ROOM, RIGHT_ROOM, TOP_ROOM, TimePlot

if TYPE_CHECKING:
    from analysis.model.replay_results import LimitEvent, ReplayResult, StateRun

_NEAR = 6.0
"""Events and resets are meant from so many pixels off."""

_RESET_STEP_S = 0.1


@dataclass(frozen=True, eq=False)
class StatesView:
    """What is shown; `chosen` is the place of the limit that is looked at.

    `whole` is the capture; from the first tick to the last when not given.
    """

    in_force: ReplayResult
    trial: ReplayResult | None = None
    chosen: int | None = None
    whole: TimeSpan | None = None

    def shown(self) -> ReplayResult:
        """The replay whose states stand first: that of the trial, where there is one."""
        return self.trial or self.in_force


class StatesPlot(TimePlot):
    """Asks for resets, moments and limits; shows what it is told."""

    reset_requested = Signal(float)
    reset_removed = Signal(float)
    limit_requested = Signal(int)

    NAME = "States"
    DESCRIPTION = (
        "The state of every limit against time; limits in µm or mil. Low and hatched: waiting for "
        "its delay. Full: set. Striped: held by the latch. Crossed: no reading. Press on an event: "
        "the moment goes there. Press in the strip at the top: place a reset, or take it off. "
        "Up and Down: another limit. Comma and full stop: the event before and after. "
        "R: a reset at the moment, or off again. Wheel: zoom."
    )
    EMPTY = "No states yet. Open a capture whose setup has limits."
    MINIMUM = (320, 110)

    _view: StatesView | None

    def _build(self) -> None:
        super()._build()
        chart = self.canvas.chart
        chart.hide_axis("left")
        chart.set_margins(LEFT_ROOM, TOP_ROOM, RIGHT_ROOM, 2)
        self._feet = Curve()
        self.canvas.chart.add(self._feet)
        self._rows: tuple[PlacedRow, ...] = ()
        self._lane = ResetLane()
        self._reset_rules: list[Rule] = []
        self._left_out: tuple[StateRow, ...] = ()
        self._tables: dict[int, RunTable] = {}
        self._shapes: list[Shape] = []
        self._labels: list[Label] = []

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._feet.setPen(line(colours.border))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("time", "s")

    def _forget_scale(self) -> None:
        """Times have no scale of their own."""

    def title(self) -> str:
        """Always the same."""
        return self.NAME

    def subtitle(self) -> str:
        """Which settings are shown, and what the hand can do."""
        if self._view is None:
            return ""
        which = "on trial above, in force below" if self._view.trial is not None else "in force"
        return f"settings {which} · press in the strip: reset, on an event: go there"

    def _whole(self) -> TimeSpan:
        if self._view is None:
            return TimeSpan(0.0, 0.0)
        if self._view.whole is not None:
            return self._view.whole
        time = self._view.in_force.series.time_s
        return TimeSpan(float(time[0]), float(time[-1])) if len(time) else TimeSpan(0.0, 0.0)

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view = self._view
        shown = self.time_range()
        rect = self.canvas.data_rect()
        height = max(rect.height(), 40.0)
        self.canvas.set_range((shown.start_s, shown.end_s), (0.0, height))
        rows = state_rows(view.in_force, view.trial, view.chosen)
        in_use = {id(runs) for row in rows for runs in (row.runs, row.in_force_runs)}
        self._tables = {key: table for key, table in self._tables.items() if key in in_use}
        self._rows, self._left_out = placed_rows(rows, rect)
        # A line at the foot of every ribbon, from the first tick to the last.
        time = view.in_force.series.time_s
        ends = [float(time[0]), float(time[-1])] if len(time) else [shown.start_s, shown.start_s]
        boxes = [box for each in self._rows for box in (each.ribbon, each.in_force_ribbon) if box]
        x = np.tile([*ends, np.nan], len(boxes))
        y = np.full(3 * len(boxes), np.nan)
        feet = [rect.bottom() - crisp(box.bottom() - 1.0) for box in boxes]
        y[0::3], y[1::3] = feet, feet
        self._feet.setData(x, y, connect="finite")

    def _make_grid(self, rect: QRectF) -> tuple[Rule, ...]:
        pen = rule(palette(self._theme).grid)
        grid = []
        for x in self.canvas.bottom.grid_positions():
            at = crisp(self.canvas.to_pixels(x, 0.0).x())
            grid.append(Rule(QLineF(at, rect.top() + LANE, at, rect.bottom()), pen))
        return tuple(grid)

    def _decorate(self) -> None:
        colours = palette(self._theme)
        self._shapes, self._labels = [], []
        names = [self._time_label(colours)]
        for each in self._rows:
            for box, runs in (
                (each.ribbon, each.row.runs),
                (each.in_force_ribbon, each.row.in_force_runs),
            ):
                if box is not None:
                    self._ribbon(each, box, runs, colours)
            names += row_names(each, self._unit, self._theme)
        if self._left_out:
            rect = self.canvas.data_rect()
            box = QRectF(rect.left() + 4.0, rect.bottom() - LEAST_ROW, rect.width() - 8, LEAST_ROW)
            words = fitting(left_out_words(self._left_out), box.width())
            self._labels.append(Label(words, box, colour(colours.muted), font("tiny")))
        marks, shapes, labels = self._lane.lay(
            self._view.shown(), self._view.in_force, self.canvas, colours
        )
        self._reset_rules = marks
        self._shapes += shapes
        self._labels += labels
        self.canvas.margin.show_content(labels=(*names, self._lane.name(self.canvas, colours)))
        self._show_marks()

    def _ribbon(
        self, placed: PlacedRow, box: QRectF, runs: tuple[StateRun, ...], colours: Palette
    ) -> None:
        ground = self._row_ground(placed, colours)
        ribbon = Ribbon(self.canvas, box, placed.row.limit.level, self._theme, ground)
        ribbon.lay(self._table(runs))
        self._shapes += ribbon.shapes
        self._labels += ribbon.labels

    def _table(self, runs: tuple[StateRun, ...]) -> RunTable:
        """The runs as arrays; kept, since a drag of the moment or the zoom comes back to them."""
        table = self._tables.get(id(runs))
        if table is None or table.runs is not runs:
            table = self._tables[id(runs)] = RunTable(runs)
        return table

    @staticmethod
    def _row_ground(placed: PlacedRow, colours: Palette) -> QColor:
        share = 0.08 if placed.row.chosen else 0.0
        return blend(colours.accent, colours.card, share)

    def _show_marks(self) -> None:
        colours = palette(self._theme)
        self._show_ground(*self._ground(colours))
        rules, shapes, labels = self._cursor(self._moment[1] if self._moment else "", colours)
        self.canvas.over.show_content(
            (*self._reset_rules, *rules, *self._focus_rules()),
            (*self._shapes, *shapes),
            (*self._labels, *labels),
        )

    def _ground(self, colours: Palette) -> tuple[tuple[Rule, ...], tuple[Shape, ...]]:
        """A line under the strip, the ground of the chosen row, and the span."""
        rect = self.canvas.data_rect()
        y = crisp(rect.top() + LANE)
        none = rule(with_alpha(colours.accent, 0.0))
        chosen = [
            Shape(QPolygonF(each.box), none, brush(self._row_ground(each, colours)))
            for each in self._rows
            if each.row.chosen
        ]
        rules = (Rule(QLineF(rect.left(), y, rect.right(), y), rule(colours.hairline)),)
        return rules, (*chosen, *self._span_shade(colours))

    # Hand ----------------------------------------------------------------------------------------

    def _row_at(self, position: QPointF) -> PlacedRow | None:
        for each in self._rows:
            if each.box.top() <= position.y() < each.box.bottom():
                return each
        return None

    def _on_lane(self, position: QPointF) -> bool:
        rect = self.canvas.data_rect()
        across = rect.left() - _NEAR <= position.x() <= rect.right() + _NEAR
        return across and rect.top() <= position.y() < rect.top() + LANE

    def _reset_near(self, x: float) -> float | None:
        """The reset at a place across; the nearest one."""
        found = [(abs(self._pixel(t) - x), t) for t in self._view.shown().resets_s]
        away, time_s = min(found, default=(np.inf, 0.0))
        return time_s if away <= _NEAR else None

    def _event_near(self, position: QPointF) -> LimitEvent | None:
        """The event of the row under the hand, as tried or in force; the nearest one."""
        row = self._row_at(position)
        if row is None:
            return None
        lower = row.in_force_ribbon
        below = lower is not None and position.y() >= lower.top() - 1.0
        replay = self._view.in_force if below else self._view.shown()
        found = [
            (abs(self._pixel(event.time_s) - position.x()), place, event)
            for place, event in enumerate(replay.events)
            if event.index == row.row.index
        ]
        if not found:
            return None
        away, _, event = min(found)
        return event if away <= _NEAR else None

    def _grab(self, position: QPointF) -> bool:
        self._clear_hover()
        if self._on_lane(position):
            self._toggle_reset(self._reset_near(position.x()), self._time_at(position))
            return True
        row = self._row_at(position)
        if row is not None and not row.row.chosen:
            self.limit_requested.emit(row.row.index)
        return position.x() < self.canvas.data_rect().left() - _NEAR

    def _toggle_reset(self, near: float | None, time_s: float) -> None:
        if near is not None:
            self.reset_removed.emit(near)
        else:
            self.reset_requested.emit(rounded(time_s, _RESET_STEP_S))

    def _snap(self, position: QPointF, time_s: float) -> float:
        event = self._event_near(position)
        return event.time_s if event is not None else time_s

    def _hover(self, position: QPointF) -> None:
        rect = self.canvas.data_rect()
        lane, row = self._on_lane(position), self._row_at(position)
        shape = Qt.CursorShape.PointingHandCursor if lane else Qt.CursorShape.ArrowCursor
        if self.canvas.viewport().cursor().shape() != shape:
            self.canvas.viewport().setCursor(shape)
        if lane:
            text = self._lane_words(position)
        elif row is not None:
            text = self._row_words(row, position)
        else:
            self._clear_hover()
            return
        ground, label = chip(text, position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))

    def _lane_words(self, position: QPointF) -> str:
        near = self._reset_near(position.x())
        if near is None:
            return f"press: a reset at {plain_number(self._time_at(position), 1)} s"
        freed = freed_by(self._view.shown(), self._view.in_force, near)
        what = f"lets go of {', '.join(freed)}" if freed else "lets go of nothing"
        return f"reset at {plain_number(near, 1)} s {what} · press: take it off"

    def _row_words(self, placed: PlacedRow, position: QPointF) -> str:
        """What the state under the hand is, or what happened there."""
        row = placed.row
        name = f"{row.name(4)} {row.setting(self._unit)}"
        event = self._event_near(position)
        if event is not None:
            first = f" · {event.first_out}. to set" if event.first_out is not None else ""
            when = plain_number(event.time_s, 2)
            return f"{when} s · {row.name(4)} {event.event}: {event.why}{first}"
        lower = placed.in_force_ribbon
        below = lower is not None and position.y() >= lower.top() - 1.0
        if position.x() < self.canvas.data_rect().left():
            return name
        runs = row.in_force_runs if below else row.runs
        time_s = self._time_at(position)
        for run in runs:
            if run.start_s <= time_s <= run.end_s:
                ends = f"{plain_number(run.start_s, 1)} to {plain_number(run.end_s, 1)} s"
                which = (" in force" if below else " on trial") if lower is not None else ""
                return f"{row.name(4)}{which} · {WORDS[run.state]} from {ends}"
        return name

    # Keyboard ------------------------------------------------------------------------------------

    def _own_key(self, event: QKeyEvent) -> bool:
        beyond = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        return not event.modifiers() & beyond and event.key() in _KEYS

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and Down ask for another limit, comma and full stop for an event, R for a reset."""
        if self._view is None or not self._own_key(event):
            super().keyPressEvent(event)
        elif event.key() in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self._next_limit(1 if event.key() == Qt.Key.Key_Down else -1)
        elif event.key() in (Qt.Key.Key_Comma, Qt.Key.Key_Period):
            self._next_event(1 if event.key() == Qt.Key.Key_Period else -1)
        elif self._moment is not None:
            near = self._reset_near(self._pixel(self._moment[0]))
            self._toggle_reset(near, self._moment[0])

    def _next_limit(self, step: int) -> None:
        count = len(self._view.in_force.states)
        if count == 0:
            return
        now = self._view.chosen
        place = (0 if step > 0 else count - 1) if now is None else now + step
        if 0 <= place < count:
            self.limit_requested.emit(place)

    def _next_event(self, step: int) -> None:
        """The next event of any limit after the moment, or before it."""
        times = sorted({event.time_s for event in self._view.shown().events})
        now = self._moment[0] if self._moment is not None else -np.inf
        later = [time_s for time_s in times if (time_s - now) * step > 1e-9]
        if later:
            self.moment_requested.emit(later[0] if step > 0 else later[-1])


_KEYS = {Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Comma, Qt.Key.Key_Period, Qt.Key.Key_R}
