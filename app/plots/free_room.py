"""Room for words in a picture: clear of curves, of lines and of other words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

CELL = 2.0
"""Curves are known to so many pixels across."""

_AIR = 2.0
"""Space between a word and a curve, pixels."""

_CLOSE = 4.0
"""How far from its curve a word along it stands, pixels."""

_STEEPEST = 4.0
"""A curve that rises by more than so many heights of a word under it is too steep for one."""

_STRIDE = 6
"""Cells from one place that is looked at to the next."""


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
        self._stacked: tuple[Floats, Floats] | None = None
        self._taken: list[QRectF] = []

    def take(self, rect: QRectF) -> None:
        """Nothing may cover this."""
        self._taken.append(rect)

    def add_curve(self, x: Floats, y: Floats) -> int | None:
        """A curve in pixels, `x` rising, cut at NaN: words keep off it where they can.

        Returns:
            Its number, by which `beside` and `along` know it; `None` for one without points.
        """
        if len(x) == 0:
            return None
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
        self._stacked = None
        return len(self._curves) - 1

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
        if not len(lefts):
            return None
        away = np.abs(lefts - wanted_left)
        best: tuple[float, float, QRectF] | None = None
        for rank, top in enumerate(tops):
            if not self._inside(top, height):
                continue
            covered = self._covered(lefts, width, top, height)
            costs = 1e9 * covered + away + rank * rank_cost
            at = int(costs.argmin())
            cost = float(costs[at])
            if math.isfinite(cost) and (best is None or cost < best[0]):
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

    def along(self, curve: int, width: float, height: float) -> QRectF | None:
        """The clear place nearest to the right end of a curve, just above it or just below.

        Where the curve is steep no word can be seen to belong to it, and none is put there. All
        places are looked at in one go: a picture of dozens of passages asks for dozens of words.
        """
        low, high = self._curves[curve]
        cells = min(max(int(width / CELL), 1), self._cells)
        windows = np.lib.stride_tricks.sliding_window_view
        firsts = np.arange(self._cells - cells, -1, -_STRIDE)
        some = np.isfinite(windows(low, cells)[firsts]).any(axis=1)
        firsts = firsts[some]
        if not len(firsts):
            return None
        top = np.nanmin(windows(low, cells)[firsts], axis=1)
        foot = np.nanmax(windows(high, cells)[firsts], axis=1)
        level = foot - top <= _STEEPEST * height
        firsts, top, foot = firsts[level], top[level], foot[level]
        lefts = np.repeat(self.area.left() + CELL * firsts, 2)
        tops = np.stack([top - height - _CLOSE, foot + _CLOSE], axis=1).ravel()
        free = np.flatnonzero(self._are_free(lefts, tops, width, height))
        if not len(free):
            return None
        return QRectF(float(lefts[free[0]]), float(tops[free[0]]), width, height)

    def _inside(self, top: float, height: float) -> bool:
        return self.area.top() <= top and top + height <= self.area.bottom()

    def _rows(self) -> tuple[Floats, Floats]:
        """Upper and lower edge of every curve in every cell, shape (curves, cells)."""
        if self._stacked is None:
            none = np.empty((0, self._cells))
            low, high = ([c[side] for c in self._curves] for side in (0, 1))
            self._stacked = (np.stack(low), np.stack(high)) if self._curves else (none, none)
        return self._stacked

    def _are_free(self, lefts: Floats, tops: Floats, width: float, height: float) -> Bools:
        """Whether a word at each left and top is inside and covers neither curve nor word."""
        area, (low, high) = self.area, self._rows()
        free = (lefts >= area.left()) & (lefts + width <= area.right())
        free &= (tops >= area.top()) & (tops + height <= area.bottom())
        for rect in self._taken:
            across = (lefts < rect.right()) & (lefts + width > rect.left())
            free &= ~(across & (tops < rect.bottom()) & (tops + height > rect.top()))
        first = ((lefts - area.left() - _AIR) / CELL).astype(np.int64)
        reach = int((width + 2.0 * _AIR) / CELL) + 1
        cells = np.clip(first[:, np.newaxis] + np.arange(reach), 0, self._cells - 1)
        foot = (tops + height + _AIR)[:, np.newaxis]
        for below, above in zip(low, high, strict=True):
            meets = (below[cells] < foot) & (above[cells] > tops[:, np.newaxis] - _AIR)
            free &= ~meets.any(axis=1)
        return free

    def _covered(self, lefts: Floats, width: float, top: float, height: float) -> Floats:
        """Cells of curves under a word at each left; infinite where something is taken."""
        low, high = self._rows()
        meets = (low < top + height + _AIR) & (high > top - _AIR)
        summed = np.zeros(self._cells + 1)
        np.cumsum(meets.sum(axis=0), out=summed[1:])
        first = ((lefts - self.area.left() - _AIR) / CELL).astype(np.int64)
        last = ((lefts - self.area.left() + width + _AIR) / CELL).astype(np.int64) + 1
        covered: Floats = summed[np.minimum(last, self._cells)] - summed[np.maximum(first, 0)]
        for rect in self._taken:
            if rect.top() < top + height and rect.bottom() > top:
                covered[(lefts < rect.right()) & (lefts + width > rect.left())] = np.inf
        return covered
