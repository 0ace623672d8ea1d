"""What a calibration is judged against: every figure editable, with its edition beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QVBoxLayout, QWidget

from analysis.model.calibration_entries import OPERATING_RANGE, CalibrationTolerances
from analysis.model.units import UM_PER_MIL, LengthUnit

from .choice_box import ChoiceBox
from .number_field import NumberField

if TYPE_CHECKING:
    from app.session.session import Session

PRESETS = (
    ("testing range", CalibrationTolerances(), "API 670, 5th edition (2014), from memory: ±5 %"),
    ("operating range", OPERATING_RANGE, "API 670, 5th edition (2014), from memory: ±10 %"),
)


class ToleranceFields(QWidget):
    """Follows the session's tolerances; every field changes them at once."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.nominal = NumberField("Nominal scale factor", least=0.01)
        self.increment = NumberField("Allowed error of an increment, %")
        self.deviation = NumberField("Allowed deviation from the straight line")
        self.low = NumberField("Start of the testing range")
        self.high = NumberField("End of the testing range")
        self.least = NumberField("Least usable range")
        self.presets = ChoiceBox(
            "Tolerances",
            [(name, value, tip) for name, value, tip in PRESETS],
            "Begin with the figures of a standard; change them as your procedure asks",
        )
        self.edition = QLabel()
        self.edition.setWordWrap(True)
        self.edition.setProperty("role", "footer")
        self._lay_out()
        self._connect()
        self.refresh()

    def fields(self) -> tuple[NumberField, ...]:
        """Every field."""
        return (self.nominal, self.increment, self.deviation, self.low, self.high, self.least)

    def _lay_out(self) -> None:
        grid = QGridLayout()
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(6)
        grid.setVerticalSpacing(1)
        named = (
            (self.nominal, "nominal factor"),
            (self.increment, "increments ±"),
            (self.deviation, "straight line ±"),
            (self.low, "judged from"),
            (self.high, "to"),
            (self.least, "usable at least"),
        )
        tips = (
            "Nominal scale factor, mV/µm or mV/mil: 200 mV/mil on AISI 4140 is common practice",
            "Allowed error of every increment against the nominal factor, %",
            "Allowed distance from the straight line with its slope held at nominal, µm or mil",
            "Gap at which the testing range begins, µm or mil",
            "Gap at which the testing range ends, µm or mil",
            "Length that the usable range must have, µm or mil",
        )
        for place, ((field, words), tip) in enumerate(zip(named, tips, strict=True)):
            label = QLabel(words)
            label.setProperty("role", "footer")
            label.setBuddy(field)
            field.setToolTip(tip)
            field.setMinimumWidth(60)
            row, column = divmod(place, 3)
            grid.addWidget(label, 2 * row, column)
            grid.addWidget(field, 2 * row + 1, column)
        for column in range(3):
            grid.setColumnStretch(column, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 2, 8, 4)
        column.setSpacing(3)
        column.addLayout(grid)
        column.addWidget(self.edition)

    def _connect(self) -> None:
        check, session = self._session.check, self._session
        check.changed.connect(self.refresh)
        session.unit.changed.connect(lambda _unit: self.refresh())
        self.presets.chosen.connect(check.set_tolerances)
        self.nominal.changed.connect(
            lambda value: check.change_tolerance(nominal_mv_per_um=value / self._per_factor())
        )
        self.increment.changed.connect(lambda v: check.change_tolerance(increment_percent=v))
        self.deviation.changed.connect(lambda v: check.change_tolerance(deviation_um=self._um(v)))
        self.least.changed.connect(lambda v: check.change_tolerance(least_range_um=self._um(v)))
        for field in (self.low, self.high):
            field.changed.connect(lambda _value: self._change_range())

    def _change_range(self) -> None:
        ends = (self._um(self.low.value()), self._um(self.high.value()))
        self._session.check.change_tolerance(testing_range_um=ends)

    def _um(self, value: float) -> float:
        return value / self._session.unit.unit.per_um

    def _per_factor(self) -> float:
        return UM_PER_MIL if self._session.unit.unit is LengthUnit.MIL else 1.0

    def refresh(self) -> None:
        """Show what is in force."""
        known, unit = self._session.check.tolerances, self._session.unit.unit
        mil = unit is LengthUnit.MIL
        self.nominal.set_measure(" mV/mil" if mil else " mV/µm", 1 if mil else 3, 1 if mil else 0.1)
        self.increment.set_measure(" %", 1, 0.5)
        for field, step in (
            (self.deviation, 0.1 if mil else 1.0),
            (self.low, 1.0 if mil else 10.0),
            (self.high, 1.0 if mil else 10.0),
            (self.least, 1.0 if mil else 50.0),
        ):
            field.set_measure(f" {unit.value}", 2 if mil else 1, step)
        self.nominal.set_number(known.nominal_mv_per_um * self._per_factor())
        self.increment.set_number(known.increment_percent)
        self.deviation.set_number(known.deviation_um * unit.per_um)
        self.low.set_number(known.testing_range_um[0] * unit.per_um)
        self.high.set_number(known.testing_range_um[1] * unit.per_um)
        self.least.set_number(known.least_range_um * unit.per_um)
        self.edition.setText(known.edition)
        preset = next((value for _, value, _ in PRESETS if value == known), None)
        if preset is not None:
            self.presets.set_value(preset)
        else:
            self.presets.setText("own figures ▾")
        self.presets.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
