"""A speed typed by the reader, for captures without a phase reference."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QWidget

if TYPE_CHECKING:
    from app.session.session import Session

_MISSING = (
    "No phase reference: readings come from blocks of 0.1 s, and 1X, 2X, the filtered orbit and "
    "orders are missing. Type the speed to read turn by turn."
)
_GIVEN = (
    "No phase reference: turns are counted at the speed given here. Phase lag and once-per-turn "
    "marks stay missing."
)


class SpeedField(QFrame):
    """Shown only where the setup has no phase reference: says what is missing, takes a speed."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setProperty("role", "banner")
        self.words = QLabel()
        self.words.setWordWrap(True)
        self.field = QLineEdit()
        self.field.setFixedWidth(110)
        self.field.setPlaceholderText("r/min")
        self.field.setAccessibleName("Speed, r/min")
        self.field.setToolTip("Speed of the shaft in r/min; empty: not known. Press Enter")
        self.field.returnPressed.connect(self._typed)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 8, 6)
        row.addWidget(self.words, 1)
        label = QLabel("speed")
        label.setProperty("role", "muted")
        row.addWidget(label)
        row.addWidget(self.field)
        unit = QLabel("r/min")
        unit.setProperty("role", "muted")
        row.addWidget(unit)
        session.capture.setup_changed.connect(self.refresh)
        session.choice.changed.connect(lambda _names: self.refresh())
        self.refresh()

    def refresh(self) -> None:
        """Say what holds now."""
        setup = self._session.capture.setup
        speed = self._session.choice.now.speed_rpm
        self.setVisible(setup is not None and setup.phase_reference is None)
        self.words.setText(_MISSING if speed is None else _GIVEN)
        if not self.field.hasFocus():
            self.field.setText("" if speed is None else f"{speed:g}")

    def _typed(self) -> None:
        text = self.field.text().strip().replace(",", ".")
        try:
            speed = float(text) if text else None
        except ValueError:
            speed = -1.0
        # One turn a day to a dental drill: beyond that a slip of the finger.
        valid = speed is None or 1e-3 <= speed <= 1e6
        self.field.setProperty("invalid", "false" if valid else "true")
        self.field.style().unpolish(self.field)
        self.field.style().polish(self.field)
        if valid:
            self._session.choice.set(speed_rpm=speed)
