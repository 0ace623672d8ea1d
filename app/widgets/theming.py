"""From the session's choice of theme to the one that things are drawn in; roles that change."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from app.plots.style import Theme

if TYPE_CHECKING:
    from app.session.display_state import ThemeState


def theme_of(state: ThemeState) -> Theme:
    """The theme to draw in."""
    return Theme.DARK if state.dark else Theme.LIGHT


def mark_property(widget: QWidget, name: str, on: bool) -> None:
    """Set a property that the style sheet looks at, and dress the widget again if it changed."""
    wanted = "true" if on else "false"
    if widget.property(name) != wanted:
        widget.setProperty(name, wanted)
        widget.style().unpolish(widget)
        widget.style().polish(widget)
