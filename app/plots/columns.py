"""Lowest, highest and worst of each column of a picture; for rows that come once a revolution."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Columns:
    """Columns of equal width over `low` to `high`; which rows fall into which."""

    low: float
    high: float
    starts: NDArray[np.int64]
    places: NDArray[np.int64]
    count: int

    @property
    def centres(self) -> Floats:
        """Middle of each column that holds a row."""
        width = (self.high - self.low) / self.count
        middles: Floats = self.low + (self.places + 0.5) * width
        return middles

    def lowest(self, values: Floats) -> Floats:
        """Lowest of each column that holds a row; NaN only where all are."""
        return np.fmin.reduceat(values, self.starts) if len(self.starts) else np.empty(0)

    def highest(self, values: Floats) -> Floats:
        """Highest of each column that holds a row; NaN only where all are."""
        return np.fmax.reduceat(values, self.starts) if len(self.starts) else np.empty(0)

    def most(self, ranks: NDArray[np.int8]) -> NDArray[np.int8]:
        """Largest rank of each column that holds a row."""
        if len(self.starts) == 0:
            return np.empty(0, dtype=np.int8)
        worst: NDArray[np.int8] = np.maximum.reduceat(ranks, self.starts)
        return worst


def columns_of(times: Floats, low: float, high: float, count: int) -> Columns:
    """Sort rising times into columns.

    Raises:
        ValueError: when `high <= low` or `count < 1`.
    """
    if not high > low or count < 1:
        raise ValueError("columns need a range and at least one column")
    place = np.clip(((times - low) / (high - low) * count).astype(np.int64), 0, count - 1)
    starts = np.flatnonzero(np.diff(place, prepend=-1) != 0)
    return Columns(low, high, starts, place[starts], count)
