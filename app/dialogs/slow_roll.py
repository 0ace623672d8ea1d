"""Typing slow-roll vectors and the operating range, and keeping the vectors in the setup."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from analysis.model.units import LengthUnit
from analysis.rotor.vectors import amplitude_and_lag, vector_from
from app.widgets.number_field import NumberField

HOW = (
    "Amplitude p-p and phase lag (from the once-per-turn event to the next positive peak) as each "
    "probe showed them at slow roll. An amplitude of none takes nothing off that probe."
)


class _Fields(QDialog):
    """Words, fields, and two buttons."""

    def __init__(self, title: str, words: str, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 18, 20, 14)
        column.setSpacing(10)
        label = QLabel(words)
        label.setWordWrap(True)
        label.setMinimumWidth(420)
        column.addWidget(label)
        self.form = QFormLayout()
        column.addLayout(self.form)
        kinds = QDialogButtonBox.StandardButton
        buttons = QDialogButtonBox(kinds.Ok | kinds.Cancel)
        for kind in (kinds.Ok, kinds.Cancel):
            buttons.button(kind).setIcon(QIcon())
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)


class SlowRollDialog(_Fields):
    """One line a probe; starts from the vectors that are taken off now."""

    def __init__(
        self,
        order: int,
        vectors: Mapping[str, complex | None],
        unit: LengthUnit,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(f"Type the {order}X slow-roll vectors", HOW, parent)
        self._order, self._unit = order, unit
        self.fields: dict[str, tuple[NumberField, NumberField]] = {}
        for name, vector in vectors.items():
            size = NumberField(f"{name}, {unit.value} p-p", may_be_none=True, most=1e4)
            angle = NumberField(f"{name}, phase lag in degrees", least=-360.0, most=360.0)
            size.set_measure(f" {unit.value} p-p", 2 if unit is LengthUnit.UM else 3, 0.1)
            angle.set_measure("°", 1, 1.0)
            amplitude, lag = amplitude_and_lag(vector) if vector is not None else (None, 0.0)
            size.set_number(None if amplitude is None else amplitude * unit.per_um)
            angle.set_number(lag)
            row = QHBoxLayout()
            row.addWidget(size)
            row.addWidget(angle)
            self.form.addRow(name, row)
            self.fields[name] = (size, angle)

    def vectors(self) -> dict[tuple[str, int], complex]:
        """What was typed, by probe and order, µm p-p."""
        found = {}
        for name, (size, angle) in self.fields.items():
            none = size.value() <= size.minimum()
            amplitude = 0.0 if none else size.value() / self._unit.per_um
            found[name, self._order] = vector_from(amplitude, angle.value() % 360.0)
        return found


class OperatingRangeDialog(_Fields):
    """Lowest and highest running speed, for margins; of this look only."""

    def __init__(
        self, operating_rpm: tuple[float, float] | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(
            "Operating range",
            "Lowest and highest running speed, r/min. They are used here for margins and the test "
            "limit; the setup stays as it is.",
            parent,
        )
        low, high = operating_rpm or (0.0, 0.0)
        self.ends: Sequence[NumberField] = tuple(
            NumberField(name, most=1e6) for name in ("Lowest, r/min", "Highest, r/min")
        )
        for field, value, text in zip(self.ends, (low, high), ("lowest", "highest"), strict=True):
            field.set_measure(" r/min", 0, 50.0)
            field.set_number(value)
            self.form.addRow(text, field)

    def operating_rpm(self) -> tuple[float, float] | None:
        """What was typed; `None` where it is no range."""
        low, high = (field.value() for field in self.ends)
        return (low, high) if 0.0 < low <= high else None
