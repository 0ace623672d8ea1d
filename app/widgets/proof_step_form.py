"""One step of a proof test: what to do, what to read where, and how it came out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from .outcomes import OUTCOMES
from .segmented import Segmented
from .theming import mark_property

if TYPE_CHECKING:
    from analysis.model.proof import ExpectedReading, ProofStep
    from analysis.model.record import Outcome

    from .proof_entries import Entry

NOT_READ = "not read yet"
REMARK_MAX = 400


class ReadingField(QWidget):
    """Where one reading is put in: a choice, or a number. `read(text)` when it is given."""

    read = Signal(str)

    def __init__(self, expected: ExpectedReading, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.expected = expected
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        self.box: QComboBox | None = None
        self.line: QLineEdit | None = None
        tip = f"{expected.where}; expected: {expected.text}"
        if expected.choices:
            self.box = QComboBox()
            self.box.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            self.box.setMinimumContentsLength(8)
            self.box.addItem(NOT_READ, "")
            for choice in expected.choices:
                self.box.addItem(choice, choice)
            self.box.activated.connect(lambda _n: self.read.emit(str(self.box.currentData())))
            self._dress(self.box, tip)
        else:
            self.line = QLineEdit()
            self.line.setPlaceholderText(f"read, {expected.unit}")
            self.line.editingFinished.connect(lambda: self.read.emit(self.line.text()))
            more = "; or the V across 250 Ω with V behind it" if expected.unit == "mA" else ""
            self._dress(self.line, f"{tip}{more}")
        row.addWidget(self.box or self.line)

    def show_reading(self, text: str, agrees: bool | None) -> None:
        """Show what was read, and whether it is what was expected."""
        if self.box is not None:
            self.box.setCurrentIndex(max(self.box.findData(text), 0))
        elif self.line is not None and self.line.text() != text:
            self.line.setText(text)
        mark_property(self.box or self.line, "invalid", agrees is False)

    def _dress(self, widget: QWidget, tip: str) -> None:
        widget.setAccessibleName(f"Read at {self.expected.where}")
        widget.setAccessibleDescription(f"expected {self.expected.text}")
        widget.setToolTip(tip)


class ProofStepForm(QWidget):
    """The step in sight.

    Signals: `read(number, text)` of a reading, `chosen(outcome)`, `remarked(text)`, and wishes for
    the next step and for the moment at which the step was found.
    """

    read = Signal(int, str)
    chosen = Signal(str)
    remarked = Signal(str)
    next_wanted = Signal()
    moment_wanted = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._step: ProofStep | None = None
        self._found_s: float | None = None
        self.fields: list[ReadingField] = []
        self.title, self.do, self.found = QLabel(), QLabel(), QLabel()
        self.title.setProperty("role", "title")
        self.found.setProperty("role", "footer")
        for label in (self.title, self.do, self.found):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.do.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.result = Segmented(
            "Result of the step",
            [
                ("✓ pass", "pass", "The step came out as expected"),
                ("✗ fail", "fail", "The step did not come out as expected"),
                ("– not done", "not done", "The step has not been done"),
            ],
        )
        self.remark = QLineEdit()
        self.remark.setPlaceholderText("remark")
        self.remark.setMaxLength(REMARK_MAX)
        self.remark.setMinimumWidth(50)
        self.remark.setAccessibleName("Remark on the step")
        self.remark.setToolTip("A remark for the record")
        self.next_button = _quiet("Next", "Go to the next step (Down in the list)")
        self.there_button = _quiet("Go there", "Move the moment to where the step was found")
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(2)
        self._grid.setColumnStretch(0, 5)
        self._grid.setColumnStretch(1, 4)
        self._lay_out()
        self.result.chosen.connect(lambda outcome: self.chosen.emit(outcome))
        self.remark.editingFinished.connect(lambda: self.remarked.emit(self.remark.text()))
        self.next_button.clicked.connect(self.next_wanted)
        self.there_button.clicked.connect(self._go_there)

    def show_nothing(self, text: str) -> None:
        """No step: say what to do."""
        self._make_fields(())
        self._step = None
        self.title.setText("")
        self.do.setText(text)
        self.found.setText("")
        for widget in (self.result, self.remark, self.next_button, self.there_button):
            widget.hide()

    def show_step(
        self,
        step: ProofStep,
        entry: Entry,
        agreements: Sequence[bool | None],
        outcome: Outcome,
        *,
        last: bool,
    ) -> None:
        """Show a step as far as it has been done."""
        if step != self._step:
            self._step = step
            self._make_fields(step.expected)
            self.title.setText(f"{step.number}  {step.full_title}")
            self.do.setText(step.do)
            self.area.verticalScrollBar().setValue(0)
        for number, (field, agrees) in enumerate(zip(self.fields, agreements, strict=True)):
            field.show_reading(entry.readings.get(number, ""), agrees)
        for widget in (self.result, self.remark):
            widget.show()
        self.next_button.setVisible(not last)
        self.result.set_value(outcome)
        if self.remark.text() != entry.remark:
            self.remark.setText(entry.remark)
        self._show_found(entry)

    def _show_found(self, entry: Entry) -> None:
        found = entry.found
        self._found_s = None if found is None else found.start_s
        self.there_button.setVisible(self._found_s is not None)
        self.found.setVisible(found is not None)
        if found is None:
            return
        shape, word, _ = OUTCOMES[found.result]
        where = ""
        if found.start_s is not None and found.end_s is not None:
            where = f" at {found.start_s:.1f} to {found.end_s:.1f} s"
        parts = [f"In the capture: {shape} {word}{where}", found.read, found.remark]
        self.found.setText(". ".join(part for part in parts if part))

    def _make_fields(self, expected: Sequence[ExpectedReading]) -> None:
        while self._grid.count():
            widget = self._grid.takeAt(0).widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self.fields = []
        for number, each in enumerate(expected):
            label = QLabel(f"{each.where}\n{each.text}")
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
            field = ReadingField(each)
            field.read.connect(lambda text, n=number: self.read.emit(n, text))
            self._grid.addWidget(label, number, 0)
            self._grid.addWidget(field, number, 1)
            self.fields.append(field)

    def _lay_out(self) -> None:
        inner = QWidget()
        inside = QVBoxLayout(inner)
        inside.setContentsMargins(0, 0, 8, 0)
        inside.setSpacing(4)
        for widget in (self.title, self.do):
            inside.addWidget(widget)
        inside.addLayout(self._grid)
        inside.addWidget(self.found)
        inside.addStretch(1)
        self.area = QScrollArea()
        self.area.setWidgetResizable(True)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.area.setAccessibleName("The step: what to do and what to read")
        self.area.setWidget(inner)
        self.area.viewport().setAutoFillBackground(False)
        inner.setAutoFillBackground(False)
        row = QHBoxLayout()
        row.setSpacing(6)
        row.addWidget(self.result)
        row.addWidget(self.remark, 1)
        row.addWidget(self.there_button)
        row.addWidget(self.next_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 6, 0)
        column.setSpacing(4)
        column.addWidget(self.area, 1)
        column.addLayout(row)

    def _go_there(self) -> None:
        if self._found_s is not None:
            self.moment_wanted.emit(self._found_s)


def _quiet(text: str, tip: str) -> QPushButton:
    button = QPushButton(text)
    button.setProperty("role", "quiet")
    button.setAutoDefault(False)
    button.setToolTip(tip)
    return button
