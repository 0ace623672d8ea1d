"""Which turns of a centreline path are drawn pale, and which strong: by their speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QColor

from .palette import Theme, palette
from .style import blend

if TYPE_CHECKING:
    from analysis.model.position_results import CentrelinePath

SHADES: Final = (0.3, 0.44, 0.58, 0.72, 0.86, 1.0)
"""Slow turns are pale, fast ones strong: an order that can be read without colour, too."""

_SAME_SPEED = 0.02


def is_one_speed(ends: tuple[float, float]) -> bool:
    """Whether the speed varies so little that it has one shade and one name."""
    return ends[1] - ends[0] <= _SAME_SPEED * ends[1]


def speed_ends(path: CentrelinePath) -> tuple[float, float] | None:
    """Lowest and highest speed of a path, r/min; `None` where none is known."""
    known = path.speed_rpm[np.isfinite(path.speed_rpm)]
    return (float(known.min()), float(known.max())) if len(known) else None


def shades_of(path: CentrelinePath | None, ends: tuple[float, float] | None) -> NDArray[np.int64]:
    """Which shade each turn has; the strongest where the speed hardly changes or is not known."""
    if path is None:
        return np.empty(0, dtype=np.int64)
    count, last = len(path.speed_rpm), len(SHADES) - 1
    if ends is None or is_one_speed(ends):
        return np.full(count, last, dtype=np.int64)
    share = (np.nan_to_num(path.speed_rpm, nan=ends[1]) - ends[0]) / (ends[1] - ends[0])
    found: NDArray[np.int64] = np.minimum((share * len(SHADES)).astype(np.int64), last)
    return found


def shade(share: float, theme: Theme) -> QColor:
    """The colour of one of the shades."""
    colours = palette(theme)
    return blend(colours.accent, colours.card, share)
