"""The one place where errors and warnings go, to be shown in the window."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from PySide6.QtCore import QObject, Signal

from analysis.model.errors import InputError, SetupError, SetupIssue

Severity = Literal["error", "warning", "info"]


@dataclass(frozen=True)
class Notice:
    """Something to tell the reader: what and where in `title`, what to do in `text`.

    `topic` says what it is about: a newer notice of a topic replaces the older one. `details` are
    for those who want to report it. `action` names what the window offers to do, with `path`.
    """

    topic: str
    severity: Severity
    title: str
    text: str = ""
    details: str = ""
    action: Literal["", "describe_channels", "describe_columns"] = ""
    path: Path | None = None


class NoticeState(QObject):
    """The notices that have not been dismissed, oldest first."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._notices: tuple[Notice, ...] = ()

    @property
    def all(self) -> tuple[Notice, ...]:
        """All notices, oldest first."""
        return self._notices

    def show(self, notice: Notice) -> None:
        """Tell the reader; replaces an older notice of the same topic."""
        self._set((*(n for n in self._notices if n.topic != notice.topic), notice))

    def dismiss(self, topic: str) -> None:
        """Nothing to tell of this topic any more."""
        self._set(tuple(n for n in self._notices if n.topic != topic))

    def _set(self, notices: tuple[Notice, ...]) -> None:
        if notices != self._notices:
            self._notices = notices
            self.changed.emit()


def the_setup(source: str) -> str:
    """A setup at the beginning of a sentence: a file of its own, or the "setup in run_up.h5"."""
    return f"The {source}" if source.startswith("setup in ") else f"The setup {source}"


def notice_of_error(topic: str, what: str, error: BaseException, trace: str = "") -> Notice:
    """A notice that a reader can act on, of any error.

    `what` says what could not be done, as in "run_up.h5 could not be opened". Errors of the input
    carry their own mend; anything else is a fault of the program and says so.
    """
    if isinstance(error, SetupError):
        count = len(error.issues)
        title = f"{the_setup(error.source)} has {count} error{'s' if count != 1 else ''}"
        text = "\n".join(str(issue) for issue in error.issues)
        return Notice(topic, "error", title, text)
    if isinstance(error, InputError):
        return Notice(topic, "error", what, str(error))
    kind = type(error).__name__
    text = (
        f"This is a fault of the program, not of your data: {kind}"
        f"{': ' + str(error) if str(error) else ''}. "
        "Nothing was written. You can go on; the details below help to mend it."
    )
    return Notice(topic, "error", what, text, details=trace or f"{kind}: {error}")


def notice_of_warnings(
    topic: str, source: str, warnings: tuple[SetupIssue | str, ...]
) -> Notice | None:
    """The warnings of a file in one notice; `None` when there are none."""
    if not warnings:
        return None
    count = len(warnings)
    title = f"{source}: {count} warning{'s' if count != 1 else ''}"
    return Notice(topic, "warning", title, "\n".join(str(w) for w in warnings))
