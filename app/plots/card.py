"""A card: bold title, muted subtitle, small tools at the right, one widget below."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from .fonts import font
from .plot import Plot
from .still_label import ElidedStillLabel


class Card(QFrame):
    """Holds one widget. Given a `Plot`, the card follows its title and subtitle."""

    def __init__(
        self,
        widget: QWidget,
        title: str = "",
        subtitle: str = "",
        tools: tuple[QWidget, ...] = (),
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setProperty("role", "card")
        self.widget = widget
        self._title = QLabel()
        self._title.setProperty("role", "title")
        self._title.setFont(font("title"))
        self._title.setTextFormat(Qt.TextFormat.PlainText)
        self._subtitle = ElidedStillLabel()
        self._subtitle.setProperty("role", "subtitle")
        row = QHBoxLayout()
        row.setContentsMargins(10, 7, 8, 0)
        row.setSpacing(6)
        row.addWidget(self._title)
        row.addWidget(self._subtitle, 1)
        for tool in tools:
            row.addWidget(tool)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(2)
        column.addLayout(row)
        column.addWidget(widget, 1)
        self.set_texts(title, subtitle)
        if isinstance(widget, Plot):
            widget.titled_changed.connect(self._follow)
            self._follow()

    def title(self) -> str:
        """The title shown."""
        return self._title.text()

    def set_texts(self, title: str, subtitle: str = "") -> None:
        """Write the title and the subtitle."""
        self._title.setText(title)
        self._subtitle.setText(subtitle)

    def _follow(self) -> None:
        self.set_texts(self.widget.title(), self.widget.subtitle())
