"""Saying what channels are, and keeping what was said: the dialogs joined with the session."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog, QWidget

from analysis.model.span import TimeSpan
from app.session.notices import Notice
from app.work.runner import Callbacks, JobProgress

from .channel_rows import guess_rows, rows_of_setup
from .channels_dialog import ChannelsDialog

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.setup import Setup
    from app.session.session import Session

MEAN_OVER_S = 10.0
"""Means are taken over this much of the middle: enough to tell a probe from a reference."""


def describe_channels(parent: QWidget, session: Session) -> ChannelsDialog:
    """Open the dialog for the session's capture; its answer becomes the session's setup."""
    capture = session.capture.capture
    assert capture is not None  # the caller looked
    before = session.capture.setup
    channels = list(capture.channels)
    rows = rows_of_setup(channels, before) if before is not None else guess_rows(channels)
    dialog = ChannelsDialog(capture.name, rows, before, parent)

    def take() -> None:
        if dialog.setup is not None and session.capture.capture is capture:
            session.opener.use_setup(dialog.setup)

    dialog.accepted.connect(take)
    dialog.finished.connect(lambda _result: session.runner.cancel("means"))
    dialog.finished.connect(dialog.deleteLater)
    session.runner.run(
        "means",
        lambda progress: _means(capture, progress),
        Callbacks(result=dialog.set_means, error=lambda _failure: None),
        title="Reading the means of the channels",
    )
    dialog.open()
    return dialog


def _means(capture: Capture, progress: JobProgress) -> dict[str, float | None]:
    from analysis.views.readings import read_volts

    progress.report(0.0)
    middle = (capture.span.start_s + capture.span.end_s) / 2.0
    span = TimeSpan(middle, middle).widened(MEAN_OVER_S / 2.0).clipped_to(capture.span)
    return {name: reading.value for name, reading in read_volts(capture, span).items()}


def save_setup(parent: QWidget, session: Session) -> None:
    """Write the session's setup as TOML, where the reader says; beside the capture by default."""
    capture, setup = session.capture.capture, session.capture.setup
    if capture is None or setup is None:
        return
    proposed = capture.path.with_suffix(".toml") if capture.path else Path("setup.toml")
    text, _ = QFileDialog.getSaveFileName(
        parent, "Save the setup", str(proposed), "Setups (*.toml)"
    )
    if text:
        write_setup_to(session, setup, Path(text))


def write_setup_to(session: Session, setup: Setup, path: Path) -> None:
    """Write a setup in the background and tell where it is."""

    def work(_progress: JobProgress) -> Path:
        from analysis.files.setup_write import write_setup

        write_setup(path, setup)
        return path

    def done(written: Path) -> None:
        session.notices.show(Notice("saved", "info", f"The setup is saved as {written.name}"))

    session.runner.run("save setup", work, Callbacks(result=done), title=f"Saving {path.name}")
