"""What every picture with words in it keeps to, wherever its words are laid."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from PySide6.QtCore import QRectF, Qt

from app.plots.layers import Label
from app.plots.plot import Plot
from app.plots.style import pixel_size, text_size


def inked(label: Label) -> QRectF:
    """The rectangle that the letters of a label take."""
    role = "tiny" if label.font.pixelSize() == pixel_size("tiny") else "small"
    strong = label.font.weight() > label.font.Weight.Normal
    width, height = text_size(label.text, role, strong=strong)
    left = label.rect.left()
    if label.align & Qt.AlignmentFlag.AlignRight:
        left = label.rect.right() - width
    elif label.align & Qt.AlignmentFlag.AlignHCenter:
        left = label.rect.center().x() - width / 2
    # The space above and below letters is no ink.
    return QRectF(left, label.rect.center().y() - height / 2 + 2, width, height - 4)


def labels_of(plot: Plot) -> list[Label]:
    return [*plot.canvas.over.labels, *plot.canvas.margin.labels]


def assert_words_have_room(plot: Plot) -> None:
    """No label leaves the picture, none covers another."""
    whole = QRectF(0.0, 0.0, plot.canvas.width(), plot.canvas.height()).adjusted(-1, -1, 1, 1)
    # What lies over the curves is cut off left of them.
    edge = plot.canvas.data_rect().left() - 5.0
    for label in plot.canvas.over.labels:
        assert inked(label).left() >= edge, f"{label.text} is cut off"
    boxes = [(label.text, inked(label)) for label in labels_of(plot) if label.text]
    for text, box in boxes:
        assert whole.contains(box), f"{text} leaves the picture"
    for (one, a), (other, b) in combinations(boxes, 2):
        assert not a.intersects(b), f"{one} and {other} cover each other"


def points_under(box: QRectF, x: np.ndarray, y: np.ndarray) -> int:
    """How many points of a curve, in pixels, lie under a label."""
    inside = (x > box.left()) & (x < box.right()) & (y > box.top()) & (y < box.bottom())
    return int(np.count_nonzero(inside))


def curve_points(plot: Plot, curves: Sequence) -> tuple[np.ndarray, np.ndarray]:
    """Twenty points on every piece of the curves, in pixels."""
    xs, ys = [], []
    for curve in curves:
        x, y = curve.getData()
        if x is None or len(x) < 2:
            continue
        places = [plot.canvas.to_pixels(a, b) for a, b in zip(x, y, strict=True)]
        px, py = (np.array([getattr(p, axis)() for p in places]) for axis in "xy")
        share = np.linspace(0.0, 1.0, 20)
        xs.append((px[:-1, None] + share * np.diff(px)[:, None]).ravel())
        ys.append((py[:-1, None] + share * np.diff(py)[:, None]).ravel())
    return np.concatenate(xs), np.concatenate(ys)
