"""What works in the background, how far it is, and a way to stop it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QWidget

if TYPE_CHECKING:
    from app.work.runner import Job, JobRunner

SHOWN_AFTER_MS = 400
"""Shorter work shows nothing: a flash tells nobody anything."""

STRIP_HEIGHT = 20


class JobStrip(QWidget):
    """The oldest job that lasts: words, share done, Cancel. Empty while nothing lasts."""

    def __init__(self, runner: JobRunner, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._runner = runner
        self._job: Job | None = None
        self.setAccessibleName("Work in the background")
        # Always as high as when it shows something: the pages above must not move.
        self.setFixedHeight(STRIP_HEIGHT)
        self._words = QLabel()
        self._words.setProperty("role", "footer")
        self._words.setTextFormat(Qt.TextFormat.PlainText)
        self._bar = QProgressBar()
        self._bar.setRange(0, 1000)
        self._bar.setTextVisible(False)
        self._bar.setFixedWidth(160)
        self._bar.setAccessibleName("Share done")
        self._cancel = QPushButton("Cancel")
        self._cancel.setProperty("role", "quiet")
        self._cancel.setAutoDefault(False)
        self._cancel.clicked.connect(self._stop)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        for widget in (self._words, self._bar, self._cancel):
            row.addWidget(widget)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._refresh)
        runner.changed.connect(self._refresh)
        self._refresh()

    @property
    def text(self) -> str:
        """The words shown; empty when nothing is."""
        return self._words.text() if self._job is not None else ""

    def cancel_button(self) -> QPushButton:
        """The button that stops the job shown."""
        return self._cancel

    def _refresh(self) -> None:
        jobs = self._runner.jobs()
        lasting = [job for job in jobs if job.age_s * 1000.0 >= SHOWN_AFTER_MS]
        if jobs and not lasting and not self._timer.isActive():
            self._timer.start(SHOWN_AFTER_MS)
        self._job = lasting[0] if lasting else None
        for widget in (self._words, self._bar, self._cancel):
            widget.setVisible(self._job is not None)
        if self._job is not None:
            words = f": {self._job.words}" if self._job.words else ""
            self._words.setText(f"{self._job.title}{words}")
            # A bar repaints at once when it is told a value, and the whole window with it.
            self._bar.setUpdatesEnabled(False)
            # Nothing reported yet: a bar that runs to and fro, not one that claims 0 %.
            self._bar.setRange(0, 1000 if self._job.fraction > 0.0 else 0)
            self._bar.setValue(round(self._job.fraction * 1000))
            self._bar.setUpdatesEnabled(True)
            self._cancel.setAccessibleName(f"Cancel: {self._job.title}")

    def _stop(self) -> None:
        if self._job is not None:
            self._runner.cancel(self._job.key)
