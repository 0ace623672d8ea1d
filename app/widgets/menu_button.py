"""A quiet button with a menu: what it holds is ticked."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QToolButton


class MenuButton(QToolButton):
    """A quiet button with a menu whose actions can be ticked."""

    def __init__(self, text: str, tip: str) -> None:
        super().__init__()
        self.setProperty("role", "quiet")
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.setText(f"{text} ▾")
        self.setAccessibleName(text)
        self.setToolTip(tip)
        self.menu_shown = QMenu(self)
        self.menu_shown.setToolTipsVisible(True)
        self.setMenu(self.menu_shown)

    def add(
        self,
        text: str,
        then: Callable[[], None],
        tip: str = "",
        menu: QMenu | None = None,
        *,
        ticks: bool = True,
    ) -> QAction:
        """An action, `ticks`: with a tick that says whether it holds."""
        action = (menu or self.menu_shown).addAction(text)
        action.setCheckable(ticks)
        action.setToolTip(tip or text)
        action.triggered.connect(lambda _checked=False: then())
        return action
