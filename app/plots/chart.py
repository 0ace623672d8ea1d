"""The scene of a plot: a data area with an axis at its left and one below, and nothing else.

pyqtgraph's own item of this kind brings a menu of two hundred widgets, four axes and a title with
every plot. They take two thirds of the time that a picture takes to make, and are dressed with
every change of theme, though nobody ever sees them.
"""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtWidgets import QGraphicsGridLayout, QGraphicsItem, QSizePolicy

_PLACES = {"left": (0, 0), "bottom": (1, 1)}


class Chart(pg.GraphicsWidget):
    """Data area and axes; ranges are set, never automatic, and the mouse moves nothing."""

    def __init__(self, left: pg.AxisItem, bottom: pg.AxisItem) -> None:
        super().__init__()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.box = pg.ViewBox(parent=self, enableMenu=False, enableMouse=False)
        self.box.disableAutoRange()
        self.box.setDefaultPadding(0.0)
        self.items: list[pg.GraphicsObject] = []
        self.layout = QGraphicsGridLayout()
        self.layout.setSpacing(0.0)
        self.layout.addItem(self.box, 0, 1)
        self.axes = {"left": left, "bottom": bottom}
        for name, axis in self.axes.items():
            axis.setParentItem(self)
            axis.linkToView(self.box)
            axis.setZValue(0.5)
            axis.setFlag(QGraphicsItem.GraphicsItemFlag.ItemNegativeZStacksBehindParent)
            self.layout.addItem(axis, *_PLACES[name])
        # The data area takes what the axes leave.
        self.layout.setRowStretchFactor(0, 100)
        self.layout.setColumnStretchFactor(1, 100)
        self.setLayout(self.layout)

    def add(self, item: pg.GraphicsObject) -> None:
        """Put an item into the data area."""
        self.box.addItem(item, ignoreBounds=True)
        self.items.append(item)
        self.items.sort(key=lambda each: each.zValue())  # those of one height as they came

    def hide_axis(self, name: str) -> None:
        """Do without an axis, and its room."""
        self.axes[name].hide()

    def set_margins(self, left: float, top: float, right: float, bottom: float) -> None:
        """Room around axes and data area, pixels."""
        self.layout.setContentsMargins(left, top, right, bottom)
        self.layout.activate()
