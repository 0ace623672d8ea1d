"""The answers of the Run page: vectors at once, critical speeds when they have been looked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QObject, Signal

from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.response_results import ResponseResult, ResponseTable
    from analysis.model.setup import Setup
    from analysis.views.response import SlowRollChoice
    from analysis.views.run import RunResult, RunSource

    from .answers import TimelineReader
    from .capture_state import CaptureState
    from .run_state import RunChoices, RunState, SlowRollWish

POINTS, CRITICALS, FILTER = "run", "response", "order filter"

Phase = Literal["idle", "passing", "stopped", "filtering", "ready", "unphased", "failed"]
"""`passing`: the pass over the capture runs; `unphased`: there is no phase reference."""


class RunReader(QObject):
    """Asks while a page wants it, of the revolutions of the capture or of a table that was opened.

    `answered`: other points or curves; `found`: critical speeds have been looked for (`response` is
    `None` while that runs). `source_changed`: another capture, setup or table.
    """

    answered = Signal()
    found = Signal()
    phase_changed = Signal()
    source_changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        timeline: TimelineReader,
        state: RunState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._timeline = timeline
        self._state = state
        self._runner = runner
        self._notices = notices
        self._wanted = False
        self._phase: Phase = "idle"
        self._columns = 600
        self._opened_table: ResponseTable | None = None
        self._source: RunSource | None = None
        self._filtered: tuple[float, ResponseTable] | None = None
        self._result: RunResult | None = None
        self._other: tuple[RunSource, Setup | None] | None = None
        self._other_result: RunResult | None = None
        self._response: ResponseResult | None = None
        self._response_for: object = None
        self._latest = Latest(runner, POINTS, "Vectors of the run", self._answer, self._failed)
        timeline.changed.connect(self._look)
        capture.changed.connect(self._drop_table)
        state.changed.connect(self._choices_changed)

    # What there is -------------------------------------------------------------------------------

    @property
    def result(self) -> RunResult | None:
        """Points and curves; `None` while there are none of this capture or table."""
        return self._result

    @property
    def other_result(self) -> RunResult | None:
        """Points and curves of the run that is laid over."""
        return self._other_result

    @property
    def response(self) -> ResponseResult | None:
        """Critical speeds of every probe and plane; `None` until they have been looked for."""
        return self._response

    @property
    def phase(self) -> Phase:
        """Where the answer stands."""
        return self._phase

    @property
    def looking(self) -> bool:
        """Whether critical speeds are being looked for."""
        return self._runner.is_running(CRITICALS)

    @property
    def vectors(self) -> RunSource | None:
        """What vectors are taken from: the order filter's where that is chosen."""
        width = self._state.now.bandwidth_hz
        if width is not None and self._filtered is not None and self._filtered[0] == width:
            return self._filtered[1]
        return self._source

    @property
    def table(self) -> ResponseTable | None:
        """The table that was opened in place of a capture."""
        return self._opened_table

    @property
    def setup(self) -> Setup | None:
        """The setup that goes with what is shown."""
        return self._capture.setup

    @property
    def name(self) -> str:
        """Name of the capture or table."""
        if self._opened_table is not None:
            return self._opened_table.name
        return self._capture.capture.name if self._capture.capture is not None else ""

    # What the others call ------------------------------------------------------------------------

    def want(self, wanted: bool) -> None:
        """Answer from now on, or no more; what has been answered is kept."""
        if wanted != self._wanted:
            self._wanted = wanted
            if wanted:
                self._look()

    def set_columns(self, columns: int) -> None:
        """How many pixel columns the widest picture has."""
        columns = max(200, (columns + 199) // 200 * 200)
        if columns != self._columns:
            self._columns = columns
            self._ask()

    def lay_under(self, other: tuple[RunSource, Setup | None] | None) -> None:
        """Answer for another run as well; `None`: for no other."""
        if other is not self._other:
            self._other = other
            self._other_result = None
            self._ask()

    def open_table(self, table: ResponseTable | None) -> None:
        """Show a table of vectors in place of the capture; `None`: the capture again."""
        if table is not self._opened_table:
            self._opened_table = table
            self._forget()
            self._state.forget()
            self._state.set(bandwidth_hz=None)
            self.source_changed.emit()
            self._look()

    # Asking --------------------------------------------------------------------------------------

    def _drop_table(self) -> None:
        self._state.forget()
        if self._opened_table is not None:
            self._opened_table = None
            self._forget()
        self.source_changed.emit()

    def _look(self) -> None:
        source = self._source_now()
        if source is not self._source:
            self._forget()
            self._source = source
            self.source_changed.emit()
        if not self._wanted:
            return
        if source is None:
            running = self._timeline.running
            there = self._capture.capture is not None and self._capture.setup is not None
            self._set_phase(("passing" if running else "stopped") if there else "idle")
            return
        if not _is_table(source) and source.kind != "events":
            self._set_phase("unphased")
            return
        if not self._filter(self._state.now):
            self._ask()
            self._find()

    def _source_now(self) -> RunSource | None:
        if self._opened_table is not None:
            return self._opened_table
        result = self._timeline.result
        if result is None or not self._timeline.complete or self._capture.setup is None:
            return None
        return result.table

    def _filter(self, now: RunChoices) -> bool:
        """Start the order filter where it is wanted and has not run; whether it is waited for."""
        width, source = now.bandwidth_hz, self._source
        if width is None or source is None or _is_table(source):
            return False
        if self._filtered is not None and self._filtered[0] == width:
            return False
        capture, setup = self._capture.capture, self._capture.setup
        if capture is None or setup is None:
            return False

        def work(progress: JobProgress) -> ResponseTable:
            from analysis.views.run import filtered_table, orders_of

            return filtered_table(
                capture, setup, orders=orders_of(source), bandwidth_hz=width, progress=progress
            )

        def done(table: ResponseTable) -> None:
            self._filtered = (width, table)
            self._look()

        callbacks = Callbacks(
            result=done, error=self._failed, cancelled=lambda: self._set_phase("stopped")
        )
        self._set_phase("filtering")
        self._runner.run(FILTER, work, callbacks, title="Order filter")
        return True

    def _ask(self) -> None:
        source, setup, now = self.vectors, self._capture.setup, self._state.now
        if not self._wanted or source is None or self._phase == "unphased":
            return
        columns, other = self._columns, self._other

        def work(_progress: JobProgress) -> tuple[RunResult, RunResult | None]:
            from analysis.views.run import RunRequest, SlowRollChoice, answer_run

            request = RunRequest(now.order, now.axis, columns, _slow_roll(now.slow_roll, now.order))
            found = answer_run(source, setup, request)
            if other is None:
                return found, None
            # Its own slow roll: what was typed here, or read at a speed, is of this run.
            own = SlowRollChoice(now.slow_roll.take_off)
            return found, answer_run(*other, replace(request, slow_roll=own), found)

        self._latest.ask(work)

    def _find(self) -> None:
        """Look for critical speeds, unless they have been looked for with these choices."""
        source, setup, now = self.vectors, self._capture.setup, self._state.now
        if not self._wanted or source is None:
            return
        wanted = (
            id(source),
            id(setup),
            now.slow_roll,
            tuple(now.slow_roll.vectors.items()),
            now.smoothing_turns,
            now.operating_rpm,
        )
        if wanted == self._response_for:
            return
        self._response_for = wanted
        work = self.response_work(source, planes=True)
        callbacks = Callbacks(
            result=self._found, partial=self._found, error=self._failed, cancelled=self._cut
        )
        self._runner.run(CRITICALS, work, callbacks, title="Critical speeds")
        if self._response is not None:
            self._response = None
            self.found.emit()

    def response_work(
        self, source: RunSource, order: int = 1, *, planes: bool
    ) -> Callable[[JobProgress], ResponseResult]:
        """What a worker is to do for the response of an order, with the choices as they stand.

        Without `planes` the vectors of the probes alone, as another run is compared with: nothing
        that stands beside the plain figures, and no part of the answer before the whole.
        """
        name, setup, now = self.name, self._capture.setup, self._state.now

        def work(progress: JobProgress) -> ResponseResult:
            from analysis.views.response import (
                ResponseRequest,
                answer_response,
                answer_table_response,
            )

            request = ResponseRequest(
                order,
                slow_roll=_slow_roll(now.slow_roll, order),
                operating_rpm=now.operating_rpm,
                smoothing_turns=now.smoothing_turns if planes else 1,
                planes=planes,
            )
            partial = progress.partial if planes else None
            if _is_table(source):
                return answer_table_response(source, setup, request, progress, partial)
            assert setup is not None
            return answer_response(name, source, setup, request, progress, partial)

        return work

    def _choices_changed(self, names: frozenset[str]) -> None:
        if names & {"bandwidth_hz"}:
            self._look()
            return
        if names & {"order", "axis", "slow_roll"}:
            self._ask()
        if names & {"slow_roll", "smoothing_turns", "operating_rpm"}:
            self._find()

    # Answers -------------------------------------------------------------------------------------

    def _answer(self, results: tuple[RunResult, RunResult | None]) -> None:
        self._result, self._other_result = results
        self._notices.dismiss(POINTS)
        self._set_phase("ready")
        self.answered.emit()

    def _found(self, response: ResponseResult) -> None:
        self._response = response
        self.found.emit()

    def _cut(self) -> None:
        self._response_for = None
        self.found.emit()

    def _forget(self) -> None:
        """Of another capture, setup or table."""
        self._source = None
        self._filtered = None
        self._response_for = None
        self._latest.drop()
        for key in (CRITICALS, FILTER):
            self._runner.cancel(key)
        self._set_phase("idle")
        if self._result is not None:
            self._result = None
            self.answered.emit()
        if self._response is not None:
            self._response = None
            self.found.emit()

    def _failed(self, failure: Failure) -> None:
        what = "The run could not be worked out"
        self._notices.show(notice_of_error(POINTS, what, failure.error, failure.trace))
        self._set_phase("failed")
        self.found.emit()

    def _set_phase(self, phase: Phase) -> None:
        if phase != self._phase:
            self._phase = phase
            self.phase_changed.emit()


def _slow_roll(wish: SlowRollWish, order: int) -> SlowRollChoice:
    """What is wished, of one order."""
    from analysis.views.response import SlowRollChoice

    vectors = {name: vector for (name, of), vector in wish.vectors.items() if of == order}
    return SlowRollChoice(wish.take_off, wish.at_rpm, vectors)


def _is_table(source: RunSource) -> bool:
    """Whether it is a table of vectors that was opened, and not the revolutions of a capture."""
    from analysis.model.response_results import ResponseTable

    return isinstance(source, ResponseTable)
