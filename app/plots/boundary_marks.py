"""Settings as marks in the picture of the trip boundary."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF
from PySide6.QtGui import QPolygonF

from .boundary_words import margin_on, margin_words
from .limit_words import Side, bounds_of, delay_text
from .wording import setting_text

if TYPE_CHECKING:
    from analysis.model.replay_results import BoundaryCurve, Margin, TripBoundary
    from analysis.model.setup import Level, Limit
    from analysis.model.units import LengthUnit

Floats = NDArray[np.float64]

SIZE = 6.0
"""Half the width of a mark, pixels."""


@dataclass(frozen=True)
class SettingMark:
    """One side of a setting: where it stands, and what it would do.

    `role`: `"active"` is tried now, or in force where nothing else is tried.
    """

    side: Side
    level: Level
    role: Literal["active", "in_force"]
    level_um: float
    delay_s: float
    margin: Margin | None
    name: str

    def text(self, unit: LengthUnit) -> tuple[str, str]:
        """The setting, and what it would do: two lines."""
        side = "below " if self.side == "below" else ""
        setting = setting_text(self.level_um, unit)
        first = f"{self.name} {side}{setting} · {delay_text(self.delay_s)}"
        if self.margin is None and self.role == "in_force":
            return first, ""
        return first, margin_words(self.margin, unit)


def setting_marks(
    boundary: TripBoundary,
    in_force: Limit,
    trial: Limit | None,
    in_force_margins: tuple[Margin, ...],
) -> tuple[SettingMark, ...]:
    """The marks, those in force first so that the trial's lie over them.

    The margins of `boundary` are those of the trial, or in force where nothing else is tried.
    """
    active = in_force if trial is None else trial
    tried = trial is not None and trial != in_force
    found = []
    if tried:
        found += _marks(in_force, "in_force", "in force", in_force_margins)
    name = "on trial" if tried else "in force"
    return tuple(found + _marks(active, "active", name, boundary.margins))


def _marks(
    limit: Limit, role: Literal["active", "in_force"], name: str, margins: tuple[Margin, ...]
) -> list[SettingMark]:
    if limit.region is not None:
        return []
    return [
        SettingMark(side, limit.level, role, value, limit.delay_s, margin_on(margins, side), name)
        for side, value in bounds_of(limit).items()
    ]


def mark_shape(at: QPointF, level: Level) -> QPolygonF:
    """A diamond for a trip, a triangle for an alarm: the shapes that their states have."""
    if level == "trip":
        corners = ((0.0, -1.0), (0.8, 0.0), (0.0, 1.0), (-0.8, 0.0))
    else:
        corners = ((0.0, -1.0), (1.0, 0.8), (-1.0, 0.8))
    return QPolygonF([at + QPointF(x, y) * SIZE for x, y in corners])


def level_at(curve: BoundaryCurve, delay_s: float) -> float | None:
    """The level of the curve at a delay; `None` where there is none."""
    known = np.isfinite(curve.level_um)
    if not known.any() or delay_s > curve.delay_s[-1] + 1e-9:
        return None
    # The curve is one of whole ticks: a delay between two of them needs the longer one.
    place = int(np.searchsorted(curve.delay_s, delay_s - 1e-9))
    level = float(curve.level_um[min(place, len(curve.level_um) - 1)])
    return level if np.isfinite(level) else None


def longest_at(curve: BoundaryCurve, level_um: float) -> float | None:
    """The longest delay at which a limit at this level would have acted, s."""
    sign = 1.0 if curve.side == "above" else -1.0
    acting = np.flatnonzero(sign * (curve.level_um - level_um) >= 0.0)
    return float(curve.delay_s[acting[-1]]) if len(acting) else None


def stairs(curve: BoundaryCurve) -> tuple[Floats, Floats]:
    """The curve as it is: level over every delay that needs the same number of ticks."""
    if len(curve.delay_s) == 0:
        return np.empty(0), np.empty(0)
    before = np.concatenate([curve.delay_s[:1], curve.delay_s[:-1]])
    x, y = np.empty(2 * len(before)), np.repeat(curve.level_um, 2)
    x[0::2], x[1::2] = before, curve.delay_s
    return x, y
