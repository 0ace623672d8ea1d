"""The card of the readings: table, what belongs beside the numbers, copy."""

from __future__ import annotations

from PySide6.QtCore import QLocale
from PySide6.QtWidgets import QMenu, QToolButton, QVBoxLayout, QWidget

from app.plots.card import Card
from app.session.session import Session

from . import words
from .elided import ElidedLabel
from .readings_table import ReadingsTable
from .theming import theme_of


class ReadingsPanel(QWidget):
    """Follows the session's answers."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.table = ReadingsTable()
        self.notices = ElidedLabel()
        self.notices.setProperty("role", "footer")
        self.notices.setContentsMargins(10, 0, 10, 6)
        self.copy_button = self._copy_button()
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(2, 0, 2, 0)
        column.setSpacing(0)
        column.addWidget(self.table, 1)
        column.addWidget(self.notices)
        self.card = Card(inner, "Readings at this moment", tools=(self.copy_button,))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.card)
        session.reader.calm.passed.connect(self._show_answer)
        session.unit.changed.connect(self.table.set_unit)
        session.theme.changed.connect(lambda: self.table.set_theme(theme_of(session.theme)))
        self.table.set_unit(session.unit.unit)
        self.table.set_theme(theme_of(session.theme))
        self._show_answer()

    def copy(self, decimal_mark: str = ".") -> str:
        """Copy the selected readings, or all."""
        return self.table.copy(decimal_mark=decimal_mark)

    def _copy_button(self) -> QToolButton:
        button = QToolButton()
        button.setText("Copy ▾")
        button.setProperty("role", "quiet")
        button.setToolTip(
            "Copy the readings as tab-separated text, one number a cell, with units in the header "
            "(Ctrl+C); what is selected, or all"
        )
        button.setAccessibleName("Copy the readings")
        button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(button)
        menu.addAction("Copy with decimal point", lambda: self.copy())
        mark = QLocale.system().decimalPoint()
        own = menu.addAction(f"Copy with the system's decimal mark ( {mark} )")
        own.triggered.connect(lambda: self.copy(mark))
        button.setMenu(menu)
        return button

    def _show_answer(self) -> None:
        result, setup = self._session.reader.result, self._session.capture.setup
        readings = result.readings if result else None
        self.table.set_readings(readings, setup)
        if result is None or readings is None:
            self.card.set_texts("Readings at this moment")
            self._tell(())
            return
        speed = readings.speed
        kind = {"events": "revolutions", "speed": "turns at the given speed", "blocks": "blocks"}
        self.card.set_texts(
            "Readings at this moment",
            f"{words.seconds(result.request.moment_s)} · {words.speed(speed)} · mean ± scatter "
            f"over {speed.revolutions} {kind[speed.kind]}",
        )
        self._tell(result.notices)

    def _tell(self, notices: tuple[str, ...]) -> None:
        self.notices.set_full_text(" · ".join(notices))
        self.notices.setVisible(bool(notices))
