"""All that numbers know of background work: a way to tell how far they are, and to be stopped."""

from __future__ import annotations

from typing import Protocol


class JobCancelled(Exception):
    """Raised inside a job that was asked to stop; the runner swallows it."""


class Progress(Protocol):
    """What a long function is given by whoever runs it.

    `report` takes the share done, 0 to 1, and a few words on what is being done. It raises
    `JobCancelled` when the job is to stop, so that every report is also a place to be stopped at.
    """

    def report(self, fraction: float, what: str = "") -> None:
        """Tell the share done; raise `JobCancelled` when the job is to stop."""


class Silent:
    """Progress for callers that neither watch nor stop."""

    def report(self, fraction: float, what: str = "") -> None:
        """Ignore the report."""


SILENT: Progress = Silent()


class Part:
    """Progress of one step of a job: its 0 to 1 is `start` to `end` of the whole."""

    def __init__(self, whole: Progress, start: float, end: float) -> None:
        self._whole = whole
        self._start = start
        self._length = end - start

    def report(self, fraction: float, what: str = "") -> None:
        """Pass the report on."""
        self._whole.report(self._start + fraction * self._length, what)
