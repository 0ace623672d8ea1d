"""A row of small buttons of which one is down: a choice that is always in sight."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QWidget


class Segmented(QWidget):
    """One of a few options. `chosen` is emitted when the reader chooses, not when it is told."""

    chosen = Signal(object)

    def __init__(
        self,
        name: str,
        options: Sequence[tuple[str, Any, str]],
        role: str = "quiet",
        parent: QWidget | None = None,
    ) -> None:
        """`options` are (text, value, tooltip); `role` is the style sheet's role of a button."""
        super().__init__(parent)
        self._role = role
        self._group = QButtonGroup(self)
        self._group.setExclusive(True)
        self._values: list[Any] = []
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(0)
        self.setAccessibleName(name)
        self._name = name
        self.set_options(options)
        self._group.idClicked.connect(lambda number: self.chosen.emit(self._values[number]))

    def set_options(self, options: Sequence[tuple[str, Any, str]]) -> None:
        """Offer these options from now on."""
        for button in self._group.buttons():
            self._group.removeButton(button)
            self._row.removeWidget(button)
            button.deleteLater()
        self._values = [value for _, value, _ in options]
        for number, (text, _, tip) in enumerate(options):
            button = QPushButton(text)
            button.setProperty("role", self._role)
            button.setCheckable(True)
            button.setAutoDefault(False)
            button.setToolTip(tip)
            button.setAccessibleName(f"{self._name}: {text}")
            button.setCursor(Qt.CursorShape.PointingHandCursor)
            self._group.addButton(button, number)
            self._row.addWidget(button)

    def set_value(self, value: Any) -> None:
        """Show this option as the chosen one; none when it is not on offer."""
        if value in self._values:
            self._group.button(self._values.index(value)).setChecked(True)
            return
        self._group.setExclusive(False)
        for button in self._group.buttons():
            button.setChecked(False)
        self._group.setExclusive(True)

    def value(self) -> Any:
        """The chosen option."""
        number = self._group.checkedId()
        return self._values[number] if number >= 0 else None

    def button(self, value: Any) -> QPushButton:
        """The button of an option."""
        return self._group.button(self._values.index(value))
