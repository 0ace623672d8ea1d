"""Opening captures and setups in the background."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from analysis.model.errors import InputError, SetupError
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .capture_state import CaptureState, Opened
from .notices import Notice, NoticeState, notice_of_error, notice_of_warnings, the_setup

if TYPE_CHECKING:
    from analysis.files.csv_layout import CsvLayout
    from analysis.files.csv_preview import CsvPreview
    from analysis.jobs import Progress
    from analysis.model.capture import Capture
    from analysis.model.response_results import ResponseTable
    from analysis.model.setup import Setup

    from .settings import Settings

DESCRIBED = "described in the window"
"""The source of a setup that was made there."""

TABLE_SUFFIXES = {".csv", ".txt", ".tsv", ".dat", ".asc"}


def open_all(
    path: Path,
    setup_path: Path | None,
    layout: CsvLayout | None,
    progress: Progress,
) -> Opened:
    """Open a capture and find its setup. Errors of the setup are part of the answer.

    Raises:
        InputError: when the capture cannot be read.
    """
    # Here and not above: the window stands before the file libraries are loaded.
    from analysis.files.open import open_capture

    capture = open_capture(path, layout=layout, progress=progress)
    return with_setup(capture, setup_path)


@dataclass(frozen=True)
class LayoutWanted:
    """A text file of another layout: what its columns are has to be said first."""

    path: Path
    preview: CsvPreview
    error: InputError


def open_or_ask(
    path: Path, setup_path: Path | None, progress: Progress
) -> Opened | LayoutWanted | ResponseTable:
    """Open a capture, or a table of vectors; one of another layout asks for what its columns are.

    Raises:
        InputError: when the file cannot be read, nor looked at as a table.
    """
    if path.suffix.lower() in TABLE_SUFFIXES:
        from analysis.files.response_table import looks_like_response_table, read_response_table

        if looks_like_response_table(path):
            return read_response_table(path)
    try:
        return open_all(path, setup_path, None, progress)
    except InputError as error:
        if path.suffix.lower() not in TABLE_SUFFIXES:
            raise
        from analysis.files.csv_preview import preview_csv

        try:
            preview = preview_csv(path)
        except InputError:
            raise error from None
        if not any(column.role == "channel" for column in preview.columns):
            raise
        return LayoutWanted(path, preview, error)


def with_setup(capture: Capture, setup_path: Path | None) -> Opened:
    """The capture with the setup of that file, or with the one that is found with it."""
    from analysis.files.setup_find import find_setup
    from analysis.files.setup_read import parse_setup, read_setup

    source = setup_path.name if setup_path else ""
    try:
        if setup_path is not None:
            setup, warnings = read_setup(setup_path)
            return Opened(capture, setup, source, setup_path, warnings)
        found = find_setup(capture)
        if found is None:
            return Opened(capture)
        source, setup_path = found.source, found.path
        setup, warnings = parse_setup(found.text, source)
    except SetupError as error:
        return Opened(capture, None, source, setup_path, setup_error=error)
    except InputError as error:
        return Opened(capture, None, source, setup_path, setup_error=SetupError(str(error), ()))
    return Opened(capture, setup, source, setup_path, warnings)


class Opener(QObject):
    """Opens captures and setups; what comes of it goes to the capture state and the notices.

    `layout_wanted(LayoutWanted)` asks the window to let the reader say what a table's columns are;
    `table_opened(ResponseTable)`: it was no capture but a table of vectors against speed.
    """

    layout_wanted = Signal(object)
    table_opened = Signal(object)

    def __init__(
        self, state: CaptureState, runner: JobRunner, notices: NoticeState, settings: Settings
    ) -> None:
        super().__init__()
        self._state = state
        self._runner = runner
        self._notices = notices
        self._settings = settings

    def open(
        self, path: Path, setup_path: Path | None = None, layout: CsvLayout | None = None
    ) -> None:
        """Open a capture, instead of one that is being opened."""
        path = Path(path)
        self._notices.dismiss("open")
        self._state.start(path.name)

        def work(progress: JobProgress) -> Opened | LayoutWanted | ResponseTable:
            if layout is None:
                return open_or_ask(path, setup_path, progress)
            return open_all(path, setup_path, layout, progress)

        def done(answer: Opened | LayoutWanted | ResponseTable) -> None:
            if isinstance(answer, LayoutWanted):
                self._ask_layout(answer)
                return
            self._settings.add_recent(path.absolute())
            if isinstance(answer, Opened):
                self._accept(answer)
                return
            self._state.stop(failed=False)
            self.table_opened.emit(answer)

        def failed(failure: Failure) -> None:
            self._state.stop(failed=True)
            self._notices.show(
                notice_of_error(
                    "open", f"{path.name} could not be opened", failure.error, failure.trace
                )
            )

        self._run(f"Opening {path.name}", work, done, failed)

    def use_setup_file(self, path: Path) -> None:
        """Give the open capture the setup of this file."""
        capture = self._state.capture
        if capture is None:
            self._notices.show(
                Notice(
                    "setup",
                    "warning",
                    f"{path.name} is a setup",
                    "A setup says what the channels of a capture are. Open the capture first.",
                )
            )
            return

        def work(_progress: JobProgress) -> Opened:
            return with_setup(capture, path)

        def failed(failure: Failure) -> None:
            self._state.stop(failed=False)
            self._notices.show(
                notice_of_error(
                    "setup", f"{path.name} could not be read", failure.error, failure.trace
                )
            )

        self._state.start(path.name)
        self._run(f"Reading {path.name}", work, self._accept_setup, failed)

    def use_setup(self, setup: Setup, source: str = DESCRIBED) -> None:
        """Give the open capture a setup that was made in the window."""
        opened = self._state.opened
        if opened is not None:
            self._accept_setup(Opened(opened.capture, setup, source))

    def can_be_described(self) -> bool:
        """Whether a description would replace no setup from a file, which holds more."""
        opened = self._state.opened
        return opened is not None and (opened.setup is None or opened.setup_source == DESCRIBED)

    def cancel(self) -> None:
        """Open nothing after all."""
        self._runner.cancel("open")

    def _ask_layout(self, wanted: LayoutWanted) -> None:
        self._state.stop(failed=True)
        notice = notice_of_error(
            "open", f"{wanted.path.name} is a table of another layout", wanted.error
        )
        self._notices.show(replace(notice, action="describe_columns", path=wanted.path))
        self.layout_wanted.emit(wanted)

    def _run(
        self,
        title: str,
        work: Callable[[JobProgress], Opened | LayoutWanted | ResponseTable],
        done: Callable[[Any], None],
        failed: Callable[[Failure], None],
    ) -> None:
        callbacks = Callbacks(
            result=done,
            error=failed,
            cancelled=lambda: self._state.stop(failed=False),
            discard=self._discard,
        )
        self._runner.run("open", work, callbacks, title=title)

    def _accept_setup(self, opened: Opened) -> None:
        """A setup with errors does not take the place of one that works."""
        before = self._state.opened
        if opened.setup_error is not None and before is not None and before.setup is not None:
            self._state.stop(failed=False)
            self._notices.show(_setup_notice(opened.setup_error))
            return
        self._accept(opened)

    def _accept(self, opened: Opened) -> None:
        before = self._state.opened
        self._notices.dismiss("setup")
        self._state.set(opened)
        if opened.setup_error is not None:
            self._notices.show(_setup_notice(opened.setup_error))
        for topic, source, warnings in (
            ("capture warnings", opened.capture.name, opened.capture.warnings),
            ("setup warnings", opened.setup_source, opened.setup_warnings),
        ):
            self._notices.dismiss(topic)
            notice = notice_of_warnings(topic, source, warnings)
            if notice is not None:
                self._notices.show(notice)
        if before is not None and before.capture is not opened.capture:
            # Jobs that still read the old capture are being stopped; it closes when they are gone.
            self._runner.after_running(before.capture.close)

    def _discard(self, opened: Opened | LayoutWanted | ResponseTable) -> None:
        current = self._state.capture
        if isinstance(opened, Opened) and opened.capture is not current:
            opened.capture.close()


def _setup_notice(error: SetupError) -> Notice:
    notice = notice_of_error("setup", f"{the_setup(error.source)} cannot be used", error)
    if not error.issues:
        return replace(notice, title="The setup cannot be used", text=error.source)
    return notice
