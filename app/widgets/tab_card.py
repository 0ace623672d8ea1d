"""A card of several leaves, of which one is in sight: its name stands where a title would."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPalette
from PySide6.QtWidgets import QFrame, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from .segmented import Segmented


class TabCard(QFrame):
    """Leaves by key; `turned(key)` when the reader brings another one to the front."""

    turned = Signal(str)

    def __init__(
        self,
        name: str,
        leaves: Sequence[tuple[str, str, str, QWidget]],
        tools: tuple[QWidget, ...] = (),
        parent: QWidget | None = None,
    ) -> None:
        """`leaves` are (key, title, tooltip, widget)."""
        super().__init__(parent)
        self.setProperty("role", "leaves")
        self.setContentsMargins(1, 1, 1, 1)  # the frame
        self.tabs = Segmented(name, [(title, key, tip) for key, title, tip, _ in leaves], "leaf")
        self._stack = QStackedWidget()
        self._leaves = {key: widget for key, _, _, widget in leaves}
        for widget in self._leaves.values():
            self._stack.addWidget(widget)
        row = QHBoxLayout()
        row.setContentsMargins(6, 5, 8, 0)
        row.setSpacing(6)
        row.addWidget(self.tabs)
        row.addStretch(1)
        for tool in tools:
            row.addWidget(tool)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 3)
        column.setSpacing(2)
        column.addLayout(row)
        column.addWidget(self._stack, 1)
        self.tabs.chosen.connect(self._choose)
        self.show_leaf(leaves[0][0])

    @property
    def leaf(self) -> str:
        """The leaf in sight."""
        return str(self.tabs.value())

    def show_leaf(self, key: str) -> None:
        """Bring a leaf to the front."""
        self.tabs.set_value(key)
        self._stack.setCurrentWidget(self._leaves[key])

    def paintEvent(self, _event: QPaintEvent) -> None:
        """The frame of a card, without a style sheet: each leaf has one of its own."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(self.palette().color(QPalette.ColorRole.Midlight))
        painter.setBrush(self.palette().color(QPalette.ColorRole.Light))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 5.0, 5.0)

    def hasHeightForWidth(self) -> bool:
        """Never: a leaf with wrapped words does not move what stands around the card."""
        return False

    def set_title(self, key: str, title: str) -> None:
        """Write another title on a leaf's button."""
        button = self.tabs.button(key)
        if button.text() != title:
            button.setText(title)
            button.setAccessibleName(f"{self.tabs.accessibleName()}: {title}")

    def _choose(self, key: str) -> None:
        self.show_leaf(key)
        self.turned.emit(key)
