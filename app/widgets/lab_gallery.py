"""Named orbit shapes as a list with small pictures, and what is to be said of each."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QPainter, QPixmap, QPolygonF
from PySide6.QtWidgets import (
    QFrame,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from analysis.simulate.gallery import GALLERIES, shape_named
from analysis.simulate.lab import compose
from app.plots.palette import Theme, palette
from app.plots.style import brush, font, line
from app.work.step import Step

if TYPE_CHECKING:
    from analysis.model.results import OrbitPath
    from analysis.simulate.gallery_shape import Shape
    from app.session.lab_model import LabModel

ICON = QSize(46, 46)
_KEY = Qt.ItemDataRole.UserRole


class LabGallery(QWidget):
    """Choosing a shape loads it. `chosen(Shape)` tells which."""

    chosen = Signal(object)

    def __init__(self, model: LabModel, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model = model
        self._theme = theme
        self._paths: dict[str, OrbitPath] = {}
        self._waiting: list[QListWidgetItem] = []
        self.list = QListWidget()
        self.list.setIconSize(ICON)
        self.list.setAccessibleName("Named orbit shapes")
        self.list.setToolTip("Orbit shapes; choosing one shows it, µm")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.text = QLabel("Choose a shape: the pictures show it, and here stands what makes it.")
        self.text.setWordWrap(True)
        self.text.setTextFormat(Qt.TextFormat.RichText)
        self.text.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.text.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse
            | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        self.text.setContentsMargins(10, 4, 8, 8)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setWidget(self.text)
        area.setAccessibleName("About the shape")
        area.viewport().setAutoFillBackground(False)
        self.text.setAutoFillBackground(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(2, 4, 2, 2)
        column.setSpacing(4)
        column.addWidget(self.list, 45)
        column.addWidget(area, 55)
        self._painting = Step(self, 0, self._paint_one)
        self._fill()
        self.list.currentItemChanged.connect(self._choose)

    def shape(self) -> Shape | None:
        """The shape chosen."""
        item = self.list.currentItem()
        key = item.data(_KEY) if item is not None else None
        return shape_named(key) if key else None

    def choose(self, key: str) -> None:
        """Choose a shape."""
        for row in range(self.list.count()):
            if self.list.item(row).data(_KEY) == key:
                self.list.setCurrentRow(row)

    def set_theme(self, theme: Theme) -> None:
        """Paint the small pictures anew."""
        if theme is not self._theme:
            self._theme = theme
            self._paint_all()

    def is_painted(self) -> bool:
        """Whether every small picture is there."""
        return not self._waiting

    def _fill(self) -> None:
        for gallery in GALLERIES:
            heading = QListWidgetItem(gallery.title)
            heading.setFont(font("small", strong=True))
            heading.setFlags(Qt.ItemFlag.NoItemFlags)
            self.list.addItem(heading)
            for shape in gallery.shapes:
                item = QListWidgetItem(shape.title)
                item.setData(_KEY, shape.key)
                item.setToolTip(shape.makes)
                # A place for the picture that comes: nothing jumps then.
                item.setSizeHint(QSize(0, ICON.height() + 4))
                self.list.addItem(item)
        self._paint_all()

    def _paint_all(self) -> None:
        items = (self.list.item(row) for row in range(self.list.count()))
        self._waiting = [item for item in items if item.data(_KEY)]
        self._painting.start()

    def _paint_one(self) -> None:
        """One a turn of the event loop: composing twenty at once would be felt."""
        item = self._waiting.pop(0)
        key = item.data(_KEY)
        if key not in self._paths:
            self._paths[key] = compose(shape_named(key).state).seen
        item.setIcon(QIcon(small_picture(self._paths[key], self._theme, self.devicePixelRatioF())))
        if self._waiting:
            self._painting.start()

    def _choose(self, _item: QListWidgetItem | None, _before: object = None) -> None:
        shape = self.shape()
        if shape is None:
            return
        self.text.setText(_told(shape))
        self._model.load(shape.state)
        self.chosen.emit(shape)


def small_picture(path: OrbitPath, theme: Theme, ratio: float = 1.0) -> QPixmap:
    """An orbit with its marks, as small as an icon."""
    colours = palette(theme)
    pixmap = QPixmap(ICON * ratio)
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    reach = max(float(np.abs(path.x).max()), float(np.abs(path.y).max()), 1e-6)
    half = ICON.width() / 2.0
    scale = (half - 4.0) / reach
    points = [
        QPointF(half + scale * x, half - scale * y)
        for x, y in zip(path.x[::4].tolist(), path.y[::4].tolist(), strict=True)
    ]
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(line(colours.accent))
    painter.drawPolyline(QPolygonF(points))
    painter.setBrush(brush(colours.card))
    for x, y in zip(path.marks_x.tolist(), path.marks_y.tolist(), strict=True):
        painter.drawEllipse(QPointF(half + scale * x, half - scale * y), 2.0, 2.0)
    painter.end()
    return pixmap


def _told(shape: Shape) -> str:
    parts = (
        ("What often makes it", shape.makes),
        ("In the waveforms", shape.waveform),
        ("In the spectrum", shape.spectrum),
        ("What else can look the same", shape.also),
        ("What tells them apart", shape.tells_apart),
        ("Source", f"{shape.source} ({shape.how_sure})"),
    )
    told = "".join(f"<p>{_strong(head)}<br>{escape(text)}</p>" for head, text in parts)
    return f"<p>{_strong(shape.title)}</p>{told}"


def _strong(text: str) -> str:
    """Semi-bold, as titles are everywhere; Qt would smear a bold that the family does not have."""
    return f'<span style="font-weight:600">{escape(text)}</span>'
