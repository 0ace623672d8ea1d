"""The keys, and what this program is."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon, QKeySequence
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QGridLayout, QLabel, QVBoxLayout, QWidget

from app.widgets.shortcuts import KEYS

_ABOUT = (
    "Runtrue reviews captures of shaft proximity probes: from one gap signal both position and "
    "vibration.\n\n"
    "It reads recorded data. It protects nothing and drives nothing: never use it in the path of "
    "an alarm or a trip, and never bypass a trip to record data without the owner's written "
    "consent. Figures from standards in it are editable defaults; the machine owner's and maker's "
    "figures, local codes and licensed practice come first."
)


class KeysDialog(QDialog):
    """Every key and what it does."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        grid = QGridLayout()
        grid.setHorizontalSpacing(18)
        grid.setVerticalSpacing(5)
        half = (len(KEYS) + 1) // 2
        for number, entry in enumerate(KEYS):
            row, column = number % half, 2 * (number // half)
            names = " or ".join(
                QKeySequence(keys).toString(QKeySequence.SequenceFormat.NativeText)
                for keys in entry.keys
            )
            keys = QLabel(names)
            keys.setProperty("role", "title")
            grid.addWidget(keys, row, column)
            grid.addWidget(QLabel(entry.words), row, column + 1)
        _finish(self, grid)


class AboutDialog(QDialog):
    """Name, version, caution."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("About Runtrue")
        title = QLabel(f"Runtrue {_version()}")
        title.setProperty("role", "title")
        text = QLabel(_ABOUT)
        text.setWordWrap(True)
        text.setMinimumWidth(420)
        text.setTextFormat(Qt.TextFormat.PlainText)
        grid = QGridLayout()
        grid.addWidget(title, 0, 0)
        grid.addWidget(text, 1, 0)
        _finish(self, grid)


def _finish(dialog: QDialog, content: QGridLayout) -> None:
    column = QVBoxLayout(dialog)
    column.setContentsMargins(20, 18, 20, 14)
    column.setSpacing(14)
    column.addLayout(content)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    buttons.rejected.connect(dialog.reject)
    buttons.button(QDialogButtonBox.StandardButton.Close).setIcon(QIcon())
    column.addWidget(buttons)


def _version() -> str:
    try:
        return version("runtrue")
    except PackageNotFoundError:
        return ""
