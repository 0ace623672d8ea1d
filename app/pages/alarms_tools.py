"""The small tools in the titles of the Alarms page's cards."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QToolButton,
    QWidget,
)

from app.widgets import words

if TYPE_CHECKING:
    from app.session.session import Session


class ResetTools(QWidget):
    """A reset at the moment, and no resets at all."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self.here = quiet_button("", "")
        self.clear = quiet_button("No resets", "Take every reset of this capture off again")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.clear)
        row.addWidget(self.here)
        self.here.clicked.connect(session.toggle_reset)
        self.clear.clicked.connect(session.resets.clear)
        session.resets.changed.connect(self.refresh)
        session.moment.moved.connect(lambda _moment: self.refresh())
        self.refresh()

    def refresh(self) -> None:
        """Offer what can be done at the moment."""
        moment_s = self._session.moment.moment_s
        known = self._session.resets.at(moment_s)
        text = "Reset at the moment" if known is None else "Take this reset off"
        if self.here.text() != text:
            self.here.setText(text)
            self.here.setAccessibleName(text)
        at = words.seconds(moment_s if known is None else known)
        self.here.setToolTip(
            f"{'Put a reset' if known is None else 'Take off the reset'} at {at} (R). "
            "It is tried here only; nothing is reset anywhere"
        )
        self.clear.setVisible(bool(self._session.resets.times_s))


CAPTURES = "Captures (*.h5 *.hdf5 *.csv *.tsv *.txt);;All files (*)"


class CaptureTools(QToolButton):
    """Other captures of the machine that the boundary takes in: added, and taken off again."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self.setProperty("role", "quiet")
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.setToolTip(
            "Other captures of this machine: the boundary, µm or mil over s, is then that of all "
            "of them together"
        )
        self._menu = QMenu(self)
        self._menu.setToolTipsVisible(True)
        self.setMenu(self._menu)
        session.others.changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """One more to add, and those that are there."""
        names = list(self._session.others.series)
        text = f"with {len(names)} more ▾" if names else "Captures ▾"
        self.setText(text)
        self.setAccessibleName(f"Captures of the boundary: {len(names) + 1}")
        self._menu.clear()
        self._menu.addAction("Add captures…", self.ask)
        if names:
            self._menu.addSeparator()
        for name in names:
            action = self._menu.addAction(f"Take off {name.replace('&', '&&')}")
            action.triggered.connect(
                lambda _checked=False, name=name: self._session.others.remove(name)
            )

    def ask(self) -> None:
        """Choose captures to add."""
        texts, _ = QFileDialog.getOpenFileNames(
            self, "Add captures of this machine", self._session.settings.folder, CAPTURES
        )
        self._session.others.add([Path(text) for text in texts])


def quiet_button(text: str, tip: str) -> QPushButton:
    """A small tool without a frame."""
    button = QPushButton(text)
    button.setProperty("role", "quiet")
    button.setAutoDefault(False)
    button.setToolTip(tip)
    return button
