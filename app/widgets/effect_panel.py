"""What the curve of the table would change, before it is used for a probe."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.session.notices import Notice

from .check_sheets import effect_sheet
from .elided import ElidedLabel
from .sheet import Sheet
from .small_button import plain, quiet
from .theming import theme_of
from .words import seconds

if TYPE_CHECKING:
    from app.session.session import Session

KEY = "curve on trial"
NO_CAPTURE = "Open a capture with this probe: then the readings of the moment stand here, by its "
NO_CAPTURE += "setup and by this curve."
NO_TABLE = "With a complete table, the readings of the moment stand here, by the setup and by it."
NO_PROBE = "Choose a probe of the open capture above."
WAITING = "Reading the moment…"


class EffectPanel(QFrame):
    """Follows the session. `write_wanted`: the curve on trial is to be written to a setup."""

    write_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setProperty("role", "card")
        self._title = QLabel("Effect of this curve")
        self._title.setProperty("role", "title")
        self._subtitle = ElidedLabel()
        self._subtitle.setProperty("role", "subtitle")
        self.sheet = Sheet("Readings of the moment by the setup and by this curve", numbered=False)
        self.empty = QLabel()
        self.empty.setProperty("role", "empty")
        self.empty.setWordWrap(True)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.use = plain(
            "Use this curve",
            "Read this probe by this curve on every page, until you drop it; nothing is written",
        )
        self.back = plain("Drop the curve", "Back to the setup as it was opened")
        self.write = quiet(
            "Write to a setup…",
            "Write the setup with this curve to a file, after asking; never into the capture",
        )
        self._lay_out()
        self._connect()
        self.refresh()

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setContentsMargins(10, 7, 8, 0)
        head.setSpacing(6)
        head.addWidget(self._title)
        head.addWidget(self._subtitle, 1)
        foot = QHBoxLayout()
        foot.setContentsMargins(8, 0, 8, 5)
        foot.setSpacing(6)
        foot.addWidget(self.use)
        foot.addWidget(self.back)
        foot.addWidget(self.write)
        foot.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(3)
        column.addLayout(head)
        column.addWidget(self.sheet, 1)
        column.addWidget(self.empty, 1)
        column.addLayout(foot)

    def _connect(self) -> None:
        session = self._session
        session.checks.effect_answered.connect(self.refresh)
        session.checks.answered.connect(self.refresh)
        session.curves.changed.connect(self.refresh)
        session.curves.changed.connect(self._dropped)
        session.capture.setup_changed.connect(self.refresh)
        session.check.facts_changed.connect(self.refresh)
        session.unit.changed.connect(lambda _unit: self.refresh())
        self.use.clicked.connect(self.take)
        self.back.clicked.connect(session.curves.back)
        self.write.clicked.connect(self.write_wanted)

    def dress(self) -> None:
        """Light or dark."""
        self.sheet.set_theme(theme_of(self._session.theme))

    def take(self) -> None:
        """Use the curve whose effect is shown; curves of other probes on trial stay."""
        from analysis.views.curve_effect import setup_with_curve

        session, effect = self._session, self._session.checks.effect
        setup = session.capture.setup
        if effect is None or setup is None:
            return
        rows = effect.setup.probe_named(effect.probe).calibration
        session.curves.take(setup_with_curve(setup, effect.probe, rows or ()))
        self._tell_taken()

    def _tell_taken(self) -> None:
        """Every page reads by it from now on, so every page says so until that is read."""
        names = ", ".join(self._session.curves.names)
        text = "Nothing is written. “Drop the curve” on Probe check goes back to the setup."
        title = f"{names}: read by the curve of Probe check, on every page"
        self._session.notices.show(Notice(KEY, "info", title, text))

    def refresh(self) -> None:
        """Show the effect as far as it is known."""
        session = self._session
        effect, probe = session.checks.effect, session.check.probe
        self.sheet.set_sheet(effect_sheet(effect, session.unit.unit))
        self.sheet.setVisible(effect is not None)
        self.empty.setVisible(effect is None)
        self.empty.setText(self._missing())
        where = f"{effect.probe} at {seconds(_middle(effect.span))}" if effect else ""
        taken = session.curves.names
        used = f"{', '.join(taken)} read{'s' if len(taken) == 1 else ''} by a curve on trial"
        answer = session.checks.result
        looked_at = answer.looked_at(session.check.stage) if answer is not None else None
        self._title.setText(f"Effect of the curve {looked_at[0] if looked_at else ''}".rstrip())
        self._subtitle.set_full_text(" · ".join(filter(None, (where, used if taken else ""))))
        self.use.setVisible(effect is not None and not self._is_taken(effect))
        self.use.setText(f"Use this curve for {probe}" if probe else "Use this curve")
        self.use.setAccessibleName(self.use.text())
        self.back.setVisible(bool(taken))
        self.write.setVisible(bool(taken))

    def _dropped(self) -> None:
        if not self._session.curves.names:
            self._session.notices.dismiss(KEY)

    def _is_taken(self, effect: object) -> bool:
        setup = self._session.capture.setup
        if setup is None:
            return False
        name = effect.probe
        wanted = effect.setup.probe_named(name)
        return any(probe == wanted for probe in setup.probe)

    def _missing(self) -> str:
        session = self._session
        if session.capture.setup is None:
            return NO_CAPTURE
        if session.check.probe not in [probe.name for probe in session.capture.setup.probe]:
            return NO_PROBE
        result = session.checks.result
        return NO_TABLE if result is None or result.counting is None else WAITING


def _middle(span: object) -> float:
    return (span.start_s + span.end_s) / 2.0
