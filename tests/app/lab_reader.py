"""What a reader of the Lab does, and waits for."""

from __future__ import annotations

from PySide6.QtCore import Qt


def drawn(qtbot, page):
    """Wait until the pictures show the state."""
    qtbot.waitUntil(
        lambda: page.is_ready() and page.bench.view.result.state == page.model.state,
        timeout=5_000,
    )
    return page.bench.view


def type_into(qtbot, slider, text: str) -> None:
    slider.field.setFocus()
    slider.field.selectAll()
    qtbot.keyClicks(slider.field, text)
    qtbot.keyClick(slider.field, Qt.Key.Key_Return)
