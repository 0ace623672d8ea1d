"""A filled area in a scene."""

from __future__ import annotations

from PySide6.QtGui import QBrush, QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsPathItem


class Area(QGraphicsPathItem):
    """A path with an outline. `revision` is another number whenever it looks otherwise."""

    revision = 0

    def setPath(self, path: QPainterPath) -> None:  # noqa: N802
        """Show another path."""
        self.revision += 1
        super().setPath(path)

    def dress(self, outline: QPen, inside: QBrush) -> None:
        """Draw it with these."""
        self.revision += 1
        self.setPen(outline)
        self.setBrush(inside)
