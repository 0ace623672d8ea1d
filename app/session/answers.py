"""The readers of the session: they watch what is wanted, ask the numbers, and hold the answers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, Signal

from analysis.views.moment_request import MomentRequest
from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner
from app.work.step import Step

from .calm import Calm
from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.results import RevolutionTable
    from analysis.views.moment import MomentResult
    from analysis.views.overview import CaptureOverview
    from analysis.views.timeline import TimelineResult

    from .capture_state import CaptureState
    from .choice_state import ChoiceState
    from .moment_state import MomentState

PAINTED_AFTER_MS = 40
"""By then a first picture stands, where nothing else is to be done."""

STAND_IN_TURN_S = 0.1
"""Where the speed is not known a block of 0.1 s stands for a turn (contract, section 5)."""


class MomentReader(QObject):
    """The answer to the newest moment: one request at a time, the newest wanted one next.

    `answered` comes with every answer, for pictures; `calm.passed` at a pace that figures can be
    read at, and always after the last answer. `settled` comes when a request has been dealt with,
    well or badly.
    """

    answered = Signal()
    settled = Signal()

    _LATER = "moment, at a pace to be read"

    def __init__(
        self,
        capture: CaptureState,
        moment: MomentState,
        choice: ChoiceState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._moment = moment
        self._choice = choice
        self._notices = notices
        self._columns = 800
        self._result: MomentResult | None = None
        self._overview: CaptureOverview | None = None
        self._table: RevolutionTable | None = None
        self._latest = Latest(runner, "moment", "Reading the moment", self._answer, self._failed)
        self.calm = Calm()
        self.answered.connect(self.calm.call)
        self._runner = runner
        self._closely = True
        self._pace = Calm()
        self._pace.passed.connect(self._ask_paced)
        capture.setup_changed.connect(self._start_over)
        moment.moved.connect(self._ask)
        moment.half_turns_changed.connect(self._ask)
        choice.changed.connect(self._ask)

    @property
    def result(self) -> MomentResult | None:
        """The newest answer; `None` while there is no capture with a setup."""
        return self._result

    def follow(self, closely: bool) -> None:
        """Whether pictures follow every moment; figures alone need no more than can be read.

        What is reckoned for pictures that nobody sees is taken from those that are in sight.
        """
        if closely != self._closely:
            self._closely = closely
            self._ask()

    def set_columns(self, columns: int) -> None:
        """How many pixel columns a waveform has: it gets no more than two points for each."""
        columns = max(100, (columns + 99) // 100 * 100)  # a resize is not a new request a pixel
        if columns != self._columns:
            self._columns = columns
            self._ask()

    def set_overview(self, overview: CaptureOverview | None) -> None:
        """What there is of the overview; an answer that lacked a part of it is asked for again."""
        self._overview = overview
        if self._result is not None and self._result.waits_for_overview:
            self._ask(again=True)

    def set_table(self, table: RevolutionTable | None) -> None:
        """What the pass has found so far: its revolutions need not be sought again."""
        self._table = table

    def _request(self) -> MomentRequest:
        choices = self._choice.now
        return MomentRequest(
            moment_s=self._moment.moment_s,
            half_turns=self._moment.half_turns,
            plane=choices.plane,
            probes=choices.probes,
            orbit_orders=choices.orbit_orders,
            spectrum=choices.spectrum,
            columns=self._columns,
            speed_rpm=choices.speed_rpm,
            waveform_s=choices.waveform_s,
            waveform_place=choices.waveform_place,
            runout=choices.runout,
        )

    def _start_over(self) -> None:
        self._latest.drop()
        self._table = None
        self._notices.dismiss("moment")
        if self._result is not None:
            self._result = None
            self.answered.emit()
        self._put()

    def _ask(self, *_changed: object, again: bool = False) -> None:
        if self._closely or again:
            self._put(again)
        else:
            self._runner.expect(self._LATER)
            self._pace.call()

    def _ask_paced(self) -> None:
        self._runner.expect(self._LATER, False)
        self._put()

    def _put(self, again: bool = False) -> None:
        capture, setup, overview = self._capture.capture, self._capture.setup, self._overview
        if capture is None or setup is None:
            return
        request = self._request()
        if again or self._result is None or self._result.request != request:
            turn_s, table = self._last_turn_s(), self._table

            def work(progress: JobProgress) -> MomentResult:
                # Here and not above, as in every reader: the window stands before the numbers.
                from analysis.views.moment import answer_moment

                return answer_moment(capture, setup, request, progress, overview, turn_s, table)

            self._latest.ask(work)

    def _last_turn_s(self) -> float | None:
        """Length of a turn in the last answer: the next moment is mostly not far."""
        speed = self._result.readings.speed.mean_rpm if self._result is not None else None
        return 60.0 / speed if speed else None

    def _answer(self, result: MomentResult) -> None:
        self._result = result
        self._notices.dismiss("moment")
        self.answered.emit()
        self.settled.emit()

    def _failed(self, failure: Failure) -> None:
        what = f"The moment {self._moment.moment_s:.2f} s could not be read"
        self._notices.show(notice_of_error("moment", what, failure.error, failure.trace))
        self.settled.emit()


class TimelineReader(QObject):
    """The pass over the whole capture: fills while it runs, can be stopped and taken up again.

    It starts when the first moment has been answered and painted: side by side the two would share
    the interpreter's lock, and who opened the capture would wait for the first picture as long as
    for the pass.
    """

    changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        choice: ChoiceState,
        reader: MomentReader,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._choice = choice
        self._reader = reader
        self._runner = runner
        self._notices = notices
        self._result: TimelineResult | None = None
        self._complete = False
        self._waiting = False
        self._starting = Step(self, PAINTED_AFTER_MS, self.start)
        capture.setup_changed.connect(self._start_over)
        reader.settled.connect(self._start_when_waiting)
        choice.changed.connect(self._choice_changed)

    @property
    def result(self) -> TimelineResult | None:
        """What the pass has found so far."""
        return self._result

    @property
    def complete(self) -> bool:
        """True when the pass has reached the end of the capture."""
        return self._complete

    @property
    def running(self) -> bool:
        """True while the pass runs, or is about to."""
        return self._waiting or self._runner.is_running("timeline")

    def _start_over(self) -> None:
        self._cancel()
        self._waiting = self._capture.setup is not None
        self._set(None, complete=False)

    def _start_when_waiting(self) -> None:
        if self._waiting:
            self._runner.expect("timeline")
            self._starting.start()

    def _cancel(self) -> None:
        self._starting.stop()
        self._runner.expect("timeline", False)
        self._runner.cancel("timeline")

    def start(self) -> None:
        """Run the pass (again)."""
        self._cancel()
        self._waiting = False
        self._set(None, complete=False)
        capture, setup = self._capture.capture, self._capture.setup
        if capture is None or setup is None or not setup.probe:
            return
        speed_rpm = self._choice.now.speed_rpm

        def work(progress: JobProgress) -> TimelineResult:
            from analysis.files.overview_cache import OverviewCache
            from analysis.views.timeline import answer_timeline

            return answer_timeline(
                capture,
                setup,
                speed_rpm=speed_rpm,
                progress=progress,
                partial=progress.partial,
                cache=OverviewCache(),
            )

        callbacks = Callbacks(
            result=lambda result: self._set(result, complete=True),
            partial=lambda result: self._set(result, complete=False),
            error=self._failed,
            cancelled=self.changed.emit,
        )
        self._runner.run("timeline", work, callbacks, title="Pass over the capture")

    def turn_at(self, moment_s: float) -> float:
        """Length of a turn there, s; 0.1 s where it is not known."""
        result = self._result
        if result is None or not len(result.time_s):
            return STAND_IN_TURN_S
        nearest = int(np.argmin(np.abs(result.time_s - moment_s)))
        speed = float(result.speed_rpm[nearest])
        return 60.0 / speed if np.isfinite(speed) and speed > 0.0 else STAND_IN_TURN_S

    def largest_at(self, probe: str | None = None) -> float | None:
        """Time, s, of the largest p-p of a probe (of all of them by default); `None`: not known."""
        result = self._result
        if result is None:
            return None
        names = list(result.peak_to_peak_um) if probe is None else [probe]
        best: tuple[float, float] | None = None
        for name in names:
            values = result.peak_to_peak_um.get(name)
            if values is None or not np.isfinite(values).any():
                continue
            index = int(np.nanargmax(values))
            if best is None or values[index] > best[0]:
                best = (float(values[index]), float(result.time_s[index]))
        return best[1] if best else None

    def _choice_changed(self, names: frozenset[str]) -> None:
        if "speed_rpm" in names:
            self._start_over()

    def _set(self, result: TimelineResult | None, *, complete: bool) -> None:
        self._result = result
        self._complete = complete
        self._reader.set_table(result.table if result is not None else None)
        self.changed.emit()

    def _failed(self, failure: Failure) -> None:
        self.changed.emit()
        notice = notice_of_error(
            "timeline", "The pass over the capture stopped", failure.error, failure.trace
        )
        self._notices.show(notice)
