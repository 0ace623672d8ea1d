"""The top line: machine and facts, the pages, units and turns, open, menu."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QWidget,
)

from analysis.model.units import LengthUnit

from . import words
from .choice_box import ChoiceBox
from .elided import ElidedLabel
from .segmented import Segmented

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.setup import Setup
    from app.session.session import Session

HALF_TURNS = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0)


def facts_of(capture: Capture, setup: Setup | None) -> str:
    """What a capture is, in one line: its title, planes, phase reference, length."""
    title = _without_machine(capture.title, setup)
    parts = [title] if title else [capture.name] if setup and setup.machine.title else []
    if setup is None:
        parts.append(f"{len(capture.channels)} channels, not described")
    else:
        planes = len(setup.plane)
        if planes:
            parts.append(f"{planes} plane{'s' if planes > 1 else ''}")
        else:
            parts.append(f"{len(setup.probe)} probe{'s' if len(setup.probe) != 1 else ''}")
        parts.append("phase reference" if setup.phase_reference else "no phase reference")
    parts.append(words.duration(capture.span.length_s))
    return " · ".join(parts)


def _without_machine(title: str, setup: Setup | None) -> str:
    """A capture's title often begins with the machine's, which stands before it already."""
    machine = setup.machine.title if setup else ""
    if machine and title.startswith(machine):
        title = title[len(machine) :].lstrip(" ,;:–-·")
    return title


class Header(QWidget):
    """Follows the session; what the reader asks for here goes to it, or out as `opening`."""

    open_wanted = Signal()
    recent_wanted = Signal(object)
    page_wanted = Signal(object)

    def __init__(
        self, session: Session, pages: Sequence[tuple[str, str, str]], parent: QWidget | None = None
    ) -> None:
        """`pages` are (key, title, tooltip)."""
        super().__init__(parent)
        self._session = session
        self._title = QLabel()
        self._title.setProperty("role", "title")
        self._title.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Preferred)
        self._facts = ElidedLabel()
        self._facts.setProperty("role", "muted")
        self.pages = Segmented(
            "Page", [(title, key, tip) for key, title, tip in pages], role="page"
        )
        self.pages.set_value(pages[0][0])
        self.pages.chosen.connect(self.page_wanted)
        self.units = Segmented(
            "Unit of lengths",
            [
                ("µm", LengthUnit.UM, "Show lengths in µm (Ctrl+U)"),
                ("mil", LengthUnit.MIL, "Show lengths in mil, 25.4 µm (Ctrl+U)"),
            ],
        )
        self.turns = ChoiceBox(
            "Turns read on either side of the moment",
            [(f"±{n:g} rev", n, f"Readings over {2 * n:g} revolutions") for n in HALF_TURNS],
            "Revolutions read on either side of the moment",
        )
        self._lay_out()
        self._connect()
        self._write()

    def _lay_out(self) -> None:
        self.open_button = QPushButton("Open…")
        self.open_button.setAutoDefault(False)
        self.open_button.setToolTip("Open a capture, or a setup for the open one (Ctrl+O)")
        self.open_button.setAccessibleName("Open a capture")
        self.recent_button = QToolButton()
        self.recent_button.setText("Recent ▾")
        self.recent_button.setProperty("role", "quiet")
        self.recent_button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.recent_button.setToolTip("Captures opened lately")
        self.recent_button.setMenu(QMenu(self.recent_button))
        self.menu_button = QToolButton()
        self.menu_button.setText("Menu ▾")
        self.menu_button.setProperty("role", "quiet")
        self.menu_button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.menu_button.setToolTip("Setup, theme, help")
        left, right = QWidget(), QWidget()
        for side, widgets in (
            (left, (self._title, self._facts)),
            (
                right,
                (self.units, self.turns, self.open_button, self.recent_button, self.menu_button),
            ),
        ):
            row = QHBoxLayout(side)
            row.setContentsMargins(0, 0, 0, 0)
            row.setSpacing(8)
            if side is right:
                row.addStretch(1)
            for widget in widgets:
                row.addWidget(widget, 1 if widget is self._facts else 0)
        self._sides = (left, right)
        row = QHBoxLayout(self)
        row.setContentsMargins(2, 6, 2, 0)
        row.setSpacing(10)
        row.addWidget(left, 1)
        row.addWidget(self.pages)
        row.addWidget(right, 1)
        left.setMinimumWidth(120)
        left.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def _connect(self) -> None:
        session = self._session
        self.open_button.clicked.connect(self.open_wanted)
        self.units.chosen.connect(session.unit.set)
        self.turns.chosen.connect(session.moment.set_half_turns)
        session.unit.changed.connect(self.units.set_value)
        session.moment.half_turns_changed.connect(self.turns.set_value)
        session.capture.setup_changed.connect(self._write)
        session.settings.recent_changed.connect(self._fill_recent)
        self.units.set_value(session.unit.unit)
        self.turns.set_value(session.moment.half_turns)
        self._fill_recent()

    def _write(self) -> None:
        capture, setup = self._session.capture.capture, self._session.capture.setup
        if capture is None:
            self._title.setText("Runtrue")
            self._facts.set_full_text("review of shaft proximity-probe captures")
            return
        title = setup.machine.title if setup and setup.machine.title else capture.name
        self._title.setText(title)
        self._facts.set_full_text(facts_of(capture, setup))

    def _fill_recent(self) -> None:
        menu = self.recent_button.menu()
        menu.clear()
        menu.setToolTipsVisible(True)
        recent = self._session.settings.recent
        for path in recent:
            action = menu.addAction(path.name.replace("&", "&&"))
            action.setToolTip(str(path))
            action.triggered.connect(lambda _checked=False, p=path: self.recent_wanted.emit(p))
        if recent:
            menu.addSeparator()
            menu.addAction("Forget these", self._session.settings.forget_recent)
        self.recent_button.setEnabled(bool(recent))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A narrow window drops the list of recent files, which the menu of the start page has."""
        super().resizeEvent(event)
        self.recent_button.setVisible(self.width() >= 900)
