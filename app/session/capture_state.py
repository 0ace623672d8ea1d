"""Which capture is open, what its channels are, and whether one is being opened."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QObject, Signal

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.errors import SetupError, SetupIssue
    from analysis.model.setup import Setup


@dataclass(frozen=True, eq=False)
class Opened:
    """What opening gave: the capture, and its setup or the reason why there is none."""

    capture: Capture
    setup: Setup | None = None
    setup_source: str = ""
    setup_path: Path | None = None
    setup_warnings: tuple[SetupIssue, ...] = ()
    setup_error: SetupError | None = None


Phase = Literal["empty", "opening", "ready", "failed"]


class CaptureState(QObject):
    """The open capture and its setup.

    `changed` comes with every new capture, `setup_changed` with every new setup (also of a new
    capture, after `changed`), `phase_changed` when opening starts, ends or fails.
    """

    changed = Signal()
    setup_changed = Signal()
    phase_changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._opened: Opened | None = None
        self._phase: Phase = "empty"
        self._opening = ""

    @property
    def opened(self) -> Opened | None:
        """All that opening gave; `None` while nothing is open."""
        return self._opened

    @property
    def capture(self) -> Capture | None:
        """The open capture."""
        return self._opened.capture if self._opened else None

    @property
    def setup(self) -> Setup | None:
        """What its channels are; `None` when that is not known."""
        return self._opened.setup if self._opened else None

    @property
    def phase(self) -> Phase:
        """Where opening stands. A capture that is open stays open while the next one is read."""
        return self._phase

    @property
    def opening(self) -> str:
        """Name of the file that is being opened, or that could not be."""
        return self._opening

    def start(self, name: str) -> None:
        """A file of this name is being opened."""
        self._opening = name
        self._set_phase("opening")

    def stop(self, *, failed: bool) -> None:
        """Opening ended without a capture; the one that was open stays."""
        if failed and self._opened is None:
            self._set_phase("failed")
        else:
            self._set_phase("empty" if self._opened is None else "ready")

    def set(self, opened: Opened) -> None:
        """A capture (or the same one with another setup) is open."""
        before = self._opened
        self._opened = opened
        self._opening = ""
        if before is None or before.capture is not opened.capture:
            self.changed.emit()
            self.setup_changed.emit()
        elif before.setup != opened.setup or before.setup_error is not opened.setup_error:
            self.setup_changed.emit()
        self._set_phase("ready")

    def _set_phase(self, phase: Phase) -> None:
        if phase != self._phase:
            self._phase = phase
            self.phase_changed.emit()
