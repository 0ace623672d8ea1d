"""Short exercises: a question, what is shown, an answer that is checked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from analysis.simulate.tasks import KINDS, Task, check_answer, make_task

from .choice_box import ChoiceBox
from .segmented import Segmented

if TYPE_CHECKING:
    from analysis.simulate.recipe import Recipe
    from analysis.simulate.task_parts import Ask, TaskKind, Verdict
    from app.session.lab_model import LabModel

HIDDEN: dict[TaskKind, frozenset[str]] = {
    "phase_lag": frozenset({"lag"}),
    "precession": frozenset({"precession"}),
    "swapped": frozenset({"precession", "shaft", "notes"}),
    "slow_roll": frozenset({"shaft", "notes"}),
    "alarm": frozenset({"notes"}),
}
"""What the pictures keep to themselves, or there would be nothing to find."""

_PLACES = ("A", "B", "C", "D")


class LabTasks(QWidget):
    """A task at a time. `shown()` when it or the picture of it changed.

    `check_wanted(Task, answer)`: captures have to be replayed to check it, which takes a second.
    """

    shown = Signal()
    check_wanted = Signal(object, object)

    def __init__(self, model: LabModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model = model
        self._seed = 1
        self._solved = False
        self.task: Task | None = None
        self._state_at = 0
        self._fields: dict[str, QLineEdit | Segmented] = {}
        self.kinds = ChoiceBox(
            "Task", [(title, kind, title) for kind, title in KINDS.items()], "Which exercise"
        )
        self.kinds.setProperty("role", "chooser")
        self.question, self.hint, self.verdict = _words(""), _words("muted"), _words("title")
        self.states = Segmented("Shown", [])
        self.hint_button = QPushButton("Hint")
        self.check_button = QPushButton("Check")
        self.next_button = QPushButton("Another one")
        self._form = QFormLayout()
        self._lay_out()
        self._connect()

    def start(self) -> None:
        """The first task, unless one was begun; its picture in any case."""
        if self.task is None:
            self._make("phase_lag")
        else:
            self._show_state(self._state_at)

    def recipe(self) -> Recipe | None:
        """What is shown, to be saved or opened on the other pages."""
        return self.task.recipes[self._state_at] if self.task is not None else None

    def hidden(self) -> frozenset[str]:
        """What the pictures must not give away."""
        return HIDDEN[self.task.kind] if self.task is not None and not self._solved else frozenset()

    def answer(self) -> dict[str, float | str]:
        """What was typed and chosen so far."""
        out: dict[str, float | str] = {}
        for name, field in self._fields.items():
            if isinstance(field, QLineEdit):
                out[name] = field.text().strip()
            elif field.value() is not None:
                out[name] = field.value()
        return out

    def field(self, name: str) -> QLineEdit | Segmented:
        """The field of a part of the answer."""
        return self._fields[name]

    def check(self) -> None:
        """Check the answer; replaying captures is left to who can wait for it."""
        if self.task is None:
            return
        if self.task.kind == "alarm":
            self.verdict.setText("Replaying both captures…")
            self.verdict.show()
            self.check_wanted.emit(self.task, self.answer())
        else:
            self.show_verdict(self.task, check_answer(self.task, self.answer()))

    def show_verdict(self, task: Task, verdict: Verdict) -> None:
        """Say whether the answer to that task was right; once it was, nothing is kept back."""
        if task is not self.task:
            return
        self.verdict.setText(f"{'✓' if verdict.right else '✗'} {verdict.words}")
        self.verdict.show()
        if verdict.right and not self._solved:
            self._solved = True
            self.shown.emit()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 10)
        column.setSpacing(10)
        column.addWidget(self.kinds, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.question)
        column.addWidget(self.states, 0, Qt.AlignmentFlag.AlignLeft)
        self._form.setHorizontalSpacing(10)
        column.addLayout(self._form)
        row = QHBoxLayout()
        for button in (self.check_button, self.hint_button, self.next_button):
            button.setAutoDefault(False)
            row.addWidget(button)
        row.addStretch(1)
        self.check_button.setProperty("role", "primary")
        self.next_button.setToolTip("The same exercise with other figures")
        column.addLayout(row)
        column.addWidget(self.verdict)
        column.addWidget(self.hint)
        column.addStretch(1)

    def _connect(self) -> None:
        self.kinds.chosen.connect(self._make)
        self.states.chosen.connect(self._show_state)
        self.hint_button.clicked.connect(lambda: self.hint.setVisible(not self.hint.isVisible()))
        self.check_button.clicked.connect(self.check)
        self.next_button.clicked.connect(self._another)

    def _another(self) -> None:
        self._seed += 1
        if self.task is not None:
            self._make(self.task.kind)

    def _make(self, kind: TaskKind) -> None:
        self.task = task = make_task(kind, self._seed)
        self._solved = False
        self.kinds.set_value(kind)
        self.question.setText(task.question)
        self.hint.setText(f"Hint: {task.hint}")
        self.hint.hide()
        self.verdict.hide()
        count = len(task.recipes) if kind == "alarm" else len(task.states)
        names = _PLACES[:count] if kind == "swapped" else [f"{n + 1}" for n in range(count)]
        word = {"swapped": "plane ", "alarm": "capture "}.get(kind, "picture ")
        self.states.set_options(
            [(f"{word}{name}", place, f"Show {word}{name}") for place, name in enumerate(names)]
        )
        self.states.setVisible(count > 1)
        self._ask(task.asks)
        self._show_state(0)

    def _ask(self, asks: tuple[Ask, ...]) -> None:
        while self._form.rowCount():
            self._form.removeRow(0)
        self._fields = {}
        for ask in asks:
            if ask.choices:
                field: QLineEdit | Segmented = Segmented(
                    ask.label, [(choice, choice, choice) for choice in ask.choices], "leaf"
                )
            else:
                field = QLineEdit()
                field.setMaximumWidth(110)
                field.setPlaceholderText(ask.unit)
                field.setAccessibleName(f"{ask.label}, {ask.unit}")
                field.returnPressed.connect(self.check)
            label = QLabel(f"{ask.label}{', ' + ask.unit if ask.unit else ''}")
            label.setWordWrap(True)
            self._form.addRow(label, field)
            self._fields[ask.name] = field

    def _show_state(self, place: int) -> None:
        self._state_at = place
        self.states.set_value(place)
        if self.task is not None:
            self._model.load(self.task.states[min(place, len(self.task.states) - 1)])
        self.shown.emit()


def _words(role: str) -> QLabel:
    label = QLabel()
    if role:
        label.setProperty("role", role)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label
