"""Shapes of the timeline: the p-p band as filled paths, the ribbon of states as boxes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtGui import QPainterPath

from analysis.protection.condition_codes import CONDITION_CODES

Floats = NDArray[np.float64]

_SEVERITY: Final = ("normal", "fault", "alarm", "trip")
"""From least to most: what a column shows when several are in it."""

_RANK_OF_CODE: Final = {CONDITION_CODES[name]: rank for rank, name in enumerate(_SEVERITY)}


def severity_ranks(conditions: Mapping[str, NDArray[np.int8]], rows: int) -> NDArray[np.int8]:
    """Worst rank of all probes in each row; 0 normal, 1 fault, 2 alarm, 3 trip."""
    table = np.zeros(256, dtype=np.int8)
    for code, rank in _RANK_OF_CODE.items():
        table[code % 256] = rank
    worst = np.zeros(rows, dtype=np.int8)
    for codes in conditions.values():
        np.maximum(worst, table[codes.astype(np.uint8)], out=worst)
    return worst


def runs_of(ranks: NDArray[np.int8], places: NDArray[np.int64]) -> list[tuple[str, int, int]]:
    """Runs of neighbouring rows with one state that is not normal: name, first, last column.

    Where a revolution is wider than a column, its state lasts until the next one; where nothing was
    read for much longer than usual, it does not.
    """
    if len(ranks) == 0:
        return []
    steps = np.diff(places)
    usual = 3 * max(int(np.median(steps)), 1) if len(steps) else 1
    breaks = np.flatnonzero((np.diff(ranks) != 0) | (steps > usual)) + 1
    found = []
    for run in np.split(np.arange(len(ranks)), breaks):
        rank, last = int(ranks[run[0]]), int(run[-1])
        end = int(places[last])
        if last < len(steps) and steps[last] <= usual:
            end += int(steps[last]) - 1
        if rank:
            found.append((_SEVERITY[rank], int(places[run[0]]), end))
    return found


def row_runs(
    ranks: NDArray[np.int8], starts: Floats, ends: Floats
) -> list[tuple[str, float, float]]:
    """Runs of neighbouring revolutions with one state that is not normal: name, start, end in s.

    A hole between two revolutions ends a run.
    """
    if len(ranks) == 0:
        return []
    breaks = np.flatnonzero((np.diff(ranks) != 0) | hole_after(starts, ends)) + 1
    return [
        (_SEVERITY[int(ranks[run[0]])], float(starts[run[0]]), float(ends[run[-1]]))
        for run in np.split(np.arange(len(ranks)), breaks)
        if ranks[run[0]]
    ]


def hole_after(starts: Floats, ends: Floats) -> NDArray[np.bool_]:
    """Where something is missing between a revolution and the next one, shape (r - 1,)."""
    holes: NDArray[np.bool_] = starts[1:] - ends[:-1] > 0.01 * (ends[:-1] - starts[:-1])
    return holes


def steps(starts: Floats, ends: Floats, values: Floats) -> tuple[Floats, Floats]:
    """A line that is level through every revolution, cut by NaN where something is missing."""
    x, y = np.empty(2 * len(values)), np.repeat(values, 2)
    x[0::2], x[1::2] = starts, ends
    after = 2 * (np.flatnonzero(hole_after(starts, ends)) + 1)
    return np.insert(x, after, x[after]), np.insert(y, after, np.nan)


def filled_band(x: Floats, low: Floats, high: Floats) -> QPainterPath:
    """The area between two lines, cut where either is NaN."""
    path = QPainterPath()
    good = np.isfinite(low) & np.isfinite(high)
    if not good.any():
        return path
    index = np.flatnonzero(good)
    for run in np.split(index, np.flatnonzero(np.diff(index) > 1) + 1):
        xs = np.concatenate([x[run], x[run][::-1]])
        ys = np.concatenate([high[run], low[run][::-1]])
        piece = pg.arrayToQPath(xs, ys, connect="all", finiteCheck=False)
        piece.closeSubpath()
        path.addPath(piece)
    return path


def into_band(values: Floats, top: float, band: tuple[float, float]) -> Floats:
    """Values of 0 to `top` as pixels within a band."""
    placed: Floats = band[0] + values / top * (band[1] - band[0])
    return placed
