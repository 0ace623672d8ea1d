"""The proof test: its steps in a list, and the one that is being done beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from analysis.protection.proof_test import PROOF_CAUTIONS
from app.plots import style

from .outcomes import OUTCOMES
from .proof_entries import Entries
from .proof_step_form import ProofStepForm
from .segmented import Segmented

if TYPE_CHECKING:
    from analysis.model.proof import ProofStep, StepResult

EMPTY = (
    "No steps: the setup has no limits, or those of this probe need more than one probe to agree "
    "(choose “this limit”)."
)
CAUTION = (
    "Only with the owner's authority, permits and a time limit; a step that sets a trip stops a "
    "running machine. Hands off turning shafts. Hover for all cautions."
)
_PLACE = Qt.ItemDataRole.UserRole
_COLOURS = {"pass": "normal", "fail": "trip", "not found": "alarm_ink", "not done": "muted"}


class ProofTestPanel(QWidget):
    """Steps to be ticked off, or found in the capture that is open.

    `scope_wanted(scope)` asks for the steps of `"limit"`, `"probe"` or `"all"`, `check_wanted()`
    for a check of the capture, `record_wanted()` for the record, `moment_wanted(s)` for the moment
    at which a step was found.
    """

    scope_wanted = Signal(str)
    check_wanted = Signal()
    record_wanted = Signal()
    moment_wanted = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._entries = Entries()
        self._items: list[QListWidgetItem] = []
        self._theme = style.Theme.LIGHT
        self.scope = Segmented(
            "What is proved",
            [
                ("this limit", "limit", "Steps for the chosen limit"),
                ("its probe", "probe", "Steps for every limit of the chosen limit's first probe"),
                ("all", "all", "Steps for every limit of the setup"),
            ],
        )
        self.scope.set_value("limit")
        self.check_button = _button(
            "Find in the capture",
            "Find the steps in the capture that is open and hold each against what the limits made "
            "of it. A capture holds no relay and no loop: those are read by hand",
        )
        self.record_button = _button(
            "Record…", "Write what was done as a PDF, with its content as TOML beside it"
        )
        self.list = self._make_list()
        self.form = ProofStepForm()
        self.caution = QLabel(CAUTION)
        self.caution.setProperty("role", "footer")
        self.caution.setWordWrap(True)
        self.caution.setToolTip("\n\n".join(PROOF_CAUTIONS))
        self.summary = QLabel()
        self.summary.setProperty("role", "footer")
        self._lay_out()
        self._connect()
        self._show()

    def show_steps(self, steps: tuple[ProofStep, ...]) -> None:
        """Show these steps; what was read in a step that is still the same stays."""
        if steps == self._entries.steps:
            return
        self._entries.set_steps(steps)
        self._show()

    def show_results(self, results: tuple[StepResult, ...]) -> None:
        """Put in what was found in a capture; results given by hand stay."""
        self._entries.take_found(results)
        self._refresh()

    def results(self) -> tuple[StepResult, ...]:
        """Every step as it stands."""
        return self._entries.results()

    def steps(self) -> tuple[ProofStep, ...]:
        """The steps shown."""
        return self._entries.steps

    def touched(self) -> bool:
        """Whether anything was ticked off or found."""
        return self._entries.touched()

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._theme = theme
        self._refresh()

    def _make_list(self) -> QListWidget:
        made = QListWidget()
        made.setAccessibleName("Steps of the proof test")
        made.setToolTip("Steps with their results; up and down go from one to the next")
        made.setUniformItemSizes(True)
        made.setTextElideMode(Qt.TextElideMode.ElideRight)
        made.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        made.setMinimumWidth(120)
        return made

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setContentsMargins(10, 0, 6, 0)
        top.addWidget(self.scope)
        top.addStretch(1)
        top.addWidget(self.check_button)
        top.addWidget(self.record_button)
        middle = QHBoxLayout()
        middle.setSpacing(8)
        middle.addWidget(self.list, 38)
        middle.addWidget(self.form, 62)
        bottom = QHBoxLayout()
        bottom.setContentsMargins(10, 0, 10, 2)
        bottom.addWidget(self.caution, 1)
        bottom.addWidget(self.summary)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addLayout(top)
        column.addLayout(middle, 1)
        column.addLayout(bottom)

    def _connect(self) -> None:
        self.scope.chosen.connect(lambda scope: self.scope_wanted.emit(scope))
        self.check_button.clicked.connect(lambda: self.check_wanted.emit())
        self.record_button.clicked.connect(lambda: self.record_wanted.emit())
        self.list.currentItemChanged.connect(lambda _now, _before: self._show_step())
        self.form.read.connect(self._read)
        self.form.chosen.connect(self._choose)
        self.form.remarked.connect(self._remark)
        self.form.next_wanted.connect(self._next)
        self.form.moment_wanted.connect(self.moment_wanted)

    def _show(self) -> None:
        steps = self._entries.steps
        place = self._place()
        was = self.list.blockSignals(True)
        self.list.clear()
        self._items = []
        subject = ""
        for step in steps:
            if step.subject and step.subject != subject:
                self.list.addItem(_heading(step.subject))
            subject = step.subject
            item = QListWidgetItem()
            item.setData(_PLACE, len(self._items))
            item.setToolTip(f"{step.full_title}\n{step.do}")
            self.list.addItem(item)
            self._items.append(item)
        if steps:
            self.list.setCurrentItem(self._items[min(max(place, 0), len(steps) - 1)])
        self.list.blockSignals(was)
        for button in (self.check_button, self.record_button):
            button.setEnabled(bool(steps))
        self._refresh()

    def _refresh(self) -> None:
        counts: dict[str, int] = {}
        colours = style.palette(self._theme)
        for place, step in enumerate(self._entries.steps):
            outcome = self._entries.outcome(place)
            counts[outcome] = counts.get(outcome, 0) + 1
            shape, word, _ = OUTCOMES[outcome]
            item = self._items[place]
            item.setText(f"{shape} {step.number}  {step.title}")
            item.setForeground(style.colour(getattr(colours, _COLOURS[outcome])))
            item.setData(
                Qt.ItemDataRole.AccessibleTextRole, f"Step {step.number}, {step.full_title}: {word}"
            )
        self.summary.setText(
            " · ".join(f"{n} {name}" for name in _COLOURS if (n := counts.get(name)))
        )
        self._show_step()

    def _place(self) -> int:
        """Which step is in sight; -1: none."""
        item = self.list.currentItem()
        place = None if item is None else item.data(_PLACE)
        return -1 if place is None else int(place)

    def go_to(self, place: int) -> None:
        """Bring a step into sight, counted from 0."""
        if 0 <= place < len(self._items):
            self.list.setCurrentItem(self._items[place])

    def _show_step(self) -> None:
        place = self._place()
        if not 0 <= place < len(self._entries.steps):
            self.form.show_nothing(EMPTY)
            return
        self.form.show_step(
            self._entries.steps[place],
            self._entries[place],
            self._entries.agreements(place),
            self._entries.outcome(place),
            last=place == len(self._entries.steps) - 1,
        )

    def _read(self, number: int, text: str) -> None:
        self._entries[self._place()].readings[number] = text
        self._refresh()

    def _choose(self, outcome: str) -> None:
        self._entries[self._place()].chosen = outcome
        self._refresh()

    def _remark(self, text: str) -> None:
        self._entries[self._place()].remark = text

    def _next(self) -> None:
        self.go_to(self._place() + 1)


def _heading(text: str) -> QListWidgetItem:
    """What the steps below try; not a step itself, so keys pass over it."""
    item = QListWidgetItem(text)
    item.setFlags(Qt.ItemFlag.NoItemFlags)
    item.setFont(style.font("small", strong=True))
    item.setToolTip(text)
    return item


def _button(text: str, tip: str) -> QPushButton:
    button = QPushButton(text)
    button.setProperty("role", "quiet")
    button.setAutoDefault(False)
    button.setToolTip(tip)
    return button
