"""A guided start of four steps: see, try, and be told what happened."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from .lab_controls import FieldSlider
from .lab_guide_steps import STEPS, GuideStep
from .segmented import Segmented

if TYPE_CHECKING:
    from analysis.model.units import LengthUnit
    from app.plots.lab_view import LabView
    from app.session.lab_model import LabModel


class LabGuide(QWidget):
    """One step at a time. `finished()` when the reader goes on after the last one."""

    finished = Signal()

    def __init__(self, model: LabModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model = model
        self._place = -1
        self._done: set[int] = set()
        self._known: set[int] = set()
        self.steps = Segmented(
            "Step",
            [(f"{n} {step.title}", n - 1, step.attempt) for n, step in enumerate(STEPS, 1)],
        )
        self.title = _words("title")
        self.see = _words("")
        self.attempt = _words("title")
        self.said = _words("normal")
        self.known = _words("muted")
        self.rotation = Segmented(
            "Rotation",
            [
                ("↺ counter-clockwise", "ccw", "The shaft turns counter-clockwise"),
                ("↻ clockwise", "cw", "The shaft turns clockwise"),
            ],
            "page",
        )
        self._sliders: dict[str, FieldSlider] = {}
        self.back = QPushButton("Back")
        self.again = QPushButton("Again")
        self.next = QPushButton("Next")
        self._lay_out()
        self.steps.chosen.connect(self.show_step)
        self.rotation.chosen.connect(lambda value: model.set(rotation=value))
        self.back.clicked.connect(lambda: self.show_step(self._place - 1))
        self.again.clicked.connect(self._restart)
        self.next.clicked.connect(self._go_on)
        model.changed.connect(self._follow)

    @property
    def step(self) -> GuideStep | None:
        """The step in sight; `None` before the first one was shown."""
        return STEPS[self._place] if self._place >= 0 else None

    def is_done(self) -> bool:
        """Whether what the step in sight asks for has been done."""
        return self._place in self._done

    def slider(self, key: str) -> FieldSlider:
        """The slider of a number of the steps."""
        return self._sliders[key]

    def start(self) -> None:
        """The first step, unless one was begun."""
        if self._place < 0:
            self.show_step(0)

    def show_step(self, place: int) -> None:
        """Go to a step and set the Lab as it begins."""
        self._place = place
        self.steps.set_value(place)
        self._restart()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        for slider in self._sliders.values():
            slider.set_unit(unit)

    def look(self, view: LabView) -> None:
        """See whether the step is done."""
        step = self.step
        # The pictures may still be those of the step before.
        if step is None or view.result.state is not self._model.state:
            return
        if not self.is_done() and step.done(view):
            self._done.add(self._place)
            self._known.add(self._place)
            self._write()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 6, 12, 10)
        column.setSpacing(9)
        column.addWidget(self.steps)
        for label in (self.title, self.see, self.attempt):
            column.addWidget(label)
        column.addWidget(self.rotation)
        for step in STEPS:
            for field in step.fields:
                if field.key not in self._sliders:
                    slider = FieldSlider(self._model, field, _order_of(field.key))
                    self._sliders[field.key] = slider
                    column.addWidget(slider)
        column.addWidget(self.said)
        column.addStretch(1)
        column.addWidget(self.known)
        row = QHBoxLayout()
        for button in (self.back, self.again, self.next):
            button.setAutoDefault(False)
            row.addWidget(button)
        self.next.setProperty("role", "primary")
        self.again.setToolTip("Set this step back to its beginning")
        row.insertStretch(2, 1)
        column.addLayout(row)

    def _restart(self) -> None:
        self._done.discard(self._place)
        self._write()
        self._model.load(STEPS[self._place].state)

    def _go_on(self) -> None:
        if self._place + 1 < len(STEPS):
            self.show_step(self._place + 1)
        else:
            self.finished.emit()

    def _follow(self) -> None:
        self.rotation.set_value(self._model.state.rotation)

    def _write(self) -> None:
        step = STEPS[self._place]
        self.title.setText(f"{step.title}")
        self.see.setText(step.see)
        self.attempt.setText(f"Try: {step.attempt}")
        self.said.setText(f"✓ {step.said}")
        self.said.setVisible(self.is_done())
        known = [f"{each.title}: {each.word}" for n, each in enumerate(STEPS) if n in self._known]
        self.known.setText("\n".join(("So far", *known)))
        self.known.setVisible(bool(known))
        self.rotation.setVisible(step.rotation)
        for key, slider in self._sliders.items():
            slider.setVisible(key in {field.key for field in step.fields})
            if slider.isVisibleTo(self):
                slider.label.setText(_slider_name(key, slider))
        last = self._place + 1 == len(STEPS)
        self.back.setEnabled(self._place > 0)
        self.next.setText("On to the gallery" if last else "Next")


def _slider_name(key: str, slider: FieldSlider) -> str:
    order = _order_of(key)
    return slider.field_of.name if order == "1X" else f"{order} {slider.field_of.name}"


def _order_of(key: str) -> str:
    """`"0.5X"` of `"0.5X.forward_um_pp"`."""
    return key.rpartition(".")[0]


def _words(role: str) -> QLabel:
    label = QLabel()
    if role:
        label.setProperty("role", role)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label
