"""The drawing surface of a plot: two axes, one data area, calm mouse."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QWheelEvent
from PySide6.QtWidgets import QStyleOptionGraphicsItem

from .axes import QuantityAxis
from .chart import Chart
from .layers import Layer
from .still import Still

_NO_OPTION = QStyleOptionGraphicsItem()


class Canvas(pg.GraphicsView):
    """A view of one chart, without menus, buttons, automatic ranges and dragging.

    The scene is there for ranges and places. The canvas paints what is in it by itself, from the
    ground up: the scene's own way asks every item for its extent many times a frame, which takes as
    long as painting it.

    Mouse events never reach pyqtgraph's items; they come out as signals, positions in pixels of
    the widget. `ground` paints under the curves; `margin` above them anywhere; `over` what follows
    the hand, above the curves and into the gutter at the right; `hover` what the pointer tells.
    """

    pressed = Signal(QPointF, object)
    moved = Signal(QPointF, object)
    released = Signal(QPointF, object)
    double_clicked = Signal(QPointF)
    wheeled = Signal(float, QPointF)
    """Notches away from the hand, which zoom in."""
    wheeled_along = Signal(float, QPointF)
    """Notches to the right: of a wheel that has them, or of any wheel with Shift."""
    left = Signal()
    resized = Signal()
    """The data area has a new size, and is about to be painted."""

    def __init__(self) -> None:
        self.bottom = QuantityAxis("bottom")
        self.left_axis = QuantityAxis("left")
        super().__init__(background=None)
        self.chart = Chart(self.left_axis, self.bottom)
        self.box = self.chart.box
        self.setCentralItem(self.chart)
        self.chart.set_margins(2, 8, 20, 2)
        self._mapping: tuple[float, float, float, float] | None = None
        self._resize_untold = False
        self.box.sigRangeChanged.connect(self._forget_mapping)
        self.box.sigResized.connect(self._forget_mapping)
        self.ground = Layer(self._data_area, self._update)
        self.margin = Layer(self.chart.boundingRect, self._update)
        self.over = Layer(self._data_and_gutter, self._update)
        self.hover = Layer(self.chart.boundingRect, self._update)
        self._still = Still(self)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setFrameShape(pg.GraphicsView.Shape.NoFrame)
        self.viewport().setMouseTracking(True)
        self.box.sigResized.connect(self._note_resize)
        self.viewport().setAutoFillBackground(False)
        # Painted whole, in the colour of the card: what lies behind need not be painted first.
        self.viewport().setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)

    def _forget_mapping(self, *_ignored: object) -> None:
        self._mapping = None

    def _note_resize(self, *_ignored: object) -> None:
        self._resize_untold = True

    def settle(self) -> None:
        """Tell of a new size; before it is painted, since layouts try several on their way."""
        if self._resize_untold:
            self._resize_untold = False
            self.resized.emit()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint what fits the size."""
        self.settle()
        self.scene().prepareForPaint()
        painter = QPainter(self.viewport())
        try:
            self._still.paint(painter)
            self.over.paint(painter)
            self.hover.paint(painter)
        finally:
            painter.end()  # Qt takes the program down with a painter that is left open

    def paint_still(self, painter: QPainter) -> None:
        """Paint all but what follows the hand: ground, curves, axes and their margin."""
        painter.fillRect(self.viewport().rect(), self.backgroundBrush())
        self.ground.paint(painter)
        painter.save()
        painter.setClipRect(self.box.geometry())
        for item in self.chart.items:
            if item.isVisible():
                painter.save()
                painter.setTransform(item.sceneTransform(), True)
                item.paint(painter, _NO_OPTION, self.viewport())
                painter.restore()
        painter.restore()
        for axis in self.chart.axes.values():
            if axis.isVisible():
                axis.paint_kept(painter)
        self.margin.paint(painter)

    def _update(self, rect: QRectF) -> None:
        self.viewport().update(rect.toAlignedRect())

    def _data_area(self) -> QRectF:
        return self.box.geometry()

    def _data_and_gutter(self) -> QRectF:
        rect = self.box.geometry()
        whole = self.chart.boundingRect()
        # Marks and a focus frame on the edges reach a little beyond them.
        return QRectF(
            rect.left() - 5, whole.top(), whole.right() - rect.left() + 5, rect.bottom() + 5
        )

    def set_gutter(self, pixels: float) -> None:
        """Room right of the data area, for labels at the ends of lines."""
        left, top, right, bottom = self.chart.layout.getContentsMargins()
        if abs(right - pixels) > 0.5:
            self.chart.set_margins(left, top, pixels, bottom)

    def set_range(self, x: tuple[float, float], y: tuple[float, float]) -> bool:
        """Show exactly these ranges; tells whether that changed anything."""
        (x_now, y_now) = self.box.viewRange()
        if tuple(x_now) == tuple(x) and tuple(y_now) == tuple(y):
            return False
        self.box.setRange(xRange=x, yRange=y, padding=0.0, disableAutoRange=True)
        return True

    def data_rect(self) -> QRectF:
        """The data area, in pixels of the chart."""
        return self.box.geometry()

    def corner(self) -> QRectF:
        """The lower right corner, beside the label of the bottom axis; for a read-out."""
        whole = self.chart.boundingRect()
        return QRectF(whole.right() - 300, whole.bottom() - 19, 294, 16)

    def to_pixels(self, x: float, y: float) -> QPointF:
        """Where a point of the data lies, in pixels of the chart."""
        left, per_x, bottom, per_y = self._mapping or self._map()
        return QPointF(left + x * per_x, bottom - y * per_y)

    def _map(self) -> tuple[float, float, float, float]:
        rect = self.box.geometry()
        (x0, x1), (y0, y1) = self.box.viewRange()
        per_x, per_y = rect.width() / (x1 - x0), rect.height() / (y1 - y0)
        self._mapping = (rect.left() - x0 * per_x, per_x, rect.bottom() + y0 * per_y, per_y)
        return self._mapping

    def to_data(self, point: QPointF) -> QPointF:
        """The data at a place, in pixels of the chart."""
        left, per_x, bottom, per_y = self._mapping or self._map()
        return QPointF(
            (point.x() - left) / max(per_x, 1e-12), (bottom - point.y()) / max(per_y, 1e-12)
        )

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Tell, and let the plot around take the focus."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.pressed.emit(event.position(), event.modifiers())
        event.ignore()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Tell where, and which buttons are down."""
        self.moved.emit(event.position(), event.buttons())
        event.accept()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Tell."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.released.emit(event.position(), event.modifiers())
        event.accept()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Tell."""
        self.double_clicked.emit(event.position())
        event.accept()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Tell how many notches, and whether they go along."""
        turned, place = event.angleDelta(), event.position()
        if abs(turned.x()) > abs(turned.y()):
            self.wheeled_along.emit(-turned.x() / 120.0, place)
        elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.wheeled_along.emit(-turned.y() / 120.0, place)
        else:
            self.wheeled.emit(turned.y() / 120.0, place)
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:
        """Tell."""
        self.left.emit()
        super().leaveEvent(event)
