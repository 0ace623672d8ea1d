"""For every delay the level that would just have acted, with the settings as marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent

from .axes import plain_number
from .boundary_layout import BoundaryLayout
from .boundary_marks import SettingMark, level_at, setting_marks, stairs
from .chip import chip
from .curve import Curve
from .free_room import FreeRoom
from .limit_words import Side, length_unit, probes_text, quantity
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .setting_steps import DELAY_STEP_S, rounded, step_um, within
from .style import blend, condition_colour, line
from .wording import length_text

if TYPE_CHECKING:
    from analysis.model.replay_results import BoundaryCurve, Margin, TripBoundary
    from analysis.model.setup import Level, Limit

_PAD = 0.08
_HOLD = 11.0
"""A mark can be held from so many pixels off."""


@dataclass(frozen=True, eq=False)
class BoundaryView:
    """What is shown. `boundary` is that of the trial where one is given, with its margins.

    `in_force_margins` are those of the limit in force; needed only beside a trial.
    """

    boundary: TripBoundary
    in_force: Limit
    trial: Limit | None = None
    in_force_margins: tuple[Margin, ...] = ()

    def limit(self) -> Limit:
        """The limit as it is tried, or in force."""
        return self.trial or self.in_force


class BoundaryPlot(Plot):
    """Asks for another level and delay when a mark is dragged; it moves when it is told to."""

    setting_requested = Signal(int, str, float, float)
    """Place of the limit, `"above"` or `"below"`, level in µm, delay in s."""
    drag_finished = Signal()

    NAME = "Trip boundary"
    DESCRIPTION = (
        "For every delay in s the level in µm or mil that would just have acted; hatched: the side "
        "of the settings that act. Filled mark: the setting tried, hollow: in force. Dotted: how "
        "far it is from acting or not. Drag the mark, or arrow keys: try another level and delay "
        "(Shift: ten steps; L: the other side). F: fit."
    )
    EMPTY = "No trip boundary yet. Open a capture whose setup has limits, then choose one."
    MINIMUM = (260, 150)

    _view: BoundaryView | None

    def _build(self) -> None:
        self._together = (Curve(), Curve())
        self._thin: list[Curve] = []
        for curve in self._together:
            curve.setZValue(5)
            self.canvas.chart.add(curve)
        self._level: Level = "trip"
        self._levels = GrowingScale(least_span=5.0)
        self._delays = GrowingScale(least_span=1.0)
        self._scaled_for: object = None
        self._marks: tuple[SettingMark, ...] = ()
        self._side: Side = "above"
        self._held: tuple[SettingMark, QPointF] | None = None
        self._asked: tuple[float, float] | None = None
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(self._move)
        self.canvas.released.connect(self._release)
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._dress_curves(colours)

    def _dress_curves(self, colours: Palette) -> None:
        for curve in self._together:
            curve.setPen(line(condition_colour(self._level, self._theme)))
        for curve in self._thin:
            curve.setPen(line(blend(colours.muted, colours.card, 0.7)))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("delay", "s")
        measure = self._view.limit().measure if self._view is not None else "peak_to_peak"
        unit = length_unit(measure, self._unit)
        self.canvas.left_axis.set_quantity("level", unit, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._levels.reset()
        self._delays.reset()

    def title(self) -> str:
        """Always the same."""
        return self.NAME

    def subtitle(self) -> str:
        """Of what, and what the line means."""
        if self._view is None:
            return ""
        limit = self._view.limit()
        of = f"{probes_text(limit)} {quantity(limit.measure)}"
        return f"{of} · for every delay the level that would just have acted"

    # Drawing -------------------------------------------------------------------------------------

    def _draw(self) -> None:
        view = self._view
        limit = view.limit()
        scaled_for = (limit.measure, limit.probes)
        if scaled_for != self._scaled_for:
            self._scaled_for = scaled_for
            self._forget_scale()
        self._label_axes()
        self._marks = setting_marks(view.boundary, view.in_force, view.trial, view.in_force_margins)
        sides = [mark.side for mark in self._marks if mark.role == "active"]
        if self._side not in sides and sides:
            self._side = sides[0]
        self._level = limit.level
        self._set_curves()
        self._dress_curves(palette(self._theme))
        # A scale that grew under the hand would carry the mark away with it.
        if self._held is None:
            self._include(gap=limit.measure == "position")
        self.canvas.set_range(self._delays.ends or (0.0, 15.0), self._levels.ends or (0.0, 100.0))

    def _set_curves(self) -> None:
        together = self._view.boundary.together
        for place, curve in enumerate(self._together):
            if place < len(together):
                curve.setData(*stairs(together[place]), connect="finite")
            else:
                curve.setData([], [])
        thin = self._thin_curves()
        while len(self._thin) < len(thin):
            made = Curve()
            self.canvas.chart.add(made)
            self._thin.append(made)
        for place, curve in enumerate(self._thin):
            x, y = stairs(thin[place][1]) if place < len(thin) else ([], [])
            curve.setData(x, y, connect="finite")

    def _thin_curves(self) -> list[tuple[str, BoundaryCurve]]:
        """The curves of single captures with their names; of one capture it is the same curve."""
        curves = self._view.boundary.curves
        if len(curves) < 2:
            return []
        return [(name, curve) for name, of in curves.items() for curve in of]

    def _include(self, *, gap: bool) -> None:
        pairs = [*self._view.boundary.together, *(curve for _, curve in self._thin_curves())]
        levels = np.concatenate([curve.level_um for curve in pairs] or [np.empty(0)])
        levels = levels[np.isfinite(levels)]
        values = [mark.level_um for mark in self._marks]
        if len(levels):
            values += [float(levels.min()), float(levels.max())]
        delays = [0.0, *(mark.delay_s for mark in self._marks)]
        delays += [float(curve.delay_s[-1]) for curve in pairs if len(curve.delay_s)]
        if values:
            low, high = min(values), max(values)
            pad = _PAD * max(high - low, 1.0)
            ends = self._levels.ends
            if ends is None or low < ends[0] or high > ends[1]:
                floor = low - pad if gap else max(low - pad, 0.0)
                self._levels.include(floor, high + pad)
        ends = self._delays.ends
        if ends is None or max(delays) > ends[1]:
            self._delays.include(0.0, max(delays) + 0.02 * max(delays))

    def _decorate(self) -> None:
        room = FreeRoom(self.canvas.data_rect())
        drawn = [curve.getData() for curve in (*self._together, *self._thin)]
        for x, y in drawn:
            if x is not None and len(x):
                room.add_curve(*self._pixels(x, y))
        names = [name for name, _ in self._thin_curves()]
        layout = BoundaryLayout(self.canvas, room, self._unit, self._theme)
        together = self._view.boundary.together
        picked = self._side if self._focus_seen else None
        self._show_ground(layout.hachures(together, self._level))
        rules, shapes, labels = layout.marks(self._marks, together, picked)
        first = sum(x is not None and len(x) > 0 for x, _ in drawn[: len(self._together)])
        labels += layout.names(names, first)
        labels += layout.side_words(together)
        if not any(np.isfinite(curve.level_um).any() for curve in together):
            labels.append(self._message(self._why_empty()))
        self.canvas.over.show_content((*rules, *self._focus_rules()), shapes, tuple(labels))
        self.canvas.hover.show_content()

    def _why_empty(self) -> str:
        if self._view.limit().region is not None:
            return "a region of 1X has no single level,\nand so no boundary"
        return "no level acts here:\nnothing could be judged"

    def _pixels(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        return zero.x() + x * (one.x() - zero.x()), zero.y() + y * (one.y() - zero.y())

    # Hand ----------------------------------------------------------------------------------------

    def _mark_at(self, position: QPointF) -> SettingMark | None:
        """The mark under the hand that can be dragged; the nearest one."""
        best: tuple[float, SettingMark] | None = None
        for mark in self._marks:
            away = position - self.canvas.to_pixels(mark.delay_s, mark.level_um)
            length = float(np.hypot(away.x(), away.y()))
            if mark.role == "active" and length <= _HOLD and (best is None or length < best[0]):
                best = (length, mark)
        return best[1] if best is not None else None

    def _press(self, position: QPointF, _modifiers: Qt.KeyboardModifier) -> None:
        mark = self._mark_at(position) if self._view is not None else None
        if mark is None:
            return
        self.canvas.hover.show_content()
        self._held = (mark, position - self.canvas.to_pixels(mark.delay_s, mark.level_um))
        self._asked = (mark.level_um, mark.delay_s)
        self._side = mark.side

    def _move(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if self._view is None:
            return
        if self._held is not None and buttons & Qt.MouseButton.LeftButton:
            mark, offset = self._held
            at = self.canvas.to_data(position - offset)
            self._ask(mark, at.y(), at.x())
        elif not buttons & Qt.MouseButton.LeftButton:
            self._hover(position)

    def _release(self, _position: QPointF, _modifiers: Qt.KeyboardModifier) -> None:
        if self._held is None:
            return
        self._held = None
        self.drag_finished.emit()
        if self._view is not None:
            self._draw()
            self._decorate()

    def _step(self) -> float:
        low, high = self.canvas.box.viewRange()[1]
        return step_um((high - low) / max(self.canvas.data_rect().height(), 1.0), self._unit)

    def _ask(self, mark: SettingMark, level_um: float, delay_s: float) -> None:
        """Ask for a round level and delay; each stays as it is where it was not moved."""
        limit, step = self._view.limit(), self._step()
        level = mark.level_um
        if abs(level_um - mark.level_um) >= step / 2:
            level = within(limit, mark.side, rounded(level_um, step), step)
        delay = mark.delay_s
        if abs(delay_s - mark.delay_s) >= DELAY_STEP_S / 2:
            delay = max(rounded(delay_s, DELAY_STEP_S), 0.0)
        if (level, delay) != self._asked:
            self._asked = (level, delay)
            self.setting_requested.emit(self._view.boundary.index, mark.side, level, delay)

    def _hover(self, position: QPointF) -> None:
        rect = self.canvas.data_rect()
        mark = self._mark_at(position)
        shape = Qt.CursorShape.SizeAllCursor if mark else Qt.CursorShape.ArrowCursor
        if self.canvas.viewport().cursor().shape() != shape:
            self.canvas.viewport().setCursor(shape)
        delay = self.canvas.to_data(position).x()
        words = []
        if rect.contains(position):
            for curve in self._view.boundary.together:
                level = level_at(curve, delay)
                if level is not None:
                    word = "or less" if curve.side == "above" else "or more"
                    words.append(f"{length_text(level, self._unit)} {word}")
        if not words:
            self.canvas.hover.show_content()
            return
        text = f"{plain_number(delay, 1)} s · acts at {', at '.join(words)}"
        ground, label = chip(text, position, rect, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))

    # Keyboard ------------------------------------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        """The arrows are the mark's while the picture has the focus."""
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and self._view is not None
            and self._own_key(event)
        ):
            event.accept()
            return True
        return super().event(event)

    def _own_key(self, event: QKeyEvent) -> bool:
        if event.key() == Qt.Key.Key_Escape:
            return self._held is not None
        beyond = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        return not event.modifiers() & beyond and event.key() in {*_ARROWS, Qt.Key.Key_L}

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrows ask for another level or delay, L takes the other side, Esc leaves a drag."""
        if self._view is None or not self._own_key(event):
            super().keyPressEvent(event)
            return
        if event.key() == Qt.Key.Key_Escape:
            mark, _ = self._held
            self._ask(mark, mark.level_um, mark.delay_s)
            self._release(QPointF(), Qt.KeyboardModifier.NoModifier)
            return
        marks = {mark.side: mark for mark in self._marks if mark.role == "active"}
        if event.key() == Qt.Key.Key_L:
            others = [side for side in marks if side != self._side]
            self._side = others[0] if others else self._side
            self._decorate()
        elif self._side in marks:
            mark = marks[self._side]
            along, up = _ARROWS[Qt.Key(event.key())]
            steps = 10.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0
            self._asked = (mark.level_um, mark.delay_s)
            self._ask(
                mark,
                mark.level_um + up * steps * self._step(),
                mark.delay_s + along * steps * DELAY_STEP_S,
            )
            self.drag_finished.emit()


_ARROWS = {
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Left: (-1.0, 0.0),
}
