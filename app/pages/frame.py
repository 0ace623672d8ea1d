"""What stands around every page: probe cards at the left, the timeline below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from app.widgets.probe_column import ProbeColumn
from app.widgets.timeline import TimelinePanel

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.session.session import Session

LEAST_PAGE = QSize(920, 520)
"""What a page needs; in a window with less room it scrolls, and nothing in it is cut off."""

LOW_BELOW, NARROW_BELOW = 860, 1450
"""Heights and widths under which the timeline is lower and the probe cards are narrower."""


class PageFrame(QWidget):
    """Holds the page; the cards and the timeline come and go with the capture."""

    def __init__(self, session: Session, page: QWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._bare = False
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.probes = ProbeColumn(session)
        self.timeline = TimelinePanel(session)
        middle = QHBoxLayout()
        middle.setSpacing(10)
        middle.addWidget(self.probes)
        middle.addWidget(_scrolling(page), 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(7)
        column.addLayout(middle, 1)
        column.addWidget(self.timeline)
        session.capture.changed.connect(self._refresh)
        session.capture.setup_changed.connect(self._refresh)
        self._refresh()

    def turn(self, bring: Callable[[], None], *, bare: bool) -> bool:
        """Bring another page; `bare` leaves out cards and timeline around it.

        True when that moves anything. All of it is laid out once: each part that comes or goes
        would have the page that leaves laid out for a room that it never has.
        """
        changed = bare != self._bare
        self._bare = bare
        self.layout().setEnabled(False)
        try:
            if changed:
                self._refresh()
            bring()
        finally:
            self.layout().setEnabled(True)
            self.layout().activate()
        return changed and self._session.capture.capture is not None

    def _refresh(self) -> None:
        there = self._session.capture.capture is not None and not self._bare
        self.probes.setVisible(bool(self.probes.cards) and not self._bare)
        self.timeline.setVisible(there)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The cards and the timeline give way in a small window."""
        super().resizeEvent(event)
        self.probes.setFixedWidth(250 if self.width() < NARROW_BELOW else 290)
        self.timeline.setFixedHeight(143 if self.height() < LOW_BELOW else 160)


def _scrolling(page: QWidget) -> QScrollArea:
    page.setMinimumSize(LEAST_PAGE)
    page.setAutoFillBackground(False)
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setWidget(page)
    area.viewport().setAutoFillBackground(False)
    page.setAutoFillBackground(False)
    return area
