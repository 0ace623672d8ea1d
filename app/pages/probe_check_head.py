"""The top of the Probe check page: which check of which probe, and what it comes to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.widgets.check_words import (
    Finding,
    loop_finding,
    material_caution,
    run_finding,
    table_finding,
)
from app.widgets.elided import ElidedLabel
from app.widgets.segmented import Segmented
from app.widgets.small_button import plain, quiet

if TYPE_CHECKING:
    from app.session.session import Session

MATERIALS: Final = (
    "AISI 4140",
    "carbon or low-alloy steel",
    "austenitic stainless steel",
    "17-4PH",
    "aluminium",
    "copper",
)
_MARKS: Final = {"pass": ("✓ Pass", "normal"), "fail": ("✗ Fail", "trip"), "": ("", "muted")}
_MOST_DETAILS = 2


class ProbeCheckHead(QFrame):
    """Follows the session's check; every choice goes to it."""

    record_wanted = Signal()
    record_open_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setProperty("role", "card")
        self.checks = Segmented(
            "Check",
            [
                ("Calibration table", "table", "Gap and volts of a static calibration"),
                ("Calibrator run", "run", "The open capture of a probe on a calibrator"),
                ("Loop check", "loop", "The 4-20 mA loop at 0, 25, 50, 75 and 100 %"),
            ],
            "leaf",
        )
        self.probe = _combo("Probe", "The probe that is checked: its name or tag", 120)
        self.material = _combo(
            "Target material", "Material of the target that the probe looked at", 160
        )
        self.material.addItems(MATERIALS)
        self.open_record = quiet("Open a record…", "Open the TOML of an earlier record again")
        self.record = plain("Record…", "Write the check in sight as a PDF, with a TOML beside it")
        self.verdict = QLabel()
        self.headline = ElidedLabel()
        self.headline.setProperty("role", "title")
        self.details = ElidedLabel()
        self.caution = ElidedLabel()
        self.caution.setProperty("role", "footer")
        self._lay_out()
        self._connect()
        self.refresh()

    def _lay_out(self) -> None:
        choices = QHBoxLayout()
        choices.setSpacing(8)
        choices.addWidget(self.checks)
        choices.addStretch(1)
        for text, field in (("probe", self.probe), ("target", self.material)):
            label = QLabel(text)
            label.setProperty("role", "footer")
            label.setBuddy(field)
            choices.addWidget(label)
            choices.addWidget(field)
        choices.addWidget(self.open_record)
        choices.addWidget(self.record)
        finding = QHBoxLayout()
        finding.setSpacing(8)
        finding.addWidget(self.verdict)
        finding.addWidget(self.headline, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 5, 8, 6)
        column.setSpacing(2)
        column.addLayout(choices)
        column.addLayout(finding)
        column.addWidget(self.details)
        column.addWidget(self.caution)

    def _connect(self) -> None:
        session, check = self._session, self._session.check
        self.checks.chosen.connect(lambda key: check.set_facts(check=key))
        self.probe.editTextChanged.connect(lambda text: check.set_facts(probe=text.strip()))
        self.material.editTextChanged.connect(lambda text: check.set_facts(material=text.strip()))
        self.record.clicked.connect(self.record_wanted)
        self.open_record.clicked.connect(self.record_open_wanted)
        session.capture.setup_changed.connect(self._offer)
        check.facts_changed.connect(self.refresh)
        self._offer()

    def _offer(self) -> None:
        """The probes of the open capture."""
        setup = self._session.capture.setup
        names = [probe.name for probe in setup.probe] if setup is not None else []
        there = [self.probe.itemText(place) for place in range(self.probe.count())]
        if names != there:
            was = self.probe.blockSignals(True)
            self.probe.clear()
            self.probe.addItems(names)
            self.probe.blockSignals(was)
        self.refresh()

    def finding(self) -> Finding:
        """What the check in sight comes to."""
        session = self._session
        result, check = session.checks.result, session.check.check
        if check == "loop":
            return loop_finding(result)
        if check == "run":
            run = result.run if result is not None else None
            return run_finding(run, session.checks.phase, session.unit.unit)
        return table_finding(result, session.unit.unit)

    def refresh(self) -> None:
        """Show choices and finding as they are."""
        check = self._session.check
        self.checks.set_value(check.check)
        for combo, text in ((self.probe, check.probe), (self.material, check.material)):
            if combo.currentText().strip() != text:
                was = combo.blockSignals(True)
                combo.setEditText(text)
                combo.blockSignals(was)
        finding = self.finding()
        mark, role = _MARKS[finding.result]
        if self.verdict.property("role") != role:
            self.verdict.setProperty("role", role)
            self.verdict.style().unpolish(self.verdict)
            self.verdict.style().polish(self.verdict)
        self.verdict.setText(mark)
        self.verdict.setVisible(bool(mark))
        self.headline.set_full_text(finding.headline)
        shown = finding.details[:_MOST_DETAILS]
        more = len(finding.details) - len(shown)
        text = "  ".join(shown) + (f"  And {more} more: hover, or see the record." if more else "")
        self.details.set_full_text(text)
        if more:
            self.details.setToolTip("\n".join(finding.details))
        # A loop carries what it is given, whatever the target.
        self.caution.setVisible(check.check != "loop")
        self.caution.set_full_text(material_caution(check.material))


def _combo(name: str, tip: str, width: int) -> QComboBox:
    made = QComboBox()
    made.setEditable(True)
    made.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
    made.setAccessibleName(name)
    made.setToolTip(tip)
    made.setMinimumWidth(width)
    made.lineEdit().setMaxLength(120)
    return made
