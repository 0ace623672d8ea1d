"""How things are shown: the unit of lengths, and light or dark."""

from __future__ import annotations

from typing import Literal, cast, get_args

from PySide6.QtCore import QObject, Signal

from analysis.model.units import LengthUnit

ThemeChoice = Literal["system", "light", "dark"]
THEME_CHOICES: tuple[ThemeChoice, ...] = get_args(ThemeChoice)


class UnitState(QObject):
    """The unit that lengths are shown in; inside they are always µm."""

    changed = Signal(object)

    def __init__(self, unit: LengthUnit = LengthUnit.UM) -> None:
        super().__init__()
        self._unit = unit

    @property
    def unit(self) -> LengthUnit:
        """The display unit."""
        return self._unit

    def set(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        if unit is not self._unit:
            self._unit = unit
            self.changed.emit(unit)

    def toggle(self) -> None:
        """µm to mil and back."""
        self.set(LengthUnit.MIL if self._unit is LengthUnit.UM else LengthUnit.UM)


class ThemeState(QObject):
    """Light, dark, or as the system has it. `changed` comes also when the system changes."""

    changed = Signal()

    def __init__(self, choice: ThemeChoice = "system", *, system_dark: bool = False) -> None:
        super().__init__()
        self._choice = choice
        self._system_dark = system_dark

    @property
    def choice(self) -> ThemeChoice:
        """What the reader chose."""
        return self._choice

    @property
    def dark(self) -> bool:
        """What that comes to."""
        return self._system_dark if self._choice == "system" else self._choice == "dark"

    def set(self, choice: ThemeChoice) -> None:
        """Choose light, dark or system."""
        if choice != self._choice:
            self._choice = choice
            self.changed.emit()

    def set_system_dark(self, dark: bool) -> None:
        """The system is dark now, or light."""
        before = self.dark
        self._system_dark = dark
        if self.dark != before:
            self.changed.emit()


def theme_choice(text: str) -> ThemeChoice:
    """A theme choice from stored text; anything unknown is `"system"`."""
    return cast(ThemeChoice, text) if text in THEME_CHOICES else "system"
