"""The part of a picture that stands still while marks move over it, kept as pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtGui import QPainter, QPixmap

if TYPE_CHECKING:
    from .canvas import Canvas

_Key = tuple[object, ...]


class Still:
    """Paints a canvas's still part: plainly while it changes, from a pixmap once it has not.

    A picture that changes with every frame would be painted twice otherwise.
    """

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._key: _Key | None = None
        self._pixmap: QPixmap | None = None

    def paint(self, painter: QPainter) -> None:
        """Paint it."""
        key = self._key_now(painter.device().devicePixelRatio())
        if key is None or key != self._key:
            self._key, self._pixmap = key, None
            self._canvas.paint_still(painter)
            # Axes find their pictures while they paint.
            self._key = self._key_now(painter.device().devicePixelRatio())
            return
        if self._pixmap is None:
            self._pixmap = self._made(painter.device().devicePixelRatio())
        painter.drawPixmap(0, 0, self._pixmap)

    def _made(self, ratio: float) -> QPixmap:
        size = self._canvas.viewport().size()
        pixmap = QPixmap(round(size.width() * ratio), round(size.height() * ratio))
        pixmap.setDevicePixelRatio(ratio)
        painter = QPainter(pixmap)
        try:
            self._canvas.paint_still(painter)
        finally:
            painter.end()
        return pixmap

    def _key_now(self, ratio: float) -> _Key | None:
        """What the still part looks like, to be compared; `None` where that cannot be told."""
        canvas = self._canvas
        parts: list[object] = [
            ratio,
            canvas.viewport().size(),
            canvas.backgroundBrush().color().rgba(),
            canvas.box.geometry(),
            canvas.box.viewRange(),
            canvas.ground.revision,
            canvas.margin.revision,
        ]
        for item in canvas.chart.items:
            revision = getattr(item, "revision", None)
            if revision is None:
                return None
            parts.append(revision if item.isVisible() else None)
        for axis in canvas.chart.axes.values():
            parts.append((axis.picture, axis.scenePos()) if axis.isVisible() else None)
        return tuple(parts)
