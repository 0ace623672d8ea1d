"""A small tool without a frame."""

from __future__ import annotations

from PySide6.QtWidgets import QPushButton


def quiet(text: str, tip: str) -> QPushButton:
    """A quiet button with its tooltip."""
    button = plain(text, tip)
    button.setProperty("role", "quiet")
    return button


def plain(text: str, tip: str) -> QPushButton:
    """A button with its tooltip, that Enter elsewhere does not press."""
    button = QPushButton(text)
    button.setAutoDefault(False)
    button.setToolTip(tip)
    return button
