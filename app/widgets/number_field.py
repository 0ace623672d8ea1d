"""A number with its unit, for settings: arrows, typing, and `none` where that is possible."""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QLocale, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QValidator, QWheelEvent
from PySide6.QtWidgets import QDoubleSpinBox, QWidget

FAR = 1e6
"""Beyond what any setting can be."""

NONE = "none"
_EMPTY = ("", "–", NONE)
_OWN_KEYS = (Qt.Key.Key_Escape, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown)


class NumberField(QDoubleSpinBox):
    """`changed(value)` when the reader has given another value; `None` where there is to be none.

    Point and comma are both decimal marks. A value is taken with Enter, with an arrow, or when the
    field is left; Escape brings the one that stands back.
    """

    changed = Signal(object)

    def __init__(
        self,
        name: str,
        *,
        least: float = 0.0,
        most: float = FAR,
        may_be_none: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._name = name
        self._may_be_none = may_be_none
        self._least = least
        self._shown: float | None = None
        self.setLocale(QLocale.c())
        self.setGroupSeparatorShown(False)
        self.setKeyboardTracking(False)
        self.setCorrectionMode(QDoubleSpinBox.CorrectionMode.CorrectToNearestValue)
        if may_be_none:
            self.setSpecialValueText(NONE)
        self.setRange(least - 1.0 if may_be_none else least, most)
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.valueChanged.connect(self._given)

    def set_number(self, value: float | None) -> None:
        """Show this value."""
        self._shown = value
        was = self.blockSignals(True)
        self.setValue(self.minimum() if value is None else value)
        self.blockSignals(was)

    def set_measure(self, suffix: str, decimals: int, step: float) -> None:
        """Another unit: what is shown then is rounded anew, and nobody has given a value."""
        was = self.blockSignals(True)
        self.setSuffix(suffix)
        self.setDecimals(decimals)
        self.setSingleStep(step)
        self.blockSignals(was)

    def set_most(self, most: float) -> None:
        """Another largest value; what is beyond it is no value that anybody gave."""
        was = self.blockSignals(True)
        self.setMaximum(most)
        self.blockSignals(was)

    def set_ends(self, least: float, most: float) -> None:
        """Another smallest and largest value, as `set_most`; for a field that always has one."""
        self._least = least
        was = self.blockSignals(True)
        self.setRange(least, most)
        self.blockSignals(was)

    def number(self) -> float | None:
        """The value given; `None` where there is none."""
        return None if self._is_none(self.value()) else self.value()

    def textFromValue(self, value: float) -> str:
        """The number without needless decimals."""
        text = f"{value:.{self.decimals()}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text

    def valueFromText(self, text: str) -> float:
        """The number of what is typed."""
        bare = self._bare(text)
        if self._may_be_none and bare in _EMPTY:
            return self.minimum()
        try:
            value = float(bare)
        except ValueError:
            return self.value()
        return value if math.isfinite(value) else self.value()

    def validate(self, text: str, position: int) -> tuple[QValidator.State, str, int]:
        """Anything that can become a number may be typed."""
        bare = self._bare(text)
        if bare in _EMPTY:
            state = "Acceptable" if self._may_be_none else "Intermediate"
            return QValidator.State[state], text, position
        if bare == "-" and self._least < 0.0:
            return QValidator.State.Intermediate, text, position
        if self._may_be_none and NONE.startswith(bare):
            return QValidator.State.Intermediate, text, position
        try:
            value = float(bare)
        except ValueError:
            return QValidator.State.Invalid, text, position
        fits = self._least <= value <= self.maximum()
        state = QValidator.State.Acceptable if fits else QValidator.State.Intermediate
        return state, text, position

    def stepBy(self, steps: int) -> None:
        """One step, but never from a value to none or back: that is typed."""
        if self._is_none(self.value()):
            return
        self.setValue(max(self.value() + steps * self.singleStep(), self._least))
        self.selectAll()

    def event(self, event: QEvent) -> bool:
        """Keys of the field go before those of the window."""
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.key() in _OWN_KEYS
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape brings back what stands."""
        if event.key() == Qt.Key.Key_Escape:
            self.set_number(self._shown)
            self.selectAll()
        else:
            super().keyPressEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Only where the field has the focus: a page that is scrolled changes no setting."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """What is left half typed is what stood before."""
        super().focusOutEvent(event)
        self.set_number(self._shown)

    def _given(self, _value: float) -> None:
        number = self.number()
        if number != self._shown:
            self._shown = number
            self.changed.emit(number)

    def _is_none(self, value: float) -> bool:
        return self._may_be_none and value <= self.minimum() + 0.5

    def _bare(self, text: str) -> str:
        bare = text.strip().lower()
        return (
            bare.removesuffix(self.suffix().strip().lower())
            .strip()
            .replace(",", ".")
            .replace("−", "-")
        )
