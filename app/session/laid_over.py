"""A second run that is laid over the first: last year's coast-down against today's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from analysis.model.errors import InputError
from analysis.model.response_results import Overlay, ResponseResult
from analysis.model.setup import Setup
from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .capture_state import CaptureState
from .notices import NoticeState, notice_of_error
from .run_reader import RunReader
from .run_state import RunState

if TYPE_CHECKING:
    from analysis.views.run import RunSource

KEY, DIFFERENCE = "laid over", "difference"


@dataclass(frozen=True, eq=False)
class OtherRun:
    """Vectors of another capture or table, and the response that was found in them."""

    name: str
    source: RunSource
    setup: Setup | None
    response: ResponseResult


class LaidOver(QObject):
    """Reads another capture of the machine once and lets its file go again."""

    changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        run: RunReader,
        state: RunState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._state = state
        self._runner = runner
        self._notices = notices
        self._run = run
        self._other: OtherRun | None = None
        self._overlays: Mapping[str, Overlay] = {}
        self._latest = Latest(runner, DIFFERENCE, "Difference of two runs", self._compared)
        capture.changed.connect(self.clear)
        run.found.connect(self._compare)

    @property
    def other(self) -> OtherRun | None:
        """What is laid over; `None` for nothing."""
        return self._other

    @property
    def overlays(self) -> Mapping[str, Overlay]:
        """How far this run lies from the other, by probe."""
        return self._overlays

    def lay(self, path: Path) -> None:
        """Read a capture or a table of vectors, and lay it over."""
        setup, take_off = self._capture.setup, self._state.now.slow_roll.take_off
        self._notices.dismiss(KEY)

        def work(progress: JobProgress) -> OtherRun:
            return read_run(Path(path), setup, take_off=take_off, progress=progress)

        callbacks = Callbacks(result=self._set, error=self._failed)
        self._runner.run(KEY, work, callbacks, title=f"Run of {Path(path).name}")

    def clear(self) -> None:
        """Lay nothing over."""
        self._runner.cancel(KEY)
        self._set(None)

    def _set(self, other: OtherRun | None) -> None:
        if other is not self._other:
            self._other = other
            self._overlays = {}
            self._run.lay_under(None if other is None else (other.source, other.setup))
            self.changed.emit()
            self._compare()

    def _compare(self) -> None:
        other, now, setup = self._other, self._run.response, self._capture.setup
        if other is None or now is None:
            return

        def work(_progress: JobProgress) -> dict[str, Overlay]:
            from analysis.views.run import differences

            return differences(other.response, now, setup)

        self._latest.ask(work)

    def _compared(self, overlays: dict[str, Overlay]) -> None:
        self._overlays = overlays
        self.changed.emit()

    def _failed(self, failure: Failure) -> None:
        what = "The other run could not be read"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))


def read_run(path: Path, setup: Setup | None, *, take_off: bool, progress: JobProgress) -> OtherRun:
    """The response of another capture (with its own setup, else the given one) or of a table.

    Raises:
        InputError: when it cannot be read, has no setup or no phase reference.
    """
    from analysis.files.open import open_capture
    from analysis.files.overview_cache import OverviewCache
    from analysis.files.response_table import looks_like_response_table, read_response_table
    from analysis.jobs import Part
    from analysis.views.response import (
        ResponseRequest,
        SlowRollChoice,
        answer_response,
        answer_table_response,
    )
    from analysis.views.timeline import answer_timeline

    from .opening import with_setup

    request = ResponseRequest(slow_roll=SlowRollChoice(take_off), smoothing_turns=1, planes=False)
    if looks_like_response_table(path):
        table = read_response_table(path)
        found = answer_table_response(table, setup, request, progress)
        return OtherRun(path.name, table, setup, found)
    capture = open_capture(path, progress=progress)
    try:
        own = with_setup(capture, None).setup or setup
        if own is None:
            raise InputError(f"{path.name}: it has no setup that says what its channels are")
        first, second = Part(progress, 0.0, 0.4), Part(progress, 0.4, 1.0)
        revolutions = answer_timeline(capture, own, progress=first, cache=OverviewCache()).table
        found = answer_response(path.name, revolutions, own, request, second)
        return OtherRun(path.name, revolutions, own, found)
    finally:
        capture.close()
