"""The stack of pages, of which the hidden ones can be put aside while the window is dressed."""

from __future__ import annotations

from PySide6.QtWidgets import QStackedWidget, QWidget


class PageStack(QStackedWidget):
    """Shows one widget of many.

    A style sheet that changes on the window is worked through every widget of it in one turn of the
    event loop, seen or not. So hidden pages are put aside before, one a turn, and come back after,
    one a turn.
    """

    def __init__(self) -> None:
        super().__init__()
        self._aside: list[QWidget] = []

    @property
    def aside(self) -> int:
        """How many are put aside."""
        return len(self._aside)

    def show_widget(self, widget: QWidget) -> None:
        """Bring a widget to the front, also one that was put aside."""
        if widget in self._aside:
            self._aside.remove(widget)
            self.addWidget(widget)
        self.setCurrentWidget(widget)

    def put_one_aside(self) -> bool:
        """Take a hidden widget out of the window; false when there is none left."""
        for place in range(self.count()):
            if place != self.currentIndex():
                widget = self.widget(place)
                self.removeWidget(widget)
                widget.setParent(None)
                self._aside.append(widget)
                return True
        return False

    def take_one_back(self) -> bool:
        """Put a widget into the window again; false when there is none left."""
        if not self._aside:
            return False
        self.addWidget(self._aside.pop(0))
        return True
