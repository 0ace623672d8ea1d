"""The answer to "where does the shaft sit": asked for while a page wants it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QObject, Signal

from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .calm import Calm
from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.results import RevolutionTable
    from analysis.model.setup import Setup
    from analysis.views.position import CapturePosition, PositionRequest, PositionResult

    from .answers import TimelineReader
    from .capture_state import CaptureState
    from .choice_state import ChoiceState
    from .display_state import UnitState
    from .moment_state import MomentState
    from .span_state import SpanState

    _Answer = tuple[PositionResult, CapturePosition | None]

WHOLE_KEY, KEY = "capture position", "position"

Phase = Literal["idle", "passing", "stopped", "looking", "cut", "failed", "ready"]
"""`passing`: the pass over the capture runs; `stopped`: it was stopped; `looking`: what the whole
capture tells is being worked out; `cut`: that was stopped. Until `ready` answers are of the moment
alone."""


class PositionReader(QObject):
    """What the whole capture tells is made once from its revolutions; the rest at every moment.

    `answered` comes with every answer, for pictures; `calm.passed` at a pace that words can be read
    at, and always after the last answer.
    """

    answered = Signal()
    phase_changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        timeline: TimelineReader,
        moment: MomentState,
        span: SpanState,
        choice: ChoiceState,
        unit: UnitState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._timeline = timeline
        self._moment = moment
        self._span = span
        self._choice = choice
        self._unit = unit
        self._runner = runner
        self._notices = notices
        self._wanting: set[str] = set()
        self._phase: Phase = "idle"
        self._table: RevolutionTable | None = None
        self._setup: Setup | None = None
        self._whole: CapturePosition | None = None
        self._result: PositionResult | None = None
        self._answered_whole: CapturePosition | None = None
        self._latest = Latest(runner, KEY, "Looking at positions", self._answer, self._failed)
        self.calm = Calm()
        self.answered.connect(self.calm.call)
        timeline.changed.connect(self._look)
        moment.moved.connect(self._ask)
        moment.half_turns_changed.connect(self._ask)
        span.changed.connect(self._ask)
        unit.changed.connect(self._ask)

    @property
    def result(self) -> PositionResult | None:
        """The newest answer; `None` while there is none of this capture and setup."""
        return self._result

    @property
    def table(self) -> RevolutionTable | None:
        """The revolutions that the answers are made of; `None` until all of them are there."""
        return self._whole.table if self._whole is not None else None

    @property
    def phase(self) -> Phase:
        """Where the answer stands."""
        return self._phase

    @property
    def wanted(self) -> bool:
        """Whether somebody looks at the answers."""
        return bool(self._wanting)

    def want(self, wanted: bool, by: str) -> None:
        """Answer from now on, or no more once no page wants it; what has been answered is kept."""
        before = self.wanted
        (self._wanting.add if wanted else self._wanting.discard)(by)
        if self.wanted and not before:
            self._look()

    def _look(self) -> None:
        """Look at the whole capture when there are new revolutions to look at."""
        timeline, setup = self._timeline.result, self._capture.setup
        if setup is not self._setup or (
            self._table is not None and (timeline is None or self._table is not timeline.table)
        ):
            self._forget(setup)
        if not self.wanted or self._capture.capture is None or setup is None:
            self._set_phase("idle")
            return
        if timeline is None or not self._timeline.complete:
            self._set_phase("passing" if self._timeline.running else "stopped")
            if self._result is None:
                self._ask()
        elif self._whole is not None:
            self._ask()
        elif not self._runner.is_running(WHOLE_KEY):
            self._start(self._capture.capture, setup, timeline.table)

    def _start(self, capture: Capture, setup: Setup, table: RevolutionTable) -> None:
        def work(progress: JobProgress) -> CapturePosition:
            # Here and not above: the window stands before these are loaded.
            from analysis.views.position import capture_position

            return capture_position(capture, setup, table, progress)

        self._table = table
        self._set_phase("looking")
        callbacks = Callbacks(
            result=self._looked, error=self._failed, cancelled=lambda: self._set_phase("cut")
        )
        self._runner.run(WHOLE_KEY, work, callbacks, title="Looking at positions")

    def _looked(self, whole: CapturePosition) -> None:
        self._whole = whole
        self._ask()

    def _forget(self, setup: Setup | None) -> None:
        """Of another capture, setup or speed."""
        self._setup = setup
        self._table = None
        self._whole = None
        self._latest.drop()
        self._runner.cancel(WHOLE_KEY)
        self._set_phase("idle")
        self._notices.dismiss(KEY)
        if self._result is not None:
            self._result = None
            self.answered.emit()

    def _request(self) -> PositionRequest:
        from analysis.views.position import PositionRequest

        return PositionRequest(
            moment_s=self._moment.moment_s,
            half_turns=self._moment.half_turns,
            span=self._span.span,
            speed_rpm=self._choice.now.speed_rpm,
            unit=self._unit.unit,
        )

    def _ask(self, *_changed: object) -> None:
        capture, setup, whole = self._capture.capture, self._capture.setup, self._whole
        if not self.wanted or capture is None or setup is None or setup is not self._setup:
            return
        if not setup.probe:
            return
        request = self._request()
        known = self._result is not None and self._answered_whole is whole
        if known and self._result is not None and self._result.request == request:
            return

        def work(_progress: JobProgress) -> _Answer:
            from analysis.views.position import answer_position

            return answer_position(capture, setup, request, whole), whole

        self._latest.ask(work)

    def _answer(self, answer: _Answer) -> None:
        self._result, self._answered_whole = answer
        self._notices.dismiss(KEY)
        if self._answered_whole is not None:
            self._set_phase("ready")
        self.answered.emit()

    def _failed(self, failure: Failure) -> None:
        what = "The positions could not be worked out"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))
        self._set_phase("failed")

    def _set_phase(self, phase: Phase) -> None:
        if phase != self._phase:
            self._phase = phase
            self.phase_changed.emit()
