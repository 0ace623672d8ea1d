"""The Lab's slow motion: how far the shaft has turned in every picture at once."""

from __future__ import annotations

import time

from PySide6.QtCore import QObject, Qt, QTimer, Signal

FRAME_MS = 16
PACES = (0.05, 0.1, 0.2, 0.5)
"""Turns a second that the slow motion may show."""

_LONGEST_STEP_S = 0.1
"""After a pause of the program the shaft goes on where it was."""


class LabClock(QObject):
    """The turns since an event. `moved(turns)` with every step, `running_changed()` with a stop.

    Runs only while somebody looks.
    """

    moved = Signal(float)
    running_changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._turns = 0.0
        self._wrap = 8
        self._wanted = True
        self._watched = False
        self._pace = 0.1
        self._last = 0.0
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(FRAME_MS)
        self._timer.timeout.connect(self._step)

    @property
    def turns(self) -> float:
        """Turns since the event at which the pictures begin."""
        return self._turns

    @property
    def running(self) -> bool:
        """Whether the shaft is to turn; it does while somebody looks."""
        return self._wanted

    @property
    def pace(self) -> float:
        """Turns a second."""
        return self._pace

    def set_wrap(self, turns: int) -> None:
        """Begin again after so many turns: what is known reaches no further."""
        self._wrap = max(turns, 1)
        if self._turns >= self._wrap:
            self.set_turns(self._turns % self._wrap)

    def set_pace(self, turns_a_second: float) -> None:
        """Turn faster or slower."""
        self._pace = turns_a_second

    def set_running(self, running: bool) -> None:
        """Go on, or stop."""
        if running != self._wanted:
            self._wanted = running
            self._run()
            self.running_changed.emit()

    def set_watched(self, watched: bool) -> None:
        """Whether somebody looks."""
        self._watched = watched
        self._run()

    def set_turns(self, turns: float) -> None:
        """Go to a place; the shaft stays as it is otherwise."""
        turns %= self._wrap
        if turns != self._turns:
            self._turns = turns
            self.moved.emit(turns)

    def step(self, degrees: float) -> None:
        """Stop, and turn by so many degrees."""
        self.set_running(False)
        self.set_turns(self._turns + degrees / 360.0)

    def _run(self) -> None:
        if self._wanted and self._watched:
            self._last = time.monotonic()
            self._timer.start()
        else:
            self._timer.stop()

    def _step(self) -> None:
        now = time.monotonic()
        passed, self._last = min(now - self._last, _LONGEST_STEP_S), now
        self.set_turns(self._turns + self._pace * passed)
