"""What the settings on trial would change, one sentence an event."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from app.plots import style

if TYPE_CHECKING:
    from analysis.model.replay_results import ReplayChange

MOST = 200
"""Nobody reads more; what is left out is counted."""

MARKS = {"gone": "−", "new": "+", "moved": "→"}

NO_TRIAL = (
    "Change a setting above, or drag a line of the level picture: what would have come differently "
    "is listed here, beside the settings in force."
)
ON_TRIAL = (
    "Everything else would have come as it did. Tried here only: alarms and trips are changed or "
    "bypassed only with the authority of the machine's owner."
)
SAME = "With these settings every event of this capture would have come as it did."
_WALK = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Home, Qt.Key.Key_End)
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space)


def outcome_words(changes: tuple[ReplayChange, ...]) -> str:
    """The first and gravest change, and how many more there are."""
    if not changes:
        return "On trial: nothing would have come differently"
    first = min(changes, key=_gravity)
    more = len(changes) - 1
    tail = f" · {more} more change{'s' if more > 1 else ''}" if more else ""
    return f"On trial: {first.sentence}{tail}"


def _gravity(change: ReplayChange) -> tuple[int, int, float]:
    event = change.before or change.after
    level = 0 if event is not None and event.level == "trip" else 1
    happened = 0 if event is not None and event.event == "set" else 1
    return level, happened, event.time_s if event is not None else 0.0


class ChangesList(QWidget):
    """`moment_wanted(t)` when the reader goes to a change."""

    moment_wanted = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._changes: tuple[ReplayChange, ...] = ()
        self._empty = QLabel(NO_TRIAL)
        self._empty.setProperty("role", "empty")
        self._empty.setWordWrap(True)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.list = _Walked()
        self.list.setWordWrap(True)
        self.list.setFont(style.font("body"))
        self.list.setSpacing(1)
        self.list.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setAccessibleName("What the settings on trial would change")
        self.list.setToolTip("− would not have come, + would have come besides, → at another time")
        self.list.itemClicked.connect(lambda item: self._go_to(self.list.row(item)))
        self.list.walked.connect(self._go_to)
        self.note = QLabel(ON_TRIAL)
        self.note.setProperty("role", "footer")
        self.note.setWordWrap(True)
        self.note.setContentsMargins(8, 0, 8, 3)
        listed = QWidget()
        column = QVBoxLayout(listed)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(self.list, 1)
        column.addWidget(self.note)
        self._listed = listed
        self._stack = QStackedLayout(self)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(listed)

    @property
    def changes(self) -> tuple[ReplayChange, ...]:
        """The changes listed."""
        return self._changes

    def texts(self) -> list[str]:
        """What the list says."""
        return [self.list.item(row).text() for row in range(self.list.count())]

    def empty_text(self) -> str:
        """What stands where there is nothing to list."""
        return self._empty.text()

    def set_changes(self, changes: tuple[ReplayChange, ...], *, on_trial: bool) -> None:
        """List these; `on_trial`: something is being tried at all."""
        self._empty.setText(SAME if on_trial else NO_TRIAL)
        self._stack.setCurrentWidget(self._listed if changes else self._empty)
        if changes == self._changes:
            return
        self._changes = changes
        lines = [f"{MARKS[change.kind]} {change.sentence}" for change in changes[:MOST]]
        if len(changes) > MOST:
            lines.append(f"and {len(changes) - MOST} more")
        for row, line in enumerate(lines):
            if row < self.list.count():
                self.list.item(row).setText(line)
            else:
                self.list.addItem(QListWidgetItem(line))
        while self.list.count() > len(lines):
            self.list.takeItem(self.list.count() - 1)

    def copy(self) -> str:
        """Put the list on the clipboard."""
        text = "\n".join(f"{MARKS[c.kind]} {c.sentence}" for c in self._changes)
        QGuiApplication.clipboard().setText(text)
        return text

    def _go_to(self, row: int) -> None:
        if 0 <= row < len(self._changes):
            change = self._changes[row]
            event = change.after if change.before is None else change.before
            if event is not None:
                self.moment_wanted.emit(event.time_s)


class _Walked(QListWidget):
    walked = Signal(int)

    def event(self, event: QEvent) -> bool:
        """Keys that walk through the list do so here, and do not step the moment."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            own = event.key() in (*_WALK, *_ENTER) and not event.modifiers()
            if own and self.count():
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() not in _ENTER:
            super().keyPressEvent(event)
        if event.key() in (*_WALK, *_ENTER):
            self.walked.emit(self.currentRow())
