"""Runout that is taken off waveforms and orbits: where it comes from, and the asking for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QObject, Signal

from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import Notice, NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.views.runout import RunoutResult

    from .answers import TimelineReader
    from .capture_state import CaptureState
    from .choice_state import ChoiceState
    from .run_state import RunState

KEY = "runout"
RunoutSource = Literal["off", "measured", "kept"]


class RunoutReader(QObject):
    """Measures runout once when it is wanted, and puts it among the choices of the moment.

    It belongs to one capture: another one starts with nothing taken off.
    """

    changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        timeline: TimelineReader,
        choice: ChoiceState,
        run: RunState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._timeline = timeline
        self._choice = choice
        self._run = run
        self._runner = runner
        self._notices = notices
        self._source: RunoutSource = "off"
        capture.changed.connect(lambda: self.choose("off"))
        capture.setup_changed.connect(self._setup_changed)

    @property
    def source(self) -> RunoutSource:
        """What is taken off."""
        return self._source

    def is_kept(self) -> bool:
        """Whether the setup keeps slow-roll vectors."""
        setup = self._capture.setup
        return setup is not None and any(probe.slow_roll for probe in setup.probe)

    def can_be_measured(self) -> bool:
        """Whether the pass has told where the shaft turns slowly."""
        return self._timeline.complete and self._timeline.result is not None

    def choose(self, source: RunoutSource) -> None:
        """Take off nothing, the runout of this capture's slow roll, or what the setup keeps."""
        self._runner.cancel(KEY)
        self._notices.dismiss(KEY)
        if source == "measured":
            self._measure()
            return
        waves = {}
        setup = self._capture.setup
        if source == "kept" and setup is not None:
            from analysis.views.runout import kept_runout

            waves = kept_runout(setup)
        self._set("kept" if waves else "off", waves)

    def _measure(self) -> None:
        capture, setup, result = self._capture.capture, self._capture.setup, self._timeline.result
        if capture is None or setup is None or result is None or not self._timeline.complete:
            return
        table, at_rpm = result.table, self._run.now.slow_roll.at_rpm

        def work(progress: JobProgress) -> RunoutResult:
            from analysis.views.runout import measured_runout

            return measured_runout(capture, setup, table, at_rpm, progress)

        callbacks = Callbacks(result=self._measured, error=self._failed)
        self._runner.run(KEY, work, callbacks, title="Runout at slow roll")

    def _measured(self, found: RunoutResult) -> None:
        if found.refused:
            reasons = {doubt.sentence: None for doubt in found.refused.values()}
            what = f"Runout is not taken off {', '.join(found.refused)}"
            self._notices.show(Notice(KEY, "info", what, ". ".join(reasons)))
        self._set("measured" if found.waves else "off", dict(found.waves))

    def _set(self, source: RunoutSource, waves: dict) -> None:
        if source != self._source or waves != dict(self._choice.now.runout):
            self._source = source
            self._choice.set(runout=waves)
            self.changed.emit()

    def _setup_changed(self) -> None:
        """Other scale factors, other runout: only what the new setup keeps holds for it."""
        if self._source != "off":
            self.choose("kept")
        self.changed.emit()

    def _failed(self, failure: Failure) -> None:
        what = "Runout could not be measured"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))
