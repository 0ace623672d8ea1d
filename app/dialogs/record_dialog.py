"""What a person says of a check before its record is written: who, where, with what."""

from __future__ import annotations

from datetime import date, datetime

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from analysis.model.record import Instrument, Stage
from analysis.reporting.record import CheckHead

LINE_MAX = 500
INSTRUMENTS = 3
DATE_TIP = "Year, month, day: 2026-03-04; empty: not known"
NOTE = (
    "Nothing has to be filled in: what is left empty stays an open line in the record, to be "
    "written by hand. Serial numbers of the chains are left open, too."
)
_STAGES: tuple[tuple[str, Stage], ...] = (
    ("not said", ""),
    ("as found", "as found"),
    ("as left", "as left"),
)


class InstrumentRow(QWidget):
    """One instrument with its calibration."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.name = _line("what", f"Instrument {number}", 150)
        self.serial = _line("serial number", f"Serial number of instrument {number}", 110)
        self.calibrated = _line("calibrated on", f"Calibration of instrument {number}", 104)
        self.due = _line("due on", f"Calibration of instrument {number} due", 104)
        for each in (self.calibrated, self.due):
            each.setToolTip(DATE_TIP)
            each.textChanged.connect(lambda _text, field=each: _mark(field))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        for each in (self.name, self.serial, self.calibrated, self.due):
            row.addWidget(each, 1 if each is self.name else 0)

    def is_right(self) -> bool:
        """Whether the dates can be read."""
        return _is_date(self.calibrated.text()) and _is_date(self.due.text())

    def instrument(self) -> Instrument | None:
        """The instrument; `None` where none is named."""
        name = self.name.text().strip()
        if not name:
            return None
        return Instrument(
            name=name,
            serial=self.serial.text().strip(),
            calibrated_on=_date(self.calibrated.text()),
            due_on=_date(self.due.text()),
        )


class RecordDialog(QDialog):
    """`head()` and `stage()` once it is accepted."""

    def __init__(self, source: str, parent: QWidget | None = None) -> None:
        """`source` is the capture that steps were looked for in, if any."""
        super().__init__(parent)
        self._source = source
        self.setWindowTitle("Record of the proof test")
        self.number = _line("", "Number of the record")
        self.site = _line("", "Site")
        self.made_by = _line("", "Done by")
        self.ambient = _line("°C", "Ambient temperature, °C", 90)
        self.ambient.setToolTip("Ambient temperature in °C; empty: not known")
        self.ambient.textChanged.connect(lambda _text: self._refresh())
        self.remarks = _line("", "Remarks")
        self.stages = QComboBox()
        self.stages.setAccessibleName("As found or as left")
        self.stages.setToolTip("Whether the settings are as they were found, or as they are left")
        for words, value in _STAGES:
            self.stages.addItem(words, value)
        self.instruments = tuple(InstrumentRow(n + 1) for n in range(INSTRUMENTS))
        form = QFormLayout()
        form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft)
        form.setHorizontalSpacing(14)
        for words, field in (
            ("Number", self.number),
            ("Site", self.site),
            ("Done by", self.made_by),
            ("Ambient, °C", self.ambient),
            ("Settings", self.stages),
            ("Remarks", self.remarks),
        ):
            form.addRow(words, field)
        for place, row in enumerate(self.instruments):
            form.addRow("Instruments" if place == 0 else "", row)
            for field in (row.calibrated, row.due):
                field.textChanged.connect(lambda _text: self._refresh())
        note = QLabel(NOTE)
        note.setProperty("role", "muted")
        note.setWordWrap(True)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.go_on = buttons.addButton("Choose the file…", QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.button(QDialogButtonBox.StandardButton.Cancel).setIcon(QIcon())
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 18, 20, 14)
        column.setSpacing(12)
        column.addLayout(form)
        column.addWidget(note)
        column.addWidget(buttons)
        self.setMinimumWidth(720)

    def stage(self) -> Stage:
        """As found, as left, or not said."""
        return _STAGES[self.stages.currentIndex()][1]

    def head(self) -> CheckHead:
        """What was filled in; the time is now."""
        made = [row.instrument() for row in self.instruments]
        return CheckHead(
            number=self.number.text().strip(),
            site=self.site.text().strip(),
            made_by=self.made_by.text().strip(),
            made_at=datetime.now().astimezone().replace(microsecond=0),
            ambient_c=_number(self.ambient.text()),
            source=self._source,
            remarks=self.remarks.text().strip(),
            instruments=tuple(each for each in made if each is not None),
        )

    def _refresh(self) -> None:
        text = self.ambient.text().strip()
        right = not text or _number(text) is not None
        _show_valid(self.ambient, right)
        self.go_on.setEnabled(right and all(row.is_right() for row in self.instruments))


def _line(placeholder: str, name: str, width: int | None = None) -> QLineEdit:
    field = QLineEdit()
    field.setMaxLength(LINE_MAX)
    field.setPlaceholderText(placeholder)
    field.setAccessibleName(name)
    if width is not None:
        field.setMinimumWidth(width)
    return field


def _number(text: str) -> float | None:
    try:
        value = float(text.strip().removesuffix("°C").strip().replace(",", "."))
    except ValueError:
        return None
    return value if abs(value) < 1000.0 else None


def _date(text: str) -> date | None:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None


def _is_date(text: str) -> bool:
    return not text.strip() or _date(text) is not None


def _mark(field: QLineEdit) -> None:
    _show_valid(field, _is_date(field.text()))


def _show_valid(field: QLineEdit, valid: bool) -> None:
    wanted = "false" if valid else "true"
    if field.property("invalid") != wanted:
        field.setProperty("invalid", wanted)
        field.style().unpolish(field)
        field.style().polish(field)
