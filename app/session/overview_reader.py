"""The overview of the capture, which long waveforms are drawn from: read once, then kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.views.moment import MomentResult
    from analysis.views.overview import CaptureOverview

    from .answers import MomentReader, TimelineReader
    from .capture_state import CaptureState
    from .choice_state import ChoiceState

KEY = "overview"

NEEDED_ABOVE = 1 << 18
"""Captures with fewer samples in every channel are quick to read whole."""


class OverviewReader(QObject):
    """Reads when the timeline stands, or as soon as a waveform lacks a part.

    Two passes at a time would share a disk and the interpreter's lock, and neither be quick.
    """

    changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        reader: MomentReader,
        timeline: TimelineReader,
        choice: ChoiceState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._reader = reader
        self._timeline = timeline
        self._choice = choice
        self._runner = runner
        self._notices = notices
        self._overview: CaptureOverview | None = None
        self._tried = False
        self._stopped_at: float | None = None
        capture.changed.connect(self._start_over)
        timeline.changed.connect(self._look)
        reader.answered.connect(self._look)

    @property
    def overview(self) -> CaptureOverview | None:
        """What there is so far."""
        return self._overview

    def _start_over(self) -> None:
        self._runner.cancel(KEY)
        self._notices.dismiss(KEY)
        self._tried = False
        self._stopped_at = None
        self._set(None)

    def _look(self) -> None:
        """Start when it is time, once a capture; after a cancel only for another window."""
        capture, result = self._capture.capture, self._reader.result
        if capture is None or self._runner.is_running(KEY):
            return
        waits = result is not None and result.waits_for_overview
        if self._tried and not (waits and self._wanted_since_the_stop(result)):
            return
        long = any(len(channel) > NEEDED_ABOVE for channel in capture.channels.values())
        if not (waits or (long and self._timeline.complete)):
            return
        self._tried = True

        def work(progress: JobProgress) -> CaptureOverview:
            from analysis.files.overview_cache import OverviewCache
            from analysis.views.overview import answer_overview

            return answer_overview(
                capture, progress=progress, partial=progress.partial, cache=OverviewCache()
            )

        callbacks = Callbacks(
            result=self._set, partial=self._set, error=self._failed, cancelled=self._stopped
        )
        self._runner.run(KEY, work, callbacks, title="Overview of the capture")

    def _wanted_since_the_stop(self, result: MomentResult) -> bool:
        return self._stopped_at is not None and result.request.waveform_s != self._stopped_at

    def _stopped(self) -> None:
        self._stopped_at = self._choice.now.waveform_s or 0.0

    def _set(self, overview: CaptureOverview | None) -> None:
        self._overview = overview
        self._reader.set_overview(overview)
        self.changed.emit()

    def _failed(self, failure: Failure) -> None:
        what = "The overview of the capture could not be read"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))
