"""Asking before the settings on trial are written to a setup."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from app.plots.limit_words import limit_name
from app.widgets.event_words import setting_words

from .curve_lines import curve_lines
from .write_setup import WriteSetupDialog, ask_to_write_setup

if TYPE_CHECKING:
    from analysis.model.setup import Setup
    from analysis.model.units import LengthUnit
    from app.session.session import Session

CAUTION = (
    "Alarms and trips protect people and the machine. They are changed only with the authority "
    "of the machine's owner, under the site's management of change, local codes and licensed "
    "practice, and proved again afterwards. A trip is never bypassed or moved to get past an event."
)
WHAT = "The settings on trial are"


def change_lines(in_force: Setup, trial: Setup, unit: LengthUnit) -> list[str]:
    """One line a limit that differs: what is in force, and what would be written."""
    return [
        f"{limit_name(new)}: {setting_words(old, unit)}  →  {setting_words(new, unit)}"
        for old, new in zip(in_force.limit, trial.limit, strict=True)
        if old != new
    ]


def ask_to_write(parent: QWidget, session: Session) -> WriteSetupDialog | None:
    """Show what would be written, ask for the file, and write it."""
    in_force, trial = session.trial.in_force, session.trial.setup
    if in_force is None or trial is None:
        return None
    return ask_to_write_setup(
        parent,
        session,
        trial,
        # A curve on trial is part of the setup in force here, and would be written along.
        change_lines(in_force, trial, session.unit.unit) + curve_lines(session),
        title="Write the settings on trial to a setup",
        caution=CAUTION,
        what=WHAT,
    )
