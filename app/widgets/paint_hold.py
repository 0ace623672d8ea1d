"""Painting that is held back while much of a window changes, and done part by part after it."""

from __future__ import annotations

import shiboken6
from PySide6.QtCore import QObject
from PySide6.QtWidgets import QMainWindow, QWidget

from app.plots.card import Card
from app.work.step import Step

from .probe_column import ProbeColumn
from .tab_card import TabCard

_PARTS = (Card, TabCard, ProbeColumn)


class PaintHold(QObject):
    """Paints a window after a change one card a turn of the event loop.

    Laying out is done when `release` comes. Pictures draw themselves for their new size when they
    are painted, and all of a window at once would make one turn too long.
    """

    def __init__(self, window: QMainWindow) -> None:
        super().__init__(window)
        self._window = window
        self._held: list[QWidget] = []
        self._painting = Step(self, 0, self._paint)

    def hold(self) -> None:
        """Paint nothing until `release`."""
        # Not of the window itself: Qt would lose what is to be painted when it is shown.
        if self._window.centralWidget() is not None:
            self._window.centralWidget().setUpdatesEnabled(False)
            self._painting.stop()

    def release(self) -> None:
        """Paint in the next turns."""
        self._painting.start()

    def is_painted(self) -> bool:
        """Whether nothing is held back: what has changed is painted, or will be with this turn."""
        return not self._held and self._window.centralWidget().updatesEnabled()

    def _paint(self) -> None:
        centre = self._window.centralWidget()
        if not centre.updatesEnabled():
            parts = self._parts()
            for part in self._held:
                if part not in parts and shiboken6.isValid(part):
                    part.setUpdatesEnabled(True)
            for part in parts:
                part.setUpdatesEnabled(False)
            self._held = parts
            centre.setUpdatesEnabled(True)
        elif self._held:
            part = self._held.pop(0)
            if shiboken6.isValid(part):
                part.setUpdatesEnabled(True)
        if self._held:
            self._painting.start()

    def _parts(self) -> list[QWidget]:
        """Cards in sight, from the top to the bottom; those within others with them."""
        centre = self._window.centralWidget()
        found = [each for kind in _PARTS for each in centre.findChildren(kind) if each.isVisible()]
        inner = {part for part in found for other in found if _holds(other, part)}
        parts = [part for part in found if part not in inner]
        return sorted(parts, key=lambda part: part.mapTo(centre, part.rect().topLeft()).y())


def _holds(part: QWidget, other: QWidget) -> bool:
    return part is not other and part.isAncestorOf(other)
