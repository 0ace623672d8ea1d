"""A small drop-down for a choice with many options."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtGui import QActionGroup
from PySide6.QtWidgets import QMenu, QToolButton, QWidget


class ChoiceBox(QToolButton):
    """Shows the chosen option and opens a menu of all; `chosen` when the reader chooses."""

    chosen = Signal(object)

    def __init__(
        self,
        name: str,
        options: Sequence[tuple[str, Any, str]],
        tip: str = "",
        parent: QWidget | None = None,
    ) -> None:
        """`options` are (text, value, tooltip)."""
        super().__init__(parent)
        self._name = name
        self._texts: dict[int, str] = {}
        self._values: list[Any] = []
        self.setProperty("role", "quiet")
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.setToolTip(tip or name)
        self._menu = QMenu(self)
        self._menu.setToolTipsVisible(True)
        self._group: QActionGroup | None = None
        self.setMenu(self._menu)
        self.set_options(options)

    def set_options(self, options: Sequence[tuple[str, Any, str]]) -> None:
        """Offer these options from now on."""
        self._menu.clear()
        self._group = QActionGroup(self._menu)
        self._values = [value for _, value, _ in options]
        for number, (text, value, tip) in enumerate(options):
            action = self._menu.addAction(text)
            action.setCheckable(True)
            action.setToolTip(tip)
            action.triggered.connect(lambda _checked=False, v=value: self.chosen.emit(v))
            self._group.addAction(action)
            # "plane, two-sided" shows as "plane": the face is small, the menu is not.
            self._texts[number] = text.partition(",")[0]

    def set_value(self, value: Any) -> None:
        """Show this option as the chosen one."""
        if value in self._values:
            number = self._values.index(value)
            self._menu.actions()[number].setChecked(True)
            text = self._texts[number]
            self.setText(f"{text} ▾")
            self.setAccessibleName(f"{self._name}: {text}")

    def values(self) -> list[Any]:
        """The options' values."""
        return list(self._values)
