"""The Lab's rotor: its figures, the speed looked at, and what comes of them."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from analysis.simulate.rotor_view import (
    RotorAnswer,
    RotorMoment,
    RotorRequest,
    RunAnswer,
    answer_rotor,
    answer_run,
    rotor_at,
)
from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.setup import Rotation
    from analysis.simulate.rotor_model import Rotor
    from analysis.simulate.rotor_sweep import Sweep

    from .rotor_fields import RotorField

FRAME_MS = 15
REST_MS = 150
"""Critical speeds are looked for when the hand rests: beside a drag they would take its frames."""
FIRST_SPEED_RPM = 2800.0


class RotorLab(QObject):
    """Owner of the rotor. `changed()` at once, `drawn_anew(fit)` once a frame.

    The curves and the motion at one speed take a millisecond, here; critical speeds and the
    threshold of stability come after, from another thread. `running_changed()` with a run in time.
    """

    changed = Signal()
    drawn_anew = Signal(bool)
    refused = Signal(str)
    running_changed = Signal()

    def __init__(self, runner: JobRunner, notices: NoticeState) -> None:
        super().__init__()
        self._runner, self._notices = runner, notices
        self._request = RotorRequest()
        self._speed_rpm = FIRST_SPEED_RPM
        self._answer: RotorAnswer | None = None
        self._run: RunAnswer | None = None
        self._running = False
        self._watched = False
        self._whole = Latest(runner, "rotor", "Critical speeds of the rotor", self._answered)
        self._moment: tuple[RotorRequest, RotorMoment] | None = None
        self._told_at = 0.0
        self._frame = _once(self, self._tell)
        self._rest = _once(self, self._ask)

    @property
    def request(self) -> RotorRequest:
        """The rotor and its run."""
        return self._request

    @property
    def rotor(self) -> Rotor:
        """The rotor's figures."""
        return self._request.rotor

    @property
    def sweep(self) -> Sweep:
        """The speeds of the run."""
        return self._request.run

    @property
    def speed_rpm(self) -> float:
        """The speed looked at."""
        return self._speed_rpm

    @property
    def answer(self) -> RotorAnswer:
        """The response; complete as soon as that is known."""
        if self._answer is None or self._answer.request is not self._request:
            self._answer = answer_rotor(self._request, quick=True)
        return self._answer

    @property
    def moment(self) -> RotorMoment:
        """The rotor at the speed looked at."""
        known = self._moment
        if known is None or known[0] is not self._request or known[1].speed_rpm != self._speed_rpm:
            self._moment = known = (self._request, rotor_at(self._request, self._speed_rpm))
        return known[1]

    @property
    def run(self) -> RunAnswer | None:
        """The run in time, while it is of the rotor as it is."""
        known = self._run is not None and self._run.request is self._request
        return self._run if known else None

    @property
    def running(self) -> bool:
        """Whether a run in time is being worked out."""
        return self._running

    def is_drawing(self) -> bool:
        """Whether the pictures are to be drawn anew in a moment."""
        return self._frame.isActive()

    def set_watched(self, watched: bool) -> None:
        """Whether somebody looks: nobody else wants an answer."""
        self._watched = watched
        if watched:
            self._rest.start(REST_MS)

    def set_field(self, field: RotorField, value: float) -> None:
        """Another value of one number of the rotor."""
        try:
            rotor = field.put(self.rotor, value)
        except ValueError as error:
            self.refused.emit(f"{error}."[:1].upper() + f"{error}."[1:])
            self.changed.emit()
            return
        self.refused.emit("")
        if rotor != self.rotor:
            self._take(replace(self._request, rotor=rotor))

    def set_rotation(self, rotation: Rotation) -> None:
        """Let the rotor turn the other way."""
        if rotation != self.rotor.rotation:
            self._take(replace(self._request, rotor=replace(self.rotor, rotation=rotation)))

    def set_sweep(self, **parts: float) -> None:
        """Other ends or another length of the run."""
        try:
            run = replace(self.sweep, **parts)
        except ValueError as error:
            self.refused.emit(f"{error}."[:1].upper() + f"{error}."[1:])
            self.changed.emit()
            return
        if run.from_rpm == run.to_rpm:
            self.refused.emit("The run must end at another speed than it begins with.")
            self.changed.emit()
            return
        self.refused.emit("")
        if run != self.sweep:
            self._take(replace(self._request, run=run))

    def set_speed(self, speed_rpm: float) -> None:
        """Look at another speed."""
        if speed_rpm != self._speed_rpm:
            self._speed_rpm = speed_rpm
            self._say()

    def start_run(self) -> None:
        """Run the rotor through its speeds in time."""
        request = self._request
        self._set_running(True)

        def work(progress: JobProgress) -> RunAnswer:
            return answer_run(request, progress)

        def done(answer: RunAnswer) -> None:
            self._run = answer
            self._set_running(False)
            self._say()

        def failed(failure: Failure) -> None:
            self._set_running(False)
            what = "The rotor could not be run"
            self._notices.show(notice_of_error("lab", what, failure.error, failure.trace))

        calls = Callbacks(result=done, error=failed, cancelled=lambda: self._set_running(False))
        self._runner.run("rotor run", work, calls, title="Running the rotor")

    def stop_run(self) -> None:
        """Leave it."""
        self._runner.cancel("rotor run")
        self._set_running(False)

    def _set_running(self, running: bool) -> None:
        if running != self._running:
            self._running = running
            self.running_changed.emit()

    def _take(self, request: RotorRequest) -> None:
        self._request = request
        if self._running:
            self.stop_run()
        self._say()
        self._rest.start(REST_MS)

    def _say(self) -> None:
        self.changed.emit()
        if not self._frame.isActive():
            # From the last frame on, not from now: drawing takes a good part of one.
            passed_ms = round(1000.0 * (time.monotonic() - self._told_at))
            self._frame.start(max(FRAME_MS - passed_ms, 0))

    def _ask(self) -> None:
        request = self._request
        known = self._answer is not None and self._answer.request is request
        if self._watched and not (known and self._answer.complete):
            self._whole.ask(lambda progress: answer_rotor(request, progress))

    def _answered(self, answer: RotorAnswer) -> None:
        if answer.request is self._request:
            self._answer = answer
            self._say()

    def _tell(self) -> None:
        self._told_at = time.monotonic()
        self.drawn_anew.emit(False)


def _once(parent: QObject, then: Callable[[], None]) -> QTimer:
    timer = QTimer(parent)
    timer.setSingleShot(True)
    timer.timeout.connect(then)
    return timer
