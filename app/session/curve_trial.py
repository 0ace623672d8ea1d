"""Calibration curves that are tried in the window: in force on every page, written nowhere."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

if TYPE_CHECKING:
    from analysis.model.setup import Setup

    from .capture_state import CaptureState, Opened


class CurveTrial(QObject):
    """Puts a setup with another curve in the place of the one that was opened, and takes it back.

    It lasts until it is taken back, or until another setup or capture is opened. `changed` comes
    when a curve is taken up or dropped.
    """

    changed = Signal()

    def __init__(self, capture: CaptureState) -> None:
        super().__init__()
        self._capture = capture
        self._before: Opened | None = None
        self._own = False
        capture.setup_changed.connect(self._look)

    @property
    def setup_before(self) -> Setup | None:
        """The setup as it was opened; that in use while nothing is on trial."""
        return self._before.setup if self._before is not None else self._capture.setup

    @property
    def names(self) -> tuple[str, ...]:
        """The probes that read by a curve on trial."""
        before, now = self.setup_before, self._capture.setup
        if self._before is None or before is None or now is None:
            return ()
        return tuple(
            new.name
            for old, new in zip(before.probe, now.probe, strict=False)
            if old != new and old.name == new.name
        )

    def take(self, setup: Setup) -> None:
        """Read by this setup from now on, which differs in the curve of a probe."""
        opened = self._capture.opened
        if opened is None or setup == opened.setup:
            return
        if self._before is None:
            self._before = opened
        self._put(replace(opened, setup=setup))
        self.changed.emit()

    def back(self) -> None:
        """Back to the setup as it was opened."""
        if self._before is not None:
            before, self._before = self._before, None
            self._put(before)
            self.changed.emit()

    def _put(self, opened: Opened) -> None:
        self._own = True
        try:
            self._capture.set(opened)
        finally:
            self._own = False

    def _look(self) -> None:
        """Another setup has come from elsewhere: what was on trial went with the old one."""
        if not self._own and self._before is not None:
            self._before = None
            self.changed.emit()
