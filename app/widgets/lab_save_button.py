"""Keeping what the Lab shows: as a recipe, as a capture, or open on the other pages."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QMenu, QPushButton, QToolButton, QWidget


class LabSaveButton(QWidget):
    """`wanted(kind)` with `"open"`, `"recipe"` or `"capture"`; `load_wanted()`."""

    wanted = Signal(str)
    load_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.open = QPushButton("Open on the other pages")
        self.open.setToolTip(
            "Make a capture of this and look at it on the Moment, Position and Run pages"
        )
        self.open.setAutoDefault(False)
        self.open.clicked.connect(lambda: self.wanted.emit("open"))
        self.more = QToolButton()
        self.more.setText("Save ▾")
        self.more.setAccessibleName("Save or read back")
        self.more.setToolTip("Save this as a recipe or as a capture, or read a recipe back")
        self.more.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(self.more)
        menu.addAction("Save as a recipe…", lambda: self.wanted.emit("recipe"))
        menu.addAction("Save as a capture…", lambda: self.wanted.emit("capture"))
        menu.addSeparator()
        menu.addAction("Read a recipe back…", self.load_wanted.emit)
        self.more.setMenu(menu)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        row.addWidget(self.open, 1)
        row.addWidget(self.more)
