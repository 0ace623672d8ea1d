"""Errors and warnings, in the window: what, where, what to do; details on request."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

if TYPE_CHECKING:
    from app.session.notices import Notice, NoticeState

_MARKS = {"error": ("✗", "trip"), "warning": ("▲", "alarm"), "info": ("–", "normal")}
_ACTIONS = {
    "describe_channels": "Describe the channels…",
    "describe_columns": "Say what its columns are…",
}
TEXT_HEIGHT = 84
DETAILS_HEIGHT = 132
SHOWN = 2
"""So many notices at once; the others wait their turn."""
INFO_MS = 10_000
"""What went well needs no dismissing."""


class NoticeFrame(QFrame):
    """One notice."""

    acted = Signal(object)
    dismissed = Signal(str)

    def __init__(self, notice: Notice, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.notice = notice
        self.setProperty("role", "banner")
        self.setAccessibleName(f"{notice.severity}: {notice.title}")
        self.setAccessibleDescription(notice.text)
        mark, role = _MARKS[notice.severity]
        sign = QLabel(mark)
        sign.setProperty("role", role)
        title = QLabel(notice.title)
        title.setProperty("role", "title")
        title.setWordWrap(True)
        title.setTextFormat(Qt.TextFormat.PlainText)
        heading = QHBoxLayout()
        heading.setSpacing(8)
        heading.addWidget(sign)
        heading.addWidget(title, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 5, 8, 6)
        column.setSpacing(2)
        column.addLayout(heading)
        if notice.text:
            column.addWidget(_text_of(notice.text))
        self._details = QPlainTextEdit(notice.details)
        self._details.setReadOnly(True)
        self._details.setFixedHeight(DETAILS_HEIGHT)
        self._details.setAccessibleName("Details")
        self._details.hide()
        if notice.details:
            column.addWidget(self._details)
            heading.addWidget(self._button("Details", self._toggle_details))
        if notice.action:
            heading.addWidget(
                self._button(_ACTIONS[notice.action], lambda: self.acted.emit(notice), "primary")
            )
        heading.addWidget(self._button("Dismiss", lambda: self.dismissed.emit(notice.topic)))

    def _button(self, text: str, slot: object, role: str = "quiet") -> QPushButton:
        button = QPushButton(text)
        button.setProperty("role", role)
        button.setAutoDefault(False)
        button.clicked.connect(slot)
        return button

    def _toggle_details(self) -> None:
        self._details.setVisible(not self._details.isVisible())


def _text_of(text: str) -> QWidget:
    label = QLabel(text)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    label.setTextInteractionFlags(
        Qt.TextInteractionFlag.TextSelectableByMouse
        | Qt.TextInteractionFlag.TextSelectableByKeyboard
    )
    if text.count("\n") < 4:
        return label
    # A setup can have more errors than the window has room for.
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setWidget(label)
    area.setFixedHeight(TEXT_HEIGHT)
    area.setAutoFillBackground(False)
    area.viewport().setAutoFillBackground(False)
    label.setAutoFillBackground(False)
    return area


class Banner(QWidget):
    """All notices of the session, errors first; takes no room when there are none."""

    acted = Signal(object)

    def __init__(self, notices: NoticeState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._notices = notices
        self._frames: list[NoticeFrame] = []
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(6)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.setAccessibleName("Messages")
        self._more = QLabel()
        self._more.setProperty("role", "muted")
        self._column.addWidget(self._more)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(INFO_MS)
        self._timer.timeout.connect(self._drop_infos)
        notices.changed.connect(self._rebuild)
        self.hide()
        self._rebuild()

    def texts(self) -> tuple[str, ...]:
        """What the banner says, one text a notice."""
        return tuple(f"{f.notice.title}\n{f.notice.text}" for f in self._frames)

    def _rebuild(self) -> None:
        # Errors first, and of equals the newest.
        wanted = sorted(reversed(self._notices.all), key=lambda n: _ORDER.index(n.severity))
        shown, waiting = wanted[:SHOWN], len(wanted) - SHOWN
        self._more.setText(f"and {waiting} more, when these are dismissed")
        self._more.setVisible(waiting > 0)
        if any(notice.severity == "info" for notice in wanted):
            self._timer.start()
        if [frame.notice for frame in self._frames] == shown:
            return
        for frame in self._frames:
            self._column.removeWidget(frame)
            frame.hide()
            frame.deleteLater()
        self._frames = []
        for place, notice in enumerate(shown):
            frame = NoticeFrame(notice)
            frame.acted.connect(self.acted)
            frame.dismissed.connect(self._notices.dismiss)
            self._column.insertWidget(place, frame)
            self._frames.append(frame)
        self.setVisible(bool(self._frames))

    def _drop_infos(self) -> None:
        for notice in self._notices.all:
            if notice.severity == "info":
                self._notices.dismiss(notice.topic)


_ORDER = ("error", "warning", "info")
