"""Guidance on the chosen limit: what to weigh and what was checked, each with its source."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from analysis.model.units import LengthUnit

from . import words
from .outcomes import FINDINGS

if TYPE_CHECKING:
    from analysis.model.advice import Advice

EMPTY = "Guidance stands here once a limit is chosen."
NOTE = (
    "Nothing here is filled in by itself. Figures of standards are from memory where it says so; "
    "the machine's maker and owner decide."
)


class AdviceRow(QFrame):
    """One piece of advice; `tried` when the reader wants to try what it suggests."""

    tried = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._advice: Advice | None = None
        self.mark, self.title, self.sentence, self.source = (QLabel() for _ in range(4))
        for label in (self.mark, self.title, self.sentence, self.source):
            label.setTextFormat(Qt.TextFormat.PlainText)
        for label in (self.sentence, self.source):
            label.setWordWrap(True)
        self.title.setProperty("role", "title")
        self.source.setProperty("role", "footer")
        self.try_button = QPushButton()
        self.try_button.setProperty("role", "quiet")
        self.try_button.setAutoDefault(False)
        self.try_button.clicked.connect(lambda: self.tried.emit(self._advice))
        heading = QHBoxLayout()
        heading.setSpacing(8)
        heading.addWidget(self.title)
        heading.addWidget(self.mark)
        heading.addStretch(1)
        heading.addWidget(self.try_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 4)
        column.setSpacing(1)
        column.addLayout(heading)
        column.addWidget(self.sentence)
        column.addWidget(self.source)

    def show_advice(self, advice: Advice, unit: LengthUnit) -> None:
        """Show this one."""
        self._advice = advice
        shape, word, role = FINDINGS[advice.finding]
        self.mark.setText(f"{shape} {word}")
        if self.mark.property("role") != role:
            self.mark.setProperty("role", role)
            self.mark.style().unpolish(self.mark)
            self.mark.style().polish(self.mark)
        self.title.setText(advice.title)
        self.sentence.setText(advice.sentence)
        source = f"Source: {advice.source.text} ({advice.source.how_sure})"
        self.source.setText(source)
        self.setAccessibleName(f"{advice.title}: {word}")
        self.setAccessibleDescription(f"{advice.sentence} {source}")
        one = len(advice.suggested) == 1 and advice.finding == "suggestion"
        self.try_button.setVisible(one)
        if one:
            value = f"{words.length(advice.suggested[0], unit)} {unit.value}"
            self.try_button.setText(f"Try {value}")
            self.try_button.setAccessibleName(f"Try {value} as the level")
            self.try_button.setToolTip(
                "Put this value on trial beside the setting in force; nothing is written"
            )


class GuidancePanel(QWidget):
    """A row a piece of advice, in the order given. `try_wanted(advice)` asks for a trial."""

    try_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._advice: tuple[Advice, ...] = ()
        self._unit = LengthUnit.UM
        self._rows: list[AdviceRow] = []
        self.empty = QLabel(EMPTY)
        self.empty.setProperty("role", "empty")
        self.empty.setWordWrap(True)
        self.note = QLabel(NOTE)
        self.note.setProperty("role", "footer")
        self.note.setWordWrap(True)
        inner = QWidget()
        self._column = QVBoxLayout(inner)
        self._column.setContentsMargins(10, 0, 10, 4)
        self._column.setSpacing(2)
        self._column.addWidget(self.empty)
        self._column.addStretch(1)
        self._column.addWidget(self.note)
        self.area = QScrollArea()
        self.area.setWidgetResizable(True)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.area.setAccessibleName("Guidance on the chosen limit")
        self.area.setToolTip(
            "What standards and common practice say beside the setting, with their sources"
        )
        self.area.setWidget(inner)
        # A scroll area paints its own ground unless told not to.
        self.area.viewport().setAutoFillBackground(False)
        inner.setAutoFillBackground(False)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.area)
        self._show()

    def show_advice(self, advice: tuple[Advice, ...]) -> None:
        """Show these; the same ones again change nothing."""
        if advice != self._advice:
            self._advice = advice
            self._show()

    def set_unit(self, unit: LengthUnit) -> None:
        """The unit of the values on the buttons; sentences come in their own."""
        if unit is not self._unit:
            self._unit = unit
            self._show()

    def rows(self) -> list[AdviceRow]:
        """The rows in sight."""
        return self._rows[: len(self._advice)]

    def copy(self) -> str:
        """Put the advice with its sources on the clipboard."""
        lines = [
            "\t".join((row.title.text(), row.mark.text(), row.sentence.text(), row.source.text()))
            for row in self.rows()
        ]
        text = "\n".join(lines)
        QGuiApplication.clipboard().setText(text)
        return text

    def _show(self) -> None:
        while len(self._rows) < len(self._advice):
            row = AdviceRow()
            row.tried.connect(self.try_wanted)
            self._rows.append(row)
            self._column.insertWidget(self._column.count() - 2, row)
        for place, row in enumerate(self._rows):
            shown = place < len(self._advice)
            if shown:
                row.show_advice(self._advice[place], self._unit)
            row.setVisible(shown)
        self.empty.setVisible(not self._advice)
        self.note.setVisible(bool(self._advice))
