"""A number of the Lab: its name, a slider, and a field to type it exactly."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent, QWheelEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QSlider, QWidget

from analysis.model.units import LengthUnit

from .number_field import NumberField

NAME_WIDTH, FIELD_WIDTH = 92, 96

_OWN_KEYS = (
    Qt.Key.Key_Left,
    Qt.Key.Key_Right,
    Qt.Key.Key_PageUp,
    Qt.Key.Key_PageDown,
    Qt.Key.Key_Home,
    Qt.Key.Key_End,
)


@dataclass(frozen=True)
class SliderScale:
    """What a slider covers: ends and step in the number's own unit, the furthest to be typed.

    `kind` is a unit of `_MEASURES`; µm are shown in the unit of lengths.
    """

    kind: str
    least: float
    most: float
    step: float
    lowest: float
    furthest: float


_MEASURES = {
    "deg": ("°", 1),
    "share": ("", 2),
    "rpm": (" r/min", 0),
    "order": (" X", 3),
    "per_mm": (" /mm", 1),
    "kg": (" kg", 1),
    "MN_per_m": (" MN/m", 2),
    "kNs_per_m": (" kN s/m", 2),
    "N": (" N", 0),
    "s": (" s", 1),
}


class KeySlider(QSlider):
    """A slider whose keys go before those of the window; the wheel turns it only when chosen."""

    def event(self, event: QEvent) -> bool:
        """Take the arrow keys before a shortcut does."""
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.key() in _OWN_KEYS
            and event.modifiers()
            in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.KeypadModifier)
        ):
            event.accept()
            return True
        return super().event(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """A list that is scrolled changes nothing."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()


class LabSlider(QWidget):
    """Slider and field of one number. `changed(value)` when the reader gives another one.

    The slider covers what is usual, the field takes all that is possible.
    """

    changed = Signal(float)

    def __init__(
        self, name: str, full_name: str, scale: SliderScale, tip: str, parent: QWidget | None = None
    ) -> None:
        """`name` is what is written, `full_name` what is read out."""
        super().__init__(parent)
        self._scale = scale
        self._unit = LengthUnit.UM
        self._dressed = False
        self._value = scale.least
        self.label = QLabel(name)
        self.label.setProperty("role", "muted")
        self.label.setFixedWidth(NAME_WIDTH)
        self.slider = KeySlider(Qt.Orientation.Horizontal)
        self.slider.setRange(round(scale.least / scale.step), round(scale.most / scale.step))
        self.slider.setPageStep(max(round((scale.most - scale.least) / scale.step / 20), 1))
        self.slider.setAccessibleName(f"{full_name}, slider")
        self.slider.setMinimumWidth(60)
        self.slider.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.field = NumberField(full_name, least=-1e9, most=1e9)
        self.field.setFixedWidth(FIELD_WIDTH)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        for widget in (self.label, self.slider, self.field):
            row.addWidget(widget, 1 if widget is self.slider else 0)
            widget.setToolTip(tip)
        self.slider.valueChanged.connect(lambda ticks: self._give(ticks * scale.step))
        self.field.changed.connect(self._typed)
        self.set_unit(self._unit)

    def value(self) -> float:
        """The number shown, in its own unit."""
        return self._value

    def set_value(self, value: float) -> None:
        """Show this number."""
        self._value = value
        was = self.slider.blockSignals(True)
        self.slider.setValue(round(value / self._scale.step))
        self.slider.blockSignals(was)
        self.field.set_number(value * self._per_unit())

    def set_unit(self, unit: LengthUnit) -> None:
        """Show a length in this unit."""
        if unit is self._unit and self._dressed:
            return
        self._unit, self._dressed = unit, True
        per = self._per_unit()
        # First the range: the field keeps to it while its decimals change.
        self.field.set_ends(self._scale.lowest * per, self._scale.furthest * per)
        self.field.set_measure(*self._measure())
        self.set_value(self._value)

    def _per_unit(self) -> float:
        return self._unit.per_um if self._scale.kind == "um" else 1.0

    def _measure(self) -> tuple[str, int, float]:
        if self._scale.kind == "um":
            mil = self._unit is LengthUnit.MIL
            return f" {self._unit.value}", 2 if mil else 1, 0.05 if mil else self._scale.step
        suffix, decimals = _MEASURES[self._scale.kind]
        return suffix, decimals, self._scale.step

    def _typed(self, number: object) -> None:
        if isinstance(number, float):
            self._give(number / self._per_unit())

    def _give(self, value: float) -> None:
        if value != self._value:
            self.set_value(value)
            self.changed.emit(value)
