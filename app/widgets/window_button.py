"""The way back to the automatic window of the waveforms, where another one was chosen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QPushButton, QWidget

if TYPE_CHECKING:
    from app.session.session import Session


class WindowButton(QPushButton):
    """Is there only while it can do something."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__("Auto window", parent)
        self._zoom = session.waveform_zoom
        self.setProperty("role", "quiet")
        self.setAutoDefault(False)
        self.setToolTip(
            "Show the turns around the moment again, in a window of 1, 2 or 5 times a power of "
            "ten, ms or s (Ctrl+0)"
        )
        self.clicked.connect(self._zoom.reset)
        self._zoom.changed.connect(self._refresh)
        self._refresh()

    def _refresh(self) -> None:
        self.setVisible(self._zoom.chosen)
