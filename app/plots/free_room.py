"""Room for words in a picture: clear of curves, of lines and of other words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF

Floats = NDArray[np.float64]

CELL = 2.0
"""Curves are known to so many pixels across."""

_AIR = 2.0
"""Space between a word and a curve, pixels."""


@dataclass(frozen=True)
class Place:
    """Where a word goes; `clear` unless it covers some of a curve."""

    rect: QRectF
    clear: bool


class FreeRoom:
    """Keeps count of what is taken in an area, and finds places for words in what is left."""

    def __init__(self, area: QRectF) -> None:
        self.area = area
        self._cells = max(int(area.width() / CELL), 1)
        self._curves: list[tuple[Floats, Floats]] = []
        self._taken: list[QRectF] = []

    def take(self, rect: QRectF) -> None:
        """Nothing may cover this."""
        self._taken.append(rect)

    def add_curve(self, x: Floats, y: Floats) -> None:
        """A curve in pixels, `x` rising, cut at NaN: words keep off it where they can."""
        if len(x) == 0:
            return
        left = self.area.left()
        edges = left + CELL * np.arange(self._cells + 1)
        at = np.interp(edges, x, y, left=np.nan, right=np.nan)
        top, bottom = np.fmin(at[:-1], at[1:]), np.fmax(at[:-1], at[1:])
        cells = np.floor((x - left) / CELL).astype(np.int64)
        inside = (cells >= 0) & (cells < self._cells) & np.isfinite(y)
        cells, values = cells[inside], y[inside]
        if len(cells):
            starts = np.flatnonzero(np.diff(cells, prepend=-1))
            here = cells[starts]
            top[here] = np.fmin(top[here], np.minimum.reduceat(values, starts))
            bottom[here] = np.fmax(bottom[here], np.maximum.reduceat(values, starts))
        self._curves.append((top, bottom))

    def find(
        self,
        width: float,
        height: float,
        tops: Sequence[float],
        wanted_left: float,
        rank_cost: float = 1e5,
    ) -> Place | None:
        """A place of this size at one of these tops, near the wanted left.

        Keeping clear of curves comes first. Then each step down the list of tops counts like
        `rank_cost` pixels across. `None` where every place would cover another word or leave the
        area. Who goes on with a place takes it.
        """
        last = self.area.right() - width
        lefts = np.arange(self.area.left(), last + 1e-6, CELL)
        best: tuple[float, float, QRectF] | None = None
        for rank, top in enumerate(tops):
            if not len(lefts) or not self._inside(top, height):
                continue
            covered = self._covered(lefts, width, top, height)
            costs = 1e9 * covered + np.abs(lefts - wanted_left) + rank * rank_cost
            at = int(np.argmin(costs))
            cost = float(costs[at])
            if np.isfinite(cost) and (best is None or cost < best[0]):
                best = (cost, float(covered[at]), QRectF(float(lefts[at]), top, width, height))
            if best is not None and best[1] == 0.0 and best[0] <= (rank + 1) * rank_cost:
                break
        return Place(best[2], best[1] == 0.0) if best is not None else None

    def is_clear(self, rect: QRectF) -> bool:
        """Whether a place lies inside the area, clear of curves and of what is taken."""
        if not self._inside(rect.top(), rect.height()):
            return False
        if rect.left() < self.area.left() or rect.right() > self.area.right():
            return False
        lefts = np.array([rect.left()])
        return float(self._covered(lefts, rect.width(), rect.top(), rect.height())[0]) == 0.0

    def beside(self, curve: int, width: float, height: float) -> Place | None:
        """A place just above a curve or just below it, from the right.

        `curve` counts the curves in the order in which they came.
        """
        if curve >= len(self._curves):
            return None
        low, high = self._curves[curve]
        cells = max(int(width / CELL), 1)
        best: Place | None = None
        for first in range(self._cells - cells - 4, 0, -8):
            part = slice(first, first + cells)
            if not np.isfinite(low[part]).all():
                continue
            left = self.area.left() + first * CELL
            top, foot = float(low[part].min()), float(high[part].max())
            for at in (top - height - _AIR - 1.0, foot + _AIR + 1.0):
                rect = QRectF(left, at, width, height)
                if not self._inside(at, height):
                    continue
                cost = float(self._covered(np.array([left]), width, at, height)[0])
                if cost == 0.0:
                    return Place(rect, clear=True)
                if best is None and np.isfinite(cost):
                    best = Place(rect, clear=False)
        return best

    def _inside(self, top: float, height: float) -> bool:
        return self.area.top() <= top and top + height <= self.area.bottom()

    def _covered(self, lefts: Floats, width: float, top: float, height: float) -> Floats:
        """Cells of curves under a word at each left; infinite where something is taken."""
        meets = np.zeros(self._cells + 1, dtype=np.int64)
        for low, high in self._curves:
            meets[1:] += (low < top + height + _AIR) & (high > top - _AIR)
        summed = np.cumsum(meets)
        first = ((lefts - self.area.left() - _AIR) / CELL).astype(np.int64)
        last = ((lefts - self.area.left() + width + _AIR) / CELL).astype(np.int64) + 1
        first, last = np.clip(first, 0, self._cells), np.clip(last, 0, self._cells)
        covered: Floats = (summed[last] - summed[first]).astype(np.float64)
        for rect in self._taken:
            if rect.top() < top + height and rect.bottom() > top:
                covered[(lefts < rect.right()) & (lefts + width > rect.left())] = np.inf
        return covered
