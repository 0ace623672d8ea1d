"""Zoom along one axis, inside a whole that does not move."""

from __future__ import annotations

STEP_IN = 0.8
"""What is seen after one notch of the wheel or one key, as a share of what was seen before."""

PAN_SHARE = 0.1
"""How far one notch goes along, as a share of what is seen."""


class ZoomX:
    """Which share of the whole is shown; kept while the whole changes its length."""

    def __init__(self, least_share: float = 1e-3) -> None:
        self._least = least_share
        self._share: tuple[float, float] = (0.0, 1.0)

    @property
    def active(self) -> bool:
        """Whether less than the whole is shown."""
        return self._share != (0.0, 1.0)

    def reset(self) -> None:
        """Show the whole."""
        self._share = (0.0, 1.0)

    def by(self, factor: float, centre: float, low: float, high: float) -> None:
        """Show `factor` times as much, with `centre` (between `low` and `high`) kept in place."""
        at = (centre - low) / (high - low)
        start, end = self._share
        width = min(max((end - start) * factor, self._least), 1.0)
        kept = (at - start) / (end - start)
        start = min(max(at - kept * width, 0.0), 1.0 - width)
        self._share = (start, start + width) if width < 1.0 else (0.0, 1.0)

    def range_within(self, low: float, high: float) -> tuple[float, float]:
        """The part of `low` to `high` that is shown."""
        start, end = self._share
        return low + start * (high - low), low + end * (high - low)
