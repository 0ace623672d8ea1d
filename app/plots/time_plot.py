"""What pictures against capture time share: the part shown, the moment, the span, the hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPolygonF

from analysis.model.span import TimeSpan

from .layers import Label, Rule, Shape, crisp
from .plot import Plot
from .style import brush, colour, font, rule, text_size, with_alpha
from .zoom import PAN_SHARE, STEP_IN

if TYPE_CHECKING:
    from .palette import Palette

LEFT_ROOM = 112.0
RIGHT_ROOM = 16.0
"""Pixels beside the data area: the same in every such picture, so that times stand in line."""

TOP_ROOM = 20.0
"""Pixels above the data area, for the words of the moment."""

_TICK_ROOM = 32.0


class TimePlot(Plot):
    """A picture with the capture time across. It asks for another moment, span or part.

    A subclass says in `_whole` what there is to show, and in `_grab` whether a press is its own.
    """

    moment_requested = Signal(float)
    span_requested = Signal(float, float)
    zoom_requested = Signal(float, float)
    """Show this factor times as much, with this time (s) kept in place."""
    pan_requested = Signal(float)
    """Go on by this share of what is seen."""

    def _build(self) -> None:
        self._part: TimeSpan | None = None
        self._moment: tuple[float, str] | None = None
        self._span: TimeSpan | None = None
        self._pressed = False
        self._span_from: float | None = None
        self.canvas.bottom.label_wanted = False  # stands left of the ticks, to save height
        self.canvas.wheeled.connect(self._wheel)
        self.canvas.wheeled_along.connect(self._wheel_along)
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(self._move)
        self.canvas.released.connect(self._release)
        self.canvas.left.connect(self._clear_hover)

    # What a subclass makes of it -----------------------------------------------------------------

    def _whole(self) -> TimeSpan:
        """All that could be shown."""
        raise NotImplementedError

    def _grab(self, _position: QPointF) -> bool:
        """Whether a press there is the picture's own, and no wish for a moment."""
        return False

    def _drag(self, _position: QPointF) -> None:
        """Go on with a press that was the picture's own."""

    def _let_go(self) -> None:
        """End a press that was the picture's own."""

    def _snap(self, _position: QPointF, time_s: float) -> float:
        """The moment that a press there means."""
        return time_s

    def _hover(self, _position: QPointF) -> None:
        """Tell what lies under the hand."""

    def _show_marks(self) -> None:
        """Lay what is over the curves anew."""
        raise NotImplementedError

    # What the others call ------------------------------------------------------------------------

    def set_time_range(self, part: TimeSpan | None) -> None:
        """Show this part of the capture; `None`: all of it."""
        if part is not None and part.length_s <= 0.0:
            part = None
        if part != self._part:
            self._part = part
            if self._view is not None:
                self._draw()
                self._decorate()

    def set_moment(self, time_s: float | None, label: str = "") -> None:
        """Put the cursor there, with its words; `None` takes it away."""
        moment = None if time_s is None else (time_s, label)
        if moment != self._moment:
            self._moment = moment
            if self._view is not None:
                self._show_marks()

    def set_span(self, span: TimeSpan | None) -> None:
        """Shade a span; `None` takes it away."""
        if span != self._span:
            self._span = span
            if self._view is not None:
                self._show_marks()

    def time_range(self) -> TimeSpan:
        """The part of the capture that is shown."""
        part = self._part or self._whole()
        return part if part.length_s > 0.0 else TimeSpan(part.start_s, part.start_s + 1.0)

    # Shared work ---------------------------------------------------------------------------------

    def _resized(self) -> None:
        if self._view is not None:
            self._draw()
            self._decorate()

    def _clear_hover(self) -> None:
        self.canvas.hover.show_content()

    def _pixel(self, time_s: float) -> float:
        return self.canvas.to_pixels(time_s, 0.0).x()

    def _span_shade(self, colours: Palette) -> tuple[Shape, ...]:
        rect = self.canvas.data_rect()
        if self._span is None:
            return ()
        left, right = self._pixel(self._span.start_s), self._pixel(self._span.end_s)
        if right < rect.left() or left > rect.right():
            return ()
        left, right = max(left, rect.left()), min(right, rect.right())
        box = QRectF(left, rect.top(), max(right - left, 1.0), rect.height())
        fill = brush(with_alpha(colours.accent, 0.14))
        return (Shape(QPolygonF(box), rule(colours.accent), fill),)

    def _cursor(
        self, words: str, colours: Palette
    ) -> tuple[tuple[Rule, ...], tuple[Shape, ...], tuple[Label, ...]]:
        """The moment: a line with a handle, and its words above the data area."""
        rect = self.canvas.data_rect()
        at = self._pixel(self._moment[0]) if self._moment is not None else rect.left() - 9.0
        if not rect.left() - 1 <= at <= rect.right() + 1:
            return (), (), ()
        ink = colour(colours.ink)
        x = crisp(at)
        tip = QPointF(x, rect.top() - 1.0)
        handle = [tip, tip + QPointF(-5, -8), tip + QPointF(5, -8)]
        rules = (Rule(QLineF(x, rect.top() - 1.0, x, rect.bottom()), rule(ink)),)
        shapes = (Shape(QPolygonF(handle), rule(ink), brush(ink)),)
        parts = words.split(" · ") if words else []
        while parts:
            text = " · ".join(parts)
            width, height = text_size(text, "small")
            for left in (at + 9, at - 9 - width):
                if rect.left() <= left and left + width <= rect.right() + RIGHT_ROOM - 2:
                    box = QRectF(left, rect.top() - TOP_ROOM + 2, width, height)
                    return rules, shapes, (Label(text, box, ink, font("small")),)
            parts.pop()  # a small picture: the time stays longest
        return rules, shapes, ()

    def _time_label(self, colours: Palette) -> Label:
        """Name and unit of the time axis, left of its ticks."""
        rect = self.canvas.data_rect()
        axis = QRectF(2, rect.bottom() + 6, rect.left() - 8 - _TICK_ROOM, 14)
        ink = colour(colours.muted)
        right = Qt.AlignmentFlag.AlignRight
        return Label(self.canvas.bottom.text(), axis, ink, font("tiny"), right)

    # Hand ----------------------------------------------------------------------------------------

    def _time_at(self, position: QPointF) -> float:
        """The time at a place; a press beside what there is means its nearer end."""
        shown, whole = self.time_range(), self._whole()
        time_s = min(max(self.canvas.to_data(position).x(), shown.start_s), shown.end_s)
        return min(max(time_s, whole.start_s), whole.end_s)

    def _press(self, position: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        self._pressed, self._span_from = False, None
        if self._view is None or self._grab(position):
            return
        time_s = self._time_at(position)
        if modifiers & Qt.KeyboardModifier.ShiftModifier:
            self._span_from = time_s
        else:
            self._pressed = True
            self.moment_requested.emit(self._snap(position, time_s))

    def _move(self, position: QPointF, buttons: Qt.MouseButton) -> None:
        if self._view is None:
            return
        if not buttons & Qt.MouseButton.LeftButton:
            self._hover(position)
        elif self._span_from is not None:
            at = self._time_at(position)
            if at != self._span_from:
                self.span_requested.emit(min(at, self._span_from), max(at, self._span_from))
        elif self._pressed:
            self.moment_requested.emit(self._time_at(position))
        else:
            self._drag(position)

    def _release(self, _position: QPointF, _modifiers: Qt.KeyboardModifier) -> None:
        self._pressed, self._span_from = False, None
        self._let_go()

    def _wheel(self, notches: float, position: QPointF) -> None:
        if self._view is not None:
            self.zoom_requested.emit(STEP_IN**notches, self._time_at(position))

    def _wheel_along(self, notches: float, _position: QPointF) -> None:
        if self._view is not None:
            self.pan_requested.emit(notches * PAN_SHARE)

    # Keyboard ------------------------------------------------------------------------------------

    def _own_key(self, _event: QKeyEvent) -> bool:
        """Whether a key is the picture's own while it has the focus."""
        return False

    def event(self, event: QEvent) -> bool:
        """Keys of the picture's own go before those of the window."""
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and self._view is not None
            and self._own_key(event)
        ):
            event.accept()
            return True
        return super().event(event)
