"""Readings over the chosen span: asked for when somebody wants them, with progress and cancel."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QObject, QTimer, Signal

from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.results import SpanReadings

    from .capture_state import CaptureState
    from .choice_state import ChoiceState
    from .span_state import SpanState

KEY = "span readings"

REST_MS = 250
"""A span that is being dragged is read when the hand rests."""

Phase = Literal["idle", "waiting", "reading", "ready", "stopped", "failed"]


class SpanReader(QObject):
    """`wanted` says whether the readings are to be of the span; they go with the span."""

    changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        span: SpanState,
        choice: ChoiceState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._span = span
        self._choice = choice
        self._runner = runner
        self._notices = notices
        self._wanted = False
        self._phase: Phase = "idle"
        self._fraction = 0.0
        self._result: SpanReadings | None = None
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._start)
        span.changed.connect(self._again)
        capture.setup_changed.connect(self._again)
        choice.changed.connect(self._choice_changed)

    @property
    def wanted(self) -> bool:
        """Whether the readings are to be of the span, not of the moment."""
        return self._wanted

    @property
    def phase(self) -> Phase:
        """Where the reading stands."""
        return self._phase

    @property
    def fraction(self) -> float:
        """Share read, 0 to 1."""
        return self._fraction

    @property
    def result(self) -> SpanReadings | None:
        """The readings of the span; `None` while there are none."""
        return self._result

    def is_settled(self) -> bool:
        """Nothing is under way."""
        return self._phase not in ("waiting", "reading")

    def want(self, wanted: bool) -> None:
        """Read the span from now on, or no more. Wanting it again reads it again if need be."""
        if wanted == self._wanted and (not wanted or self._phase not in ("stopped", "failed")):
            return
        self._wanted = wanted and self._span.span is not None
        self._begin(at_once=True)

    def _choice_changed(self, names: frozenset[str]) -> None:
        if "speed_rpm" in names:
            self._again()

    def _again(self) -> None:
        if self._wanted:
            self._wanted = self._span.span is not None
            self._begin(at_once=False)
        elif self._result is not None:
            self._begin(at_once=True)

    def _begin(self, *, at_once: bool) -> None:
        self._rest.stop()
        self._result = None
        self._notices.dismiss(KEY)
        # Before the job is told: its `cancelled` callback would take it for the reader's wish.
        self._phase = "waiting" if self._wanted else "idle"
        self._runner.cancel(KEY)
        if self._wanted and at_once:
            self._start()
        else:
            if self._wanted:
                self._rest.start()
            self.changed.emit()

    def _start(self) -> None:
        capture, setup, span = self._capture.capture, self._capture.setup, self._span.span
        if capture is None or setup is None or span is None:
            self._set("idle")
            return
        speed_rpm = self._choice.now.speed_rpm

        def work(progress: JobProgress) -> SpanReadings:
            from analysis.views.readings import read_span

            return read_span(capture, setup, span, speed_rpm=speed_rpm, progress=progress)

        self._fraction = 0.0
        self._phase = "reading"
        callbacks = Callbacks(
            result=self._answered,
            error=self._failed,
            progress=self._told,
            cancelled=self._cancelled,
        )
        self._runner.run(KEY, work, callbacks, title="Readings over the span")
        self.changed.emit()

    def _told(self, fraction: float, _words: str) -> None:
        self._fraction = fraction
        self.changed.emit()

    def _answered(self, result: SpanReadings) -> None:
        self._result = result
        self._set("ready")

    def _cancelled(self) -> None:
        if self._phase == "reading":
            self._set("stopped")

    def _failed(self, failure: Failure) -> None:
        what = "The span could not be read"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))
        self._set("failed")

    def _set(self, phase: Phase) -> None:
        self._phase = phase
        self.changed.emit()
