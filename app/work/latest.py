"""Requests that come faster than answers: what a drag makes of a page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt

from .runner import Callbacks, Failure, JobProgress, JobRunner
from .step import note_work

PATIENCE_S = 0.15
"""A running answer younger than this is waited for; an older one gives way to a newer request."""

_AFTER_PAINTING = Qt.EventPriority.LowEventPriority.value - 1
"""Qt paints at low priority: an event below it comes when the picture stands."""


class Latest(QObject):
    """Asks one question after another under one key of the runner, and never piles them up.

    While an answer is on its way only the newest further request is kept. Cancelling at every new
    request instead would show nothing at all while a drag goes on; waiting without end would make
    the reader wait for a picture that nobody wants any more.

    The next question is put when the answer before has been painted. Side by side the two threads
    would hand the interpreter's lock to and fro at every small call, and both would take longer
    than one after the other.

    Attributes:
        answer: what happens with an answer, in the GUI thread.
        error: what happens with an error; the runner's `failed` signal when `None`.
    """

    def __init__(
        self,
        runner: JobRunner,
        key: str,
        title: str,
        answer: Callable[[Any], None],
        error: Callable[[Failure], None] | None = None,
    ) -> None:
        super().__init__()
        self._runner = runner
        self._key = key
        self._title = title
        self.answer = answer
        self.error = error
        self._next: Callable[[JobProgress], object] | None = None
        self._painting = False

    def ask(self, function: Callable[[JobProgress], object]) -> None:
        """Ask for `function(progress)`, now or when the answer under way has come."""
        if self._painting:
            self._next = function
            self._runner.expect(self._key)
            return
        if self._runner.is_running(self._key) and self._age() < PATIENCE_S:
            self._next = function
            return
        self._start(function)

    def drop(self) -> None:
        """Want nothing any more: what is asked for and under way is never handed on."""
        self._next = None
        self._runner.cancel(self._key)

    def _age(self) -> float:
        return max((job.age_s for job in self._runner.jobs() if job.key == self._key), default=0.0)

    def _start(self, function: Callable[[JobProgress], object]) -> None:
        self._next = None
        self._runner.run(
            self._key,
            function,
            Callbacks(result=self._answered, error=self._failed),
            title=self._title,
            quiet_s=PATIENCE_S,
        )

    def _answered(self, result: object) -> None:
        self._go_on_after_painting()
        self.answer(result)
        note_work()

    def _failed(self, failure: Failure) -> None:
        self._go_on_after_painting()
        if self.error is not None:
            self.error(failure)
        else:
            self._runner.failed.emit(failure)

    def _go_on_after_painting(self) -> None:
        self._painting = True
        if self._next is not None:
            self._runner.expect(self._key)
        QCoreApplication.postEvent(self, QEvent(QEvent.Type.User), _AFTER_PAINTING)

    def customEvent(self, _event: QEvent) -> None:
        """The answer has been painted."""
        note_work()
        self._painting = False
        self._runner.expect(self._key, False)
        if self._next is not None and not self._runner.is_running(self._key):
            self._start(self._next)
