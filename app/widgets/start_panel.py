"""What stands where the page will be: nothing open, something being opened, nothing described."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.widgets.whole_page import WholePage

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from app.session.session import Session

RECENT_SHOWN = 5


class StartPanel(WholePage):
    """Says what to do next, and offers it."""

    open_wanted = Signal()
    setup_wanted = Signal()
    describe_wanted = Signal()
    recent_wanted = Signal(object)
    lab_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.title = _label("title")
        self.text = _label("muted")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setFixedWidth(320)
        self.bar.setAccessibleName("Share of the opening done")
        self.cancel = _button("Cancel", session.opener.cancel)
        self.describe = _button("Describe the channels…", self.describe_wanted, "primary")
        self.setup = _button("Open a setup…", self.setup_wanted)
        self.open = _button("Open a capture…", self.open_wanted, "primary")
        self.lab = _button("Learn about orbits in the Lab", self.lab_wanted)
        self.lab.setToolTip("Sliders, slow motion, named shapes and exercises; needs no capture")
        self._recent = QVBoxLayout()
        self._recent.setSpacing(2)
        self._lay_out()
        session.capture.phase_changed.connect(self.refresh)
        session.capture.setup_changed.connect(self.refresh)
        session.settings.recent_changed.connect(self._fill_recent)
        session.runner.changed.connect(self._show_progress)
        self._fill_recent()
        self.refresh()

    def _lay_out(self) -> None:
        card = QFrame()
        card.setProperty("role", "card")
        card.setMaximumWidth(620)
        inner = QVBoxLayout(card)
        inner.setContentsMargins(28, 24, 28, 24)
        inner.setSpacing(12)
        inner.addWidget(self.title)
        inner.addWidget(self.text)
        inner.addWidget(self.bar)
        row = QHBoxLayout()
        for button in (self.open, self.lab, self.describe, self.setup, self.cancel):
            row.addWidget(button)
        row.addStretch(1)
        inner.addLayout(row)
        inner.addLayout(self._recent)
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        line = QHBoxLayout()
        line.addStretch(1)
        line.addWidget(card, 4)
        line.addStretch(1)
        outer.addLayout(line)
        outer.addStretch(3)

    def refresh(self) -> None:
        """Say what holds now."""
        state = self._session.capture
        opening = state.phase == "opening"
        undescribed = state.capture is not None and state.setup is None and not opening
        self.bar.setVisible(opening)
        self.cancel.setVisible(opening)
        self.describe.setVisible(undescribed)
        self.setup.setVisible(undescribed)
        for button in (self.open, self.lab):
            button.setVisible(state.capture is None and not opening)
        self._show_recent(state.capture is None and not opening)
        if opening:
            self._say(f"Opening {state.opening}", "")
            self._show_progress()
        elif undescribed and state.capture is not None:
            self._say(*_undescribed(state.capture, with_errors=bool(state.opened.setup_error)))
        elif state.phase == "failed":
            self._say(
                f"{state.opening} is not open", "The message above says why. Open another capture."
            )
        else:
            self._say(
                "Open a capture",
                "A capture holds the gap voltages of shaft proximity probes: HDF5 (.h5) or CSV. "
                "Open one, or drop it on this window. A setup (.toml) says what its channels are.",
            )

    def _say(self, title: str, text: str) -> None:
        self.title.setText(title)
        self.text.setText(text)
        self.text.setVisible(bool(text))
        self.setAccessibleName(title)

    def _show_progress(self) -> None:
        if self._session.capture.phase != "opening":
            return
        for job in self._session.runner.jobs():
            if job.key == "open":
                self.bar.setRange(0, 1000 if job.fraction > 0.0 else 0)
                self.bar.setValue(round(job.fraction * 1000))
                if job.words:
                    self._say(self.title.text(), job.words)

    def _fill_recent(self) -> None:
        while self._recent.count():
            widget = self._recent.takeAt(0).widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        for path in self._session.settings.recent[:RECENT_SHOWN]:
            button = _button(path.name, lambda _=False, p=path: self.recent_wanted.emit(p), "quiet")
            button.setToolTip(str(path))
            self._recent.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        self._show_recent(self._session.capture.capture is None)

    def _show_recent(self, shown: bool) -> None:
        for index in range(self._recent.count()):
            self._recent.itemAt(index).widget().setVisible(shown)


def _undescribed(capture: Capture, *, with_errors: bool) -> tuple[str, str]:
    names = ", ".join(list(capture.channels)[:8]) + ("…" if len(capture.channels) > 8 else "")
    count = len(capture.channels)
    why = (
        "Its setup has errors (see above). Mend the file and open it again"
        if with_errors
        else "Nothing says what they are. Open a setup"
    )
    return (
        f"{capture.name} has {count} channel{'s' if count != 1 else ''}: {names}",
        f"{why}, or describe the channels: which is a probe at which angle, which is the phase "
        "reference, and how many mV a µm or mil.",
    )


def _label(role: str) -> QLabel:
    label = QLabel()
    label.setProperty("role", role)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label


def _button(text: str, slot: object, role: str = "") -> QPushButton:
    button = QPushButton(text)
    if role:
        button.setProperty("role", role)
    button.setAutoDefault(False)
    button.clicked.connect(slot)
    return button
