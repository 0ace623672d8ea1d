"""A setup is written to a file: only when asked for, after a caution and with consent."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.session.notices import Notice, notice_of_error
from app.work.runner import Callbacks, Failure, JobProgress

if TYPE_CHECKING:
    from analysis.model.setup import Setup
    from app.session.session import Session

WHAT_IT_DOES = (
    "This writes a setup file for Runtrue and nothing else: no monitor, relay or machine is "
    "touched, and the capture stays as it is. Comments and order of an existing file are kept."
)
CONSENT = "The owner of the machine has agreed, or this is a proposal for them"


class WriteSetupDialog(QDialog):
    """Shows what would be written; goes on only with the reader's consent."""

    def __init__(
        self,
        lines: list[str],
        title: str,
        caution: str,
        parent: QWidget | None = None,
    ) -> None:
        """`lines` are what would be written, one a change."""
        super().__init__(parent)
        self.setWindowTitle(title)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 18, 20, 14)
        column.setSpacing(10)
        warning = _words(caution)
        warning.setProperty("role", "title")
        column.addWidget(warning)
        column.addWidget(_words(WHAT_IT_DOES))
        listed = _words("\n".join(lines))
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(listed)
        area.setMinimumHeight(min(40 + 36 * len(lines), 200))
        area.viewport().setAutoFillBackground(False)
        listed.setAutoFillBackground(False)
        listed.setAccessibleName("Settings that would be written")
        column.addWidget(area, 1)
        self.consent = QCheckBox(CONSENT)
        column.addWidget(self.consent)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.go_on = buttons.addButton("Choose the file…", QDialogButtonBox.ButtonRole.AcceptRole)
        self.go_on.setEnabled(False)
        self.consent.toggled.connect(self.go_on.setEnabled)
        buttons.button(QDialogButtonBox.StandardButton.Cancel).setIcon(QIcon())
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)
        self.setMinimumWidth(560)


def _words(text: str) -> QLabel:
    label = QLabel(text)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setMinimumWidth(480)
    return label


def ask_to_write_setup(
    parent: QWidget,
    session: Session,
    setup: Setup,
    lines: list[str],
    *,
    title: str,
    caution: str,
    what: str,
) -> WriteSetupDialog:
    """Show what would be written, ask for the file, and write it; `what` names it afterwards."""
    dialog = WriteSetupDialog(lines, title, caution, parent)

    def choose() -> None:
        text, _ = QFileDialog.getSaveFileName(
            parent, "Write the setup", str(proposed_path(session)), "Setups (*.toml)"
        )
        if text:
            path = Path(text)
            named = path.suffix.lower() == ".toml"
            write_setup_to(
                session, setup, path if named else path.with_name(f"{path.name}.toml"), what
            )

    dialog.accepted.connect(choose)
    dialog.finished.connect(dialog.deleteLater)
    dialog.open()
    return dialog


def proposed_path(session: Session) -> Path:
    """Where a setup would be looked for: the one in use, or beside the capture."""
    opened = session.capture.opened
    if opened is not None and opened.setup_path is not None:
        return opened.setup_path
    path = session.capture.capture.path if session.capture.capture is not None else None
    return path.with_suffix(".toml") if path is not None else Path("setup.toml")


def write_setup_to(session: Session, setup: Setup, path: Path, what: str) -> None:
    """Write the setup in the background; one that is in use is taken up again.

    `what` begins the sentence that tells of it: `The settings on trial are`.

    A new file starts from the text of the setup inside the capture, with its comments. Captures
    themselves are never written to.
    """
    opened = session.capture.opened
    embedded = None
    if opened is not None and opened.setup_path is None:
        embedded = opened.capture.setup_toml

    def work(_progress: JobProgress) -> Path:
        from analysis.files.setup_write import write_setup

        write_setup(path, setup, template=embedded)
        return path

    def done(written: Path) -> None:
        in_use = opened is not None and opened.setup_path is not None
        if in_use and written.absolute() == opened.setup_path.absolute():
            session.opener.use_setup_file(written)
            tail = "It is in force here from now on."
        else:
            tail = f"What is in force here stays; Menu, “Open a setup…” takes {written.name} up."
        session.notices.show(Notice("saved", "info", f"{what} written to {written.name}", tail))

    def failed(failure: Failure) -> None:
        what = f"{path.name} could not be written"
        session.notices.show(notice_of_error("saved", what, failure.error, failure.trace))

    callbacks = Callbacks(result=done, error=failed)
    session.runner.run("save setup", work, callbacks, title=f"Writing {path.name}")
