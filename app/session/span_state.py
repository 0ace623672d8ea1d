"""The stretch of the capture that the reader chose, if any."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from analysis.model.span import TimeSpan


class SpanState(QObject):
    """A chosen span within the capture; `None` when none is chosen."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._span: TimeSpan | None = None
        self._limits = TimeSpan(0.0, 0.0)

    @property
    def span(self) -> TimeSpan | None:
        """The chosen span, s."""
        return self._span

    def set(self, span: TimeSpan | None) -> None:
        """Choose a span, clipped to the capture; one without length is no span."""
        if span is not None:
            span = span.clipped_to(self._limits)
            if span.length_s <= 0.0:
                span = None
        if span != self._span:
            self._span = span
            self.changed.emit()

    def set_limits(self, limits: TimeSpan) -> None:
        """Another capture: nothing is chosen in it yet."""
        self._limits = limits
        self.set(None)
