"""The rotor's controls: the speed, the run, and every figure of the rotor."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from analysis.model.units import LengthUnit
from app.session.rotor_fields import ROTOR_FIELDS, RotorField

from .lab_slider import LabSlider, SliderScale
from .segmented import Segmented

if TYPE_CHECKING:
    from app.session.rotor_lab import RotorLab

_RUN = (
    ("from_rpm", "from", SliderScale("rpm", 0.0, 12_000.0, 50.0, 0.0, 60_000.0), "it begins"),
    ("to_rpm", "to", SliderScale("rpm", 0.0, 12_000.0, 50.0, 0.0, 60_000.0), "it ends"),
    ("seconds", "takes", SliderScale("s", 2.0, 60.0, 1.0, 0.1, 600.0), "Length of the run"),
)


class RotorControls(QWidget):
    """Sliders that follow the rotor, and change it."""

    def __init__(self, lab: RotorLab, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lab = lab
        self._unit = LengthUnit.UM
        self._all: list[LabSlider] = []
        self._of: list[tuple[LabSlider, RotorField]] = []
        inner = QWidget()
        self._column = QVBoxLayout(inner)
        self._column.setContentsMargins(8, 6, 8, 6)
        self._column.setSpacing(1)
        self._speed_group()
        self.refused = QLabel()
        self.refused.setProperty("role", "alarm")
        self.refused.setWordWrap(True)
        self.refused.hide()
        self._column.addWidget(self.refused)
        self._column.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inner)
        inner.setAutoFillBackground(False)
        area.viewport().setAutoFillBackground(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(area)
        lab.changed.connect(self.refresh)
        lab.running_changed.connect(self._write_run)
        lab.refused.connect(self._refuse)
        self.refresh()
        self._write_run()

    def building(self) -> Iterator[None]:
        """Make one group a step: so many sliders at once would be felt."""
        for title, fields in ROTOR_FIELDS:
            group = QVBoxLayout()
            group.setSpacing(self._column.spacing())
            # Above the words of refusal and the stretch.
            self._column.insertLayout(self._column.count() - 2, group)
            self._heading(title, into=group)
            for field in fields:
                self._field(title, field, group)
            yield

    def slider(self, key: str) -> LabSlider:
        """The slider of a number of the rotor."""
        return next(slider for slider, field in self._of if field.key == key)

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        self._unit = unit
        for slider in self._all:
            slider.set_unit(unit)

    def refresh(self) -> None:
        """Show what the rotor is."""
        lab = self._lab
        for slider, field in self._of:
            _show(slider, field.get(lab.rotor))
        _show(self.speed, lab.speed_rpm)
        for key, slider in self._run.items():
            _show(slider, getattr(lab.sweep, key))
        self.rotation.set_value(lab.rotor.rotation)

    def _speed_group(self) -> None:
        lab = self._lab
        self._heading("Speed", "or click into the curves")
        scale = SliderScale("rpm", 60.0, 12_000.0, 10.0, 60.0, 60_000.0)
        self.speed = LabSlider("now", "Speed looked at", scale, "Speed looked at, r/min")
        self.speed.changed.connect(lab.set_speed)
        self._add(self.speed)
        self.rotation = Segmented(
            "Rotation",
            [
                ("↺ counter-clockwise", "ccw", "The shaft turns counter-clockwise"),
                ("↻ clockwise", "cw", "The shaft turns clockwise"),
            ],
            "page",
        )
        self.rotation.chosen.connect(lab.set_rotation)
        self._column.addWidget(self.rotation)
        self._heading("Run")
        self._run: dict[str, LabSlider] = {}
        for key, name, scale, tip in _RUN:
            unit = "s" if scale.kind == "s" else "r/min"
            words = tip if scale.kind == "s" else f"Speed at which {tip}"
            slider = LabSlider(name, f"Run {name}", scale, f"{words}, {unit}")
            slider.changed.connect(lambda value, k=key: lab.set_sweep(**{k: value}))
            self._run[key] = slider
            self._add(slider)
        row = QHBoxLayout()
        self.start = QPushButton()
        self.start.setAutoDefault(False)
        self.start.setToolTip("Work the run out in time: what haste does to a critical speed")
        self.start.clicked.connect(self._start_or_stop)
        row.addWidget(self.start)
        row.addStretch(1)
        self._column.addLayout(row)

    def _field(self, group: str, field: RotorField, into: QVBoxLayout) -> None:
        scale = SliderScale(
            field.kind, field.least, field.most, field.step, field.lowest, field.furthest
        )
        slider = LabSlider(field.name, f"{group}, {field.name}", scale, field.tip)
        slider.changed.connect(lambda value: self._lab.set_field(field, value))
        _show(slider, field.get(self._lab.rotor))
        self._of.append((slider, field))
        self._add(slider, into)

    def _add(self, slider: LabSlider, into: QVBoxLayout | None = None) -> None:
        slider.set_unit(self._unit)
        self._all.append(slider)
        (into or self._column).addWidget(slider)

    def _heading(self, text: str, note: str = "", into: QVBoxLayout | None = None) -> None:
        row = QHBoxLayout()
        row.setContentsMargins(0, 6, 0, 0)
        row.setSpacing(6)
        for words, role in ((text, "title"), (note, "subtitle")):
            if words:
                label = QLabel(words)
                label.setProperty("role", role)
                row.addWidget(label)
        row.addStretch(1)
        (into or self._column).addLayout(row)

    def _start_or_stop(self) -> None:
        if self._lab.running:
            self._lab.stop_run()
        else:
            self._lab.start_run()

    def _write_run(self) -> None:
        self.start.setText("Stop the run" if self._lab.running else "Run it in time")

    def _refuse(self, sentence: str) -> None:
        self.refused.setText(f"▲ {sentence}")
        self.refused.setVisible(bool(sentence))


def _show(slider: LabSlider, value: float) -> None:
    if value != slider.value():
        slider.set_value(value)
