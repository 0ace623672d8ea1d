"""A stretch of capture time."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class TimeSpan:
    """From `start_s` to `end_s`, seconds of capture time, `start_s <= end_s`.

    Raises:
        ValueError: when the end comes before the start.
    """

    start_s: float
    end_s: float

    def __post_init__(self) -> None:
        if not self.start_s <= self.end_s:
            raise ValueError(
                f"a span cannot end ({self.end_s} s) before it starts ({self.start_s} s)"
            )

    @property
    def length_s(self) -> float:
        """Length, s."""
        return self.end_s - self.start_s

    def clipped_to(self, outer: TimeSpan) -> TimeSpan:
        """The part inside `outer`; an empty span at its nearer end when there is none."""
        start = min(max(self.start_s, outer.start_s), outer.end_s)
        end = min(max(self.end_s, outer.start_s), outer.end_s)
        return TimeSpan(start, max(start, end))

    def widened(self, by_s: float) -> TimeSpan:
        """The span with `by_s` seconds more at either end."""
        return TimeSpan(self.start_s - by_s, self.end_s + by_s)
