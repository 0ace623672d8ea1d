"""Which part of the capture the timeline shows."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from analysis.model.span import TimeSpan
from analysis.views.time_window import window_around

_PAGED_TO = 0.15
"""Where the moment stands after a page has been turned, as a share of the part seen."""


class TimelineZoom(QObject):
    """The part of the capture that is seen, s; from all of it down to `least_s`."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._whole = TimeSpan(0.0, 0.0)
        self._least_s = 0.0
        self._seen = self._whole

    @property
    def seen(self) -> TimeSpan:
        """The part seen."""
        return self._seen

    @property
    def whole(self) -> TimeSpan:
        """The capture, from end to end."""
        return self._whole

    @property
    def zoomed(self) -> bool:
        """Whether less than the capture is seen."""
        return self._seen != self._whole

    def set_limits(self, whole: TimeSpan, least_s: float) -> None:
        """Another capture: all of it is seen, and no less than `least_s` will be."""
        self._whole = whole
        self._least_s = min(least_s, whole.length_s)
        self._see(whole)

    def show(self, span: TimeSpan) -> None:
        """See a span, or as much around it as has to be seen at least."""
        middle = (span.start_s + span.end_s) / 2.0
        self._around(middle, span.length_s, 0.5)

    def show_all(self) -> None:
        """See the whole capture."""
        self._see(self._whole)

    def by(self, factor: float, about_s: float) -> None:
        """See `factor` times as much, with the time `about_s` kept where it is."""
        length = self._seen.length_s
        if length <= 0.0:
            return
        place = (about_s - self._seen.start_s) / length
        self._around(about_s, length * factor, place)

    def pan(self, share: float) -> None:
        """Go on by a share of what is seen; back when negative."""
        start = self._seen.start_s + share * self._seen.length_s
        self._around(start, self._seen.length_s, 0.0)

    def centre_on(self, time_s: float) -> None:
        """Have a time in the middle."""
        self._around(time_s, self._seen.length_s, 0.5)

    def keep_in_view(self, time_s: float) -> None:
        """Turn a page when a time lies outside what is seen; leap when it lies far outside."""
        start, end, length = self._seen.start_s, self._seen.end_s, self._seen.length_s
        if start <= time_s <= end:
            return
        place = 0.5
        if end < time_s <= end + length:
            place = _PAGED_TO
        elif start - length <= time_s < start:
            place = 1.0 - _PAGED_TO
        self._around(time_s, length, place)

    def _around(self, time_s: float, length_s: float, place: float) -> None:
        length = max(length_s, self._least_s)
        self._see(window_around(time_s, length, self._whole, place))

    def _see(self, span: TimeSpan) -> None:
        if span.length_s >= self._whole.length_s * (1.0 - 1e-9):
            span = self._whole
        if span != self._seen:
            self._seen = span
            self.changed.emit()
