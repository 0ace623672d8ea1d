"""A data curve that is cheap to have in a scene."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QRectF


class Curve(pg.PlotCurveItem):
    """A curve whose extent is the range shown: nothing asks it for anything else.

    `revision` is another number whenever the curve looks otherwise.

    The ranges are the plot's own here, never automatic. Taking the extent from the data instead
    means a search for the extremes of x and y with every frame.
    """

    _shown: QRectF | None = None
    revision = 0

    def update(self) -> None:
        """Whatever changes the curve asks for this."""
        self.revision += 1
        super().update()

    def boundingRect(self) -> QRectF:
        """The range shown, in units of the data."""
        if self._shown is None:
            view = self.getViewBox()
            if view is None:
                return QRectF()
            self._shown = QRectF(view.viewRect())
        return self._shown

    def viewTransformChanged(self) -> None:  # noqa: N802
        """Another range or size."""
        super().viewTransformChanged()
        self._shown = None
