"""Where the words of an orbit picture go: along box edges, at probe ends, in free corners."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor

from .layers import Label
from .style import font, text_size

Array = NDArray[np.float64]


class Places:
    """Keeps count of the room that is taken, in pixels."""

    def __init__(self, area: QRectF, path_x: Array, path_y: Array) -> None:
        self._area = area
        self._x, self._y = path_x, path_y
        self._soft_x, self._soft_y = np.empty(0), np.empty(0)
        self._taken = np.empty((0, 4))

    def take(self, rect: QRectF) -> None:
        """Mark a rectangle as taken."""
        self.take_edges(np.array([rect.getCoords()]))

    def take_edges(self, edges: Array) -> None:
        """Mark places as taken; `edges` as in `are_clear`."""
        self._taken = np.concatenate([self._taken, edges])

    def taken(self) -> Array:
        """Left, top, right and bottom of all that is taken, shape (n, 4)."""
        return self._taken

    def avoid(self, xs: Array, ys: Array) -> None:
        """Points that texts from now on cover only where nothing else is left."""
        self._soft_x = np.concatenate([self._soft_x, xs])
        self._soft_y = np.concatenate([self._soft_y, ys])

    def are_free(self, rects: Sequence[QRectF], *, strict: bool = True) -> NDArray[np.bool_]:
        """Inside the area, clear of what is taken and of the path; `strict`: of lines as well.

        All at once: a picture tries dozens of places with every frame.
        """
        edges = np.array([rect.getCoords() for rect in rects])
        return self.are_clear(edges, strict=strict) & self.are_untaken(edges)

    def are_clear(self, edges: Array, *, strict: bool = True) -> NDArray[np.bool_]:
        """Inside the area and clear of the path, whatever is taken.

        Args:
            edges: left, top, right and bottom of each place, shape (n, 4).
            strict: clear of lines as well.
        """
        left, top, right, bottom = (edges[:, i, np.newaxis] for i in range(4))
        area = self._area.getCoords()
        outside = (edges[:, :2] < area[:2]) | (edges[:, 2:] > area[2:])
        free: NDArray[np.bool_] = ~outside.any(axis=1)
        points = [(self._x, self._y)] + ([(self._soft_x, self._soft_y)] if strict else [])
        for x, y in points:
            free &= ~((x > left) & (x < right) & (y > top) & (y < bottom)).any(axis=1)
        return free

    def are_untaken(self, edges: Array) -> NDArray[np.bool_]:
        """Clear of what is taken; `edges` as in `are_clear`."""
        left, top, right, bottom = (edges[:, i, np.newaxis] for i in range(4))
        x0, y0, x1, y1 = self._taken.T
        return ~((left < x1) & (right > x0) & (top < y1) & (bottom > y0)).any(axis=1)

    def first(self, candidates: Sequence[QRectF]) -> QRectF | None:
        """The first free candidate, which is then taken."""
        for strict in (True, False):
            free = np.flatnonzero(self.are_free(candidates, strict=strict))
            if len(free):
                self.take(candidates[free[0]])
                return candidates[free[0]]
        return None


def along_edge(
    corners: Sequence[QPointF], text: str, colour: QColor, places: Places
) -> Label | None:
    """The text just outside an edge of a box, turned along it; lower edges are tried first."""
    width, height = text_size(text, "tiny")
    centre = QPointF(
        sum(c.x() for c in corners) / len(corners), sum(c.y() for c in corners) / len(corners)
    )
    edges = list(zip(corners, [*corners[1:], corners[0]], strict=True))
    # Lower right first, then lower left: probes usually look from above.
    edges.sort(key=lambda e: -(e[0].y() + e[1].y()) - 0.1 * (e[0].x() + e[1].x()))
    for strict in (True, False):
        for start, end in edges:
            along = end - start
            length = math.hypot(along.x(), along.y())
            if length < 0.75 * width:
                continue
            along /= length
            middle = (start + end) / 2
            outward = QPointF(-along.y(), along.x())
            if QPointF.dotProduct(outward, middle - centre) < 0:
                outward = -outward
            at = middle + outward * (height / 2 + 2)
            cores = _cores(at, along, width, height)
            if (places.are_clear(cores, strict=strict) & places.are_untaken(cores)).all():
                places.take_edges(cores)
                angle = math.degrees(math.atan2(along.y(), along.x()))
                rect = QRectF(at.x() - width / 2, at.y() - height / 2, width, height)
                used, middle_of = font("tiny"), Qt.AlignmentFlag.AlignHCenter
                return Label(text, rect, colour, used, middle_of, (angle + 90) % 180 - 90)
    return None


def _cores(at: QPointF, along: QPointF, width: float, height: float) -> Array:
    """Small squares along a slanted text; its bounding box would take far too much room.

    Left, top, right and bottom of each, shape (n, 4).
    """
    half = 0.4 * height
    count = max(round(0.5 * width / half), 1)
    along_by = width * ((np.arange(count) + 0.5) / count - 0.5)
    x, y = at.x() + along.x() * along_by, at.y() + along.y() * along_by
    return np.stack([x - half, y - half, x + half, y + half], axis=1)


def points_along(corners: Sequence[QPointF]) -> tuple[Array, Array]:
    """Points along the edges of a closed polygon, a hundred to each."""
    xs = np.array([corner.x() for corner in (*corners, corners[0])])
    ys = np.array([corner.y() for corner in (*corners, corners[0])])
    steps = np.linspace(0.0, len(corners), 100 * len(corners))
    ends = np.arange(len(corners) + 1)
    return np.interp(steps, ends, xs), np.interp(steps, ends, ys)


def points_on_circle(centre: QPointF, radius: float) -> tuple[Array, Array]:
    """Two hundred points of a circle."""
    angle = np.linspace(0.0, 2.0 * np.pi, 200)
    return centre.x() + radius * np.cos(angle), centre.y() + radius * np.sin(angle)


def beside_circle(centre: QPointF, radius: float, width: float, height: float) -> list[QRectF]:
    """Places for a text just outside a circle, from the top round both sides to the bottom."""
    places = []
    for degrees in (90, 75, 105, 60, 120, 45, 135, 30, 150, 0, 180, -30, 210, -60, 240, -90):
        angle = math.radians(degrees)
        cosine, sine = math.cos(angle), math.sin(angle)
        reach = radius + 3 + (abs(cosine) * width + abs(sine) * height) / 2
        at = centre + QPointF(cosine, -sine) * reach
        places.append(QRectF(at.x() - width / 2, at.y() - height / 2, width, height))
    return places
