"""Canvases made ahead: one takes some ten milliseconds, which a page with eight has no time for."""

from __future__ import annotations

from .canvas import Canvas

_spare: list[Canvas] = []


def make_spare() -> None:
    """Make a canvas for a picture that is to come."""
    _spare.append(Canvas())


def take_canvas() -> Canvas:
    """A canvas: one made ahead where there is one."""
    return _spare.pop() if _spare else Canvas()


def drop_spares() -> None:
    """Let go of those that nobody took; before the application goes."""
    while _spare:
        _spare.pop().deleteLater()
