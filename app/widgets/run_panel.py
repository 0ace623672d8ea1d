"""The calibrator run: steps found by themselves, what was applied typed in beside them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QMenu, QToolButton, QVBoxLayout, QWidget

from analysis.model.calibration_entries import AppliedStep
from analysis.model.errors import InputError
from app.plots import style

from .check_sheets import RUN_FIELDS, RUN_LENGTHS, run_sheet
from .number_field import NumberField
from .sheet import Sheet
from .small_button import quiet
from .theming import theme_of

if TYPE_CHECKING:
    from app.session.session import Session


class RunPanel(QFrame):
    """Follows the session's check. `moment_wanted(t)`: the middle of the step gone to.

    `table_taken`: the position steps have become a calibration table.
    """

    moment_wanted = Signal(float)
    table_taken = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setProperty("role", "card")
        self.sheet = Sheet("Steps of the run: applied, read, error, currents")
        self.position = NumberField("Allowed error of position, % of full scale")
        self.vibration = NumberField("Allowed error of vibration, % of full scale")
        self.slack_position = NumberField("Uncertainty of the applied position")
        self.slack_vibration = NumberField("Uncertainty of the applied vibration")
        self.paste = quiet(
            "Paste applied",
            "Paste what was applied, in the order of time, one step a line: gap, or gap, tab, "
            "p-p; each is put beside the stretch that it fits",
        )
        self.clear = quiet("Clear", "Take off everything that was typed here")
        self.as_table = QToolButton()
        self.as_table.setText("To the table ▾")
        self.as_table.setProperty("role", "quiet")
        self.as_table.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.as_table.setToolTip("Make a calibration table of applied gaps and volts read")
        self.as_table.setAccessibleName("Make a calibration table of this run")
        menu = QMenu(self.as_table)
        for stage in ("as found", "as left"):
            menu.addAction(f"As the table {stage}", lambda stage=stage: self.take_table(stage))
        self.as_table.setMenu(menu)
        self.message = QLabel()
        self.message.setProperty("role", "trip")
        self.message.setWordWrap(True)
        self.message.setFont(style.font("small"))
        self.message.setContentsMargins(10, 0, 10, 2)
        self.message.hide()
        self.edition = QLabel()
        self.edition.setWordWrap(True)
        self.edition.setProperty("role", "footer")
        self._lay_out()
        self._connect()
        self.refresh()

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setContentsMargins(10, 6, 8, 0)
        head.setSpacing(6)
        title = QLabel("Applied and read")
        title.setProperty("role", "title")
        head.addWidget(title)
        head.addStretch(1)
        for button in (self.paste, self.clear, self.as_table):
            head.addWidget(button)
        foot = QHBoxLayout()
        foot.setContentsMargins(10, 0, 8, 4)
        foot.setSpacing(6)
        tips = (
            "Allowed error of position, % of full scale",
            "Added to it: how well the applied position is known, µm or mil",
            "Allowed error of vibration, % of full scale",
            "Added to it: how well the applied vibration is known, µm or mil p-p",
        )
        fields = (self.position, self.slack_position, self.vibration, self.slack_vibration)
        words = ("position ±", "and ±", "vibration ±", "and ±")
        for field, text, tip in zip(fields, words, tips, strict=True):
            label = QLabel(text)
            label.setProperty("role", "footer")
            label.setBuddy(field)
            field.setToolTip(tip)
            field.setFixedWidth(92)
            foot.addWidget(label)
            foot.addWidget(field)
        foot.addWidget(self.edition, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(3)
        column.addLayout(head)
        column.addWidget(self.sheet, 1)
        column.addWidget(self.message)
        column.addLayout(foot)

    def _connect(self) -> None:
        session, check = self._session, self._session.check
        session.checks.answered.connect(self.refresh)
        check.changed.connect(self._show_tolerances)
        session.unit.changed.connect(lambda _unit: self.refresh())
        self.sheet.typed.connect(self._type)
        self.sheet.pasted.connect(lambda text, _row, _column: self._paste(text))
        self.sheet.row_chosen.connect(self._go_to)
        self.paste.clicked.connect(self.sheet.paste)
        self.clear.clicked.connect(check.forget_run)
        change = check.change_run_tolerance
        self.position.changed.connect(lambda v: change(position_percent=v))
        self.vibration.changed.connect(lambda v: change(vibration_percent=v))
        self.slack_position.changed.connect(lambda v: change(position_um=self._um(v)))
        self.slack_vibration.changed.connect(lambda v: change(vibration_um_pp=self._um(v)))

    def dress(self) -> None:
        """Light or dark."""
        self.sheet.set_theme(theme_of(self._session.theme))

    def refresh(self) -> None:
        """Show the run as it was judged last."""
        result, unit = self._session.checks.result, self._session.unit.unit
        self.sheet.set_sheet(run_sheet(result.run if result is not None else None, unit))
        self._show_tolerances()

    def _show_tolerances(self) -> None:
        known, unit = self._session.check.run.tolerances, self._session.unit.unit
        for field, value in (
            (self.position, known.position_percent),
            (self.vibration, known.vibration_percent),
        ):
            field.set_measure(" % FS", 2, 0.1)
            field.set_number(value)
        for field, value, unit_name in (
            (self.slack_position, known.position_um, unit.value),
            (self.slack_vibration, known.vibration_um_pp, f"{unit.value} p-p"),
        ):
            field.set_measure(f" {unit_name}", 1 if unit.per_um == 1.0 else 3, 0.5 * unit.per_um)
            field.set_number(value * unit.per_um)
        self.edition.setText(known.edition)

    def _um(self, value: float) -> float:
        return value / self._session.unit.unit.per_um

    def _type(self, row: int, column: int, text: str) -> None:
        from analysis.views.probe_check import cell_of

        value = cell_of(text)
        if isinstance(value, str):
            self._tell(f"“{value}” is no number; nothing was changed.")
            return
        self._tell("")
        field = RUN_FIELDS[column]
        if value is not None and field in RUN_LENGTHS:
            value = self._um(value)
        self._session.check.change_applied(row, **{field: value})

    def _paste(self, text: str) -> None:
        """Applied steps in the order of time: gap, or gap and p-p."""
        from analysis.views.probe_check import cell_of, placed

        session, stretches = self._session, self._session.checks.stretches
        setup = session.capture.setup
        if setup is None or not stretches:
            self._tell("There are no steps yet that these values could belong to.")
            return
        steps = []
        for line in text.replace("\r", "\n").split("\n"):
            cells = [cell_of(cell) for cell in line.split("\t")]
            numbers = [cell if isinstance(cell, float) else None for cell in cells]
            if any(number is not None for number in numbers):
                gap, level = [None if n is None else self._um(n) for n in (*numbers, None)[:2]]
                steps.append(AppliedStep(gap, level))
        if not steps:
            self._tell("There are no numbers in what was pasted.")
            return
        entry = placed(tuple(steps), stretches, setup, session.check.probe)
        self._tell("")
        session.check.set_run(replace(entry, tolerances=session.check.run.tolerances))

    def take_table(self, stage: str) -> None:
        """Make a calibration table of the position steps."""
        from analysis.calibration.run import table_from_run

        result = self._session.checks.result
        if result is None or result.run is None:
            return
        try:
            table = table_from_run(result.run)
        except InputError as error:
            self._tell(f"{error}.")
            return
        self._tell("")
        self._session.check.set_table(stage, table.rows)
        self.table_taken.emit()

    def _tell(self, text: str) -> None:
        self.message.setText(text)
        self.message.setVisible(bool(text))

    def _go_to(self, row: int) -> None:
        stretches = self._session.checks.stretches
        if stretches and 0 <= row < len(stretches) and self.sheet.hasFocus():
            self.moment_wanted.emit((stretches[row].start_s + stretches[row].end_s) / 2.0)
