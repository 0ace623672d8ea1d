"""Shapes of the timeline: the p-p band as filled paths, the ribbon of states as boxes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtGui import QPainterPath

from analysis.protection.limits import CONDITION_CODES

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
    """Runs of neighbouring columns with one state that is not normal: name, first, last column."""
    if len(ranks) == 0:
        return []
    breaks = np.flatnonzero((np.diff(ranks) != 0) | (np.diff(places) > 1)) + 1
    found = []
    for run in np.split(np.arange(len(ranks)), breaks):
        rank = int(ranks[run[0]])
        if rank:
            found.append((_SEVERITY[rank], int(places[run[0]]), int(places[run[-1]])))
    return found


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
