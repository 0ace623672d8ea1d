"""The finding of a run, on top of its page: one sentence, and a line of what belongs to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QFrame, QLabel, QVBoxLayout, QWidget

from app.plots.fonts import font

from .elided import ElidedLabel
from .run_words import doubts_words, headline, split_words

if TYPE_CHECKING:
    from app.session.session import Session

LOOKING = "Looking for critical speeds…"
_WAITING = {
    "passing": "Reading the capture…",
    "stopped": "The pass over the capture was stopped",
    "filtering": "Filtering orders…",
    "unphased": "No phase reference: no critical speed can be told",
    "failed": "The run could not be worked out",
}
OTHER_ORDER = "Critical speeds are found on 1X; this is another order."


class RunHeadline(QFrame):
    """`moment_wanted(t)`: press goes to the critical speed that it tells of."""

    moment_wanted = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "card")
        self._time_s: float | None = None
        self.sentence = QLabel()
        self.sentence.setFont(font("figure", strong=True))
        self.sentence.setTextFormat(Qt.TextFormat.PlainText)
        self.sentence.setWordWrap(True)
        self.beside = ElidedLabel()
        self.beside.setProperty("role", "muted")
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 6, 12, 6)
        column.setSpacing(1)
        column.addWidget(self.sentence)
        column.addWidget(self.beside)
        # Its room is there from the start: a headline that comes would move every picture below.
        for label in (self.sentence, self.beside):
            label.setMinimumHeight(label.fontMetrics().height())
        self.setToolTip("Press: the moment goes to this critical speed, r/min")

    def write(self, session: Session, shown: tuple[str, ...], planes: tuple[str, ...]) -> None:
        """Tell of the probes shown."""
        run = session.run
        response = run.response
        self._time_s = None
        if response is None:
            self.sentence.setText(LOOKING if run.looking else _WAITING.get(run.phase, ""))
            self.beside.set_full_text("")
            return
        self.sentence.setText(headline(response, shown))
        beside = []
        if response.operating_rpm is not None:
            low, high = response.operating_rpm
            beside.append(f"Operating range {low:.0f} to {high:.0f} r/min")
        beside.append(split_words(response, planes))
        beside += [doubts_words(response.probes[n].notices) for n in shown if n in response.probes]
        if run.table is not None:
            beside.insert(0, f"Table {run.table.name}, in place of the capture")
        if session.run_choice.now.order != 1:
            beside.insert(0, OTHER_ORDER)
        told = [text for text in beside if text]
        told += [text for text in response.notices if "operating" in text]
        self.beside.set_full_text(" · ".join(dict.fromkeys(told)))
        found = [c for n in shown if n in response.probes for c in response.probes[n].criticals]
        if found:
            self._time_s = max(found, key=lambda c: c.amplitude_um_pp).time_s
        self.setAccessibleName(self.sentence.text())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Go to the critical speed."""
        super().mouseReleaseEvent(event)
        if self._time_s is not None and self.rect().contains(event.position().toPoint()):
            self.moment_wanted.emit(self._time_s)
