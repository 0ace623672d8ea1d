"""Resets that the reader puts into the capture, to see what they would have let go of."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from analysis.model.span import TimeSpan

SAME_S = 0.05
"""Two resets closer than this are one: measures are taken every 0.1 s."""


class ResetState(QObject):
    """Times of the resets, s, in order. They are tried here and pressed nowhere."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._limits = TimeSpan(0.0, 0.0)
        self._times: tuple[float, ...] = ()

    @property
    def times_s(self) -> tuple[float, ...]:
        """The resets, s of capture time, in order."""
        return self._times

    def set_limits(self, limits: TimeSpan) -> None:
        """Another capture: there are no resets in it yet."""
        self._limits = limits
        self.clear()

    def at(self, time_s: float, within_s: float = SAME_S) -> float | None:
        """The reset nearest to a time, if it is that near."""
        nearest = min(self._times, key=lambda each: abs(each - time_s), default=None)
        return nearest if nearest is not None and abs(nearest - time_s) <= within_s else None

    def add(self, time_s: float) -> None:
        """A reset there; outside the capture, or where there is one already, nothing changes."""
        inside = self._limits.start_s <= time_s <= self._limits.end_s
        if inside and self.at(time_s) is None:
            self._set((*self._times, time_s))

    def remove(self, time_s: float) -> None:
        """No reset there any more."""
        known = self.at(time_s)
        self._set(tuple(each for each in self._times if each != known))

    def toggle(self, time_s: float) -> None:
        """Take the reset there off, or put one there."""
        if self.at(time_s) is None:
            self.add(time_s)
        else:
            self.remove(time_s)

    def clear(self) -> None:
        """No resets."""
        self._set(())

    def _set(self, times: tuple[float, ...]) -> None:
        times = tuple(sorted(times))
        if times != self._times:
            self._times = times
            self.changed.emit()
