"""Where in the capture the reader is: a moment, and the turns on either side that are read."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from analysis.model.span import TimeSpan

DEFAULT_HALF_TURNS = 4.0
MOST_HALF_TURNS = 64.0


class MomentState(QObject):
    """The moment, seconds of capture time, held within the capture; and `half_turns` around it."""

    moved = Signal(float)
    half_turns_changed = Signal(float)

    def __init__(self, half_turns: float = DEFAULT_HALF_TURNS) -> None:
        super().__init__()
        self._limits = TimeSpan(0.0, 0.0)
        self._moment_s = 0.0
        in_range = 0.5 <= half_turns <= MOST_HALF_TURNS
        self._half_turns = half_turns if in_range else DEFAULT_HALF_TURNS

    @property
    def moment_s(self) -> float:
        """The moment, s."""
        return self._moment_s

    @property
    def half_turns(self) -> float:
        """Turns read on either side of the moment."""
        return self._half_turns

    @property
    def limits(self) -> TimeSpan:
        """The capture, from end to end."""
        return self._limits

    def set(self, moment_s: float) -> None:
        """Go to a moment; beyond an end of the capture: to that end. Not-a-number is ignored."""
        clamped = min(max(moment_s, self._limits.start_s), self._limits.end_s)
        if clamped == clamped and clamped != self._moment_s:
            self._moment_s = clamped
            self.moved.emit(clamped)

    def set_limits(self, limits: TimeSpan) -> None:
        """Another capture: hold the moment within it, and start in its middle."""
        self._limits = limits
        self.set((limits.start_s + limits.end_s) / 2.0)

    def set_half_turns(self, half_turns: float) -> None:
        """Read this many turns on either side."""
        if half_turns != self._half_turns:
            self._half_turns = half_turns
            self.half_turns_changed.emit(half_turns)
