"""What is remembered from one start to the next: recent files, last choices, window places."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from PySide6.QtCore import QByteArray, QObject, QSettings, Signal

from analysis.model.units import LengthUnit

from .display_state import ThemeChoice, theme_choice

RECENT_MAX = 10


class Settings(QObject):
    """The user's own settings. Anything unreadable in them counts as not set."""

    recent_changed = Signal()

    def __init__(self, store: QSettings | None = None) -> None:
        super().__init__()
        self._store = store or QSettings(
            QSettings.Format.IniFormat, QSettings.Scope.UserScope, "Runtrue", "Runtrue"
        )

    @property
    def recent(self) -> tuple[Path, ...]:
        """Captures opened lately, the newest first. They may have gone since."""
        value = self._store.value("recent", [])
        texts = [value] if isinstance(value, str) else value if isinstance(value, list) else []
        return tuple(Path(text) for text in texts if isinstance(text, str) and text)[:RECENT_MAX]

    def add_recent(self, path: Path) -> None:
        """A capture was opened."""
        rest = tuple(known for known in self.recent if known != path)
        self._set_recent((path, *rest))

    def forget_recent(self) -> None:
        """Empty the list."""
        self._set_recent(())

    def _set_recent(self, paths: tuple[Path, ...]) -> None:
        if paths != self.recent:
            self._store.setValue("recent", [str(path) for path in paths[:RECENT_MAX]])
            self.recent_changed.emit()

    @property
    def unit(self) -> LengthUnit:
        """The display unit used last."""
        return LengthUnit.MIL if self._store.value("unit") == "mil" else LengthUnit.UM

    def set_unit(self, unit: LengthUnit) -> None:
        """Remember the display unit."""
        self._store.setValue("unit", "mil" if unit is LengthUnit.MIL else "um")

    @property
    def theme(self) -> ThemeChoice:
        """The theme chosen last."""
        return theme_choice(str(self._store.value("theme", "system")))

    def set_theme(self, choice: ThemeChoice) -> None:
        """Remember the theme."""
        self._store.setValue("theme", choice)

    def number(self, key: str, default: float) -> float:
        """A number that was remembered."""
        value = self._store.value(key)
        try:
            return float(value) if isinstance(value, str | float | int) else default
        except ValueError:
            return default

    def text(self, key: str, allowed: Collection[str], default: str) -> str:
        """A text that was remembered, if it is still one of those allowed."""
        value = self._store.value(key)
        return value if isinstance(value, str) and value in allowed else default

    def remember(self, key: str, value: float | str) -> None:
        """Remember a number or a text."""
        self._store.setValue(key, value)

    def stored(self, key: str) -> str:
        """Any text that was remembered; empty when there is none."""
        value = self._store.value(key)
        return value if isinstance(value, str) else ""

    def forget(self, key: str) -> None:
        """Remember this no more."""
        self._store.remove(key)

    @property
    def geometry(self) -> QByteArray | None:
        """Where the window was."""
        value = self._store.value("geometry")
        return value if isinstance(value, QByteArray) and not value.isEmpty() else None

    def set_geometry(self, geometry: QByteArray) -> None:
        """Remember where the window is."""
        self._store.setValue("geometry", geometry)

    @property
    def folder(self) -> str:
        """Where a capture was opened last."""
        recent = self.recent
        return str(recent[0].parent) if recent else ""
