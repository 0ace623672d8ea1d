"""Asking before a calibration curve on trial is written to a setup."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

from app.session.session import Session

from .curve_lines import curve_lines
from .write_limits import WriteLimitsDialog, proposed_path, write_limits

CURVE_CAUTION = (
    "A curve holds for one probe with its own cable and driver, one target material and the "
    "temperature of the check. Monitors at the machine keep the factor they were set to: this "
    "changes how Runtrue reads its captures, and nothing there."
)


def ask_to_write_curve(parent: QWidget, session: Session) -> WriteLimitsDialog | None:
    """Show what would be written, ask for the file, and write it."""
    lines, setup = curve_lines(session), session.capture.setup
    if not lines or setup is None:
        return None
    dialog = WriteLimitsDialog(
        lines, parent, title="Write the curve on trial to a setup", caution=CURVE_CAUTION
    )

    def choose() -> None:
        text, _ = QFileDialog.getSaveFileName(
            parent, "Write the setup", str(proposed_path(session)), "Setups (*.toml)"
        )
        if text:
            path = Path(text)
            named = path.suffix.lower() == ".toml"
            write_limits(session, setup, path if named else path.with_name(f"{path.name}.toml"))

    dialog.accepted.connect(choose)
    dialog.finished.connect(dialog.deleteLater)
    dialog.open()
    return dialog
