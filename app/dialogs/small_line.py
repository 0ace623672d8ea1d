"""A line to be filled in."""

from __future__ import annotations

from PySide6.QtWidgets import QLineEdit


def line_field(name: str, longest: int) -> QLineEdit:
    """A field with its accessible name."""
    field = QLineEdit()
    field.setMaxLength(longest)
    field.setAccessibleName(name)
    return field
