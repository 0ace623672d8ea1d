"""The record of a probe check, from what the page holds to the files, and back."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog, QWidget

from analysis.files.record_file import read_record
from analysis.model.errors import InputError
from analysis.model.record import CheckRecord, ProbeIdentity
from analysis.reporting.check_record import TARGET, check_record
from analysis.reporting.check_tables import (
    applied_steps,
    entry_rows,
    loop_entry,
    run_tolerances,
    tolerances_of,
)
from analysis.reporting.record import CheckHead, chains_of
from analysis.views.probe_check import EntryRow, LoopEntry, RunEntry
from app.dialogs.check_dialog import CheckDialog
from app.session.notices import Notice, notice_of_error
from app.work.runner import Callbacks, Failure, JobProgress

from .proof_record import write_record

if TYPE_CHECKING:
    from analysis.model.calibration_entries import AppliedStep, CalibrationTolerances
    from analysis.model.calibration_results import RunTolerances
    from app.session.probe_check_state import Check
    from app.session.session import Session

KEY = "check record"
_KINDS: dict[str, Check] = {
    "probe_calibration": "table",
    "calibrator_run": "run",
    "loop_check": "loop",
}
_NAMES: dict[Check, str] = {
    "table": "calibration",
    "run": "calibrator-run",
    "loop": "loop-check",
}


@dataclass(frozen=True)
class ReadCheck:
    """A record that was opened, as entries of the page."""

    check: Check
    probe: str
    material: str
    head: CheckHead
    rows: tuple[EntryRow, ...]
    tolerances: CalibrationTolerances | None
    applied: dict[int, AppliedStep]
    run_tolerances: RunTolerances
    loop: LoopEntry | None


def ask_check_record(parent: QWidget, session: Session) -> CheckDialog | None:
    """Ask who and with what, then for the file, and write the record of the check in sight."""
    missing = nothing_to_record(session)
    if missing:
        session.notices.show(Notice(KEY, "info", "There is nothing to record yet", missing))
        return None
    session.notices.dismiss(KEY)
    state, capture = session.check, session.capture.capture
    source = ""
    if state.check == "run" and capture is not None:
        source = capture.name
    dialog = CheckDialog(_chain(session), state.head, source, parent)

    def choose() -> None:
        state.head = dialog.head()
        folder = capture.path.parent if capture is not None and capture.path else Path()
        words = "-".join(part for part in (_NAMES[state.check], state.probe) if part)
        proposed = folder / f"{''.join(c if c.isalnum() or c in '-_' else '_' for c in words)}.pdf"
        text, _ = QFileDialog.getSaveFileName(
            parent, "Write the record", str(proposed), "Records (*.pdf)"
        )
        if text:
            write_record(session, record_in_sight(session, state.head), Path(text))

    dialog.accepted.connect(choose)
    dialog.finished.connect(dialog.deleteLater)
    dialog.open()
    return dialog


def nothing_to_record(session: Session) -> str:
    """Why the check in sight has no record yet; empty when it has one."""
    result, check = session.checks.result, session.check.check
    if check == "table" and (result is None or result.counting is None):
        return "Type, paste or open a calibration table first; what is not complete is not judged."
    if check == "run" and (result is None or result.run is None):
        return "Open the capture of a probe on a calibrator first."
    if check == "loop" and (result is None or not result.loop):
        return "Give the values at 4 and 20 mA first."
    return ""


def record_in_sight(session: Session, head: CheckHead) -> CheckRecord:
    """The record of the check in sight, as it was judged last."""
    result, state = session.checks.result, session.check
    assert result is not None
    return check_record(
        state.check, result, head, material=state.material, setup=session.capture.setup
    )


def ask_open_check(parent: QWidget, session: Session) -> None:
    """Choose the TOML of a record, or its PDF that the TOML is beside."""
    text, _ = QFileDialog.getOpenFileName(
        parent, "Open a record", session.settings.folder, "Records (*.toml *.pdf)"
    )
    if text:
        open_check(session, Path(text))


def open_check(session: Session, path: Path) -> None:
    """Read a record in the background, and go on with what it holds."""
    path = path.with_suffix(".toml") if path.suffix.lower() == ".pdf" else path

    def work(_progress: JobProgress) -> ReadCheck:
        return read_check(path)

    def done(read: ReadCheck) -> None:
        session.notices.dismiss(KEY)
        take_check(session, read, path.name)

    def failed(failure: Failure) -> None:
        what = f"The record {path.name} could not be opened"
        session.notices.show(notice_of_error(KEY, what, failure.error, failure.trace))

    callbacks = Callbacks(result=done, error=failed)
    session.runner.run(KEY, work, callbacks, title=f"Opening {path.name}")


def read_check(path: Path) -> ReadCheck:
    """A record as entries.

    Raises:
        InputError: not a record, or of another kind of check.
    """
    record = read_record(path)
    check = _KINDS.get(record.kind)
    if check is None:
        raise InputError(
            f"{path.name} is the record of a proof test, not of a probe check; its PDF can be read"
        )
    chain = record.probe[0] if record.probe else ProbeIdentity(name="")
    material = next((f.value for f in record.field if f.name == TARGET), chain.target_material)
    head = CheckHead(
        number=record.number,
        site=record.site,
        made_by=record.made_by,
        ambient_c=record.ambient_c,
        remarks=record.remarks,
        source=record.source,
        instruments=record.instrument,
        chains=record.probe,
    )
    return ReadCheck(
        check,
        chain.name,
        material,
        head,
        entry_rows(record),
        tolerances_of(record),
        applied_steps(record),
        run_tolerances(record),
        loop_entry(record),
    )


def take_check(session: Session, read: ReadCheck, name: str) -> None:
    """Put the entries of a record in the place of those of the page."""
    state = session.check
    state.head = read.head
    state.set_facts(check=read.check, probe=read.probe, material=read.material)
    if read.check == "table":
        if read.tolerances is not None:
            state.set_tolerances(read.tolerances)
        left = any(row.left_v is not None for row in read.rows)
        state.set_facts(stage="as left" if left else "as found")
        state.set_rows(read.rows)
    elif read.check == "loop" and read.loop is not None:
        state.set_loop(read.loop)
    elif read.check == "run":
        state.set_run(RunEntry(read.applied, tolerances=read.run_tolerances))
        capture = session.capture.capture
        if capture is None or capture.name != read.head.source:
            text = (
                f"Its steps were found in {read.head.source or 'a capture'}. Open that capture, "
                "then the record again, to see them."
            )
            session.notices.show(Notice(KEY, "info", f"{name} belongs to a capture", text))


def _chain(session: Session) -> ProbeIdentity:
    setup, state = session.capture.setup, session.check
    if setup is not None and state.probe in [probe.name for probe in setup.probe]:
        [known] = chains_of(setup, [state.probe])
        return known.model_copy(update={"target_material": state.material})
    return ProbeIdentity(name=state.probe, target_material=state.material)
