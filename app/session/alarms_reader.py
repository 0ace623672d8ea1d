"""The answer to "what would the alarms have done": asked for while a page wants it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QObject, Signal

from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .calm import Calm
from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.replay_results import MonitorSeries, ReplayResult
    from analysis.model.results import RevolutionTable
    from analysis.model.setup import Setup
    from analysis.views.alarms import AlarmsResult

    from .answers import TimelineReader
    from .capture_state import CaptureState
    from .display_state import UnitState
    from .other_captures import OtherCaptures
    from .reset_state import ResetState
    from .trial_state import TrialState

SERIES_KEY, KEY = "monitor", "alarms"

Phase = Literal["idle", "passing", "stopped", "taking", "cut", "failed", "ready"]
"""`passing`: the pass over the capture runs; `stopped`: it was stopped; `taking`: the measures
are being taken from its revolutions; `cut`: that was stopped."""


class AlarmsReader(QObject):
    """Takes the measures of a capture once, and replays them at every change of a setting.

    The measures are made of the revolution table that the pass over the capture gives, so nothing
    is read twice. `answered` comes with every answer, for pictures; `calm.passed` at a pace that
    lists can be read at, and always after the last answer.
    """

    answered = Signal()
    phase_changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        timeline: TimelineReader,
        trial: TrialState,
        resets: ResetState,
        others: OtherCaptures,
        unit: UnitState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._timeline = timeline
        self._trial = trial
        self._resets = resets
        self._others = others
        self._unit = unit
        self._runner = runner
        self._notices = notices
        self._wanted = False
        self._phase: Phase = "idle"
        self._table: RevolutionTable | None = None
        self._series: MonitorSeries | None = None
        self._result: AlarmsResult | None = None
        self._latest = Latest(runner, KEY, "Replaying the limits", self._answer, self._failed)
        self.calm = Calm()
        self.answered.connect(self.calm.call)
        timeline.changed.connect(self._look)
        trial.changed.connect(self._ask)
        trial.chosen_changed.connect(self._ask)
        resets.changed.connect(self._ask)
        others.changed.connect(self._ask)
        unit.changed.connect(self._ask)

    @property
    def result(self) -> AlarmsResult | None:
        """The newest answer; `None` while there is none of this capture and setup."""
        return self._result

    @property
    def series(self) -> MonitorSeries | None:
        """The measures that the limits look at; `None` until they have been taken."""
        return self._series

    @property
    def phase(self) -> Phase:
        """Where the answer stands."""
        return self._phase

    @property
    def wanted(self) -> bool:
        """Whether somebody looks at the answers."""
        return self._wanted

    def want(self, wanted: bool) -> None:
        """Answer from now on, or no more; what has been answered is kept."""
        if wanted != self._wanted:
            self._wanted = wanted
            if wanted:
                self._look()

    def _look(self) -> None:
        """Take the measures when there are new revolutions to take them from."""
        result = self._timeline.result
        if result is None or self._table is not result.table:
            self._forget()
        if not self._wanted or self._capture.capture is None or self._capture.setup is None:
            self._set_phase("idle")
        elif result is None or not self._timeline.complete:
            self._set_phase("passing" if self._timeline.running else "stopped")
        elif self._series is not None:
            self._ask()
        elif not self._runner.is_running(SERIES_KEY):
            self._take(self._capture.capture, self._capture.setup, result.table)

    def _take(self, capture: Capture, setup: Setup, table: RevolutionTable) -> None:
        def work(progress: JobProgress) -> MonitorSeries:
            # Here and not above: the window stands before the logic is loaded.
            from analysis.protection.monitor import monitor_series

            return monitor_series(capture, setup, table, progress=progress)

        self._table = table
        self._set_phase("taking")
        callbacks = Callbacks(
            result=self._taken, error=self._failed, cancelled=lambda: self._set_phase("cut")
        )
        self._runner.run(SERIES_KEY, work, callbacks, title="Measures every 0.1 s")

    def _taken(self, series: MonitorSeries) -> None:
        self._series = series
        self._ask()

    def _forget(self) -> None:
        """Of another capture, setup or speed."""
        if self._table is None:
            return
        self._table = None
        self._series = None
        self._latest.drop()
        self._runner.cancel(SERIES_KEY)
        self._set_phase("idle")
        self._notices.dismiss(KEY)
        if self._result is not None:
            self._result = None
            self.answered.emit()

    def _ask(self) -> None:
        series, setup, capture = self._series, self._trial.in_force, self._capture.capture
        if not self._wanted or series is None or setup is None or capture is None:
            return
        resets_s, trial, chosen = self._resets.times_s, self._trial.setup, self._trial.chosen
        name, others, unit = capture.name, self._others.series, self._unit.unit

        def work(_progress: JobProgress) -> AlarmsResult:
            from analysis.views.alarms import AlarmsRequest, answer_alarms

            request = AlarmsRequest(
                resets_s=resets_s,
                trial=trial,
                limit_index=chosen,
                unit=unit,
                name=name,
                others=others,
            )
            return answer_alarms(series, setup, request)

        self._latest.ask(work)

    def _answer(self, result: AlarmsResult) -> None:
        self._notices.dismiss(KEY)
        if self._trial.chosen is None and result.in_force.setup.limit:
            # Asks again, for this limit's boundary: that answer is the first one to be drawn.
            self._trial.choose(telling_limit(result.in_force))
            return
        self._result = result
        self._set_phase("ready")
        self.answered.emit()

    def _failed(self, failure: Failure) -> None:
        what = "The limits could not be replayed"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))
        self._set_phase("failed")

    def _set_phase(self, phase: Phase) -> None:
        if phase != self._phase:
            self._phase = phase
            self.phase_changed.emit()


def telling_limit(replay: ReplayResult) -> int:
    """The limit to look at first: the first trip that acted, else the first alarm, else any."""
    acted = [e.index for e in replay.events if e.event == "set" and e.index is not None]
    for level in ("trip", "alarm"):
        for index in acted:
            if replay.setup.limit[index].level == level:
                return index
    return 0
