"""A second run that is laid over the first: last year's coast-down against today's."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from analysis.model.errors import InputError
from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.response_results import Doubt, Overlay, ResponseResult
    from analysis.model.setup import Setup
    from analysis.views.two_runs import OtherRun, TwoRuns

    from .capture_state import CaptureState
    from .run_reader import RunReader
    from .run_state import RunState

    _Answer = tuple[OtherRun, tuple[bool, int, ResponseResult], TwoRuns]

KEY, DIFFERENCE = "laid over", "difference"


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
        self._before: tuple[bool, int, ResponseResult] | None = None
        self._two: TwoRuns | None = None
        self._order = 1
        self._latest = Latest(
            runner, DIFFERENCE, "Difference of two runs", self._compared, self._failed
        )
        capture.changed.connect(self.clear)
        run.found.connect(self._compare)
        state.changed.connect(self._choices_changed)

    @property
    def other(self) -> OtherRun | None:
        """What is laid over; `None` for nothing."""
        return self._other

    @property
    def order(self) -> int:
        """The order that is compared: the one that is shown."""
        return self._order

    @property
    def overlays(self) -> Mapping[str, Overlay]:
        """How far this run lies from the other, by probe."""
        return self._two.overlays if self._two is not None else {}

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What makes the two unlike as a whole."""
        return self._two.doubts if self._two is not None else ()

    def lay(self, path: Path) -> None:
        """Read a capture or a table of vectors, and lay it over."""
        setup = self._capture.setup
        self._notices.dismiss(KEY)

        def work(progress: JobProgress) -> OtherRun:
            return read_run(Path(path), setup, progress)

        callbacks = Callbacks(result=self._set, error=self._failed)
        self._runner.run(KEY, work, callbacks, title=f"Run of {Path(path).name}")

    def clear(self) -> None:
        """Lay nothing over."""
        self._runner.cancel(KEY)
        self._set(None)

    def _set(self, other: OtherRun | None) -> None:
        if other is not self._other:
            self._other = other
            self._before = self._two = None
            self._latest.drop()
            self._run.lay_under(None if other is None else (other.source, other.setup))
            self.changed.emit()
            self._compare()

    def _choices_changed(self, names: frozenset[str]) -> None:
        if "order" in names:
            self._order = self._state.now.order
            self._latest.drop()
            if self._other is not None:
                self._two = None  # of another order
                self.changed.emit()
                self._compare()

    def _compare(self) -> None:
        other, found, setup = self._other, self._run.response, self._capture.setup
        source, order = self._run.vectors, self._order
        if other is None or found is None or source is None:
            return
        if order != 1 and self._run.looking:
            return  # once, when all is known of the first order
        reckon = self._run.response_work(source, order, planes=False) if order != 1 else None
        # Both with their slow roll off or neither: else the difference would be runout.
        take_off, known = self._state.now.slow_roll.take_off, self._before

        def work(progress: JobProgress) -> _Answer:
            from analysis.views.two_runs import compare_runs, response_of_other

            now = found if reckon is None else reckon(progress)
            if known is not None and known[:2] == (take_off, order):
                before = known[2]
            else:
                before = response_of_other(other, take_off=take_off, order=order, progress=progress)
            two = compare_runs(other, before, now, setup)
            return other, (take_off, order, before), two

        self._latest.ask(work)

    def _compared(self, answer: _Answer) -> None:
        other, before, two = answer
        if other is self._other and before[1] == self._order:
            self._before, self._two = before, two
            self.changed.emit()

    def _failed(self, failure: Failure) -> None:
        what = "The other run could not be read"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))


def read_run(path: Path, setup: Setup | None, progress: JobProgress) -> OtherRun:
    """The vectors of another capture (with its own setup, else the given one) or of a table.

    Raises:
        InputError: when it cannot be read, has no setup or no phase reference.
    """
    from analysis.files.open import open_capture
    from analysis.files.overview_cache import OverviewCache
    from analysis.files.response_table import looks_like_response_table, read_response_table
    from analysis.views.timeline import answer_timeline
    from analysis.views.two_runs import OtherRun

    from .opening import with_setup

    if looks_like_response_table(path):
        return OtherRun(path.name, read_response_table(path), setup, own_setup=False)
    capture = open_capture(path, progress=progress)
    try:
        own = with_setup(capture, None).setup
        used = own or setup
        if used is None:
            raise InputError(f"{path.name}: it has no setup that says what its channels are")
        table = answer_timeline(capture, used, progress=progress, cache=OverviewCache()).table
        if table.kind != "events":
            raise InputError(
                f"{path.name}: without phase-reference events its vectors have no phase, and "
                f"cannot be laid over others"
            )
        return OtherRun(path.name, table, used, own_setup=own is not None)
    finally:
        capture.close()
