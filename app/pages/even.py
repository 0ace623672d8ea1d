"""Shares of a layout that hold."""

from __future__ import annotations

from PySide6.QtWidgets import QSizePolicy, QWidget


def even(widget: QWidget) -> QWidget:
    """Let the shares of the layout alone decide a widget's size, not what it holds."""
    widget.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
    return widget
