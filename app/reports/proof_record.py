"""The record of a proof test, from what the page holds to the files on the disk."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog, QWidget

from analysis.files.record_file import read_record
from analysis.model.errors import InputError
from analysis.reporting.record import proof_record
from app.dialogs.record_dialog import RecordDialog
from app.session.notices import Notice, notice_of_error
from app.work.runner import Callbacks, Failure, JobProgress

if TYPE_CHECKING:
    from analysis.model.proof import ProofStep, StepResult
    from analysis.model.record import CheckRecord
    from app.session.session import Session

KEY = "record"


def ask_record(
    parent: QWidget,
    session: Session,
    steps: tuple[ProofStep, ...],
    results: tuple[StepResult, ...],
) -> RecordDialog | None:
    """Ask who and with what, then for the file, and write the record of these steps."""
    setup, capture = session.trial.in_force, session.capture.capture
    if setup is None or not steps:
        return None
    searched = any(result.start_s is not None for result in results)
    dialog = RecordDialog(capture.name if capture is not None and searched else "", parent)

    def choose() -> None:
        record = proof_record(
            setup,
            steps,
            results,
            dialog.head(),
            stage=dialog.stage(),
            unit=session.unit.unit,
        )
        folder = capture.path.parent if capture is not None and capture.path else Path()
        proposed = folder / "proof-test.pdf"
        text, _ = QFileDialog.getSaveFileName(
            parent, "Write the record", str(proposed), "Records (*.pdf)"
        )
        if text:
            write_record(session, record, Path(text))

    dialog.accepted.connect(choose)
    dialog.finished.connect(dialog.deleteLater)
    dialog.open()
    return dialog


def write_record(session: Session, record: CheckRecord, path: Path) -> None:
    """Write it in the background and tell where it is."""
    path = path if path.suffix.lower() == ".pdf" else path.with_name(f"{path.name}.pdf")

    capture = session.capture.capture

    def work(_progress: JobProgress) -> tuple[Path, Path]:
        from .record_pdf import write_check

        refuse_setups(path, capture.path if capture is not None else None)
        return write_check(record, path)

    def done(written: tuple[Path, Path]) -> None:
        pdf, content = written
        session.notices.show(
            Notice(KEY, "info", f"The record is written as {pdf.name}", f"Content: {content.name}")
        )

    def failed(failure: Failure) -> None:
        what = f"The record {path.name} could not be written"
        session.notices.show(notice_of_error(KEY, what, failure.error, failure.trace))

    callbacks = Callbacks(result=done, error=failed)
    session.runner.run(KEY, work, callbacks, title=f"Writing {path.name}")


def refuse_setups(pdf_path: Path, capture_path: Path | None) -> None:
    """See that the record's content, a TOML of the same name, takes no setup's place.

    Raises:
        InputError: when a setup (or something else that is no record) is there, or would be looked
            for there.
    """
    content = pdf_path.with_suffix(".toml")
    mend = "give the record another name"
    if content.name == "setup.toml":
        raise InputError(f"{content.name} is the name of a setup; {mend}")
    if capture_path is not None and content == capture_path.with_suffix(".toml"):
        raise InputError(f"{content.name} is where the setup of {capture_path.name} is; {mend}")
    if content.exists():
        try:
            read_record(content)
        except InputError as error:
            raise InputError(f"{content.name} is there and is no record; {mend}") from error
