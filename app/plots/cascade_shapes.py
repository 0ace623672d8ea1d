"""A cascade turned into what can be drawn: an image, or lines one above another."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from .palette import Theme

if TYPE_CHECKING:
    from analysis.model.results import Floats

CascadeScale = Literal["linear", "dB"]

RANGE_DB = 60.0
"""What is this far below the largest line is drawn as nothing."""

MOST_LINES = 42
_MAPS = {Theme.LIGHT: "CET-L17", Theme.DARK: "CET-L16"}
"""Perceptually even, lightness changing one way, so that they read in grey as well; they begin in
the colour of the card (P. Kovesi 2015, as shipped with pyqtgraph)."""

_SKIP = {Theme.LIGHT: 0.0, Theme.DARK: 0.02}


@lru_cache(maxsize=2)
def colour_table(theme: Theme) -> NDArray[np.uint8]:
    """256 colours from nothing to most, shape (256, 3)."""
    import pyqtgraph as pg

    table: NDArray[np.uint8] = pg.colormap.get(_MAPS[theme]).getLookupTable(_SKIP[theme], 1.0, 256)
    return table[:, :3]


def shares(amplitude_um: Floats, top_um: float, scale: CascadeScale) -> Floats:
    """Amplitudes as shares of the scale, 0 to 1; NaN is nothing."""
    if scale == "linear":
        out = amplitude_um / top_um
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            out = 1.0 + 20.0 * np.log10(amplitude_um / top_um) / RANGE_DB
    return np.clip(np.nan_to_num(out, nan=0.0, neginf=0.0), 0.0, 1.0)


def pooled(x: Floats, amplitude_um: Floats, low: float, high: float, columns: int) -> Floats:
    """The largest line of every pixel column between `low` and `high`, shape (rows, columns).

    A column without a line of its own takes the one before: no line is lost, none invented.

    Args:
        x: frequencies or orders, rising, shape (b,).
        amplitude_um: shape (rows, b).
        low: left edge of the picture, in the unit of `x`.
        high: right edge.
        columns: of the picture.
    """
    inside = np.flatnonzero((x >= low) & (x <= high))
    if len(inside) == 0:
        return np.zeros((len(amplitude_um), columns))
    width = (high - low) / columns
    cell = np.clip(((x[inside] - low) / width).astype(np.int64), 0, columns - 1)
    starts = np.flatnonzero(np.diff(cell, prepend=-1))
    filled = np.nan_to_num(amplitude_um[:, inside], nan=0.0)
    largest = np.maximum.reduceat(filled, starts, axis=1)
    source = np.searchsorted(cell[starts], np.arange(columns), side="right") - 1
    out: Floats = largest[:, np.clip(source, 0, None)]
    beyond = (np.arange(columns) < cell[0]) | (np.arange(columns) > cell[-1])
    out[:, beyond] = 0.0
    return out


def nearest_rows(at: Floats, low: float, high: float, rows: int) -> NDArray[np.int64]:
    """For evenly spaced picture rows the spectrum nearest to each, -1 where none is near."""
    order = np.argsort(at, kind="stable")
    ordered = at[order]
    wanted = low + (np.arange(rows) + 0.5) * (high - low) / rows
    right = np.clip(np.searchsorted(ordered, wanted), 1, max(len(at) - 1, 1))
    left = right - 1
    right = np.minimum(right, len(at) - 1)
    nearer = np.abs(ordered[right] - wanted) < np.abs(ordered[left] - wanted)
    place = np.where(nearer, right, left)
    steps = np.diff(ordered)
    usual = float(np.median(steps)) if len(steps) else high - low
    away = np.abs(ordered[place] - wanted)
    out: NDArray[np.int64] = np.where(away <= 2.0 * usual + 1e-9, order[place], -1)
    return out


@dataclass(frozen=True, eq=False)
class StackedLines:
    """Lines one above another, cut at NaN, and how many spectra were left out between them."""

    x: Floats
    y: Floats
    left_out: int


def stacked(
    x: Floats, at: Floats, parts: Floats, height: float, most: int = MOST_LINES
) -> StackedLines:
    """Every spectrum (or every n-th) as a line standing on its own height.

    Args:
        x: the columns' middles, shape (c,).
        at: place of each spectrum, shape (rows,).
        parts: shares of the scale, shape (rows, c).
        height: how high a whole share stands, in the unit of `at`.
        most: lines that are drawn at most.
    """
    order = np.argsort(at, kind="stable")
    step = max(-(-len(order) // most), 1)
    chosen = order[::step]
    xs = np.tile(np.append(x, np.nan), len(chosen))
    ys = np.full((len(chosen), len(x) + 1), np.nan)
    ys[:, :-1] = at[chosen, np.newaxis] + height * parts[chosen]
    return StackedLines(xs, ys.ravel(), len(order) - len(chosen))
