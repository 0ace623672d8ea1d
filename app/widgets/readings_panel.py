"""The card of the readings: table, what belongs beside the numbers, copy."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QLocale
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QMenu, QToolButton, QVBoxLayout, QWidget

from app.plots.card import Card
from app.plots.unseen import is_unseen

from . import words
from .elided import ElidedLabel
from .readings_table import ReadingsTable
from .segmented import Segmented
from .theming import theme_of

if TYPE_CHECKING:
    from analysis.model.results import SpeedReading
    from app.session.session import Session

_AT_MOMENT, _OVER_SPAN = "Readings at this moment", "Readings over the span"


class ReadingsPanel(QWidget):
    """Follows the session's answers: of the moment, or of the chosen span."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.table = ReadingsTable()
        self.notices = ElidedLabel()
        self.notices.setProperty("role", "footer")
        self.notices.setContentsMargins(10, 0, 10, 6)
        self.copy_button = self._copy_button()
        self.over = Segmented(
            "Readings",
            [
                ("moment", False, "Readings at this moment: means over the turns around it"),
                ("span", True, "Readings over the chosen span: means over all its whole turns"),
            ],
        )
        self.over.chosen.connect(session.span_reader.want)
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(2, 0, 2, 0)
        column.setSpacing(0)
        column.addWidget(self.table, 1)
        column.addWidget(self.notices)
        self.card = Card(inner, _AT_MOMENT, tools=(self.over, self.copy_button))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.card)
        session.reader.calm.passed.connect(self._show_answer)
        session.span_reader.changed.connect(self._show_answer)
        session.span.changed.connect(self._offer)
        session.unit.changed.connect(self.table.set_unit)
        session.theme.changed.connect(lambda: self.table.set_theme(theme_of(session.theme)))
        self.table.set_unit(session.unit.unit)
        self.table.set_theme(theme_of(session.theme))
        self._offer()
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

    def _offer(self) -> None:
        """The choice is there while there is something to choose."""
        self.over.setVisible(self._session.span.span is not None)

    def showEvent(self, event: QShowEvent) -> None:
        """Tell what came while nobody looked."""
        super().showEvent(event)
        self._show_answer()

    def _show_answer(self) -> None:
        if is_unseen(self):
            return
        wanted = self._session.span_reader.wanted
        self.over.set_value(wanted)
        if wanted:
            self._show_span()
        else:
            self._show_moment()

    def _show_moment(self) -> None:
        result, setup = self._session.reader.result, self._session.capture.setup
        self.table.set_readings(result.readings if result else None, setup)
        if result is None:
            self.card.set_texts(_AT_MOMENT)
            self._tell(())
            return
        speed = result.readings.speed
        self.card.set_texts(
            _AT_MOMENT,
            f"{words.seconds(result.request.moment_s)} · {words.speed(speed)} · {_means(speed)}",
        )
        self._tell(result.notices)

    def _show_span(self) -> None:
        reader, span = self._session.span_reader, self._session.span.span
        self.table.set_readings(reader.result, self._session.capture.setup)
        if span is None:
            self.card.set_texts(_OVER_SPAN)
            self._tell(())
            return
        name = self._session.spans.name_of(span)
        parts = [name] if name else []
        parts.append(f"{words.number(span.start_s, 2)} to {words.seconds(span.end_s)}")
        if reader.result is None:
            state = {"reading": f"reading, {100.0 * reader.fraction:.0f} %", "waiting": "reading"}
            parts.append(state.get(reader.phase, "stopped; choose “span” again to read it"))
            notices: tuple[str, ...] = ()
        else:
            speed = reader.result.speed
            parts += [words.speed(speed), _means(speed)]
            notices = reader.result.notices
        self.card.set_texts(_OVER_SPAN, " · ".join(parts))
        self._tell(notices)

    def _tell(self, notices: tuple[str, ...]) -> None:
        self.notices.set_full_text(" · ".join(notices))
        self.notices.setVisible(bool(notices))


def _means(speed: SpeedReading) -> str:
    kind = {"events": "revolutions", "speed": "turns at the given speed", "blocks": "blocks"}
    return f"mean ± scatter over {speed.revolutions} {kind[speed.kind]}"
