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
        self._revisions: list[object] = []
        self._key: _Key | None = None
        self._pixmap: QPixmap | None = None

    def paint(self, painter: QPainter) -> None:
        """Paint it."""
        ratio = painter.device().devicePixelRatio()
        revisions = self._revisions_now()
        # An image has no revision: whether it looks otherwise cannot be told.
        kept = revisions == self._revisions and None not in revisions
        key = self._key_now(ratio) if kept else None
        if key is None or key != self._key:
            self._revisions, self._key, self._pixmap = revisions, key, None
            self._canvas.paint_still(painter)
            return
        if self._pixmap is None:
            self._pixmap = self._made(ratio)
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

    def _revisions_now(self) -> list[object]:
        """What most changes change: quick to compare, for pictures that change with every frame."""
        canvas = self._canvas
        items = [getattr(item, "revision", None) for item in canvas.chart.items]
        return [canvas.ground.revision, canvas.margin.revision, *items]

    def _key_now(self, ratio: float) -> _Key:
        """What else the still part looks like, to be compared."""
        canvas = self._canvas
        axes = canvas.chart.axes.values()
        return (
            ratio,
            canvas.viewport().size(),
            canvas.backgroundBrush().color().rgba(),
            canvas.box.geometry(),
            canvas.box.viewRange(),
            [item.isVisible() for item in canvas.chart.items],
            [(axis.picture, axis.scenePos()) if axis.isVisible() else None for axis in axes],
        )
