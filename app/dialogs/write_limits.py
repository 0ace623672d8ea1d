"""Settings on trial are written to a setup file: only when asked for, and after a caution."""

from __future__ import annotations

from pathlib import Path

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

from analysis.model.setup import Setup
from analysis.model.units import LengthUnit
from app.plots.limit_words import limit_name
from app.session.notices import Notice, notice_of_error
from app.session.session import Session
from app.widgets.event_words import setting_words
from app.work.runner import Callbacks, Failure, JobProgress

from .curve_lines import curve_lines

CAUTION = (
    "Alarms and trips protect people and the machine. They are changed only with the authority "
    "of the machine's owner, under the site's management of change, local codes and licensed "
    "practice, and proved again afterwards. A trip is never bypassed or moved to get past an event."
)
WHAT_IT_DOES = (
    "This writes a setup file for Runtrue and nothing else: no monitor, relay or machine is "
    "touched, and the capture stays as it is. Comments and order of an existing file are kept."
)
CONSENT = "The owner of the machine has agreed, or this is a proposal for them"


def change_lines(in_force: Setup, trial: Setup, unit: LengthUnit) -> list[str]:
    """One line a limit that differs: what is in force, and what would be written."""
    return [
        f"{limit_name(new)}: {setting_words(old, unit)}  →  {setting_words(new, unit)}"
        for old, new in zip(in_force.limit, trial.limit, strict=True)
        if old != new
    ]


class WriteLimitsDialog(QDialog):
    """Shows what would be written; goes on only with the reader's consent."""

    def __init__(
        self,
        lines: list[str],
        parent: QWidget | None = None,
        *,
        title: str = "Write the settings on trial to a setup",
        caution: str = CAUTION,
    ) -> None:
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


def ask_to_write(parent: QWidget, session: Session) -> WriteLimitsDialog | None:
    """Show what would be written, ask for the file, and write it."""
    in_force, trial = session.trial.in_force, session.trial.setup
    if in_force is None or trial is None:
        return None
    # A curve on trial is part of the setup in force here, and would be written along.
    lines = change_lines(in_force, trial, session.unit.unit) + curve_lines(session)
    dialog = WriteLimitsDialog(lines, parent)

    def choose() -> None:
        text, _ = QFileDialog.getSaveFileName(
            parent, "Write the setup", str(proposed_path(session)), "Setups (*.toml)"
        )
        if text:
            path = Path(text)
            named = path.suffix.lower() == ".toml"
            write_limits(session, trial, path if named else path.with_name(f"{path.name}.toml"))

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


def write_limits(session: Session, setup: Setup, path: Path) -> None:
    """Write the setup in the background; one that is in use is taken up again.

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
        session.notices.show(
            Notice("saved", "info", f"The settings on trial are written to {written.name}", tail)
        )

    def failed(failure: Failure) -> None:
        what = f"{path.name} could not be written"
        session.notices.show(notice_of_error("saved", what, failure.error, failure.trace))

    callbacks = Callbacks(result=done, error=failed)
    session.runner.run("save setup", work, callbacks, title=f"Writing {path.name}")
