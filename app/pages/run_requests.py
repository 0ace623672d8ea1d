"""What the Run page asks its reader in dialogs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QDialog, QWidget

from app.dialogs.slow_roll import OperatingRangeDialog, SlowRollDialog

if TYPE_CHECKING:
    from app.session.session import Session


def ask_to_type(parent: QWidget, session: Session, shown: tuple[str, ...]) -> QDialog | None:
    """Type the vectors of the probes shown, of the order shown."""
    result = session.run.result
    if result is None or not shown:
        return None
    off = {name: result.responses[name].slow_roll for name in shown}
    vectors = {name: each.vector if each is not None else None for name, each in off.items()}
    dialog = SlowRollDialog(result.request.order, vectors, session.unit.unit, parent)

    def take() -> None:
        wish = session.run_choice.now.slow_roll
        typed = {**wish.vectors, **dialog.vectors()}
        session.run_choice.set_slow_roll(take_off=True, at_rpm=None, vectors=typed)

    return _open(dialog, take)


def ask_operating_range(parent: QWidget, session: Session) -> QDialog:
    """Give another operating range, for this look."""
    now, setup = session.run_choice.now.operating_rpm, session.capture.setup
    if now is None and setup is not None:
        now = setup.machine.operating_rpm
    dialog = OperatingRangeDialog(now, parent)
    return _open(dialog, lambda: session.run_choice.set(operating_rpm=dialog.operating_rpm()))


def _open(dialog: QDialog, then: object) -> QDialog:
    dialog.accepted.connect(then)
    dialog.finished.connect(dialog.deleteLater)
    dialog.open()
    return dialog
