"""Style sheets by sections: a change of theme is worked through the window in many short turns.

A style sheet on the window would be worked through every widget in it in one turn of the event
loop, seen or not, and the window would stand still meanwhile. So the window has none: sections of
some dozen widgets have one each, and what only holds sections is painted from the palette.
"""

from __future__ import annotations

import shiboken6
from PySide6.QtCore import QChildEvent, QEvent, QObject, Signal
from PySide6.QtWidgets import QStackedWidget, QWidget

from app.plots import style
from app.work.step import Step

from .tab_card import TabCard

MOST_WIDGETS = 60
"""A part of the window with more is divided, where it has no look of its own."""

UNSEEN_MS = 15
"""Between two sections that nobody sees."""

HOLDS = "holds"
"""Set this property of an empty widget that much will be put into: it is no section itself."""

_DIVIDED = "divided"


class Wardrobe(QObject):
    """Dresses a window: `dress` at once what is new, `change` all of it, what is in sight first."""

    seen_dressed = Signal()
    """Everything in sight wears the theme."""

    def __init__(self, window: QWidget, theme: style.Theme) -> None:
        super().__init__(window)
        self._sheet = style.stylesheet(theme)
        self._sections: list[QWidget] = []
        self._due: list[QWidget] = []
        self._telling = False
        self._timer = Step(self, UNSEEN_MS, self._step)
        window.installEventFilter(self)

    def dress(self, widget: QWidget, *, holds: bool = False) -> None:
        """Give a widget that has just been put into the window its sheets.

        `holds`: divide it even if it is small, since it will grow.
        """
        sections = self._divide(widget, holds)
        self._sections += sections
        for section in sections:
            section.setStyleSheet(self._sheet)

    def change(self, theme: style.Theme) -> None:
        """Another theme; `seen_dressed` tells when nothing in sight is left in the old one."""
        self._sheet = style.stylesheet(theme)
        self._sections = [each for each in self._sections if shiboken6.isValid(each)]
        self._due = list(self._sections)
        self._go_on()

    def hurry(self) -> None:
        """Another page is in sight: what it still has of the old theme comes first."""
        if self._due:
            self._go_on()

    def is_done(self) -> bool:
        """Whether everything wears the theme."""
        return not self._due

    def _go_on(self) -> None:
        self._telling = True
        self._timer.start(0)

    def _step(self) -> None:
        self._due = [each for each in self._due if shiboken6.isValid(each)]
        seen = next((each for each in self._due if each.isVisible()), None)
        if seen is None and self._telling:
            self._telling = False
            self.seen_dressed.emit()
        elif self._due:
            section = self._due[0] if seen is None else seen
            self._due.remove(section)
            section.setStyleSheet(self._sheet)
        if self._due or self._telling:
            self._timer.start(0 if self._telling else None)

    def _divide(self, widget: QWidget, holds: bool = False) -> list[QWidget]:
        """The sections of a widget that has none so far; what `holds` them is watched."""
        holds = holds or isinstance(widget, QStackedWidget | TabCard) or widget.property(HOLDS)
        if widget.styleSheet() or widget.property(_DIVIDED):
            return []
        few = len(widget.findChildren(QWidget)) <= MOST_WIDGETS
        if not holds and (few or widget.isWindow() or _has_a_look(widget)):
            return [widget]
        widget.setProperty(_DIVIDED, True)
        widget.installEventFilter(self)
        parts = [child for child in widget.children() if isinstance(child, QWidget)]
        return [section for part in parts for section in self._divide(part)]

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        """Dress what comes into the window later: a leaf, a dialog, a menu."""
        if isinstance(event, QChildEvent) and event.type() == QEvent.Type.ChildPolished:
            child = event.child()
            if isinstance(child, QWidget):
                self.dress(child)
        return False


def _has_a_look(widget: QWidget) -> bool:
    """Whether the style sheet paints something of the widget itself."""
    return widget.property("role") in {"card", "finding", "banner"}
