"""Background jobs: plain threads below, one long-lived QObject above.

The newest job of a key wins: a pending older one is dropped, a running older one is asked to stop
at its next progress report, and whatever it still answers is never handed on. All callbacks run in
the GUI thread.
"""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal

from analysis.jobs import JobCancelled

REPORT_EVERY_S = 0.05
"""Reports that come faster than this are not sent to the GUI thread: nobody could read them."""


class JobProgress:
    """What a job is given: `report` is also the place where it is stopped, `partial` sends a part.

    Fulfils `analysis.jobs.Progress`; used from the job's own thread. What is reported in the first
    `quiet_s` seconds is not sent.
    """

    def __init__(self, send: Callable[[str, object], None], quiet_s: float = 0.0) -> None:
        self._send = send
        self._quiet_until = time.monotonic() + quiet_s
        self._stop = threading.Event()
        self._sent_at = 0.0
        self._sent_words = ""

    def cancel(self) -> None:
        """Ask the job to stop at its next report; from any thread."""
        self._stop.set()

    @property
    def cancelled(self) -> bool:
        """True once the job was asked to stop."""
        return self._stop.is_set()

    def report(self, fraction: float, what: str = "") -> None:
        """Tell the share done (0 to 1) and a few words; raises `JobCancelled` when stopped."""
        if self._stop.is_set():
            raise JobCancelled
        now = time.monotonic()
        if now < self._quiet_until:
            return
        if now - self._sent_at >= REPORT_EVERY_S or what != self._sent_words or fraction >= 1.0:
            self._sent_at, self._sent_words = now, what
            self._send("progress", (fraction, what))

    def partial(self, value: object) -> None:
        """Send what there is so far; raises `JobCancelled` when stopped."""
        if self._stop.is_set():
            raise JobCancelled
        self._send("partial", value)


@dataclass(frozen=True)
class Failure:
    """A job that ended in an error nobody else took: which one, the error, and its trace."""

    key: str
    title: str
    error: Exception
    trace: str


@dataclass(frozen=True)
class Callbacks:
    """What happens, in the GUI thread, with what a job says. `discard` gets unwanted results."""

    result: Callable[[Any], None] | None = None
    error: Callable[[Failure], None] | None = None
    progress: Callable[[float, str], None] | None = None
    partial: Callable[[Any], None] | None = None
    cancelled: Callable[[], None] | None = None
    discard: Callable[[Any], None] | None = None


@dataclass(eq=False)
class Job:
    """A job that is wanted: how far it is, for whoever shows it."""

    key: str
    title: str
    progress: JobProgress = field(repr=False)
    callbacks: Callbacks = field(repr=False)
    started_s: float
    fraction: float = 0.0
    words: str = ""

    @property
    def age_s(self) -> float:
        """Seconds since the job was asked for."""
        return time.monotonic() - self.started_s


class JobRunner(QObject):
    """Runs functions `f(progress) -> result` in threads and hands the answers on.

    `changed` is emitted when a job starts, ends or reports; `failed(Failure)` when a job ends in an
    error and was given no error callback of its own.
    """

    changed = Signal()
    failed = Signal(object)
    _arrived = Signal(object, str, object)

    def __init__(self, parent: QObject | None = None, *, threads: int = 4) -> None:
        super().__init__(parent)
        self._pool = ThreadPoolExecutor(max_workers=threads, thread_name_prefix="job")
        self._current: dict[str, Job] = {}
        self._futures: set[Future[None]] = set()
        self._expected: set[str] = set()
        self._closed = False
        self._arrived.connect(self._deliver, Qt.ConnectionType.QueuedConnection)

    def run(
        self,
        key: str,
        function: Callable[[JobProgress], object],
        callbacks: Callbacks,
        *,
        title: str = "",
        quiet_s: float = 0.0,
    ) -> None:
        """Start a job; an older one of the same key is dropped. Ignored after `shutdown`.

        `quiet_s`: for jobs that come one after another and are short, of which nobody wants to hear
        how far they are before they have lasted that long.
        """
        if self._closed:
            return
        self._supersede(key)
        job: Job

        def send(kind: str, payload: object) -> None:
            self._send(job, kind, payload)

        job = Job(key, title, JobProgress(send, quiet_s), callbacks, time.monotonic())
        self._current[key] = job
        self._submit(lambda: self._work(job, function))
        self.changed.emit()

    def cancel(self, key: str) -> None:
        """Stop the job of this key; its `cancelled` callback runs at once."""
        job = self._current.pop(key, None)
        if job is None:
            return
        job.progress.cancel()
        self.changed.emit()
        if job.callbacks.cancelled is not None:
            job.callbacks.cancelled()

    def jobs(self) -> tuple[Job, ...]:
        """The jobs that are wanted and have not ended, oldest first."""
        return tuple(self._current.values())

    def is_running(self, key: str) -> bool:
        """True while a job of this key is wanted."""
        return key in self._current

    def is_idle(self) -> bool:
        """True when nothing runs or is expected, not even a job that was asked to stop."""
        self._futures = {future for future in self._futures if not future.done()}
        return not (self._current or self._futures or self._expected)

    def expect(self, key: str, expected: bool = True) -> None:
        """A job of this key is as good as asked for, or no longer: who waits goes on waiting."""
        if expected:
            self._expected.add(key)
        else:
            self._expected.discard(key)

    def after_running(self, function: Callable[[], None]) -> None:
        """Call `function` in a thread once every job that runs now has ended.

        For letting go of what jobs may still be reading.
        """
        self.is_idle()  # forgets what has ended
        earlier = set(self._futures)
        if self._closed:
            wait(earlier)
            function()
            return

        def settle() -> None:
            wait(earlier)
            function()

        threading.Thread(target=settle, name="job-settle").start()

    def shutdown(self) -> None:
        """Stop everything and wait until no thread of ours runs; then nothing is handed on."""
        self._closed = True
        for job in self._current.values():
            job.progress.cancel()
        self._current.clear()
        self._pool.shutdown(wait=True, cancel_futures=True)
        for thread in threading.enumerate():
            if thread.name == "job-settle":
                thread.join()

    def _supersede(self, key: str) -> None:
        older = self._current.pop(key, None)
        if older is not None:
            older.progress.cancel()

    def _submit(self, function: Callable[[], None]) -> None:
        self.is_idle()
        self._futures.add(self._pool.submit(function))

    def _send(self, job: Job, kind: str, payload: object) -> None:
        # A signal emitted from a thread; the queue of the GUI thread holds what it carries.
        self._arrived.emit(job, kind, payload)

    def _work(self, job: Job, function: Callable[[JobProgress], object]) -> None:
        if job.progress.cancelled:
            return
        try:
            result = function(job.progress)
        except JobCancelled:
            self._send(job, "stopped", None)
        except Exception as error:
            failure = Failure(job.key, job.title, error, traceback.format_exc())
            # A traceback holds every frame, and with them captures that should close.
            error.__traceback__ = None
            self._send(job, "error", failure)
        else:
            self._send(job, "result", result)

    def _deliver(self, job: Job, kind: str, payload: Any) -> None:
        callbacks = job.callbacks
        if self._closed or self._current.get(job.key) is not job:
            if kind == "result" and callbacks.discard is not None:
                callbacks.discard(payload)
            return
        if kind == "progress":
            job.fraction, job.words = payload
            if callbacks.progress is not None:
                callbacks.progress(*payload)
        elif kind == "partial":
            if callbacks.partial is not None:
                callbacks.partial(payload)
            return
        else:
            del self._current[job.key]
            self._finish(callbacks, kind, payload)
        self.changed.emit()

    def _finish(self, callbacks: Callbacks, kind: str, payload: Any) -> None:
        if kind == "result" and callbacks.result is not None:
            callbacks.result(payload)
        elif kind == "stopped" and callbacks.cancelled is not None:
            callbacks.cancelled()
        elif kind == "error":
            if callbacks.error is not None:
                callbacks.error(payload)
            else:
                self.failed.emit(payload)
