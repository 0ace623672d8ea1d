"""The cascade of a run and its components that are no whole order: asked while in sight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.response_results import Cascade
    from analysis.views.run import Component

    from .answers import TimelineReader
    from .capture_state import CaptureState
    from .run_reader import RunReader
    from .run_state import RunState

KEY, COMPONENTS = "cascade", "components"
ORDERS_SHOWN = 4.0
TURNS = 32
"""Revolutions a spectrum: lines 1/32 of an order apart."""


class CascadeReader(QObject):
    """`answered`: another cascade; `listed`: the components have been looked for.

    Components are looked for after the critical speeds, whose frequencies are held beside them.
    """

    answered = Signal()
    listed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        timeline: TimelineReader,
        state: RunState,
        run: RunReader,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._timeline = timeline
        self._state = state
        self._run = run
        self._runner = runner
        self._notices = notices
        self._wanted = False
        self._asked: object = None
        self._cascade: tuple[str, Cascade | None] | None = None
        self._components: tuple[Component, ...] | None = None
        self._latest = Latest(runner, KEY, "Cascade", self._answer, self._failed)
        run.source_changed.connect(self._forget)
        run.answered.connect(self._look)
        run.found.connect(self._list)
        state.changed.connect(self._choices_changed)

    @property
    def cascade(self) -> tuple[str, Cascade | None] | None:
        """What it is of, and the spectra; `None` while there is no answer."""
        return self._cascade

    @property
    def components(self) -> tuple[Component, ...] | None:
        """What is no whole order, largest first; `None` until it has been looked for."""
        return self._components

    @property
    def possible(self) -> bool:
        """Whether there are samples: a table of vectors has none."""
        return self._run.table is None and self._capture.capture is not None

    def want(self, wanted: bool) -> None:
        """Answer from now on, or no more."""
        if wanted != self._wanted:
            self._wanted = wanted
            if wanted:
                self._look()
                self._list()

    def _look(self) -> None:
        if self._run.result is not None:
            self._ask()

    def _ask(self) -> None:
        capture, setup, now = self._capture.capture, self._capture.setup, self._state.now.cascade
        result = self._timeline.result
        if not self._wanted or not self.possible or setup is None or result is None:
            return
        wanted = (id(capture), id(setup), now.of, now.over, now.frequency, now.passage)
        if wanted == self._asked or not len(result.speed_rpm):
            return
        self._asked = wanted
        fastest = float(result.speed_rpm.max()) / 60.0
        highest = ORDERS_SHOWN * (fastest if now.frequency == "hz" else 1.0)

        def work(progress: JobProgress) -> tuple[str, Cascade | None]:
            from analysis.rotor.response.cascade import CascadeChoice
            from analysis.views.run import answer_cascade

            choice = CascadeChoice(
                against=now.over,
                axis=now.frequency,
                highest=highest,
                passage=now.passage,
                turns=TURNS,
            )
            return answer_cascade(capture, setup, now.of, choice, progress)

        self._latest.ask(work)

    def _list(self) -> None:
        """Look for components once the critical speeds are known."""
        capture, setup, response = self._capture.capture, self._capture.setup, self._run.response
        if not self._wanted or not self.possible or setup is None or response is None:
            return
        if self._components is not None or self._runner.is_running(COMPONENTS):
            return
        criticals = tuple(
            critical.speed_rpm for each in response.probes.values() for critical in each.criticals
        )

        def work(progress: JobProgress) -> tuple[Component, ...]:
            from analysis.views.run import answer_components

            return answer_components(capture, setup, criticals, progress)

        callbacks = Callbacks(result=self._listed, error=self._failed)
        self._runner.run(COMPONENTS, work, callbacks, title="Components that are no whole order")

    def _choices_changed(self, names: frozenset[str]) -> None:
        if "cascade" in names:
            self._ask()
            self.answered.emit()

    def _answer(self, found: tuple[str, Cascade | None]) -> None:
        self._cascade = found
        self._notices.dismiss(KEY)
        self.answered.emit()

    def _listed(self, found: tuple[Component, ...]) -> None:
        self._components = found
        self.listed.emit()

    def _forget(self) -> None:
        self._asked = None
        self._latest.drop()
        self._runner.cancel(COMPONENTS)
        if self._cascade is not None:
            self._cascade = None
            self.answered.emit()
        if self._components is not None:
            self._components = None
            self.listed.emit()

    def _failed(self, failure: Failure) -> None:
        what = "The cascade could not be made"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))
