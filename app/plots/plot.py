"""What every picture promises, and the work they share: theme, unit, empty state, redraw."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QLineF, QRectF, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QShowEvent
from PySide6.QtWidgets import QLabel, QStackedLayout, QWidget

from analysis.model.units import LengthUnit

from .layers import Label, Rule, Shape, crisp
from .palette import Palette, Theme, palette
from .spare import take_canvas
from .style import colour, font, rule, text_size
from .unseen import Later, is_unseen

_KEYBOARD_REASONS = (
    Qt.FocusReason.TabFocusReason,
    Qt.FocusReason.BacktabFocusReason,
    Qt.FocusReason.ShortcutFocusReason,
)


class Plot(QWidget):
    """A picture. It is given frozen views and draws them; it asks nothing of anybody.

    A subclass builds its curves in `_build`, dresses them in `_dress`, draws `self._view` in
    `_draw` and lays its labels in `_decorate`, which also runs when only the size changed.
    """

    titled_changed = Signal()

    NAME = "plot"
    DESCRIPTION = ""
    EMPTY = "Nothing to show yet."
    MINIMUM = (240, 150)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = Theme.LIGHT
        self._unit = LengthUnit.UM
        self._view: object | None = None
        self._titles = ("", "")
        self._focus_seen = False
        self._grid_key: object = None
        self._grid_rules: tuple[Rule, ...] = ()
        self.canvas = take_canvas()
        self._empty = QLabel(self.EMPTY)
        self._empty.setProperty("role", "empty")
        self._empty.setFont(font("body"))
        self._empty.setWordWrap(True)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._stack = QStackedLayout(self)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(self.canvas)
        self.setMinimumSize(*self.MINIMUM)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(self.NAME)
        self.setAccessibleDescription(self.DESCRIPTION)
        self.setToolTip(self.DESCRIPTION)
        self._until_seen = Later(self, self._catch_up)
        self._stale: set[Callable[[], None]] = set()
        self._build()
        self._dress(palette(self._theme))
        self._label_axes()
        self._titles = (self.title(), self.subtitle())
        self.canvas.resized.connect(self._resized)
        self.canvas.double_clicked.connect(lambda _: self.fit())

    # What a subclass makes of it -----------------------------------------------------------------

    def _build(self) -> None:
        """Make the items, once."""
        raise NotImplementedError

    def _dress(self, colours: Palette) -> None:
        """Give every item the pens of the theme."""
        self.canvas.setBackground(colours.card)
        for axis in (self.canvas.left_axis, self.canvas.bottom):
            axis.set_colours(colours)

    def _label_axes(self) -> None:
        """Write quantity and unit on the axes."""
        raise NotImplementedError

    def _draw(self) -> None:
        """Put `self._view` into the items and set the range."""
        raise NotImplementedError

    def _decorate(self) -> None:
        """Lay grid, rules and labels for the range and the size there are."""
        self._show_ground()

    def _forget_scale(self) -> None:
        """Let the next drawing set the scale anew."""
        raise NotImplementedError

    def title(self) -> str:
        """The card's title."""
        return self.NAME

    def subtitle(self) -> str:
        """The card's muted words beside the title."""
        return ""

    # What the others call ------------------------------------------------------------------------

    def theme(self) -> Theme:
        """The theme shown."""
        return self._theme

    def unit(self) -> LengthUnit:
        """The unit of lengths shown."""
        return self._unit

    def set_theme(self, theme: Theme) -> None:
        """Change every colour, item by item; nothing is made anew."""
        if theme is self._theme:
            return
        self._theme = theme
        self._when_seen(self._redress)

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit; what is seen stays where it is."""
        if unit is self._unit:
            return
        self._unit = unit
        self._when_seen(self._rewrite)

    def _when_seen(self, work: Callable[[], None]) -> None:
        """Do it now, or later where nobody sees the picture: the window would wait for it."""
        if is_unseen(self):
            self._stale.add(work)
            self._until_seen.put_off()
        else:
            work()

    def _catch_up(self) -> None:
        while self._stale:
            self._stale.pop()()

    def _redress(self) -> None:
        self._dress(palette(self._theme))
        if self._view is not None:
            self._decorate()
        self.update()

    def _rewrite(self) -> None:
        self._label_axes()
        if self._view is not None:
            self._decorate()
        self._tell_titles()

    def showEvent(self, event: QShowEvent) -> None:
        """What was put off while nobody saw it is done now."""
        self._until_seen.now()
        super().showEvent(event)

    def show_result(self, view: object | None) -> None:
        """Draw a view; `None` brings the empty state back and forgets the scale."""
        self._view = view
        if view is None:
            self._forget_scale()
            self._stack.setCurrentWidget(self._empty)
        else:
            self._stack.setCurrentWidget(self.canvas)
            self._draw()
            self._decorate()
        self._tell_titles()

    def make_room(self) -> None:
        """Give an empty picture its size before it is drawn, not a second drawing after it."""
        if self._view is None:
            self._stack.setCurrentWidget(self.canvas)
            self._stack.activate()
            self.canvas.chart.layout.activate()
            self.canvas.settle()

    def show_anew(self, view: object | None) -> None:
        """Draw a view that has nothing to do with the one before: the scale is chosen again."""
        self._forget_scale()
        self.show_result(view)

    def is_empty(self) -> bool:
        """Whether the empty state is shown."""
        return self._view is None

    def empty_text(self) -> str:
        """What the empty state says."""
        return self._empty.text()

    def set_empty_text(self, text: str) -> None:
        """Say something else where nothing can be shown, and what to do next."""
        self._empty.setText(text)

    def fit(self) -> None:
        """Scale to what is shown now."""
        self._forget_scale()
        if self._view is not None:
            self._draw()
            self._decorate()
            self._tell_titles()

    # Shared work ---------------------------------------------------------------------------------

    def _tell_titles(self) -> None:
        titles = (self.title(), self.subtitle())
        if titles != self._titles:
            self._titles = titles
            self.setAccessibleName(titles[0])
            self.setAccessibleDescription(" ".join(filter(None, (titles[1], self.DESCRIPTION))))
            self.titled_changed.emit()

    def _resized(self) -> None:
        if self._view is not None:
            self._decorate()

    def _show_ground(self, rules: tuple[Rule, ...] = (), shapes: tuple[Shape, ...] = ()) -> None:
        """Grid lines first, then the given rules and shapes, under the curves."""
        self.canvas.ground.show_content((*self._grid(), *rules), shapes)

    def _grid(self) -> tuple[Rule, ...]:
        """Lines at the ticks; made anew only when range, size, unit or theme has changed."""
        rect = self.canvas.data_rect()
        (x_range, y_range) = self.canvas.box.viewRange()
        key = (rect.getRect(), *x_range, *y_range, self._theme, self._unit)
        if key != self._grid_key:
            self._grid_key = key
            self._grid_rules = self._make_grid(rect)
        return self._grid_rules

    def _make_grid(self, rect: QRectF) -> tuple[Rule, ...]:
        pen = rule(palette(self._theme).grid)
        grid = []
        for x in self.canvas.bottom.grid_positions():
            at = crisp(self.canvas.to_pixels(x, 0.0).x())
            grid.append(Rule(QLineF(at, rect.top(), at, rect.bottom()), pen))
        for y in self.canvas.left_axis.grid_positions():
            at = crisp(self.canvas.to_pixels(0.0, y).y())
            grid.append(Rule(QLineF(rect.left(), at, rect.right(), at), pen))
        return tuple(grid)

    def _message(self, text: str) -> Label:
        """Words in the middle of a picture that has nothing to draw."""
        rect = self.canvas.data_rect()
        width, height = text_size(text, "small")
        box = QRectF(0.0, 0.0, width, height)
        box.moveCenter(rect.center())
        ink = colour(palette(self._theme).muted)
        return Label(text, box, ink, font("small"), Qt.AlignmentFlag.AlignHCenter)

    def _focus_rules(self) -> tuple[Rule, ...]:
        if not self._focus_seen:
            return ()
        rect = self.canvas.data_rect().adjusted(0.5, 0.5, -0.5, -0.5)
        pen = rule(palette(self._theme).focus)
        corners = [rect.topLeft(), rect.topRight(), rect.bottomRight(), rect.bottomLeft()]
        sides = zip(corners, [*corners[1:], corners[0]], strict=True)
        return tuple(Rule(QLineF(start, end), pen) for start, end in sides)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the frame to who came by keyboard."""
        super().focusInEvent(event)
        # A frame helps who walks by keyboard; who clicks knows where they are.
        self._focus_seen = event.reason() in _KEYBOARD_REASONS
        if self._view is not None:
            self._decorate()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Take the frame away."""
        super().focusOutEvent(event)
        self._focus_seen = False
        if self._view is not None:
            self._decorate()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """F fits."""
        if event.key() == Qt.Key.Key_F and not event.modifiers():
            self.fit()
            event.accept()
            return
        super().keyPressEvent(event)
