"""From the session's choice of theme to the one that things are drawn in."""

from __future__ import annotations

from app.plots.style import Theme
from app.session.display_state import ThemeState


def theme_of(state: ThemeState) -> Theme:
    """The theme to draw in."""
    return Theme.DARK if state.dark else Theme.LIGHT
