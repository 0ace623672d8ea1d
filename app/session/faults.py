"""Errors that nobody caught: shown in the window as well as printed, never lost in silence."""

from __future__ import annotations

import sys
import threading
import traceback
from types import TracebackType

from PySide6.QtCore import QObject, Qt, Signal

from .notices import NoticeState, notice_of_error


class FaultCatcher(QObject):
    """While installed, uncaught exceptions of slots and threads become a notice."""

    _caught = Signal(object, str)

    def __init__(self, notices: NoticeState) -> None:
        super().__init__()
        self._notices = notices
        self._former = sys.excepthook
        self._former_thread = threading.excepthook
        # Queued: the fault may be in a thread, or in the middle of a paint event.
        self._caught.connect(self._show, Qt.ConnectionType.QueuedConnection)

    def install(self) -> None:
        """Take over from the hooks that are in place."""
        self._former, self._former_thread = sys.excepthook, threading.excepthook
        sys.excepthook = self._catch
        threading.excepthook = lambda args: self._catch(
            args.exc_type, args.exc_value or args.exc_type(), args.exc_traceback
        )

    def remove(self) -> None:
        """Put the former hooks back."""
        sys.excepthook, threading.excepthook = self._former, self._former_thread

    def _catch(
        self, kind: type[BaseException], error: BaseException, trace: TracebackType | None
    ) -> None:
        self._former(kind, error, trace)
        if issubclass(kind, Exception):
            self._caught.emit(error, "".join(traceback.format_exception(kind, error, trace)))

    def _show(self, error: BaseException, trace: str) -> None:
        self._notices.show(notice_of_error("fault", "Something went wrong", error, trace))
