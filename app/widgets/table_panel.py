"""The calibration table: typed, pasted or opened; as found and as left side by side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from analysis.model.errors import InputError
from app.plots import style
from app.session.notices import notice_of_error
from app.work.runner import Callbacks, Failure, JobProgress

from .check_sheets import TABLE_FIELDS, table_sheet
from .elided import ElidedLabel
from .segmented import Segmented
from .sheet import Sheet
from .small_button import quiet
from .theming import theme_of
from .tolerance_fields import ToleranceFields

if TYPE_CHECKING:
    from analysis.model.calibration_results import CalibrationTable
    from app.session.session import Session

KEY = "calibration table"
FILTER = "Tables (*.csv *.tsv *.txt);;All files (*)"


class TablePanel(QFrame):
    """Follows the session's check. `replaced` when a whole table has come in one step.

    `gap_chosen(gap_um)`: the reader is at the row of this gap (`None`: at none).
    """

    replaced = Signal()
    gap_chosen = Signal(object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setProperty("role", "card")
        self.stages = Segmented(
            "Table that is opened, pasted or cleared",
            [
                ("As found", "as found", "Open, Paste and Clear act on the table as found"),
                ("As left", "as left", "Open, Paste and Clear act on the table as left"),
            ],
            "leaf",
        )
        self.open = quiet("Open…", "Open a CSV with the columns gap_um (or gap_mil) and volts")
        self.paste = quiet(
            "Paste",
            "Paste gap and volts from a spreadsheet (Ctrl+V): tabs or semicolons, decimal points "
            "or commas; without column names gaps are in the unit shown",
        )
        self.clear = quiet("Clear", "Take this table off")
        self.sheet = Sheet("Calibration table: gap, volts as found, volts as left")
        self.message = QLabel()
        self.message.setProperty("role", "trip")
        self.message.setWordWrap(True)
        self.message.setFont(style.font("small"))
        self.message.setContentsMargins(8, 0, 8, 0)
        self.message.hide()
        self.tolerances = ToleranceFields(session)
        self._lay_out()
        self._connect()
        self.refresh()

    def _lay_out(self) -> None:
        row = QHBoxLayout()
        row.setContentsMargins(6, 5, 8, 0)
        row.setSpacing(2)
        row.addWidget(self.stages)
        row.addStretch(1)
        for button in (self.open, self.paste, self.clear):
            row.addWidget(button)
        judged = QHBoxLayout()
        judged.setContentsMargins(8, 0, 4, 0)
        words = ElidedLabel()
        words.set_full_text("Tolerances, yours to change")
        words.setProperty("role", "muted")
        judged.addWidget(words, 1)
        judged.addWidget(self.tolerances.presets)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(2)
        column.addLayout(row)
        column.addWidget(self.sheet, 1)
        column.addWidget(self.message)
        column.addLayout(judged)
        column.addWidget(self.tolerances)

    def _connect(self) -> None:
        session, check = self._session, self._session.check
        check.table_changed.connect(self.refresh)
        check.facts_changed.connect(lambda: self.stages.set_value(check.stage))
        session.checks.answered.connect(self.refresh)
        session.unit.changed.connect(lambda _unit: self.refresh())
        self.stages.chosen.connect(lambda stage: check.set_facts(stage=stage))
        self.open.clicked.connect(self.ask)
        self.paste.clicked.connect(self.sheet.paste)
        self.clear.clicked.connect(lambda: check.clear(check.stage))
        self.sheet.typed.connect(self._type)
        self.sheet.pasted.connect(self._paste)
        self.sheet.row_chosen.connect(self._choose_row)

    def dress(self) -> None:
        """Light or dark."""
        self.sheet.set_theme(theme_of(self._session.theme))

    def refresh(self) -> None:
        """Show what is typed, and how it was judged."""
        session = self._session
        result, unit = session.checks.result, session.unit.unit
        if result is not None and (
            result.request.rows != session.check.rows or result.request.unit is not unit
        ):
            result = None  # of an older table: its errors stand beside other rows
        self.stages.set_value(session.check.stage)
        self.sheet.set_sheet(table_sheet(session.check.rows, result, unit))

    def ask(self) -> None:
        """Choose a CSV for the stage looked at."""
        stage = self._session.check.stage
        text, _ = QFileDialog.getOpenFileName(
            self, f"Open the table {stage}", self._session.settings.folder, FILTER
        )
        if text:
            self.open_file(Path(text))

    def open_file(self, path: Path) -> None:
        """Read a table in the background and put it in the place of the stage looked at."""
        session, stage = self._session, self._session.check.stage

        def work(_progress: JobProgress) -> CalibrationTable:
            from analysis.files.calibration_table import read_calibration_table

            return read_calibration_table(path)

        def done(table: CalibrationTable) -> None:
            session.notices.dismiss(KEY)
            self._tell("")
            session.check.set_table(stage, table.rows)
            self.replaced.emit()

        def failed(failure: Failure) -> None:
            what = f"{path.name} could not be read as a calibration table"
            session.notices.show(notice_of_error(KEY, what, failure.error, failure.trace))

        session.runner.run(KEY, work, Callbacks(result=done, error=failed), title=path.name)

    def _type(self, row: int, column: int, text: str) -> None:
        from analysis.views.probe_check import cell_of

        value = cell_of(text)
        if column == 0 and isinstance(value, float):
            value /= self._session.unit.unit.per_um
        self._tell("")
        self._session.check.set_cell(row, TABLE_FIELDS[column], value)

    def _paste(self, text: str, row: int, column: int) -> None:
        """A table where there are two or three columns; one column goes down from the cell."""
        from analysis.views.probe_check import pasted_rows

        lines = [line for line in text.replace("\r", "\n").split("\n") if line.strip()]
        if column in TABLE_FIELDS and _is_one_column(lines):
            for place, line in enumerate(lines):
                self._type(row + place, column, line)
            return
        check = self._session.check
        try:
            rows = pasted_rows(text, self._session.unit.unit)
        except InputError as error:
            self._tell(f"Nothing was pasted. {error}.")
            return
        self._tell("")
        left = [(gap, volts) for gap, _, volts in rows if volts is not None]
        check.set_table(
            "as found" if left else check.stage, [(gap, volts) for gap, volts, _ in rows]
        )
        if left:
            check.set_table("as left", left)
        self.replaced.emit()

    def _tell(self, text: str) -> None:
        self.message.setText(text)
        self.message.setVisible(bool(text))

    def _choose_row(self, row: int) -> None:
        rows = self._session.check.rows
        gap = rows[row].gap_um if 0 <= row < len(rows) else None
        self.gap_chosen.emit(gap if isinstance(gap, float) else None)

    def go_to_gap(self, gap_um: float) -> None:
        """Make the row nearest to a gap the current one."""
        known = [
            (abs(row.gap_um - gap_um), place)
            for place, row in enumerate(self._session.check.rows)
            if isinstance(row.gap_um, float)
        ]
        if known:
            row = min(known)[1]
            self.sheet.go_to(row, max(self.sheet.currentIndex().column(), 0))
            self._choose_row(row)  # also where it is the current one already


def _is_one_column(lines: list[str]) -> bool:
    """Whether every line is one number, maybe with a decimal comma; `250,-1.97` is two."""
    for line in lines:
        bare = line.strip()
        before, comma, after = bare.partition(",")
        if any(mark in bare for mark in "\t; ") or "," in after:
            return False
        if comma and before and ("." in bare or not after[:1].isdigit()):
            return False
    return True
