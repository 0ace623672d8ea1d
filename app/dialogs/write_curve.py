"""Asking before a calibration curve on trial is written to a setup."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from .curve_lines import curve_lines
from .write_setup import WriteSetupDialog, ask_to_write_setup

if TYPE_CHECKING:
    from app.session.session import Session

CURVE_CAUTION = (
    "A curve holds for one probe with its own cable and driver, one target material and the "
    "temperature of the check. Monitors at the machine keep the factor they were set to: this "
    "changes how Runtrue reads its captures, and nothing there."
)


def ask_to_write_curve(parent: QWidget, session: Session) -> WriteSetupDialog | None:
    """Show what would be written, ask for the file, and write it."""
    lines, setup = curve_lines(session), session.capture.setup
    if not lines or setup is None:
        return None
    return ask_to_write_setup(
        parent,
        session,
        setup,
        lines,
        title="Write the curve on trial to a setup",
        caution=CURVE_CAUTION,
        what="The curve on trial is",
    )
